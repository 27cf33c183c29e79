"""Pictures to print and hang in the shop; matplotlib is imported here alone."""
