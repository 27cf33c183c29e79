"""Wood: pure array physics of boards that dry, every number with its source."""
