"""Sun and sky: where the sun stands, what a surface sees of the dome, clear and closed skies as
spectra, and a light of the sky as a scene names it.

Imports `core` and `light`; pvlib only inside the functions that need it. A new kind of sky is a
module here and a case in `source`.

pvlib comes with ``wbplan[sky]`` and is not imported before a light of the sky is read; without it
everything else works, and these lights say what is missing.

What each light is: `sun` the beam alone; `sky` the scattered light and what the ground sends back,
so a sunlit face is read at both; `shade` a share of the dome with the ground in shade too;
`overcast` a closed sky. Air that nobody stated is spread over 128 draws; fewer leave bands that
hold less than they promise.

Measured against others, beyond what `clear` and `overcast` say of themselves: the model's output
against that of the C program it was published with, to 0.02 %; the levels of sun and sky of IES
1984, to 5 %; of the skies at Singapore (Balakrishnan 2019, open data `equatorialskies`) the clear
one is met to 1 mired, and eleven overcasts lie within the bands of colour and level. One measured
morning is public in R's binary form alone (`photobiologySun`, GPL, "clear with some clouds"); it is
not used. No source was found for broken cloud.
"""
