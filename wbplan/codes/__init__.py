"""How pictures are coded: camera and display curves, encodings with their gamuts, the text of a
`.cube` file and the table that it holds.

Imports `core`. A new curve goes into `curves` and its name into `encodings`.
"""
