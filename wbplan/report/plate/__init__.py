"""Plate notes: words, plan view, page, record and files."""
