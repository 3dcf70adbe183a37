"""How long a setting serves, and how long a running take matches its first frame.

A setting serves a time when every position that counts lies within the tolerance of its intent
under it. A window is a run of such times through which one T-stop can be kept: the key's level
moves no further than the tolerance each way from the middle of it. All is told to the step of the
times; between two of them nothing is claimed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wbplan.camera.sensitivities import Menu
from wbplan.camera.setting import Setting, find_distance
from wbplan.core.tables import Array
from wbplan.day.scene import DayScene
from wbplan.day.times import Tolerance
from wbplan.scene.setup import Intent

_SLACK = 1e-9


@dataclass(frozen=True)
class Window:
    """Times ``first`` to ``last`` (numbers of them, both held), and the key's level [stops]."""

    first: int
    last: int
    key_log2_lux: float


@dataclass(frozen=True)
class SettingWindows:
    """A setting, where it came from ('given', 'best' or 'hour'), and the windows it serves.

    ``at`` numbers the time it was chosen for, -1 where it was chosen for the whole day.
    """

    setting: Setting
    origin: str
    at: int
    windows: tuple[Window, ...]


@dataclass(frozen=True)
class TakeEnd:
    """How long a take that begins at a time matches: the last time that does, and what ends it.

    ``why`` is empty where the day's times end before the match does; ``about`` names the position.
    """

    last: int
    why: str
    about: str


def find_off_intent(scene: DayScene, intents: Sequence[Intent], setting: Setting) -> Array:
    """Find how far positions lie from their intents under a setting, (2, t, p) [mired, CC].

    NaN where a position does not count.
    """
    want = np.array([[each.mired, each.green_cc] for each in intents]).T[:, None, :]
    own = np.stack([scene.mired.value, scene.tint_cc.value])
    dial = np.array([setting.mired, setting.tint_cc])[:, None, None]
    return np.where(scene.counts, own - want - dial, np.nan)


def serve(scene: DayScene, intents: Sequence[Intent], setting: Setting, within: Tolerance) -> Array:
    """Tell at which times a setting serves, (t,) of bool."""
    off = np.abs(np.nan_to_num(find_off_intent(scene, intents, setting)))
    kept = (off[0] <= within.mired + _SLACK) & (off[1] <= within.cc + _SLACK)
    return np.asarray(kept.all(axis=1) & scene.counts.any(axis=1))


def choose_best_setting(
    scene: DayScene,
    intents: Sequence[Intent],
    menu: Menu,
    within: Tolerance,
    exposed: np.ndarray,
) -> Setting | None:
    """Choose the entry of the menu that serves most of the times; None where none serves any.

    Of several the one nearest to the middle of what the times want. ``exposed`` (t,) of bool are
    the times at which the key has light, so that there is a stop to shoot at.
    """
    want_m, want_c = (np.array([getattr(x, n) for x in intents]) for n in ("mired", "green_cc"))
    mired, tint = scene.mired.value - want_m, scene.tint_cc.value - want_c
    counts = scene.counts
    able = counts.any(axis=1) & exposed

    def keep(figures: Array, wanted: Array, limit: float) -> Array:
        off = np.abs(figures[:, None, None] - np.where(counts, wanted, np.nan))
        return np.asarray(((off <= limit + _SLACK) | ~counts).all(axis=2) & able)

    choices: list[Setting] = [Setting(k, t) for k in menu.kelvin for t in menu.tint_cc]
    served = np.zeros(0)
    if choices:
        along = keep(1e6 / np.array(menu.kelvin), mired, within.mired)
        across = keep(np.array(menu.tint_cc), tint, within.cc)
        served = (along.astype(np.float64) @ across.T.astype(np.float64)).ravel()
    for name, kelvin, cc in menu.presets:
        setting = Setting(kelvin, cc, name)
        choices.append(setting)
        served = np.append(served, (serve(scene, intents, setting, within) & exposed).sum())
    if not choices or served.max() <= 0:
        return None
    middle = (np.nanmean(scene.exact_mired.value), np.nanmean(scene.exact_tint_cc.value))
    best = np.flatnonzero(served == served.max())
    far = [
        float(find_distance(choices[i].mired - middle[0], choices[i].tint_cc - middle[1]))
        for i in best
    ]
    return choices[int(best[int(np.argmin(far))])]


def find_windows(fine: np.ndarray, level: Array, stops: float) -> tuple[Window, ...]:
    """Cut the times that are served into the fewest windows of one T-stop each.

    Parameters
    ----------
    fine
        (t,) of bool.
    level
        (t,) log2 of the key's lux.
    stops
        How far it may lie from the window's middle, each way.
    """
    windows = []
    first = -1
    low = high = 0.0
    for time in range(fine.size + 1):
        here = time < fine.size and bool(fine[time]) and np.isfinite(level[time])
        if first >= 0:
            grown = here and max(high, level[time]) - min(low, level[time]) <= 2 * stops + _SLACK
            if grown:
                low, high = min(low, float(level[time])), max(high, float(level[time]))
                continue
            windows.append(Window(first, time - 1, (low + high) / 2))
            first = -1
        if here:
            first, low, high = time, float(level[time]), float(level[time])
    return tuple(windows)


def find_window_around(at: int, fine: np.ndarray, level: Array, stops: float) -> Window | None:
    """Find the run of times around one at whose stop it is exposed; None if it is not served."""
    near = fine & (np.abs(level - level[at]) <= stops + _SLACK)
    if not near[at]:
        return None
    off = np.flatnonzero(~near)
    before, after = off[off < at], off[off > at]
    first = int(before[-1]) + 1 if before.size else 0
    last = int(after[0]) - 1 if after.size else near.size - 1
    return Window(first, last, float(level[at]))


def find_take_ends(
    scene: DayScene, names: Sequence[str], within: Tolerance
) -> tuple[TakeEnd | None, ...]:
    """Find for a take from each time when it stops to match its first frame.

    Setting and stop are not touched. Every position is watched whatever its intent, since all of
    them are in the picture: one that has light at the start in colour and in its own level, a dark
    one until light comes. None where the day gives nothing to start from.
    """
    shown = np.stack([scene.mired.value, scene.tint_cc.value, np.log2(_lit(scene.lux.value))])
    limits = np.array([within.mired, within.cc, within.stops])[:, None, None]
    lit = scene.lux.value > 0
    ends: list[TakeEnd | None] = []
    for start in range(scene.counts.shape[0]):
        if not scene.usable[start]:
            ends.append(None)
            continue
        drift = np.abs(shown[:, start:] - shown[:, start : start + 1])
        over = np.where(lit[start], ~(drift <= limits + _SLACK), lit[start:])
        broken = over.any(axis=(0, 2))
        if not broken.any():
            ends.append(TakeEnd(shown.shape[1] - 1, "", ""))
            continue
        after = int(np.argmax(broken))
        last = start + after - 1
        if scene.refused[start + after]:
            ends.append(TakeEnd(last, scene.refused[start + after], ""))
            continue
        worst = np.nan_to_num(drift[:, after] / limits[:, 0], nan=np.inf)
        kind, place = np.unravel_index(
            int(np.where(over[:, after], worst, -1.0).argmax()), worst.shape
        )
        unit = ("mired", "CC", "stops")[int(kind)]
        size = float(drift[kind, after, place])
        digits = 0 if size >= 10 else 1
        gone = "no light" if lit[start, place] else "new light"
        said = f"{round(size, digits):g} {unit}" if np.isfinite(size) else gone
        ends.append(TakeEnd(last, said, names[int(place)]))
    return tuple(ends)


def _lit(lux: Array) -> Array:
    return np.where(lux > 0, lux, np.nan)
