"""From a wanted correction to a file: the exact transform, its baked table with measured errors,
its other forms (1D table, CLF, ASC CDL), matches between lights and cameras, the monitor's
rendering.

Imports everything up to `scene`. `recipes` has one function for each kind of LUT; a new kind is
one more.
"""
