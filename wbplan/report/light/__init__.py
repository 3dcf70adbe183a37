"""A described light: words, tables, figures, page."""
