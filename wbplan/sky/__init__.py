"""Sun and sky: where the sun stands, what a surface sees of the dome, clear and closed skies as
spectra, and a light of the sky as a scene names it.

Imports `core` and `light`; pvlib only inside the functions that need it. A new kind of sky is a
module here and a case in `source`.
"""
