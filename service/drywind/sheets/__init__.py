"""What a pass found, as the data of the yard's page."""
