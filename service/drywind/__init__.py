"""drywind: keeps every stickered stack drying as fast as its wood can safely stand."""

__version__ = "0.1.0"
