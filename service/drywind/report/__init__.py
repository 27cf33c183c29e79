"""The page of a yard and its pictures: how they are drawn, not how anything on them is found."""

FILE_NAME = "yard.html"
"""Under which the page stands in the data folder."""
