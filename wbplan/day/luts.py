"""The LUTs of a day: one for each hour, or one for each cast that is far enough from the others.

Light that hardly moves for hours needs one LUT and not six; light that runs away needs one for each
step of cast and not for each of the clock. Both are counted, and the fewer are made; where they are
as many, those by cast, since a cast is what is seen on a monitor.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from wbplan.camera.setting import CameraView, Setting
from wbplan.core.intervals import Interval
from wbplan.core.names import make_safe_name
from wbplan.core.notes import Note
from wbplan.core.progress import Progress, follow
from wbplan.core.tables import Array
from wbplan.day.scene import DayScene, move_setup
from wbplan.day.times import Tolerance, say_spans
from wbplan.light.filters import name_cast
from wbplan.planning.casts import WantedSetting
from wbplan.planning.luts import LutPlan, plan_lut
from wbplan.planning.response import respond_to_scene
from wbplan.scene.setup import Setup

_SLACK = 1e-9


@dataclass(frozen=True)
class CastStep:
    """Exact settings that one LUT serves: their middle, and the numbers of the times."""

    mired: float
    tint_cc: float
    times: tuple[int, ...]


@dataclass(frozen=True, eq=False)
class DayLut:
    """A LUT, the hour or the cast it is for in words, and the numbers of the times it serves."""

    label: str
    plan: LutPlan
    times: tuple[int, ...]

    @property
    def file_name(self) -> str:
        """The file's name."""
        return self.plan.file_name


@dataclass(frozen=True, eq=False)
class DayLuts:
    """The LUTs of a setup's day: ``by`` 'hour' or 'cast', and how many either way would be."""

    by: str
    hours: int
    casts: int
    luts: tuple[DayLut, ...]
    notes: tuple[Note, ...]


@dataclass(frozen=True, eq=False)
class _Job:
    label: str
    stem: str
    step: CastStep
    moment: datetime


def step_casts(mired: Array, tint_cc: Array, within: Tolerance) -> tuple[CastStep, ...]:
    """Cover the settings of a day with few boxes of the tolerance's size, each way.

    Parameters
    ----------
    mired, tint_cc
        (t,) exact settings, NaN where there is none.

    Returns
    -------
    tuple
        In order of their first times. Cut into strips by mired from one end, each strip by CC: the
        fewest strips there can be, and in each the fewest boxes.
    """
    left = [int(each) for each in np.argsort(mired, kind="stable") if np.isfinite(mired[each])]
    steps: list[CastStep] = []
    while left:
        start = mired[left[0]]
        strip = [each for each in left if mired[each] <= start + 2 * within.mired + _SLACK]
        left = left[len(strip) :]
        strip.sort(key=lambda each: float(tint_cc[each]))
        while strip:
            base = tint_cc[strip[0]]
            box = [each for each in strip if tint_cc[each] <= base + 2 * within.cc + _SLACK]
            strip = strip[len(box) :]
            ends = (mired[box].min(), mired[box].max(), tint_cc[box].min(), tint_cc[box].max())
            middle = (float(ends[0] + ends[1]) / 2, float(ends[2] + ends[3]) / 2)
            steps.append(CastStep(*middle, tuple(sorted(box))))
    return tuple(sorted(steps, key=lambda step: step.times))


def plan_day_luts(
    setup: Setup,
    camera: CameraView,
    scene: DayScene,
    moments: Sequence[datetime],
    hours: Sequence[int],
    dial: Setting,
    within: Tolerance,
    stem: str,
    progress: Progress | None = None,
) -> DayLuts:
    """Make the LUTs that take a picture shot at one setting to the neutral of each hour or cast.

    Parameters
    ----------
    hours
        Numbers of the times that stand for full hours.
    dial
        What is shot at all day.
    stem
        What file names begin with.
    progress
        Is told after each file how far it is.
    """
    exact = (scene.exact_mired.value, scene.exact_tint_cc.value)
    steps = step_casts(*exact, within)
    by = "cast" if len(steps) <= len(hours) else "hour"
    jobs: list[_Job] = []
    digits = len(str(len(steps)))
    if by == "cast":
        for number, step in enumerate(steps, 1):
            label = name_cast(step.mired - dial.mired, step.tint_cc - dial.tint_cc)
            label = "neutral" if label == "none" else label
            nearest = min(step.times, key=lambda t, step=step: abs(exact[0][t] - step.mired))  # type: ignore[misc]
            first = moments[step.times[0]]
            name = f"{stem}-cast-{number:0{digits}d}-from-{first:%H%M}"
            jobs.append(_Job(label, name, step, moments[nearest]))
    else:
        for hour in hours:
            moment = moments[hour]
            step = CastStep(float(exact[0][hour]), float(exact[1][hour]), (hour,))
            # an hour that the clock shows twice, or that is the next day's
            later = moment.date() > moments[0].date()
            which = "-next-day" if later else "-again" if moment.fold else ""
            label = f"{moment:%H:%M}{' the next day' if later else ''}"
            jobs.append(_Job(label, f"{stem}-at-{moment:%H%M}{which}", step, moment))
    made: list[DayLut] = []
    notes: list[Note] = []
    for job in follow(jobs, progress, "LUTs"):
        name = make_safe_name(job.stem)
        mired, tint = (Interval(x, x, x) for x in (job.step.mired, job.step.tint_cc))
        then = respond_to_scene(move_setup(setup, job.moment), camera)
        spans = say_spans(moments, job.step.times)
        remark = f"For {job.moment:%Y-%m-%d}, {spans} by the clock there."
        lut, said = plan_lut(then, WantedSetting(mired, tint), dial, name, (remark,))
        notes += said
        if lut is not None:
            made.append(DayLut(job.label, lut, job.step.times))
    return DayLuts(by, len(hours), len(steps), tuple(made), tuple(dict.fromkeys(notes)))
