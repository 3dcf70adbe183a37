"""Advice and trade-off: words, terminal, figure."""
