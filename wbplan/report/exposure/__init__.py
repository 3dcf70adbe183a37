"""Exposure in words, bars and the terminal's lines; the answers of the short commands."""
