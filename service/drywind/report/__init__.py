"""The page of a yard and its pictures: how they are drawn, not how anything on them is found."""
