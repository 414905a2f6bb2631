"""Pure analysis of recordings: what a file says of itself, what is heard in it, and how that looks."""
