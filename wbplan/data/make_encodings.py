"""Write encodings.json: the gamuts and the names of the log curves that colour-science carries.

Kept as package data so that finding an encoding does not wait for colour-science. Run it again
when that library is updated, and let the tests of the encodings say what has moved:

    python wbplan/data/make_encodings.py
"""

from __future__ import annotations

import json
import warnings
from pathlib import Path


def collect_encodings() -> dict[str, object]:
    """Collect every RGB colourspace (matrix as published, white) and every log curve's name."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour
    gamuts = {
        name: {
            "white_xy": space.whitepoint.tolist(),
            "rgb_to_xyz": space.matrix_RGB_to_XYZ.tolist(),
        }
        for name, space in sorted(colour.RGB_COLOURSPACES.items())
    }
    return {
        "colour_science": colour.__version__,
        "curves": sorted(colour.LOG_ENCODINGS),
        "gamuts": gamuts,
    }


if __name__ == "__main__":
    target = Path(__file__).with_name("encodings.json")
    text = json.dumps(collect_encodings(), indent=1, ensure_ascii=True)
    target.write_text(text + "\n", encoding="ascii", newline="\n")
