"""Spectra from tables that stand or lie, and from IES TM-27; `files` decides which a file is."""
