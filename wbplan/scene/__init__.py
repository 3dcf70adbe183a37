"""What a crew describes, as immutable values on the shared grid: setups with sources and positions,
fixtures and what they can be set to, allowed changes, wanted LUTs, the plate's lens and layout, lux
predicted from photometry; the cautions that a scene calls for.

Imports everything up to `codes`. A new thing that a scenario can say starts here as a value.
"""
