"""Lights that do not agree: which filters, fixture drives and settings bring positions together,
how good any choice can become at best, and what several cameras share.

Imports everything up to `planning`. `search` looks for the best pack, `bounds` proves it.
"""
