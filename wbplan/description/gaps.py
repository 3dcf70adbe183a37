"""The gap from lights to another light, to the eye and in a camera's terms."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wbplan.camera.setting import CameraView
from wbplan.core.intervals import Interval, make_interval
from wbplan.core.tables import Array
from wbplan.description.camera import place_lights
from wbplan.light.colorimetry import UV_PRIME_STEP
from wbplan.light.ssi import find_gap
from wbplan.light.tlci import find_tlmf
from wbplan.planning.casts import Cast

Rows = NDArray[np.intp]


@dataclass(frozen=True)
class GapFigures:
    """The gap from one light to another; see `ssi.Gap` for the signs.

    ``tlmf`` is how the light does beside the other with the standard television camera balanced on
    the other.
    ``camera`` is the same gap in the camera's terms, the light's coordinates less the other's;
    None without a camera, or where one of the two cannot be neutralised.
    """

    other: str
    mired: float
    duv: float
    closing_mired: float
    closing_cc: float
    xy: float
    uv_prime: float
    ssi: float
    tlmf: float
    camera: Cast | None = None

    @property
    def steps(self) -> float:
        """How far apart they are to the eye in steps of u', v' (SDCM), CIE TN 001:2014."""
        return self.uv_prime / UV_PRIME_STEP


def list_gaps(
    power: Array, other: Array, name: str, camera: CameraView | None = None
) -> list[GapFigures]:
    """List the gaps from lights (n, 401) to another (401,), or each to its own (n, 401)."""
    gap, tlmf = find_gap(power, other), find_tlmf(power, other)
    casts: list[Cast | None] = [None] * power.shape[0]
    if camera is not None:
        casts = find_casts(power, np.broadcast_to(other, power.shape), camera)
    return [
        GapFigures(
            other=name,
            mired=float(gap.mired[row]),
            duv=float(gap.duv[row]),
            closing_mired=float(gap.closing_mired[row]),
            closing_cc=float(gap.closing_cc[row]),
            xy=float(gap.xy[row]),
            uv_prime=float(gap.uv_prime[row]),
            ssi=float(gap.ssi[row]),
            tlmf=float(tlmf[row]),
            camera=casts[row],
        )
        for row in range(power.shape[0])
    ]


def find_casts(
    power: Array, other: Array, camera: CameraView, pairs: tuple[Rows, Rows] | None = None
) -> list[Cast | None]:
    """Find how far lights (n, 401) are from others (m, 401) in a camera's terms, with bands.

    ``pairs`` are which of the one against which of the other, row by row if not given. Each member
    of the family sees both lights, so what they share drops out of the band. None where one of
    the two cannot be neutralised.
    """
    own, draws, trouble = place_lights(power, camera)
    theirs, their_draws, their_trouble = place_lights(other, camera)
    one, two = pairs or (np.arange(power.shape[0]),) * 2
    mired = own.mired[one] - theirs.mired[two]
    green = own.tint_cc[one] - theirs.tint_cc[two]

    def band(values: Array, spread: tuple[Array, Array] | None, row: int) -> Interval:
        drawn = None if spread is None else spread[0][one[row]] - spread[1][two[row]]
        return make_interval(float(values[row, 0]), drawn, camera.band_share)

    spread_m = spread_c = None
    if draws is not None and their_draws is not None:
        spread_m = draws.mired, their_draws.mired
        spread_c = draws.tint_cc, their_draws.tint_cc
    return [
        None
        if trouble[one[row]] or their_trouble[two[row]]
        else Cast(band(mired, spread_m, row), band(green, spread_c, row))
        for row in range(len(one))
    ]
