"""What part of the light matt surfaces throw back.

The figures are those of the IES Lighting Handbook's tables of building materials and outside
surfaces (from memory; the middle where it gives a range), and the grey card's of common practice.
They are flat: the table knows no colour. Paint and dirt differ by a quarter, so what is used is
better read: a lamp on the surface, the meter on it and on a white card.
"""

from __future__ import annotations

REFLECTANCE: dict[str, float] = {
    "white plaster": 0.91,
    "white paint": 0.82,
    "new snow": 0.74,
    "light brick": 0.48,
    "white marble": 0.45,
    "concrete": 0.40,
    "cement": 0.27,
    "grey card": 0.18,
    "gravel": 0.13,
    "asphalt": 0.07,
    "grass": 0.06,
}
