"""What goes with a plate: grey and lights in scene-linear ACES, and what a bracket has to span.

Imports the values of `planning`.
"""
