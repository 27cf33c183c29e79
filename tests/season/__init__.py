"""How right the texts are: whole seasons replayed, for the table of scores."""
