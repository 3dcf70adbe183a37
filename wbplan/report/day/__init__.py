"""A day: words, tables, figures, page."""
