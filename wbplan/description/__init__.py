"""A light described by itself or against another, for the eye and for one camera.

Imports everything up to `planning`. A new figure is computed in `light` and joins `eye` here.

`lights.describe_lights` takes readings and gives a `LightSet`; the eye's figures stand in arrays
over all lights. CCT means nothing past a Duv of 0.05 or the ends of the black-body locus: then CCT,
Ra, TM-30 and the SSI against a light of the same CCT are NaN, and a warning says why. A gap's
filter is the ideal one (mired and CC) that gives one light the other's u', v'. The band of colour
errors takes 64 members of the family, since these cost most.
`pairs` sets lights side by side, `sampling` says what coarse steps leave open, `repeats` how
readings of one light scatter.
"""
