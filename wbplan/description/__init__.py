"""A light described by itself or against another, for the eye and for one camera.

Imports everything up to `planning`. A new figure is computed in `light` and joins `eye` here,
or `camera` if it is a camera's; `lights` puts all together.
"""
