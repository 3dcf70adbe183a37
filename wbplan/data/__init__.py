"""Published tables kept as package data, and the scripts that made them."""
