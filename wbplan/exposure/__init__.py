"""Stop, exposure index, shutter, ND and light as one equation; the ND in a kit; light that
flickers.

Imports `core`. Pure functions of numbers. A newcomer changes the constants of meters in
`equation` and waveforms in `flicker`.
"""
