"""From a scene to everything decided about a setup: best setting, casts, trade-off, exposure,
channels, flash, ripple, looks, LUTs, and (`plate`) what goes with its plate.

Imports everything up to `lut`. `response` is the scene as its camera sees it, which every part is
given; `setups` runs the parts in order and `decisions` holds what they find. A new decision is a
module that makes its value and a line in `setups`. The package is not called `plan` because
`wbplan.plan` is the call.
"""
