"""How results are said: the one place where numbers are rounded.

Idea
----
Physics carries full precision and interval ends; a person on set wants few digits and a side in
words. Every output, the page as well as the terminal, goes through these functions, so that the
same value is never said in two ways. Green and magenta, warm and cool are always words: a bare
sign for them means opposite things on different cameras.

Rounding: Kelvin whole; mired whole from 10 up and one decimal under it; CC and stops one decimal;
lux three significant digits.
"""

from __future__ import annotations

import math
from collections.abc import Callable

from wbplan.camera.setting import Setting, find_distance
from wbplan.core.intervals import Interval
from wbplan.core.rounding import rank, settle
from wbplan.exposure.equation import Shooting
from wbplan.light.filters import name_cast, round_mired
from wbplan.planning.casts import Cast, WantedSetting, name_tint
from wbplan.planning.decisions import SetupPlan
from wbplan.planning.eye_view import EyeView

_MOST_KELVIN = 100_000.0
_MOST_SHARES = 12


def say_error(value: float) -> str:
    """Say an error that was measured: two digits, and no more places than anybody reads."""
    return "under 0.001" if 0 < value < 0.001 else say_significant(value, 2)


def say_significant(value: float, digits: int = 3) -> str:
    """Write a number with so many significant digits, never with an exponent."""
    if not math.isfinite(value):
        return "unknown"
    value = settle(value)
    if value == 0:
        return "0"
    places = digits - 1 - math.floor(math.log10(abs(value)))
    rounded = round(value, places)
    if rounded and math.floor(math.log10(abs(rounded))) > digits - 1 - places:
        places -= 1  # 9.996 became 10.00
    return f"{rounded:.{max(places, 0)}f}"


def say_difference(ciede2000: float) -> str:
    """Say a colour difference; one that no eye could see, a twentieth, is none."""
    return say_significant(ciede2000, 2) if ciede2000 >= 0.05 else "0"


def _say_mired(mired: float) -> str:
    return f"{abs(round_mired(mired)):.12g}"


def _say_cc(cc: float) -> str:
    return f"{abs(round(settle(cc), 1)):.12g}"


def say_ends(interval: Interval, say: Callable[[float], str]) -> str:
    """Say both ends of an interval, or the one text where they are said alike."""
    low, high = say(interval.low), say(interval.high)
    return low if low == high else f"{low} to {high}"


def say_ends_apart(interval: Interval, say: Callable[[float], str]) -> str:
    """Say both ends of an interval; an empty text where they are said alike."""
    low, high = say(interval.low), say(interval.high)
    return "" if low == high else f"{low} to {high}"


def _say_span(
    interval: Interval, say: Callable[[float], str], unit: str, above: str, below: str
) -> str:
    """Join two ends that are said without a sign, each with its side: '5 to 19 mired warm'."""
    low, high = say(interval.low), say(interval.high)
    low_side = "" if low == "0" else above if interval.low > 0 else below
    high_side = "" if high == "0" else above if interval.high > 0 else below
    if low_side and high_side and low_side != high_side:
        return f"{low} {unit} {low_side} to {high} {unit} {high_side}"
    side = low_side or high_side
    first, last = sorted((low, high), key=float)
    said = f"{first} {unit}" if first == last else f"{first} to {last} {unit}"
    return f"{said} {side}".rstrip()


def say_mired_span(interval: Interval) -> str:
    """Say the ends of a cast's mired: '5 to 19 mired warm', '3 mired cool to 2 mired warm'."""
    return _say_span(interval, _say_mired, "mired", "warm", "cool")


def say_green_span(interval: Interval) -> str:
    """Say the ends of a cast's green: '1 to 4 CC green', '0.5 CC magenta to 2 CC green'."""
    return _say_span(interval, _say_cc, "CC", "green", "magenta")


def say_tint_span(interval: Interval) -> str:
    """Say the ends of a tint setting by what the camera adds: '1 to 4 CC magenta'."""
    return _say_span(interval, _say_cc, "CC", "magenta", "green")


def say_shift(mired: float, green_cc: float) -> str:
    """Say a cast in words, rounded: '12 mired warm, 2 CC green', or 'neutral'."""
    said = name_cast(mired, green_cc)
    return "neutral" if said == "none" else said


def say_cast(cast: Cast) -> str:
    """Say the middle of a cast."""
    return say_shift(cast.mired.value, cast.green_cc.value)


def say_cast_span(cast: Cast) -> str:
    """Say the interval of a cast; an empty text where nothing is unsure."""
    if not (cast.mired.is_open or cast.green_cc.is_open):
        return ""
    return f"{say_mired_span(cast.mired)}; {say_green_span(cast.green_cc)}"


def say_distance(cast: Cast) -> str:
    """Say how visible a cast is, in mired, by `setting.find_distance`."""
    return f"{_say_mired(float(find_distance(cast.mired.value, cast.green_cc.value)))} mired"


def say_kelvin(kelvin: float) -> str:
    """Say a Kelvin figure, whole; a mired of 0 or less lies past every Kelvin, and is said so."""
    if math.isnan(kelvin):
        return "no CCT"
    past = not 0 < kelvin <= _MOST_KELVIN
    return f"over {_MOST_KELVIN:.0f} K" if past else f"{settle(kelvin):.0f} K"


def say_kelvin_span(interval: Interval) -> str:
    """Say the ends of a Kelvin interval."""
    low, high = say_kelvin(interval.low), say_kelvin(interval.high)
    return low if low == high else f"{low.removesuffix(' K')} to {high}"


def say_wanted(wanted: WantedSetting) -> str:
    """Say a wanted setting: '5580 K, magenta 2.8 CC'."""
    return f"{say_kelvin(wanted.kelvin.value)}, {name_tint(wanted.tint_cc.value)}"


def say_wanted_span(wanted: WantedSetting) -> str:
    """Say the interval of a wanted setting; an empty text where nothing is unsure."""
    if not (wanted.mired.is_open or wanted.tint_cc.is_open):
        return ""
    return f"{say_kelvin_span(wanted.kelvin)}; {say_tint_span(wanted.tint_cc)}"


def say_setting(setting: Setting) -> str:
    """Say a setting to dial in, a preset by its name first."""
    said = f"{say_kelvin(setting.kelvin)}, {name_tint(setting.tint_cc)}"
    return f"{setting.preset} ({said})" if setting.preset else said


def say_matrix(matrix_kelvin: tuple[float, ...]) -> str:
    """Say which colour matrix a camera uses, as its profile states it."""
    if not matrix_kelvin:
        return "fitted at the set Kelvin"
    if len(matrix_kelvin) == 1:
        return f"kept as fitted at {matrix_kelvin[0]:g} K"
    return f"mixed by mired of those fitted at {matrix_kelvin[0]:g} and {matrix_kelvin[1]:g} K"


def say_tint_steps(setting: Setting, cc_per_step: float) -> str:
    """Say a tint on a camera's own dial, + for magenta; '' where its step is 1 CC or none is set.

    It stands beside the tint in CC, which says the side in words.
    """
    if cc_per_step == 1 or round(setting.tint_cc, 1) == 0 or setting.preset:
        return ""
    return f"{setting.tint_cc / cc_per_step:+.3g} on this camera's dial"


def say_dial(setting: Setting, cc_per_step: float) -> str:
    """Say a setting as a camera dials it: '5600 K, magenta 3 CC: +1 on this camera's dial'."""
    steps = say_tint_steps(setting, cc_per_step)
    return say_setting(setting) + (f": {steps}" if steps else "")


def say_duv(duv: float) -> str:
    """Say Duv by its side of the black-body locus, 'Duv 0.0032 green'; '' where it is unknown."""
    if not math.isfinite(duv):
        return ""
    size = f"Duv {abs(duv):.4f}"
    if round(duv, 4) == 0:
        return size
    return f"{size} {'green' if duv > 0 else 'magenta'}"


def find_meter_miss(eye: EyeView, wanted: WantedSetting) -> Cast | None:
    """Find the cast that stays when the meter's Kelvin is dialled in, and no tint.

    None where the light has no CCT.
    """
    if not math.isfinite(eye.cct_kelvin):
        return None
    metered, mired = 1e6 / eye.cct_kelvin, wanted.mired
    shifted = Interval(mired.value - metered, mired.low - metered, mired.high - metered)
    return Cast(shifted, wanted.tint_cc)


def say_lux(lux: float) -> str:
    """Say an illuminance, three significant digits."""
    return f"{say_significant(lux)} lux"


def say_lux_span(interval: Interval) -> str:
    """Say the ends of an illuminance; an empty text where nothing is unsure."""
    if not interval.is_open:
        return ""
    return f"{say_significant(interval.low)} to {say_significant(interval.high)} lux"


def say_t_number(interval: Interval) -> str:
    """Say a T-number as a plain figure with its interval: '3.1 (2.9 to 3.3)'."""
    if interval.value <= 0:
        return ""
    ends = (interval.value, interval.low, interval.high)
    middle, low, high = (say_significant(each, 2) for each in ends)
    return f"{middle} ({low} to {high})" if interval.is_open else middle


def say_stops(stops: float) -> str:
    """Say a size in stops, one decimal; without an end where all light is lost."""
    if math.isinf(stops):
        return "all of it"
    said = abs(round(settle(stops), 1))
    return f"{said:g} stop" + ("" if said == 1 else "s")


def say_from_key(stops: float) -> str:
    """Say how far a position lies from the key: '1.3 stops over', '0.7 stops under', 'level'."""
    if not math.isfinite(stops):
        return "no light" if stops == -math.inf else "the key has no light"
    if round(stops, 1) == 0:
        return "level"
    return f"{say_stops(stops)} {'over' if stops > 0 else 'under'}"


def say_nd(nd_stops: float) -> str:
    """Say the ND that a wanted stop asks for, or how much light is missing."""
    if not math.isfinite(nd_stops):
        return "no light"
    if round(nd_stops, 1) == 0:
        return "no ND"
    said = say_stops(nd_stops)
    return f"ND of {said}" if nd_stops > 0 else f"{said} too dark"


def say_exposure_time(shooting: Shooting) -> str:
    """Say a shutter: '180° (1/48 s)'."""
    seconds = shooting.exposure_time_s
    time = f"1/{1 / seconds:.4g} s" if seconds < 1 else f"{seconds:.3g} s"
    return f"{shooting.shutter_angle_deg:.4g}° ({time})"


def say_shooting(shooting: Shooting) -> str:
    """Say how the camera is run in one line."""
    nd = f"ND {say_stops(shooting.nd_stops)}" if round(shooting.nd_stops, 1) else "no ND"
    return (
        f"EI {shooting.ei:g}, {shooting.fps:.6g} fps, shutter {say_exposure_time(shooting)}, {nd}"
    )


def say_share(share: float) -> str:
    """Say the share that an interval holds: '90 %'."""
    return f"{100 * share:.3g} %"


def say_percent(percent: float) -> str:
    """Say a share: whole from 10 % up, two digits under it, at least 'under 0.01 %'."""
    percent = settle(percent)
    if percent == 0:
        return "0 %"
    if percent < 0.01:
        return "under 0.01 %"
    return f"{percent:.0f} %" if percent >= 9.5 else f"{say_significant(percent, 2)} %"


def say_shares(plan: SetupPlan, shares: tuple[float, ...]) -> list[str]:
    """Say each light that reaches a position, 'window 72 %', in the order of the lights.

    Of more than 12 those that give most, and what the others give together.
    """
    given = [row for row, each in enumerate(shares) if each > 0]
    kept = sorted(sorted(given, key=lambda row: -rank(shares[row]))[:_MOST_SHARES])
    said = [f"{plan.lights[row].name} {say_percent(100 * shares[row])}" for row in kept]
    rest = [shares[row] for row in given if row not in kept]
    return [*said, f"{len(rest)} more {say_percent(100 * sum(rest))}"] if rest else said


def say_shown(shown: int, there: int, files: str = "plan.json") -> str:
    """Say how many positions of a long setup are shown, and where all are; '' where all are."""
    if shown == there:
        return ""
    return (
        f"{shown} of {there} positions are shown: the key, those that pull on the setting, and "
        f"those farthest from their intents. All are in {files}."
    )
