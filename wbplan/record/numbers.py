"""How every record writes numbers and what is made of them: settings, channels, flicker, notes.

Nine significant digits, since the last bits differ between machines, six for spectra; null for
what is no number.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from wbplan.camera.sensitivities import CHANNELS
from wbplan.camera.setting import Setting
from wbplan.core.intervals import Interval
from wbplan.core.notes import Note
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

DIGITS, SPECTRUM_DIGITS = 9, 6


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
    rounded = float(f"{value:.{digits}g}")
    return int(rounded) if rounded.is_integer() and abs(rounded) < 2**53 else rounded


def make_numbers(values: Iterable[float] | Array, digits: int = DIGITS) -> list[float | int | None]:
    """Write a list of numbers."""
    return [make_number(float(each), digits) for each in values]


def make_spectrum(power: Array) -> list[float | int | None]:
    """Write a spectrum relative to its peak; one without light as it stands."""
    peak = float(power.max())
    return make_numbers(power / peak if peak > 0 else power, SPECTRUM_DIGITS)


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
