"""A light described by itself or against another, for the eye and for one camera.

Imports everything up to `planning`. A new figure is computed in `light` and joins `lights` here.
"""
