"""What a fixture can be set to: the steps of its channels, or its own Kelvin and tint.

Idea
----
A desk counts a channel in whole steps; a panel on the fixture counts Kelvin and tint, and mixes its
channels by itself. Its Kelvin is the meter's CCT. Its tint is the green of a filter of so many CC
before the reference light of that Kelvin, as a distance from the black-body locus. Two channels
have one mixture for a Kelvin and no tint; three have one for both; more leave the fixture a choice
that nobody outside knows, and the evenest mixture stands for it.

What is nearest to a wish is looked for from where the free drives lie: step by step, as long as
that helps. Best found.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike

from wbplan.core.tables import Array
from wbplan.light.colorimetry import find_cct_duv, find_tristimulus, find_uv_1960
from wbplan.light.filters import shape_ideal_filter
from wbplan.light.illuminants import radiate_black_body, radiate_locus
from wbplan.light.spectrum import find_illuminance_lux
from wbplan.scene.fixtures import Fixture

Weigh = Callable[[Array], Array]
"""Costs (m, k) of drives (m, n), the first of them foremost: less is better."""

_SWEEPS = 6
_STRIDES = (16, 4, 1)
_MOST_MOVES = 60
_KELVIN_ENDS = (1500.0, 25000.0)
_MIDDLE_KELVIN = 5000.0
_MOST_TINT_CC = 60.0
_TINTS = np.linspace(-_MOST_TINT_CC, _MOST_TINT_CC, 49)
_MET = 1e-4  # of a chromaticity, relative to all the light
_FIRM = 1e4
_LEVELS = 33


@dataclass(frozen=True)
class DialPlace:
    """What a fixture's own panel is set to; ``level`` is its share of all it gives there, 0 to 1.

    ``tint_cc`` is + for green.
    """

    kelvin: float
    tint_cc: float
    level: float


def find_tint_duv(kelvin: ArrayLike, tint_cc: ArrayLike) -> Array:
    """Find the Duv of a fixture's tints [CC], + is green, at its Kelvin; both (...,)."""
    green = shape_ideal_filter(0.0, tint_cc)
    return np.asarray(find_cct_duv(radiate_locus(kelvin) * green)[..., 1])


def mix_at(fixture: Fixture, kelvin: float, duv: float) -> Array | None:
    """Mix the channels as the fixture does for a CCT and Duv; of two channels for a CCT alone.

    Returns
    -------
    ndarray or None
        (n,) drives, the largest of them 1; None where the channels cannot mix it.
    """
    from scipy.optimize import nnls

    ends = find_uv_1960(find_tristimulus(radiate_black_body(kelvin * np.array([0.999, 1, 1.001]))))
    along = (ends[0] - ends[2]) / np.hypot(*(ends[0] - ends[2]))  # the locus, towards the red
    across = np.array([-along[1], along[0]]) * (1 if along[0] > 0 else -1)
    # u and v are ratios of sums over the channels, so what is wanted are sums that vanish
    xyz = find_tristimulus(fixture.power)
    bottom = xyz @ np.array([1.0, 15.0, 3.0])
    off = np.stack([4 * xyz[:, 0], 6 * xyz[:, 1]], axis=1) - ends[1] * bottom[:, None]
    off /= bottom.mean()
    warm, green = off @ along, off @ across - duv * bottom / bottom.mean()
    if warm.size == 2:
        if warm[0] * warm[1] > 0:
            return None
        two = np.abs(warm[::-1])
        return np.asarray(two / two.max()) if two.max() > 0 else np.ones(2)
    level = bottom / bottom.mean()
    even = np.eye(warm.size) - 1.0 / warm.size
    rows = np.vstack([_FIRM * np.stack([warm, green, level]), even])
    drives = nnls(rows, np.concatenate([[0.0, 0.0, _FIRM], np.zeros(warm.size)]))[0]
    if drives.max() <= 0 or max(abs(warm @ drives), abs(green @ drives)) > _MET * (level @ drives):
        return None
    return np.asarray(drives / drives.max())


def read_panel(fixture: Fixture, drives: Array) -> DialPlace | None:
    """Read which step of its panel a fixture's drives (n,) lie at or next to; None where it has no
    panel, or they are no white.
    """
    if not fixture.kelvin_step:
        return None
    cct, duv = find_cct_duv(drives @ fixture.power)
    if not np.isfinite(cct):
        return None
    kelvin = fixture.kelvin_step * round(float(cct) / fixture.kelvin_step)
    kelvin = float(np.clip(kelvin, *_KELVIN_ENDS))
    tint = 0.0
    if fixture.tint_step_cc:
        tint = float(np.interp(duv, find_tint_duv(kelvin, _TINTS), _TINTS))
        tint = fixture.tint_step_cc * round(tint / fixture.tint_step_cc)
    return DialPlace(kelvin, tint, float(drives.max()))


def mixes_any(fixture: Fixture) -> bool:
    """Tell whether a panel has any step that the channels can mix."""
    steps = fixture.kelvin_step * np.arange(1, _KELVIN_ENDS[1] / fixture.kelvin_step + 1)
    steps = steps[steps >= _KELVIN_ENDS[0]]
    if not steps.size:
        return False
    near = np.geomspace(*_KELVIN_ENDS, 60)
    kelvin = np.unique(steps[np.abs(steps - near[:, None]).argmin(axis=1)])
    pairs = zip(kelvin, find_tint_duv(kelvin, 0.0), strict=True)
    return any(mix_at(fixture, float(at), float(duv)) is not None for at, duv in pairs)


def settle(fixture: Fixture, drives: Array, weigh: Weigh) -> Array:
    """Settle drives (n,) on what the fixture can be set to, so that as little as can be is lost.

    Parameters
    ----------
    fixture
        With the steps that anybody stated; without any the drives stay.
    drives
        Where the free drives lie.
    weigh
        What tried drives cost; infinite where they are not allowed.
    """
    if fixture.kelvin_step:
        return _Panel(fixture, weigh).settle(drives)
    if fixture.drive_steps:
        return _settle_channels(fixture.drive_steps, drives, weigh)
    return drives


def _settle_channels(steps: int, drives: Array, weigh: Weigh) -> Array:
    """Each drive to its nearest step, then one step at a time to either side."""
    size = drives.size
    ways = np.vstack([np.eye(size), -np.eye(size)]) / steps
    whole = np.round(drives * steps) / steps
    now = tuple(weigh(whole[None])[0])
    for _ in range(_SWEEPS * size):
        tried = np.clip(whole + ways, 0.0, 1.0)
        found = [tuple(each) for each in weigh(tried)]
        best = min(range(len(found)), key=lambda row: found[row])
        if found[best] >= now:
            break
        now, whole = found[best], np.round(tried[best] * steps) / steps
    return np.asarray(whole)


@dataclass(eq=False)
class _Panel:
    """A walk over the steps of a fixture's panel."""

    fixture: Fixture
    weigh: Weigh
    known: dict[tuple[int, int], tuple[tuple[float, ...], Array] | None] = field(
        default_factory=dict
    )
    duv: dict[int, Array] = field(default_factory=dict)
    output: float = 0.0

    def settle(self, drives: Array) -> Array:
        """Settle drives (n,) on the panel's steps; as they are if it has none for them."""
        self.output = float(find_illuminance_lux(drives @ self.fixture.power))
        place = read_panel(self.fixture, drives) or DialPlace(_MIDDLE_KELVIN, 0.0, 1.0)
        steps = self.fixture.tint_step_cc
        start = (round(place.kelvin / self.fixture.kelvin_step), 0)
        if steps:
            start = (start[0], round(place.tint_cc / steps))
        best = min(self._look_around(start), key=self._cost, default=start)
        for stride in _STRIDES:
            for _ in range(_MOST_MOVES):
                beside = [
                    (best[0] + stride * x, best[1] + stride * y)
                    for x in (-1, 0, 1)
                    for y in ((-1, 0, 1) if steps else (0,))
                ]
                nearest = min(beside, key=self._cost)
                if self._cost(nearest) >= self._cost(best):
                    break
                best = nearest
        found = self._try(best)
        if found is None:
            raise ValueError("no step of the panel that the channels can mix")
        return found[1]

    def _look_around(self, start: tuple[int, int]) -> list[tuple[int, int]]:
        """List places to begin from: where the drives lie, and the nearest white that it mixes."""
        if self._try(start) is not None:
            return [start]
        far = [
            (start[0] + sign * 2**power, tint)
            for power in range(8)
            for sign in (-1, 1)
            for tint in (start[1], 0)
        ]
        return [each for each in far if self._try(each) is not None]

    def _cost(self, place: tuple[int, int]) -> tuple[float, ...]:
        found = self._try(place)
        return (np.inf,) if found is None else found[0]

    def _try(self, place: tuple[int, int]) -> tuple[tuple[float, ...], Array] | None:
        """Find the best level at a place, and what it costs."""
        if place not in self.known:
            self.known[place] = self._find(place)
        return self.known[place]

    def _find(self, place: tuple[int, int]) -> tuple[tuple[float, ...], Array] | None:
        kelvin = place[0] * self.fixture.kelvin_step
        tint = place[1] * self.fixture.tint_step_cc
        if not _KELVIN_ENDS[0] <= kelvin <= _KELVIN_ENDS[1] or abs(tint) > _MOST_TINT_CC:
            return None
        if place[0] not in self.duv:
            self.duv[place[0]] = find_tint_duv(kelvin, _TINTS)
        unit = mix_at(self.fixture, kelvin, float(np.interp(tint, _TINTS, self.duv[place[0]])))
        if unit is None:
            return None
        at = float(
            np.clip(self.output / find_illuminance_lux(unit @ self.fixture.power), 1e-4, 1.0)
        )
        best: tuple[tuple[float, ...], float] = ((np.inf,), at)
        for span in (4.0, 0.3, 0.02):
            levels = np.clip(best[1] * 2.0 ** np.linspace(-span, span, _LEVELS), 0.0, 1.0)
            best = self._choose(unit, levels, best)
        steps = self.fixture.drive_steps
        if steps:
            whole = np.clip(round(best[1] * steps) + np.arange(-2, 3), 1, steps) / steps
            best = self._choose(unit, whole, ((np.inf,), whole[2]))
        return best[0], np.asarray(best[1] * unit)

    def _choose(
        self, unit: Array, levels: Array, best: tuple[tuple[float, ...], float]
    ) -> tuple[tuple[float, ...], float]:
        costs = [tuple(float(e) for e in each) for each in self.weigh(levels[:, None] * unit)]
        row = min(range(len(costs)), key=lambda each: costs[each])
        return min(best, (costs[row], float(levels[row])))
