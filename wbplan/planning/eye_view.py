"""A light as a meter with a standard eye shows it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wbplan.core.tables import Array
from wbplan.light.colorimetry import find_cct_duv, find_xy


@dataclass(frozen=True)
class EyeView:
    """What a meter with a standard eye shows: CCT [K] (NaN where it has no meaning), Duv, x, y."""

    cct_kelvin: float
    duv: float
    x: float
    y: float


def see_as_eye(power: Array) -> tuple[EyeView, ...]:
    """Describe lights (n, 401) as a meter does; a light without power has NaN throughout."""
    lit = power.sum(-1) > 0
    safe = np.where(lit[:, None], power, 1.0)
    figures = np.concatenate([find_cct_duv(safe), find_xy(safe)], axis=-1)
    figures[~lit] = np.nan
    return tuple(EyeView(*(float(number) for number in row)) for row in figures)
