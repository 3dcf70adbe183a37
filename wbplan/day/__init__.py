"""A scene through a day under sun and sky: what moves, how long a setting serves, which filter and
which LUT is due when.

Imports everything up to `mixed`. `setups` puts the parts together.
"""
