"""The verdict on a setting: for whom it was solved, what it does to the key, what would help.

Idea
----
The setting is solved for the positions with a weight, the key alone unless others have one, inside
the hard limits. That may leave the key off its own intent, and leaves every watched place as
it falls, so both are told. Where the key lies further off than can be told side by side, one
change is sought that helps it most: the menu's best setting for the key alone, the LUT that is made
anyway, or one generic filter before one light with the dialled setting held. A place that is
dark against the key is named as dark, not for its colour.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np

from wbplan.camera.sensitivities import find_log2_response, respond
from wbplan.camera.setting import Setting, find_distance, round_setting, solve_coordinates
from wbplan.core.rounding import rank
from wbplan.light.generic_filters import GELS, make_gel
from wbplan.planning.casts import Cast
from wbplan.planning.limits import Limits, find_excess
from wbplan.planning.positions import PositionPlan
from wbplan.planning.response import SceneResponse

TOLD_MIRED, TOLD_CC = 5.0, 2.0
"""What can just be told side by side; common practice, no source."""
_WORTH_MIRED = 1.0  # less than this is no help, and no reason for the harder of two ways
_LEAST_SHARE = 0.02  # of the key's light, for a lamp to be worth a filter

Way = Literal["setting", "lut", "filter"]


@dataclass(frozen=True)
class Remedy:
    """The change that helps the key most, and what it leaves there: mired and CC from its intent.

    ``setting`` is what to dial for the key alone, ``light`` and ``filter`` what to hang before
    which light; each is empty for the other ways.
    """

    way: Way
    left_mired: float
    left_green_cc: float
    setting: Setting | None = None
    light: str = ""
    filter: str = ""

    @property
    def distance(self) -> float:
        """What it leaves as one figure [mired]."""
        return float(find_distance(self.left_mired, self.left_green_cc))


@dataclass(frozen=True)
class Place:
    """What the setting does to a place besides the key: its cast from what is meant there.

    ``is_meant`` is False for a watched place, whose cast is told from neutral.
    """

    name: str
    off: Cast
    is_meant: bool


@dataclass(frozen=True)
class Verdict:
    """What a setting was solved for, and what that does.

    ``solved_for`` are the positions with a weight and their shares, the heaviest first;
    ``heeded`` those without whose hard limits move the setting. ``is_given`` marks a setting that
    is shot at anyway. ``key_off`` is the key's cast from its intent, None where it is left as it
    falls or no setting neutralises it, ``is_far`` that it can be told. ``others`` are the further
    places, the furthest off first; ``dark`` those too dark to look at and how far under the key
    they lie [stops].
    """

    key: str
    solved_for: tuple[tuple[str, float], ...]
    heeded: tuple[str, ...]
    is_given: bool
    key_off: Cast | None
    is_far: bool
    others: tuple[Place, ...]
    dark: tuple[tuple[str, float], ...]
    remedy: Remedy | None


def reach_verdict(
    scene: SceneResponse,
    exact: tuple[float, float],
    dial: Setting,
    limits: Limits,
    positions: tuple[PositionPlan, ...],
    has_lut: bool,
) -> Verdict:
    """Reach the verdict on a dialled setting.

    Parameters
    ----------
    exact
        Mired and CC of the exact setting, which the LUT corrects to.
    limits
        Of the setting, from `best_setting.solve_exact`.
    """
    setup = scene.setup
    key, row = positions[setup.key_row], setup.key_row
    pulling = [each for each in positions if each.weight > 0 and not each.trouble]
    pulling = pulling or [each for each in positions if each.weight > 0]
    total = sum(each.weight for each in pulling)
    ranked = sorted(pulling, key=lambda each: -each.weight)
    judged = key.is_judged and not key.trouble
    off = key.off_intent if judged else None
    far = off is not None and is_told(*off.point)
    others = [
        Place(each.name, each.off_intent, each.is_judged)
        for each in positions
        if each is not key and each.aim != "left" and not each.trouble and not each.is_dark
    ]
    return Verdict(
        key=key.name,
        solved_for=tuple((each.name, each.weight / total) for each in ranked),
        heeded=_find_heeded(limits, positions),
        is_given=setup.shot_at is not None,
        key_off=off,
        is_far=far,
        others=tuple(sorted(others, key=lambda each: -rank(_measure(each.off)))),
        dark=tuple((each.name, -each.from_key_stops) for each in positions if _is_lit_dark(each)),
        remedy=_find_remedy(scene, exact, dial, row, has_lut) if far else None,
    )


def is_told(mired: float, green_cc: float) -> bool:
    """Tell whether a cast is beyond what can just be told side by side."""
    return abs(mired) > TOLD_MIRED or abs(green_cc) > TOLD_CC


def _measure(cast: Cast) -> float:
    return float(find_distance(*cast.point))


def _is_lit_dark(position: PositionPlan) -> bool:
    return position.is_dark and position.lux.value > 0


def _find_heeded(limits: Limits, positions: tuple[PositionPlan, ...]) -> tuple[str, ...]:
    """Find the positions without a weight whose limits keep the setting where it is."""
    if not limits.is_limited:
        return ()
    pull = limits.weight / limits.weight.sum()
    free = float(pull @ limits.mired), float(pull @ limits.cc)
    over_m, over_c = find_excess(limits, *free)
    past = (over_m[:, 0] > 0) | (over_c[:, 0] > 0)
    return tuple(
        each.name
        for each, at_limit, weight in zip(positions, past, limits.weight, strict=True)
        if at_limit and weight == 0
    )


def _find_remedy(
    scene: SceneResponse, exact: tuple[float, float], dial: Setting, row: int, has_lut: bool
) -> Remedy | None:
    """Find what helps the key most; of ways that help alike the one that is least work."""
    setup = scene.setup
    intent = setup.positions[row].intent
    want_m = float(scene.position.mired[row, 0]) - intent.mired
    want_c = float(scene.position.tint_cc[row, 0]) - intent.green_cc
    now = float(find_distance(want_m - dial.mired, want_c - dial.tint_cc))
    own = round_setting(setup.camera.menu, want_m, want_c)
    ways = [Remedy("setting", want_m - own.mired, want_c - own.tint_cc, own)]
    if has_lut:
        ways.append(Remedy("lut", want_m - exact[0], want_c - exact[1]))
    ways += _try_filters(scene, dial, row)
    least = min(each.distance for each in ways)
    if now - least < _WORTH_MIRED:
        return None
    return next(each for each in ways if each.distance <= least + _WORTH_MIRED)


def _try_filters(scene: SceneResponse, dial: Setting, row: int) -> Iterator[Remedy]:
    """Try each generic filter before each light of the key with the dialled setting held."""
    setup, intent = scene.setup, scene.setup.positions[row].intent
    lit = scene.lux[row] * scene.source_lux
    curves, gels = setup.camera.sensitivities, [make_gel(each) for each in GELS]
    through = np.stack([each.transmittance for each in gels])
    raw = scene.lux[row][:, None] * respond(scene.power, curves)
    found = []
    for light, source in enumerate(setup.sources):
        is_sun = source.sky is not None and source.sky.light.kind == "sun"
        if is_sun or lit[light] < _LEAST_SHARE * lit.sum():
            continue
        behind = scene.lux[row, light] * respond(scene.power[light] * through, curves)
        mixed = raw.sum(axis=0) - raw[light] + behind
        seen = solve_coordinates(scene.camera.locus, find_log2_response(mixed[:, None, :]))
        left_m = seen.mired[:, 0] - intent.mired - dial.mired
        left_c = seen.tint_cc[:, 0] - intent.green_cc - dial.tint_cc
        best = int(np.argmin(find_distance(left_m, left_c)))
        found.append(
            Remedy(
                "filter", float(left_m[best]), float(left_c[best]),
                light=source.name, filter=gels[best].name,
            )
        )  # fmt: skip
    yield from sorted(found, key=lambda each: rank(each.distance))
