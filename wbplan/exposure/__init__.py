"""Stop, exposure index, shutter, ND and light as one equation; the ND in a kit; light that
flickers.

Imports `core`. Pure functions of numbers. A newcomer changes the constants of meters in
`equation` and waveforms in `flicker`.

Flicker is told as a ripple: log2 of the most over the least that an exposure can take. The limits
of depth for health are those of IEEE Std 1789-2015, from memory.
"""
