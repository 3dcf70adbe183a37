"""What all pages share: words, SVG, labels, columns, templates with their parts, the style sheet.

Imports nothing else of `report`. What two pages or two figures need alike belongs here.
"""
