"""LUTs and their errors, as a page lists them."""
