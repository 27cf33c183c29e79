"""What the yard itself teaches: of each stack by weighings, of each site by loggers."""
