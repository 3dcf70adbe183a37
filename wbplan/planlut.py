"""The LUT of a setup: which correction, on which colours it is tried, and under which name."""

from __future__ import annotations

import numpy as np

from wbplan import __version__
from wbplan.cautions import say_sun_caution
from wbplan.correction import find_correction_matrix, find_surface_rgb
from wbplan.decisions import LutPlan, WantedSetting, name_setting
from wbplan.judging import NO_LIGHT
from wbplan.lut import LinearCorrection, choose_lut, scene_codes
from wbplan.lutfile import LEVEL_WORDS, name_encoding
from wbplan.notes import Note, warn
from wbplan.setup import Setup
from wbplan.tables import Array, load_table
from wbplan.whitebalance import CameraView, Setting


def plan_lut(
    setup: Setup,
    camera: CameraView,
    exact: WantedSetting,
    dial: Setting,
    at_positions: Array,
    trouble: list[str],
    names: tuple[str, str],
    remarks: tuple[str, ...] = (),
) -> tuple[LutPlan | None, tuple[Note, ...]]:
    """Make the LUT from the dialled setting to the exact neutral of the intent.

    Parameters
    ----------
    at_positions
        (p, 401) the light at each position, on whose colours the LUT is measured.
    trouble
        For each position why no setting neutralises its light, or an empty text.
    names
        What the file's name begins with, and the digest of the plan's inputs.
    remarks
        What else its header is to say.

    Returns
    -------
    tuple
        The LUT, or None with a warning where every judged position is in trouble.
    """
    stem, digest = names
    judged = [
        said
        for said, position in zip(trouble, setup.positions, strict=True)
        if position.intent.weight > 0
    ]
    if all(judged):
        said = next((each for each in judged if each != NO_LIGHT), NO_LIGHT)
        return None, (warn("no-lut", f"no LUT is made: {said}", "LUT"),)
    shot_at = (dial.mired, dial.tint_cc)
    wanted = (exact.mired.value, exact.tint_cc.value)
    matrix, cost = find_correction_matrix(camera, setup.encoding, shot_at, wanted, setup.keep)
    correction = LinearCorrection(setup.encoding, matrix)
    lit = at_positions[at_positions.sum(-1) > 0]
    surfaces = np.concatenate([load_table("chart"), load_table("samples")])
    samples = find_surface_rgb(camera, setup.encoding, shot_at, lit, surfaces)
    codes = scene_codes(setup.encoding, samples.reshape(-1, 3))
    before = name_setting(dial.kelvin, dial.tint_cc)
    after = name_setting(exact.kelvin.value, exact.tint_cc.value)
    baked = choose_lut(
        correction,
        codes,
        title=f"{stem} {before} to {after}",
        comments=(
            f"White balance correction made by wbplan {__version__}.",
            f"From a picture shot at {before} to {after}, camera profile {camera.profile.name}.",
            f"Level kept: {LEVEL_WORDS[setup.keep]}, {cost:.2f} stops darker.",
            f"Plan inputs SHA-256 {digest or 'not stated'}.",
            *remarks,
            *say_sun_caution(each.spectrum for each in setup.sources),
        ),
    )
    parts = (stem, "correct", before, after, name_encoding(setup.encoding), baked.size)
    file_name = "_".join(str(part).replace(" ", "-") for part in parts) + ".cube"
    notes = []
    if not baked.met:
        notes.append(
            warn(
                "lut-error",
                f"the LUT's worst reading error stays above one ten-bit code even at "
                f"{baked.size} points",
                "LUT",
            )
        )
    return LutPlan(file_name, dial, exact, matrix, setup.keep, cost, baked), tuple(notes)
