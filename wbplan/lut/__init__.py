"""From a wanted correction to a file: the exact transform, its baked table with measured errors,
its other forms (1D table, CLF, ASC CDL), matches between lights and cameras, the monitor's
rendering.

Imports everything up to `scene`. `recipes` has one function for each kind of LUT; a new kind is
one more.

A setup's main correction is `SetupPlan.lut`; what a scenario asks for is `SetupPlan.luts`. A
`Recipe` is the exact transform, and `make_lut_file` takes the cheapest form that is exact: three
curves of 1024 where the matrix is diagonal in the encoding's primaries; log, matrix, log in
a `.clf` (0.002 code; curves that its elements cannot say become half-float tables,
under 0.1 code but for L-Log, which steps at its join, 0.4);
a 3D table otherwise. Every file is read back from its bytes, trilinear and tetrahedral, on colours
and on a grey ramp apart; a `.clf` by OpenColorIO. A shaper with a cube is not written: most readers
refuse 1D and 3D in one `.cube`, and it does not win.

`trials` draws four kinds of colours that no table was made on and `kinds` states the error on each.
Coloured light is lost by any 3D table: 120 to 260 codes at 33 points for 5600 to 3200 K on eight
curves, sampled or fitted with its own cells and free nodes; a `.clf` holds it to 0.1. `remake`
makes a file again from the recipe in its head; a name ends in the digest of the bytes.

Matrices are fitted with white kept on the 99 CIE 224:2017 samples and taken to a gamut's white by
Bradford's adaptation; a match is scored on 34 other surfaces (CIE 13.3, CQS 9.0, NIST skin).

Can 33 points stay under one ten-bit code?
------------------------------------------
`tests/bench/test_table_study.py`: 5600 to 3200 K with 3 CC, made on every other published surface
and tried on the others; worst codes of a table sampled, normalised, behind a shaper, fitted, fitted
and normalised, and sampled at 65 points:

curve                    sampled normalised shaper fitted fitted, n.  65
S-Log3 (sharpest knee)   4.1     2.3        2.7    3.1    1.7         1.8
ACEScct                  7.3     7.3        8.1    7.2    7.2         1.5
ARRI LogC3               2.5     1.4        1.2    1.9    1.0         0.8
V-Log                    2.7     1.7        2.4    1.8    1.3         0.8
Log3G10                  3.7     3.5        4.2    2.0    2.0         0.9
DaVinci Intermediate     4.6     3.8        4.0    4.8    3.1         1.8
of 18 curves, under 1    0       0          1      0      3           11

No: what is left at 33 is not the knee alone but the bend of a sum of logarithms under a matrix,
everywhere. A shaper takes the grey ramp to 0.1 to 0.3 code and makes saturated colours worse. So:
where no size is asked for, 17 points if they are good enough on surfaces in this light, else 33;
fitted where that measures better (`fit`); `no_clip` for a third less error; `.clf` or 1D where they
are taken.
"""
