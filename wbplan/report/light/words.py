"""How the description of a light is said: its figures rounded, with sides in words."""

from __future__ import annotations

import math

from wbplan.camera.sensitivities import CHANNELS
from wbplan.core.intervals import Interval
from wbplan.core.names import clean_text
from wbplan.description.camera import CameraFigures
from wbplan.description.eye import LightFigures
from wbplan.description.gaps import GapFigures
from wbplan.description.lights import LightDescription
from wbplan.description.repeats import Repeat, Spread
from wbplan.description.sampling import SamplingBand
from wbplan.report.base.words import (
    say_duv,
    say_ends,
    say_ends_apart,
    say_kelvin,
    say_kelvin_span,
    say_significant,
)

NONE = "–"


def say_name(light: LightDescription) -> str:
    """Say a light's name, a model marked as one."""
    return f"{clean_text(light.name)}{' (model)' if light.is_model else ''}"


def say_whole(value: float) -> str:
    """Say an index, whole; a dash where it has no meaning."""
    return f"{round(value) + 0:d}" if math.isfinite(value) else NONE


def say_digits(value: float, digits: int) -> str:
    """Say a figure with so many decimals; a dash where it has no meaning."""
    return f"{round(value, digits) + 0.0:.{digits}f}" if math.isfinite(value) else NONE


def say_illuminance(light: LightDescription) -> str:
    """Say lux and footcandle, or that the values are relative."""
    if not math.isfinite(light.illuminance_lux):
        return "relative"
    foot = say_significant(light.illuminance_footcandle)
    return f"{say_significant(light.illuminance_lux)} lux, {foot} fc"


def say_light_duv(figures: LightFigures) -> str:
    """Say Duv with its side."""
    return say_duv(figures.duv).removeprefix("Duv ") or NONE


def say_dominant(figures: LightFigures) -> str:
    """Say a dominant wavelength and purity; 'c' marks the complement of a purple."""
    if not math.isfinite(figures.dominant_nm):
        return "white"
    mark = "c" if figures.is_complementary else ""
    return f"{figures.dominant_nm:.0f}{mark} nm, {100 * figures.purity:.0f} %"


def say_ssi(value: float, reference: str) -> str:
    """Say a similarity with what it is against."""
    return f"{say_whole(value)} to {reference}" if reference else NONE


def say_signed_stops(interval: Interval) -> str:
    """Say an exposure offset: in stops: '0.4 over', '0.2 under', 'as lux'."""
    size = abs(round(interval.value, 1))
    if size == 0:
        return "as lux"
    return f"{size:g} {'over' if interval.value > 0 else 'under'}"


def say_stops_span(interval: Interval) -> str:
    """Say the ends of an exposure offset: '0.1 to 0.3 under'; empty where nothing is unsure."""
    if not interval.is_open:
        return ""

    low, high = round(interval.low, 1) + 0.0, round(interval.high, 1) + 0.0
    if low == high:
        return ""
    if low * high < 0:
        return f"{-low:g} under to {high:g} over"
    near, far = sorted((abs(low), abs(high)))
    return f"{near:g} to {far:g} {'over' if high > 0 else 'under'}"


def say_exposure(view: CameraFigures) -> str:
    """Say the offsets of all channels in one line."""
    pairs = zip(CHANNELS, view.exposure, strict=True)
    return ", ".join(f"{name} {say_signed_stops(each)}" for name, each in pairs)


def say_error(interval: Interval) -> str:
    """Say a CIEDE2000 with one decimal."""
    return say_digits(interval.value, 1)


def say_error_span(interval: Interval) -> str:
    """Say the ends of a CIEDE2000; empty where nothing is unsure."""
    if not interval.is_open or not math.isfinite(interval.value):
        return ""
    return say_ends_apart(interval, lambda end: say_digits(end, 1))


def say_worst(view: CameraFigures) -> str:
    """Name the surfaces that suffer most, or say that none does."""
    seen = [each for each in view.worst if each.ciede2000 >= 0.5]
    if not seen:
        return "none by as much as 0.5" if view.worst else NONE
    return ", ".join(f"{each.name} {each.ciede2000:.1f}" for each in seen)


def say_mired_gap(mired: float) -> str:
    """Say how much warmer or cooler a light is, by CCT."""
    if not math.isfinite(mired):
        return "no CCT"
    size = abs(round(mired, 1)) if abs(mired) < 9.95 else abs(round(mired))
    if size == 0:
        return "as warm"
    return f"{size:g} mired {'warmer' if mired > 0 else 'cooler'}"


def say_green_gap(gap: GapFigures) -> str:
    """Say on which side of green the light lies, by Duv."""
    size = round(abs(gap.duv), 4)
    if size == 0:
        return "as green"
    return f"Duv {size:.4f} {'greener' if gap.duv > 0 else 'more magenta'}"


def say_closing(gap: GapFigures) -> str:
    """Say the ideal filter that closes a gap."""
    if not math.isfinite(gap.closing_mired):
        return "no ideal filter"
    return say_filter(gap.closing_mired, gap.closing_cc)


def say_filter(mired: float, green_cc: float) -> str:
    """Say an ideal filter: '65 mired cool, 4.3 CC plus green'."""
    parts = []
    if round(abs(mired), 1) > 0:
        size = abs(mired)
        shown = f"{size:.0f}" if size >= 9.95 else f"{size:.1f}"
        parts.append(f"{shown} mired {'warm' if mired > 0 else 'cool'}")
    if round(abs(green_cc), 1) > 0:
        side = "plus green" if green_cc > 0 else "minus green"
        parts.append(f"{abs(green_cc):.1f} CC {side}")
    return ", ".join(parts) or "none needed"


def say_steps(steps: float) -> str:
    """Say a distance in steps of u', v': one decimal under 10."""
    return f"{steps:.1f}" if steps < 9.95 else f"{steps:.0f}"


def say_intent(levels: tuple[int, int, int]) -> str:
    """Say the levels of TM-30's Annex E: 'P1 V3 F2'; a dash where none is reached."""
    named = zip("PVF", levels, strict=True)
    return " ".join(f"{letter}{level}" for letter, level in named if level) or NONE


def list_sampling(band: SamplingBand) -> list[str]:
    """List what steps leave open: CCT, Duv, Ra, R9, Rf, TLCI, SSI, each from end to end."""
    ends = (band.ra, band.r9, band.rf, band.tlci, band.ssi)
    return [
        say_kelvin_span(band.cct_kelvin) if math.isfinite(band.cct_kelvin.value) else NONE,
        say_ends(band.duv, lambda end: say_duv(end).removeprefix("Duv ") or NONE),
        *(say_ends(each, say_whole) for each in ends),
    ]


def list_repeat(repeat: Repeat) -> list[str]:
    """List what readings of one light scatter by: lux, CCT, Duv, Ra, R9, with one deviation."""
    lux, mired = repeat.illuminance_lux, repeat.mired
    level = NONE
    if math.isfinite(lux.mean):
        level = f"{say_significant(lux.mean)} ± {100 * lux.deviation / lux.mean:.1f} %"
    kelvin = NONE
    if math.isfinite(mired.mean):
        kelvin = f"{say_kelvin(1e6 / mired.mean)} ± {mired.deviation:.1f} mired"
    return [
        level,
        kelvin,
        _say_spread(repeat.duv, 4),
        _say_spread(repeat.ra, 1),
        _say_spread(repeat.r9, 1),
    ]


def _say_spread(spread: Spread, digits: int) -> str:
    if not math.isfinite(spread.mean):
        return NONE
    return f"{say_digits(spread.mean, digits)} ± {say_digits(spread.deviation, digits)}"


def say_percent_shift(ratio: float) -> str:
    """Say a local chroma shift: '+4 %', '-7 %'; the sign is that of the standard."""
    if not math.isfinite(ratio):
        return NONE
    return f"{round(100 * ratio) + 0:+d} %" if round(100 * ratio) else "0 %"
