"""What goes with a plate: grey and lights in scene-linear ACES, what a bracket has to span, the
3D scene and the sky all round.

Imports the values of `planning`. `space` says where things are in the room and the picture, `panel`
what a soft source gives a place, `stage` what the 3D scene holds.
"""
