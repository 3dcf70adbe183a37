"""The camera: its sensitivities and their family, the setting that a light wants of it, what it
makes of colours, and (`learn`) how its curves are learned from frames.

Imports `core` and `light`. The Kelvin and tint of a menu are `setting` and `tint_duv`; how a
generic profile is spread is `sensitivities`.
"""
