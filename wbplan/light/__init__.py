"""Light as numbers: spectra on one grid, the lights that formulas and models give, filters before
them, and what a standard eye makes of them (chromaticity, CCT, CRI, TM-30, SSI, CIEDE2000), or a
standard television camera (TLCI); an instrument's bandwidth, and light over time.

Imports `core`. Pure functions of arrays: no file, no camera, no plan. A new index is a module here;
a new modelled lamp is a function in `models`.
"""
