"""A scene's day under sun and sky in one call."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import replace

from wbplan import __version__
from wbplan.camera.sensitivities import Camera
from wbplan.camera.setting import view_camera
from wbplan.core.band import BAND_SHARE, check_band
from wbplan.core.digest import digest_values
from wbplan.core.errors import InputError, Place
from wbplan.core.ledger import Asked
from wbplan.core.names import make_setup_stem
from wbplan.core.progress import Progress, keep_rising, take_part
from wbplan.day.setups import DayPlan, DaySetup, plan_day_setup
from wbplan.day.times import DayWish
from wbplan.front.scenes import SceneLike, take_scene
from wbplan.lut.file import even_sizes
from wbplan.read.scenario.day import check_day, parse_clock, parse_date, parse_tolerance
from wbplan.scene.luts import check_size
from wbplan.scene.setup import change_asked
from wbplan.scene.sky_draws import has_sky

_LONGEST_STEP_MINUTES = 120


def plan_day(
    scene: SceneLike,
    camera: str | Camera | None = None,
    date: str | datetime.date | None = None,
    begin: str | datetime.time | None = None,
    end: str | datetime.time | None = None,
    step_minutes: int | None = None,
    tolerance: Mapping[str, float | str] | None = None,
    band: float = BAND_SHARE,
    lut_size: int | None = None,
    progress: Progress | None = None,
) -> DayPlan:
    """Plan a day for every setup of a scene that has a light of the sky.

    Parameters
    ----------
    scene, camera, progress
        As `plan` has them.
    date
        2026-06-21. This and the next four are, if not given, as the scene has them.
    begin, end
        By the clock of the place, 06:00 to 24:00; an end before the beginning is the next day's.
    step_minutes
        Between two times, 1 to 120.
    tolerance
        What still matches: ``mired`` [mired], ``cc`` [CC], ``stops`` [stops], each way.
    band
        The share of plausible cameras, airs and readings that every interval is to hold.
    lut_size
        As `plan` has it.

    Raises
    ------
    InputError
        For a file that cannot be used, or a scene without any light of the sky.

    Examples
    --------
    >>> import wbplan
    >>> day = wbplan.plan_day("mill_yard", begin="12:00", end="14:00", step_minutes=60)
    >>> [moment.hour for moment in day.setups[0].moments]
    [12, 13, 14]
    >>> [setting.kelvin for setting in day.setups[0].dials]
    [6050.0, 5950.0, 5950.0]
    """
    check_band(band)
    check_size(lut_size, "lut_size")
    known = take_scene(scene, camera, for_day=True)
    wish = change_wish(known.day or DayWish(), date, begin, end, step_minutes, tolerance or {})
    setups = [change_asked(each, band, lut_size) for each in known.setups]
    under = [each for each in setups if has_sky(each)]
    if not under:
        found = f"{known.file or 'a scene'}, a scenario without a light of the sky at any position"
        kinds = "sun, sky, overcast, broken_cloud, bounce or shade"
        raise InputError(found, f"a source of kind {kinds} that is read there")
    tried = () if known.inputs is None else known.inputs.asked.tried
    digest = digest_values(known.find_digest(Asked(band, lut_size=lut_size, tried=tried)), wish)
    rising = keep_rising(progress)
    planned: list[DaySetup] = []
    for number, setup in enumerate(setups, 1):
        if setup in under:
            stem = make_setup_stem(number, setup.name)
            done = len(planned)
            part = take_part(rising, done / len(under), (done + 1) / len(under))
            planned.append(plan_day_setup(setup, view_camera(setup.camera), wish, stem, part))
    evened = even_sizes([file for each in planned for file in each.lut_files])
    return DayPlan(
        title=known.title,
        scenario_file=known.file,
        digest=digest,
        version=__version__,
        invented=known.invented,
        setups=tuple(each.exchange_luts(evened) for each in planned),
        passed_over=tuple(each.name for each in setups if each not in under),
        band_share=band,
    )


def change_wish(
    wish: DayWish,
    date: str | datetime.date | None,
    begin: str | datetime.time | None,
    end: str | datetime.time | None,
    step_minutes: int | None,
    tolerance: Mapping[str, float | str],
) -> DayWish:
    """Let what is given take the place of what the scene asks of the day."""
    if date is not None:
        said = date if isinstance(date, str) else date.isoformat()
        wish = replace(wish, date=parse_date(said, Place(field="date")))
    if begin is not None:
        wish = replace(wish, begin=parse_clock(_say(begin), Place(field="begin")))
    if end is not None:
        wish = replace(wish, end=parse_clock(_say(end), Place(field="end")))
    if step_minutes is not None:
        if not 1 <= step_minutes <= _LONGEST_STEP_MINUTES:
            allowed = f"1 to {_LONGEST_STEP_MINUTES} minutes"
            raise InputError(str(step_minutes), allowed, Place(field="step_minutes"))
        wish = replace(wish, step_minutes=step_minutes)
    words = [f"{name}:{size}" for name, size in tolerance.items()]
    within = parse_tolerance(words, wish.within, Place(field="tolerance"))
    return check_day(replace(wish, within=within), Place(field="end"))


def _say(clock: str | datetime.time) -> str:
    return clock if isinstance(clock, str) else f"{clock:%H:%M}"
