"""A setup planned through a day, as values.

Everything that is asked of a day comes together here: what each position wants and gets at each
time, the windows of a setting, the takes, the filters and the LUTs.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

import numpy as np

from wbplan.camera.setting import CameraView, Setting, round_setting
from wbplan.core.notes import Note
from wbplan.core.progress import Progress, take_part
from wbplan.core.tables import Array
from wbplan.day.filters import ChangePlan, plan_changes
from wbplan.day.luts import DayLuts, plan_day_luts
from wbplan.day.notes import note_day
from wbplan.day.scene import Band, DayScene, respond_to_day
from wbplan.day.times import DayWish, list_moments, list_seconds
from wbplan.day.windows import (
    SettingWindows,
    TakeEnd,
    Window,
    choose_best_setting,
    find_take_ends,
    find_window_around,
    find_windows,
    serve,
)
from wbplan.exposure.equation import find_ratio_stops
from wbplan.lut.file import LutFile
from wbplan.scene.beams import BEAM_CODE
from wbplan.scene.cautions import Caution, choose_cautions
from wbplan.scene.setup import Setup
from wbplan.scene.sky_draws import has_sky
from wbplan.sky.sun_times import SunTimes, find_sun_times

_NOTHING = 1e-9  # of a level: what rounding leaves of nothing


@dataclass(frozen=True, eq=False)
class DaySetup:
    """A setup's day.

    Parameters
    ----------
    moments
        (t,) by the place's clock.
    t_stop
        (t, p) for the planned ND; ``nd_stops`` (t, p) is what reaches the wanted T-stop, None where
        none is wanted.
    from_key_stops
        (t, p) against the key position; ``sun_over_shade_stops`` (t, p) what the sun's beam adds to
        the rest of the light at a position, NaN where no beam falls.
    dials
        (t,) the menu's setting nearest to the exact one, None where there is none.
    whole
        One setting for the whole day: the one that is shot at, or the one that serves most of it.
    hourly
        The setting of each hour and the time around it that it serves; ``hours`` numbers them.
    takes
        (t,) how long a take that begins then matches its first frame.
    sun
        What the sun does from the midnight before the first time to the one after the last.
    changes
        Filters through the day, None where no light may be changed.
    luts
        None where there is no time to make one for.
    stem
        What its files' names begin with.
    """

    setup: Setup
    wish: DayWish
    moments: tuple[datetime, ...]
    scene: DayScene
    sun: SunTimes
    t_stop: Band
    nd_stops: Band | None
    from_key_stops: Array
    sun_over_shade_stops: Array
    dials: tuple[Setting | None, ...]
    whole: SettingWindows | None
    hours: tuple[int, ...]
    hourly: tuple[SettingWindows, ...]
    takes: tuple[TakeEnd | None, ...]
    changes: ChangePlan | None
    luts: DayLuts | None
    cautions: tuple[Caution, ...]
    notes: tuple[Note, ...]
    stem: str = ""

    @property
    def lut_files(self) -> tuple[LutFile, ...]:
        """Every LUT of the setup's day."""
        return () if self.luts is None else tuple(each.plan.file for each in self.luts.luts)

    def exchange_luts(self, others: Mapping[str, LutFile]) -> DaySetup:
        """Put other LUTs in the place of some, by file name."""
        if self.luts is None:
            return self
        luts = tuple(
            replace(each, plan=replace(each.plan, file=others.get(each.file_name, each.plan.file)))
            for each in self.luts.luts
        )
        return replace(self, luts=replace(self.luts, luts=luts))

    @property
    def key(self) -> int:
        """The number of the position that the exposure is set for."""
        return self.setup.key_row


@dataclass(frozen=True, eq=False)
class DayPlan:
    """The day of every setup of a scenario that has a light of the sky.

    ``digest`` identifies what went in: the scenario's, and what was asked of the day.
    """

    title: str
    scenario_file: str
    digest: str
    version: str
    invented: bool
    setups: tuple[DaySetup, ...]
    passed_over: tuple[str, ...]
    band_share: float


def plan_day_setup(
    setup: Setup,
    camera: CameraView,
    wish: DayWish,
    stem: str,
    progress: Progress | None = None,
) -> DaySetup:
    """Plan a setup through a day.

    Parameters
    ----------
    setup
        With a light of the sky, at its own time.
    camera
        From `view_camera`.
    wish
        The day, its times and what counts as a match.
    stem
        What file names begin with.
    progress
        Is told how far it is.

    Raises
    ------
    ValueError
        If the setup has no light of the sky.
    """
    if setup.site is None or not has_sky(setup):
        raise ValueError(f"setup '{setup.name}' has no light of the sky")
    moments = list_moments(find_date(setup, wish), setup.site.time_zone, wish)
    seconds = list_seconds(moments)
    scene = respond_to_day(setup, camera, seconds, take_part(progress, 0.0, 0.4))
    shooting = setup.shooting
    ends = (scene.lux.value, scene.lux.low, scene.lux.high)
    nd, wanted = None, shooting.t_stop
    if wanted is not None:
        nd = Band(*(shooting.solve_nd_stops(each, wanted) for each in ends))
    level, key = scene.lux.value, setup.key_row
    with np.errstate(divide="ignore", invalid="ignore"):
        from_key = find_ratio_stops(level, level[:, key, None])
        shade = level - scene.beam_lux
        sun = np.log2(level / np.where(shade > _NOTHING * level, shade, 0.0))
    sun = np.where(scene.beam_lux > 0, sun, np.nan)
    hours = _find_hours(moments, scene.usable, wish.step_minutes)
    whole, hourly = _find_settings(setup, scene, hours, wish, level[:, key])
    changes = plan_changes(setup, camera, scene, seconds, take_part(progress, 0.4, 0.8))
    luts = None
    if whole is not None:
        luts = plan_day_luts(
            setup,
            camera,
            scene,
            moments,
            hours,
            whole.setting,
            wish.within,
            stem,
            take_part(progress, 0.8, 1.0),
        )
    said = (changes.notes if changes else ()) + (luts.notes if luts else ())
    return DaySetup(
        setup=setup,
        wish=wish,
        moments=moments,
        scene=scene,
        sun=find_sun_times(setup.site, *_find_midnights(moments)),
        t_stop=Band(*(shooting.solve_t_stop(each) for each in ends)),
        nd_stops=nd,
        from_key_stops=from_key,
        sun_over_shade_stops=sun,
        dials=_dial(setup, scene),
        whole=whole,
        hours=hours,
        hourly=hourly,
        takes=find_take_ends(scene, [each.name for each in setup.positions], wish.within),
        changes=changes,
        luts=luts,
        cautions=choose_cautions(setup),
        notes=(
            *note_day(setup, scene, moments),
            *(each for each in setup.notes if each.code != BEAM_CODE),
            *setup.camera.notes,
            *said,
        ),
        stem=stem,
    )


def _find_midnights(moments: tuple[datetime, ...]) -> tuple[float, float]:
    """Find the midnights around some times by their clock, in seconds since 1970 UTC."""
    first = moments[0].replace(hour=0, minute=0, fold=0)
    whole = moments[-1].replace(hour=0, minute=0, fold=0)
    days = 0 if whole == moments[-1] and len(moments) > 1 else 1
    return first.timestamp(), (whole + timedelta(days=days)).timestamp()


def find_date(setup: Setup, wish: DayWish) -> date:
    """Find the day that is asked for, else that of the setup, else that of its first sky."""
    whens = [setup.when, *(each.sky.when for each in setup.sources if each.sky is not None)]
    return wish.date or next(each for each in whens if each is not None).date()


def _dial(setup: Setup, scene: DayScene) -> tuple[Setting | None, ...]:
    menu = setup.camera.menu
    exact = zip(scene.exact_mired.value, scene.exact_tint_cc.value, strict=True)
    return tuple(
        round_setting(menu, float(m), float(c)) if np.isfinite(m) else None for m, c in exact
    )


def _find_hours(
    moments: tuple[datetime, ...], usable: np.ndarray, step_minutes: int
) -> tuple[int, ...]:
    """Number the usable times that stand nearest to the full hours of the clock.

    A day so short that it has none is told by its first and its last.
    """
    near: dict[datetime, tuple[float, int]] = {}
    for row in np.flatnonzero(usable):
        moment = moments[row]
        full = moment.replace(minute=0)
        if moment.minute >= 30:
            full = full + timedelta(hours=1)
        off = abs(moment.minute - (60 if moment.minute >= 30 else 0))
        name = full.replace(fold=moment.fold)
        if off <= step_minutes / 2 and (name not in near or off < near[name][0]):
            near[name] = (off, int(row))
    if not near and usable.any():
        return tuple(sorted({int(each) for each in np.flatnonzero(usable)[[0, -1]]}))
    return tuple(sorted(row for _, row in near.values()))


def _find_settings(
    setup: Setup, scene: DayScene, hours: tuple[int, ...], wish: DayWish, key_lux: Array
) -> tuple[SettingWindows | None, tuple[SettingWindows, ...]]:
    """Find the setting for the whole day and that of each hour, with the windows they serve."""
    if not scene.usable.any():
        return None, ()
    intents = [each.intent for each in setup.positions]
    menu, within = setup.camera.menu, wish.within
    level = np.log2(np.where(key_lux > 0, key_lux, np.nan))
    setting, origin = setup.shot_at, "given"
    if setting is None:
        lit = np.isfinite(level)
        setting, origin = choose_best_setting(scene, intents, menu, within, lit), "best"
    if setting is None:
        middle = (np.nanmean(scene.exact_mired.value), np.nanmean(scene.exact_tint_cc.value))
        setting = round_setting(menu, float(middle[0]), float(middle[1]))
    fine = serve(scene, intents, setting, within)
    whole = SettingWindows(setting, origin, -1, find_windows(fine, level, within.stops))
    hourly = []
    for hour in hours:
        exact = (float(scene.exact_mired.value[hour]), float(scene.exact_tint_cc.value[hour]))
        own = round_setting(menu, *exact)
        window = find_window_around(hour, serve(scene, intents, own, within), level, within.stops)
        hourly.append(SettingWindows(own, "hour", hour, () if window is None else (window,)))
    return whole, tuple(hourly)


def find_stop(day: DaySetup, window: Window) -> float:
    """Find the T-number that the middle of a window's levels asks for, at the planned ND."""
    return float(day.setup.shooting.solve_t_stop(2.0**window.key_log2_lux))


def find_nd_stops(day: DaySetup, window: Window) -> float | None:
    """Find the ND that brings the middle of a window to the wanted T-stop; None without one."""
    shooting = day.setup.shooting
    if shooting.t_stop is None:
        return None
    return float(shooting.solve_nd_stops(2.0**window.key_log2_lux, shooting.t_stop))
