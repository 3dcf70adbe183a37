"""The camera: its sensitivities and their family, the setting that a light wants of it, what it
makes of colours, and (`learn`) how its curves are learned from frames.

Imports `core` and `light`. The Kelvin and tint of a menu are `setting` and `tint_duv`; how a
generic profile is spread is `sensitivities`.

Coordinates
-----------
The Kelvin of a neutral is that of the reference light under which red against blue are the same;
its tint is what is left in green, (n_G - (n_R + n_B) / 2) - (r_G - (r_R + r_B) / 2) in log2, over
0.0332 stops, since a CC is 0.01 of density in the camera's own green channel. One CC of a filter on
the lamp moves a filter-array camera by only 0.4 to 0.5 of that, since channels overlap; a layered
sensor by less than 0.1.

Bands
-----
An interval is the central share (90 % unless asked otherwise) over the members of the profile's
family (`sensitivities.draw_ensemble`), each of which goes through every step as the profile itself
does. Where a scene states its meter's error, a member meets one plausible reading as well.
"""
