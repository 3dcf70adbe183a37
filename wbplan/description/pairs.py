"""Which lights of several pass for one another: to the eye, and to one camera."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wbplan.camera.setting import CameraView
from wbplan.core.tables import Array
from wbplan.description.gaps import find_casts
from wbplan.light.colorimetry import UV_PRIME_STEP, find_uv_prime, find_xy
from wbplan.light.ssi import find_similarity
from wbplan.planning.casts import Cast
from wbplan.planning.verdict import is_told

MOST_PAIRED = 40  # lights; past it the pairs are more than anybody reads
MATCHED_STEPS = 3.0  # side by side, what passes for one white; common practice, no source


@dataclass(frozen=True)
class Pair:
    """Two lights side by side, by their rows in the set.

    ``steps`` is their distance to the eye in steps of u', v' (SDCM, CIE TN 001:2014), ``ssi`` the
    lower of the two similarities, ``cast`` what the first is from the second in the camera's terms:
    None without a camera, or where one of them cannot be neutralised.
    """

    first: int
    second: int
    steps: float
    ssi: float
    cast: Cast | None

    @property
    def matches_eye(self) -> bool:
        """Whether the eye takes both for one white."""
        return self.steps <= MATCHED_STEPS

    @property
    def matches_camera(self) -> bool:
        """Whether the camera does, by what can be told side by side."""
        return self.cast is not None and not is_told(*self.cast.point)


def pair_lights(power: Array, rows: list[int], camera: CameraView | None) -> tuple[Pair, ...]:
    """Pair lights (n, 401) that stand in ``rows`` of a set, each with each; none past 40 lights."""
    count = len(rows)
    if not 2 <= count <= MOST_PAIRED:
        return ()
    first, second = np.triu_indices(count, 1)
    uv = find_uv_prime(find_xy(power))
    steps = np.linalg.norm(uv[first] - uv[second], axis=-1) / UV_PRIME_STEP
    one, two = power[first], power[second]
    ssi = np.minimum(find_similarity(one, two), find_similarity(two, one))
    casts: list[Cast | None] = [None] * len(first)
    if camera is not None:
        casts = find_casts(power, power, camera, (first, second))
    return tuple(
        Pair(rows[int(i)], rows[int(j)], float(steps[n]), float(ssi[n]), casts[n])
        for n, (i, j) in enumerate(zip(first, second, strict=True))
    )
