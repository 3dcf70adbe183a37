"""A camera's curves from what it recorded: the frames that teach, the estimate with its posterior,
the verdict on it, and the light to shoot next.

Imports what stands before `camera` and the camera's own modules.

The prior is the cameras that the starting profile stands for; noise is chosen by the evidence,
curves are the non-negative maximum, and the posterior is the band. What a frame suffers besides
(veil, black, falloff) is solved along. How well it does stands in `camera.population`.
"""
