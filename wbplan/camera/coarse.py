"""What coarse steps of a spectrum leave open of a camera's response.

A file read every 5 or 10 nm does not say by what bandwidth its instrument smeared the light (see
`light.bandpass`). The bandwidth is the instrument's own: one draw holds for all lights that were
read by the same step. From the light as read (0) to the one that two steps of bandwidth would have
smeared (1) and as far again on either side, every place is as likely.

Over 167 lights by 1 nm, smeared by one or two steps of 5 or 10 nm, the band of an exactly known
camera held the setting of the unsmeared light in 87 to 100 of 100
(`tests/bench/sampling_trial.py`; the least by 10 nm and a bandwidth of 20).
"""

from __future__ import annotations

import numpy as np

from wbplan.camera.sensitivities import respond
from wbplan.core.tables import Array
from wbplan.light.spectrum import Spectrum, find_illuminance_lux, scale_to_lux

_LOWEST, _HIGHEST = -1.0, 2.0
_SEED = 58129


def is_coarse(lights: tuple[Spectrum, ...]) -> bool:
    """Tell whether coarse steps leave any of the lights open."""
    return any(each.sampling is not None for each in lights)


def draw_coarse(lights: tuple[Spectrum, ...], through: Array, curves: Array) -> Array:
    """Draw how raw responses change when a bandwidth that nobody stated is undone.

    Parameters
    ----------
    lights
        The n lights as read.
    through
        (n, 401), what their values are multiplied with to reach the camera.
    curves
        (k, 401, 3) of one draw each.

    Returns
    -------
    ndarray
        (n, k, 3), to be added to the responses; 0 for a light of fine steps. The
        light's own lux stay, for the meter read them.
    """
    change = np.zeros((len(lights), curves.shape[0], 3))
    for row, light in enumerate(lights):
        if light.sampling is None:
            continue
        other = light.sampling.alternatives[1]
        kept = scale_to_lux(other, find_illuminance_lux(light.values))
        moved = respond((kept - light.values) * through[row], curves)
        generator = np.random.default_rng([_SEED, round(1000 * light.sampling.step_nm)])
        change[row] = generator.uniform(_LOWEST, _HIGHEST, len(curves))[:, None] * moved
    return change
