"""What came out on a frame, against the plan it was shot by, in one call."""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from wbplan.camera.sensitivities import Camera
from wbplan.camera.setting import view_camera
from wbplan.codes.encodings import find_encoding
from wbplan.core.errors import InputError, Place, UnknownNameError, describe_choices, fold_name
from wbplan.core.files import show_value
from wbplan.core.names import make_safe_name
from wbplan.core.notes import Note
from wbplan.core.progress import Progress, keep_rising, tell
from wbplan.front.memory import format_camera
from wbplan.front.plans import plan as make_plan
from wbplan.front.scenes import read_scene
from wbplan.planning.decisions import Plan, SetupPlan
from wbplan.planning.outcome import Outcome, find_outcome, find_position_power
from wbplan.read.catalogue import find_camera, list_cameras
from wbplan.read.greys import GreyPlace, read_grey
from wbplan.read.raws import RAW_ENDINGS
from wbplan.record.spectra import format_spectrum_csv

_MOST_PIXELS = 1e9
FrameLike = str | os.PathLike[str] | NDArray[Any]


@dataclass(frozen=True, eq=False)
class Verification:
    """What came out on frames, in their order.

    ``frames`` are what they are called. ``lesson`` are the files that `learn` takes to make the
    camera's profile sharper by these frames, by name; empty where none of them teaches. A frame
    that looks as another light would teaches nothing.
    """

    title: str
    frames: tuple[str, ...]
    outcomes: tuple[Outcome, ...]
    lesson: dict[str, bytes]
    notes: tuple[Note, ...] = ()


def verify(
    plan: Plan | str | os.PathLike[str],
    frames: FrameLike | Sequence[FrameLike],
    setup: str | None = None,
    at: str | Sequence[str] | None = None,
    grey: Iterable[float] | None = None,
    reflectance: float = 0.18,
    chart: bool = False,
    corners: Iterable[float] | None = None,
    linear: bool = False,
    progress: Progress | None = None,
) -> Verification:
    """Verify a plan by frames of a grey, or of the chart, that were shot at its setting.

    Parameters
    ----------
    plan
        A plan, or its `plan.json`, or the folder that holds one.
    frames
        Camera raw or DNG with the gains that were shot at; or stills, or pixels, in the encoding of
        the plan, before any LUT.
    setup
        The setup's name; needed where the plan has several.
    at
        The position's name, one for all frames or one for each; the key position if not given.
    grey
        Where the grey lies: x, y, width and height in pixels; the middle if not given.
    reflectance
        Of the grey [ratio].
    chart, corners
        Read the greys of the 24-patch chart instead, at its four corners (8 numbers, as in a
        lesson), or where it is found.
    linear
        Stills hold scene-linear light of the plan's gamut, 1 for a perfect white at the planned
        exposure, in place of its codes.
    progress
        Is told the share that is done, 0 to 1, and what is being worked on.

    Returns
    -------
    Verification
        `write` writes its lesson.

    Raises
    ------
    InputError
        For a name that the plan does not have, or a frame that cannot be read.

    Examples
    --------
    A frame that is balanced at the key, of a plan that awaits 5 mired cool there:

    >>> import numpy as np
    >>> import wbplan
    >>> decided = wbplan.plan("dusk_workshop")
    >>> code = decided.setups[0].setup.encoding.encode(0.18)
    >>> frame = np.full((40, 60, 3), code)
    >>> found = wbplan.verify(decided, frame, setup="Wide of the room").outcomes[0]
    >>> found.is_mired_held, found.cast.words
    (True, 'neutral')
    """
    rising = keep_rising(progress)
    tell(rising, 0.0, "the plan")
    decided, notes = _take_plan(plan)
    own = _find_setup(decided, setup)
    if not 0.01 <= reflectance <= 1.0:
        allowed = "0.01 to 1"
        raise InputError(f"{reflectance:g}", allowed, Place(field="reflectance"))
    is_one = isinstance(frames, str | os.PathLike | np.ndarray)
    given: list[FrameLike] = [frames] if is_one else list(frames)  # type: ignore
    rows = _find_rows(own, at, len(given))
    place = GreyPlace(
        _take_numbers(grey, 4, "grey"),
        reflectance,
        chart or corners is not None,
        _take_numbers(corners, 8, "corners"),
    )
    camera = view_camera(own.setup.camera)
    encoding = own.setup.encoding
    if linear:
        encoding = find_encoding("Linear", encoding.gamut)
    names, outcomes, entries = [], [], _Entries(own.setup.camera)
    for number, (frame, row) in enumerate(zip(given, rows, strict=True)):
        name = f"frame {number + 1}" if isinstance(frame, np.ndarray) else Path(frame).name
        tell(rising, 0.3 + 0.7 * number / len(given), name)
        shot = frame if isinstance(frame, np.ndarray) else os.fspath(frame)
        power = find_position_power(own.setup, row)
        if not power.any():
            raise InputError("a position without light", "one with light", Place(field="at"))
        seen, found = read_grey(shot, own.setup.camera, own.dial.kelvin, encoding, power, place)
        try:
            outcome = find_outcome(own, camera, row, seen)
        except ValueError as error:
            raise InputError(str(error), "a position that can be balanced", Place(name)) from None
        names.append(name)
        outcomes.append(outcome)
        entries.add(outcome, power, shot, found)
    tell(rising, 1.0, "frames")
    return Verification(
        decided.title, tuple(names), tuple(outcomes), entries.make_files(decided.title), notes
    )


def _take_plan(plan: Plan | str | os.PathLike[str]) -> tuple[Plan, tuple[Note, ...]]:
    if isinstance(plan, Plan):
        return plan, ()
    path = Path(plan)
    if path.suffix.lower() != ".json" and not os.path.isdir(path):
        allowed = "a plan.json, or the folder that holds one"
        raise InputError(show_value(path.name), allowed, Place(field="plan"))
    scene = read_scene(path)
    return make_plan(scene), scene.notes


def _find_setup(plan: Plan, name: str | None) -> SetupPlan:
    names = [each.name for each in plan.setups]
    place = Place(field="setup")
    if name is None:
        if len(names) > 1:
            found = f"a plan of {len(names)} setups"
            raise InputError(found, "the name of one: " + ", ".join(names), place)
        return plan.setups[0]
    for each in plan.setups:
        if fold_name(each.name) == fold_name(name):
            return each
    raise UnknownNameError(f"the setup {show_value(name)}", describe_choices(name, names), place)


def _find_rows(setup: SetupPlan, at: str | Sequence[str] | None, count: int) -> list[int]:
    """Find the position of each frame."""
    names = [each.name for each in setup.positions]
    asked = [setup.key.name] if at is None else [at] if isinstance(at, str) else list(at)
    place = Place(field="at")
    if len(asked) not in (1, count):
        raise InputError(f"{len(asked)} positions for {count} frames", "one, or one each", place)
    folded = [fold_name(each) for each in names]
    for each in asked:
        if fold_name(each) not in folded:
            found = f"the position {show_value(each)}"
            raise UnknownNameError(found, describe_choices(each, names), place)
    rows = [folded.index(fold_name(each)) for each in asked]
    return rows * count if len(rows) == 1 else rows


def _take_numbers(
    given: Iterable[float] | None, count: int, field: str
) -> tuple[float, ...] | None:
    if given is None:
        return None
    try:
        numbers = tuple(float(each) for each in np.asarray(given, dtype=np.float64).reshape(-1))
    except (TypeError, ValueError):
        raise InputError("no numbers", f"{count} numbers", Place(field=field)) from None
    if len(numbers) != count:
        raise InputError(f"{len(numbers)} numbers", f"{count} numbers", Place(field=field))
    far = [each for each in numbers if not abs(each) < _MOST_PIXELS]
    if far:
        allowed = f"pixels, finite and below {_MOST_PIXELS:g}"
        raise InputError(f"{far[0]:g}", allowed, Place(field=field))
    return numbers


class _Entries:
    """Collects what the frames teach, as the files of a lesson."""

    def __init__(self, camera: Camera) -> None:
        self._camera = camera
        self._charts: list[dict[str, Any]] = []
        self._greys: list[dict[str, Any]] = []
        self._files: dict[str, bytes] = {}

    def add(self, outcome: Outcome, power: Any, frame: str | NDArray[Any], corners: Any) -> None:
        if outcome.alike:
            return  # another light was on than the one it would be taught under
        number = len(self._charts) + len(self._greys) + 1
        light = f"light-{number}.csv"
        entry: dict[str, Any] = {"light": {"spectrum_file": light}}
        is_raw = isinstance(frame, str) and Path(frame).suffix.lower() in RAW_ENDINGS
        if corners is not None and is_raw:
            entry["still"] = str(Path(str(frame)).absolute())
            entry["corners"] = [round(float(each), 1) for each in corners.reshape(-1)]
            self._charts.append(entry)
        elif outcome.past_scale or not 1000 <= outcome.wanted.kelvin.value <= 25000:
            return
        else:
            entry["reported"] = {
                "kelvin": round(outcome.wanted.kelvin.value, 1),
                "magenta_cc": round(outcome.wanted.tint_cc.value, 2),
            }
            self._greys.append(entry)
        self._files[light] = format_spectrum_csv(power)

    def make_files(self, title: str) -> dict[str, bytes]:
        if not self._files:
            return {}
        import yaml

        camera, stem = self._camera, make_safe_name(self._camera.name, "camera")
        start, files = camera.name, dict(self._files)
        shipped = list_cameras()
        if camera.name not in shipped or not np.array_equal(
            find_camera(camera.name, Path()).sensitivities, camera.sensitivities
        ):
            start = f"{stem}-start.yaml"
            files |= format_camera(camera, f"{stem}-start")
        text: dict[str, Any] = {
            "wbplan_lesson": 1,
            "title": f"{camera.title or camera.name}, by frames of {title}"[:200],
            "name": f"{stem}-verified",
            "start": start,
        }
        text |= {"frames": self._charts} if self._charts else {}
        text |= {"neutrals": self._greys} if self._greys else {}
        said = yaml.safe_dump(text, sort_keys=False, allow_unicode=True, width=100)
        return {"lesson.yaml": said.encode("utf-8", "replace"), **files}
