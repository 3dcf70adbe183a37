"""A camera's curves from what it recorded: the frames that teach, the estimate with its posterior,
the verdict on it, and the light to shoot next.

Imports what stands before `camera` and the camera's own modules.
"""
