"""Write encodings.json: the gamuts of the chosen encodings, as colour-science carries them.

Kept as package data so that finding an encoding does not wait for colour-science. Run it again
when a gamut is added here or that library is updated, and let the tests of the encodings say what
has moved:

    python wbplan/data/make_encodings.py
"""

from __future__ import annotations

import json
import warnings
from pathlib import Path

GAMUTS = (
    # ACES
    *("ACES2065-1", "ACEScc", "ACEScct", "ACEScg"),
    # displays and broadcast
    *("DCI-P3", "Display P3", "ITU-R BT.2020", "ITU-R BT.709", "P3-D65", "sRGB"),
    # cameras
    *("ARRI Wide Gamut 3", "ARRI Wide Gamut 4", "Blackmagic Wide Gamut", "Cinema Gamut"),
    *("DaVinci Wide Gamut", "DJI D-Gamut", "F-Gamut", "F-Gamut C", "N-Gamut", "REDWideGamutRGB"),
    *("S-Gamut", "S-Gamut3", "S-Gamut3.Cine", "V-Gamut", "Venice S-Gamut3", "Venice S-Gamut3.Cine"),
)


def collect_encodings() -> dict[str, object]:
    """Collect the matrix as published and the white of each chosen gamut."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour
    gamuts = {
        name: {
            "white_xy": colour.RGB_COLOURSPACES[name].whitepoint.tolist(),
            "rgb_to_xyz": colour.RGB_COLOURSPACES[name].matrix_RGB_to_XYZ.tolist(),
        }
        for name in sorted(GAMUTS)
    }
    return {"colour_science": colour.__version__, "gamuts": gamuts}


if __name__ == "__main__":
    target = Path(__file__).with_name("encodings.json")
    text = json.dumps(collect_encodings(), indent=1, ensure_ascii=True)
    target.write_text(text + "\n", encoding="ascii", newline="\n")
