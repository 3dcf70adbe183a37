"""The trade-off: how far every position is from its intent at each Kelvin that could be set.

Idea
----
One setting serves all positions, so what one gains another loses. In mired the exchange is one to
one: a position's cast is a straight line over the setting's mired. The tint is held at that of
the plan, since it moves CC alone. Beside the lines stand the intervals of Kelvin that keep each
hard limit, what they have in common, and, if nothing, which positions exclude each other.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from wbplan.camera.setting import Setting, find_distance
from wbplan.core.notes import Note, warn
from wbplan.core.tables import Array
from wbplan.light.illuminants import LOCUS_JOINTS_MIRED
from wbplan.light.spectrum import freeze
from wbplan.planning.casts import name_tint
from wbplan.planning.limits import (
    SLACK,
    Conflict,
    SettingBox,
    find_box,
    find_conflicts,
    find_limits,
)
from wbplan.planning.response import SceneResponse

_POINTS = 41
_MARGIN_MIRED = 25.0


@dataclass(frozen=True)
class KeptRange:
    """The settings that keep a limit: mired and tint from low to high, infinite where free."""

    name: str
    low_mired: float
    high_mired: float
    low_cc: float
    high_cc: float


@dataclass(frozen=True, eq=False)
class TradeOff:
    """What each setting leaves.

    ``mired`` (k,) ascending; ``tint_cc`` is held. For the named positions, those whose light a
    setting neutralises: ``off_mired`` (p, k) and ``off_green_cc`` (p,) from the intent (from
    neutral where it is "leave"), ``distance_mired`` (p, k). ``total_mired`` (k,) is the root of
    the weighted mean of the squared distances. ``ranges`` are those of the positions with limits,
    ``common`` what keeps them all, None if nothing does or none has a limit.
    """

    mired: Array
    tint_cc: float
    names: tuple[str, ...]
    judged: tuple[bool, ...]
    off_mired: Array
    off_green_cc: Array
    distance_mired: Array
    total_mired: Array
    ranges: tuple[KeptRange, ...]
    common: KeptRange | None
    conflicts: tuple[Conflict, ...]


def weigh_settings(scene: SceneResponse, dial: Setting) -> TradeOff | None:
    """Weigh the settings against each other; None if no position can be neutralised.

    ``dial`` is the plan's setting, whose tint is held.
    """
    positions = scene.setup.positions
    mired, tint_cc = scene.position.mired[:, 0], scene.position.tint_cc[:, 0]
    rows = [row for row, said in enumerate(scene.position_trouble) if not said]
    if not rows:
        return None
    intents = [positions[row].intent for row in rows]
    names = tuple(positions[row].name for row in rows)
    want_m = mired[rows] - np.array([each.mired for each in intents])
    want_c = tint_cc[rows] - np.array([each.green_cc for each in intents])
    weight = np.array([each.weight for each in intents])
    within = find_limits(intents, np.ones(len(rows)))
    ends = np.append(want_m, dial.mired)
    low, high = np.clip(
        [ends.min() - _MARGIN_MIRED, ends.max() + _MARGIN_MIRED],
        LOCUS_JOINTS_MIRED[0],
        LOCUS_JOINTS_MIRED[-1],
    )
    scale = np.linspace(low, high, _POINTS)
    off_m, off_c = want_m[:, None] - scale, want_c - dial.tint_cc
    distance = find_distance(off_m, off_c[:, None])
    share = weight / weight.sum() if weight.sum() > 0 else np.full(weight.size, 1 / weight.size)
    limited = [
        row for row in range(len(rows)) if np.isfinite([within[0][row], within[1][row]]).any()
    ]
    ranges = tuple(
        _name_box(names[row], find_box(want_m[[row]], want_c[[row]], *(w[[row]] for w in within)))
        for row in limited
    )
    box = find_box(want_m, want_c, *within)
    return TradeOff(
        mired=freeze(scale),
        tint_cc=dial.tint_cc,
        names=names,
        judged=tuple(each.aim == "meant" for each in intents),
        off_mired=freeze(off_m),
        off_green_cc=freeze(off_c),
        distance_mired=freeze(distance),
        total_mired=freeze(np.sqrt(share @ distance**2)),
        ranges=ranges,
        common=_name_box("all limits", box) if ranges and not box.is_empty else None,
        conflicts=find_conflicts(names, want_m, want_c, within),
    )


def _name_box(name: str, box: SettingBox) -> KeptRange:
    ends = (box.low_mired, box.high_mired, box.low_cc, box.high_cc)
    return KeptRange(name, *(float(each) for each in ends))


def note_limits(scene: SceneResponse, tradeoff: TradeOff | None, dial: Setting) -> tuple[Note, ...]:
    """Say which limits the dialled setting breaks, and why it has to."""
    positions = scene.setup.positions
    limited = [each.intent.is_limited for each in positions]
    notes = [
        warn("limit-unjudged", "its limit cannot be kept, since no setting neutralises it", p.name)
        for p, has, said in zip(positions, limited, scene.position_trouble, strict=True)
        if has and said
    ]
    if tradeoff is None:
        return tuple(notes)
    for each in tradeoff.conflicts:
        notes.append(
            warn(
                "limits-conflict",
                f"no setting keeps the limits of both '{each.warmer}' and '{each.cooler}': "
                f"they are {say_gap(each.mired, each.cc)} too far apart, so the lighter weight "
                "bends first",
                "setting",
            )
        )
    broken = [each for each in tradeoff.ranges if not _holds(each, dial)]
    for kept in broken:
        over_m = max(kept.low_mired - dial.mired, dial.mired - kept.high_mired, 0.0)
        over_c = max(kept.low_cc - dial.tint_cc, dial.tint_cc - kept.high_cc, 0.0)
        text = (
            f"is {say_gap(over_m, over_c)} past its limit at the dialled setting; "
            f"{_say_keeping(kept, dial)} would keep it"
        )
        notes.append(warn("limit-broken", text, kept.name))
    if broken and not tradeoff.conflicts:
        why = (
            "the setting that is shot at does not"
            if scene.setup.shot_at is not None
            else "none on the camera's menu lies where they are kept"
        )
        notes.append(
            warn("limits-off-menu", f"a setting could keep every limit, but {why}", "setting")
        )
    return tuple(notes)


def _holds(limit: KeptRange, dial: Setting) -> bool:
    return (
        limit.low_mired - SLACK <= dial.mired <= limit.high_mired + SLACK
        and limit.low_cc - SLACK <= dial.tint_cc <= limit.high_cc + SLACK
    )


def _say_keeping(kept: KeptRange, dial: Setting) -> str:
    """Say the setting nearest to the dialled one that keeps a limit: whole Kelvin inside it."""
    mired = min(max(dial.mired, kept.low_mired), kept.high_mired)
    tint = min(max(dial.tint_cc, kept.low_cc), kept.high_cc)
    parts = []
    if mired != dial.mired:
        if mired > 0:
            kelvin = 1e6 / mired
            whole = math.floor(kelvin) if mired > dial.mired else math.ceil(kelvin)
            parts.append(f"{whole:.0f} K")
        else:
            parts.append("no Kelvin")
    if tint != dial.tint_cc:
        tenth = math.ceil(tint * 10) if tint > dial.tint_cc else math.floor(tint * 10)
        parts.append(name_tint(tenth / 10))
    return " and ".join(parts)


def say_gap(mired: float, cc: float) -> str:
    """Say a size without a side: '12 mired and 1.5 CC'."""
    parts = []
    if mired > 0:
        parts.append(f"{mired:.0f} mired" if mired >= 9.95 else f"{mired:.1f} mired")
    if cc > 0:
        parts.append(f"{cc:.1f} CC")
    return " and ".join(parts) or "nothing"
