"""The record's part on what went into a plan, from which the plan can be made again.

Text stands as text, so that a person can read it and a line of it can be compared; bytes that are
not UTF-8 stand in base64 (RFC 4648). Nothing is compressed: a file of spectra is smaller than what
the record says about it.
"""

from __future__ import annotations

import base64
from typing import Any

from wbplan.inputs import InputFile, PlanInputs


def record_inputs(inputs: PlanInputs | None) -> dict[str, Any] | None:
    """Collect every file that was read, and what was asked for."""
    if inputs is None:
        return None
    return {
        "scenario": inputs.scenario,
        "camera_in_place_of_all": inputs.camera,
        "band_share_ratio": inputs.asked.band_share,
        "advise": inputs.asked.advise,
        "plate": inputs.asked.plate,
        "figures": inputs.asked.figures,
        "files": [_record_file(each) for each in inputs.files],
    }


def _record_file(file: InputFile) -> dict[str, Any]:
    try:
        content = {"text": file.data.decode("utf-8"), "base64": None}
    except UnicodeDecodeError:
        content = {"text": None, "base64": base64.b64encode(file.data).decode("ascii")}
    return {"name": file.name, "sha256": file.sha256, **content}
