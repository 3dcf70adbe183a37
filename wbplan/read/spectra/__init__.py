"""Spectra from tables that stand or lie, and from IES TM-27; `files` decides which a file is.

XML is TM-27. A line with a long run of wavelengths makes a table lie across, unless the first
column is wavelengths too; anything else is upright. Irradiance is taken only from a written unit. A
hole of over 20 nm is refused, of over 30 nm where the steps differ all along.
"""
