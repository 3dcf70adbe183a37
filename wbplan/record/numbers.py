"""How every record writes numbers and what is made of them: settings, channels, flicker, notes.

The last bits of a result differ between machines. So the writers of records and tables round each
number to a quantum of its unit (`round_by_unit`), far below what anybody could set or see and far
above what differs; before that to nine significant digits, spectra to a millionth of their peak.
Null for what is no number.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from functools import cache
from typing import TYPE_CHECKING, Any

from wbplan.camera.sensitivities import CHANNELS
from wbplan.camera.setting import Setting
from wbplan.core.intervals import Interval
from wbplan.core.notes import Note
from wbplan.core.rounding import settle
from wbplan.core.tables import Array
from wbplan.exposure.flicker import Flicker
from wbplan.planning.casts import WantedSetting
from wbplan.planning.channels import Channels
from wbplan.planning.decisions import Plan
from wbplan.planning.eye_view import EyeView
from wbplan.record.file import FORMAT_VERSIONS
from wbplan.scene.cautions import Caution

if TYPE_CHECKING:
    from wbplan.day.setups import DayPlan

DIGITS, SPECTRUM_DECIMALS = 9, 6
DECIMALS = {
    **dict.fromkeys(("kelvin",), 2),
    **dict.fromkeys(("mired", "cc", "ciede2000", "codes", "rf", "rg", "ra", "indices", "ssi"), 4),
    **dict.fromkeys(("nm", "number", "ei", "m", "metres", "millimetres"), 4),
    **dict.fromkeys(("stops", "stop", "percent"), 5),
    **dict.fromkeys(("lux", "footcandle", "m2", "hz", "fps", "deg", "degrees", "radians"), 6),
    **dict.fromkeys(("x", "y", "xy", "prime", "duv", "ratio", "relative", "linear"), 7),
    **dict.fromkeys(("seconds",), 9),
}
"""Decimals kept of a number whose key ends in a unit; of any other, nine."""
_MOST_DECIMALS = 9
_ENDS = re.compile(r"_(low|high|step|choices)$|_per_step$")


def make_head(form: str, plan: Plan | DayPlan) -> dict[str, Any]:
    """Write what a record begins with: its format, by which version, and of what it is."""
    return {
        "format": form,
        "format_version": FORMAT_VERSIONS[form][0],
        "wbplan_version": plan.version,
        "digest_sha256": plan.digest,
        "title": plan.title,
        "scenario": plan.scenario_file,
        "invented": plan.invented,
    }


def make_number(value: float, digits: int = DIGITS) -> float | int | None:
    """Round to significant digits, whole numbers as such; None for NaN and infinity."""
    if not math.isfinite(value):
        return None
    rounded = settle(value, digits)
    return int(rounded) if rounded.is_integer() and abs(rounded) < 2**53 else rounded


def make_numbers(values: Iterable[float] | Array, digits: int = DIGITS) -> list[float | int | None]:
    """Write a list of numbers."""
    return [make_number(float(each), digits) for each in values]


def make_spectrum(power: Array) -> list[float | int | None]:
    """Write a spectrum relative to its peak; one without light as it stands."""
    peak = float(power.max())
    relative = (power / peak if peak > 0 else power).round(SPECTRUM_DECIMALS)
    return [int(each) if each.is_integer() else each for each in relative.tolist()]


def round_by_unit(value: Any, decimals: int = _MOST_DECIMALS) -> Any:
    """Round every number in a record, or in the rows of a table, to the quantum of its unit.

    The unit is the last word of its key; see `DECIMALS`. Numbers without one of their own, in
    lists, have that of the list's key. Whole numbers stay.
    """
    if isinstance(value, dict):
        return {key: round_by_unit(each, _find_decimals(key)) for key, each in value.items()}
    if isinstance(value, list):
        return [round_by_unit(each, decimals) for each in value]
    if isinstance(value, float):
        rounded = round(value, decimals)
        return int(rounded) if rounded.is_integer() and abs(rounded) < 2**53 else rounded
    return value


@cache
def _find_decimals(key: str) -> int:
    if "_per_" in key and not key.endswith("_per_step"):
        return _MOST_DECIMALS
    return DECIMALS.get(_ENDS.sub("", key).rpartition("_")[2], _MOST_DECIMALS)


def make_keys(**figures: float | Interval | None) -> dict[str, Any]:
    """Write figures under their keys; an interval has three, for its value and its ends."""
    keys: dict[str, Any] = {}
    for name, each in figures.items():
        if isinstance(each, Interval):
            ends = {name: each.value, f"{name}_low": each.low, f"{name}_high": each.high}
            keys |= {key: make_number(end) for key, end in ends.items()}
        else:
            keys[name] = None if each is None else make_number(each)
    return keys


def make_setting(setting: Setting) -> dict[str, Any]:
    """Write a setting that can be dialled in."""
    figures = make_keys(kelvin=setting.kelvin, mired=setting.mired, tint_cc=setting.tint_cc)
    return {**figures, "preset": setting.preset or None}


def make_wanted(wanted: WantedSetting) -> dict[str, Any]:
    """Write a wanted setting; a mired of 0 or less has no Kelvin."""
    mired = wanted.mired
    kelvin = (1e6 / each if each > 0 else math.nan for each in (mired.value, mired.high, mired.low))
    return make_keys(kelvin=Interval(*kelvin), mired=mired, tint_cc=wanted.tint_cc)


def make_channels(name: str, channels: Channels) -> dict[str, Any]:
    """Write red, green and blue, each under its channel and a name."""
    pairs = zip(CHANNELS, channels, strict=True)
    return make_keys(**{f"{channel}_{name}": each for channel, each in pairs})


def make_eye(eye: EyeView) -> dict[str, Any]:
    """Write what a meter shows of a light."""
    return make_keys(cct_kelvin=eye.cct_kelvin, duv=eye.duv, x=eye.x, y=eye.y)


def make_flicker(flicker: Flicker) -> dict[str, Any]:
    """Write a flicker; only a square one has a duty."""
    duty = 100 * flicker.duty if flicker.waveform == "square" else None
    return {
        **make_keys(light_hz=flicker.light_hz, depth_percent=100 * flicker.depth),
        "depth_is_assumed": flicker.is_assumed,
        "waveform": flicker.waveform,
        **make_keys(duty_percent=duty, uneven_percent=100 * flicker.mains_depth),
        **make_keys(dimmest_warm_mired=flicker.trough_mired),
        **make_keys(dimmest_green_cc=flicker.trough_green_cc),
    }


def make_cautions(cautions: Iterable[Caution]) -> list[dict[str, str]]:
    """Write cautions."""
    return [{"code": each.code, "text": each.text} for each in cautions]


def make_notes(notes: Iterable[Note]) -> list[dict[str, Any]]:
    """Write remarks and warnings."""
    return [
        {"code": each.code, "text": each.text, "about": each.about, "weight": each.weight}
        for each in notes
    ]
