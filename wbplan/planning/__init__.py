"""From a scene to everything decided about a setup: best setting, casts, trade-off, exposure,
channels, flash, ripple, looks, LUTs, and (`plate`) what goes with its plate.

Imports everything up to `lut`. `response` is the scene as its camera sees it, which every
part is given; `setups` runs the parts in order and `decisions` holds what they
find; a new decision is a module that returns a value and a line in `setups`. The package is not
called `plan` because `wbplan.plan` is the call.

Each position's cast is its coordinates less those of the setting. A position whose light nothing
neutralises
(`camera.neutralisable`: one line of under 30 nm, over 6 stops between channels against 5500 K, or
beyond the locus of 1000 to 25 000 K) is left out of the best setting while others remain, and gets
words instead of a LUT. Where hard limits exclude each other, the pair is named and the limits are
left out.

What is shot is the wanted stop with the kit's best pack, or with the exact ND; without a wanted
stop, the stop that the key asks for. Where the other positions land follows from that by lux. A
flash counts as the steady light that gives its lux seconds within the exposure time, so settings,
casts and stops hold for the mix; `flash` moves it to other shutters. At a position the crests of
all flickering lights are taken together.

The camera's neutral in the diagram of lights is 2^(setting - reference) through the matrix fitted
for that Kelvin.
"""
