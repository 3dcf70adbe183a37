"""Sun and sky: where the sun stands, what a surface sees of the dome, clear and closed skies as
spectra, and a light of the sky as a scene names it.

Imports `core` and `light`; pvlib only inside the functions that need it. A new kind of sky is a
module here and a case in `source`.

pvlib comes with ``wbplan[sky]`` and is not imported before a light of the sky is read; without it
everything else works, and these lights say what is missing.

What each light is: `sun` the beam alone; `sky` the scattered light and what the ground sends back,
so a sunlit face is read at both; `shade` a share of the dome with the ground in shade too;
`overcast` a closed sky; `broken_cloud` all light in one of two states. `clear` keeps the spectra,
`pattern` says where on the dome they lie, `twilight` what is measured under a low sun, `broken`
what cloud does to them, `model_error` what all of it is out by, `sun_times` when the sun does what.
`by_direction` is the same sky a direction at a time; `sun_and_moon` places both by short formulas,
without pvlib.
Air that nobody stated and that error are spread over 128 draws; fewer leave bands that hold less
than they promise.

Made with: Bird and Riordan's model, CIE S 011.1 types 12 and 13, rural twilight spectra (Spitschan
2016), levels of the U.S. Naval Observatory, half of the cloudy minutes of photobiologySun. Half of
TUV's angles, a day of libRadtran, clear half hours of 2015 (all by photobiologySun; GPL, figures in
tests only) and published skies with the sun at 45 degrees set the sizes in `model_error`. Judges:
the C program the model was published with (0.02 %), the other angles, days of libRadtran and half
hours, Perez as pvlib carries it, ASTM G173, IES 1984, the city spectra of Spitschan, clear sky,
twilight and broken cloud at Singapore (Balakrishnan 2019, open data `equatorialskies`), the other
half of the minutes, the glossary of the American Meteorological Society. No measured upright face
was found, and moonlight is left out: published levels are of the full moon in clear air (0.2 lux
with it 60 degrees up), and no measured spectrum was found to judge a colour by.
"""
