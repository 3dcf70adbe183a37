"""Stop, exposure index, shutter, ND and light as one equation; the ND in a kit; light that
flickers.

Imports `core`. Pure functions of numbers. A newcomer changes the constants of meters in
`equation` and waveforms in `flicker`.

Flicker is told as a ripple: log2 of the most over the least that an exposure can take. The limits
of IEEE 1789 are from memory, and are marked so wherever they are said.
"""
