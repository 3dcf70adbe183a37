"""The answers of the short commands: an exposure's missing term, flicker, a pack of ND."""

from __future__ import annotations

from wbplan.core.intervals import Interval
from wbplan.exposure.equation import Parts, find_exposure_value, name_ei, name_stops, name_t_stop
from wbplan.exposure.missing_term import ExposureAnswer, ExposureTerms
from wbplan.exposure.nd_kit import Pack
from wbplan.planning.ripple import FlickerAnswer
from wbplan.report.base.words import say_significant, say_stops
from wbplan.report.exposure import words as say


def format_answer(answer: ExposureAnswer, is_reflected: bool, parts: Parts) -> str:
    """Format an exposure's missing term: the answer first, then what it rests on."""
    terms, value = answer.terms, answer.value
    symbol, unit = ("L", "cd/m²") if is_reflected else ("E", "lux")
    term = answer.term
    notes: list[str] = []
    if term == "t-stop":
        said = f"{name_t_stop(value.value, parts)}  (T-number {_range(value)}"
        said += f"; to a tenth {name_t_stop(value.value, 10)})" if parts != 10 else ")"
    elif term == "ei":
        said = f"EI {name_ei(value.value)}  (exact {_range(value)})"
    elif term == "shutter":
        said = _say_shutter(value, terms.fps, notes)
    elif term == "fps":
        said = f"{_range(value, 4)} fps"
    elif term == "nd":
        said = _say_nd(value, parts)
    elif term == "light":
        said = f"{_range(value)} {unit}"
        if not is_reflected:
            said += f"  ({say_significant(value.value * 0.3048**2)} footcandles)"
    elif term == "flash":
        said = f"{_range(value)} lux s of flash"
    else:
        side = "over" if value.value >= 0 else "under"
        said = f"{name_stops(value.value, parts)} {side}  ({say.say_signed_range(value)} stops)"
        if name_stops(value.value, parts) == "0 stops":
            said = f"right  ({say.say_signed_range(value)} stops)"
    lines = [said, f"   from  {_describe(terms, term, unit)}"]
    if terms.t_stop and terms.exposure_time_s:
        ev = float(find_exposure_value(terms.t_stop, terms.exposure_time_s))
        lines.append(f"   EV    {ev:.1f} as set, by T-stop and time")
    constant = "K" if is_reflected else "C"
    kind = "reflected" if is_reflected else "incident"
    flash = " + H" if terms.flash_lux_s else ""
    dose = f"({symbol} t{flash})" if flash else f"{symbol} t"
    lines.append(
        f"   by    N² 2^ND = {dose} S / {constant}, {constant} {terms.calibration:g}, "
        f"ISO 2720, {kind} light"
    )
    if terms.meter_percent:
        lines.append(f"   band  90 %, for a meter error of {terms.meter_percent:g} % (one sd)")
    return "\n".join(
        [
            *lines,
            *(f"   warning  {each}" for each in notes),
            *(f"   warning  {each.text}" for each in answer.notes),
        ]
    )


def _range(value: Interval, digits: int = 3) -> str:
    figures = [say_significant(each, digits) for each in (value.value, value.low, value.high)]
    return f"{figures[0]}, {figures[1]} to {figures[2]}" if value.is_open else figures[0]


def _say_shutter(value: Interval, fps: float | None, notes: list[str]) -> str:
    said = say.say_time(value.value)
    if value.is_open:
        said += f", {say.say_time(value.low)} to {say.say_time(value.high)}"
    if fps is None:
        return said
    angle = 360.0 * fps * value.value
    if angle > 360.0 * (1 + 1e-9):
        short = name_stops(float(find_exposure_value(1.0, 1 / (fps * value.value))))
        notes.append(
            f"{angle:.4g}° is more than a frame at {fps:g} fps: a full 360° stays {short} short"
        )
    return f"{angle:.5g}°  ({said})"


def _say_nd(value: Interval, parts: Parts) -> str:
    if value.value < 0:
        return f"{name_stops(value.value, parts)} too dark without any ND  ({_signed(value)})"
    density = say.name_density(value.value)
    return f"ND {name_stops(value.value, parts)}  (density {density}; {_signed(value)})"


def _signed(value: Interval) -> str:
    return f"{say.say_signed_range(value)} stops"


def _describe(terms: ExposureTerms, skip: str, unit: str) -> str:
    parts = []
    if skip != "t-stop" and terms.t_stop is not None:
        parts.append(f"T-number {terms.t_stop:.3g}")
    if skip != "ei" and terms.ei is not None:
        parts.append(f"EI {terms.ei:g}")
    if skip != "shutter" and terms.exposure_time_s is not None:
        if terms.fps is not None:
            parts.append(
                f"{terms.fps:.6g} fps, shutter {say.say_angle(terms.exposure_time_s, terms.fps)}"
            )
        else:
            parts.append(f"shutter {say.say_time(terms.exposure_time_s)}")
    elif skip == "shutter" and terms.fps is not None:
        parts.append(f"{terms.fps:.6g} fps")
    if skip != "nd":
        parts.append(f"ND {say_stops(terms.nd_stops)}" if terms.nd_stops else "no ND")
    if skip != "light" and terms.light:
        parts.append(f"{say_significant(terms.light)} {unit}")
    if skip != "flash" and terms.flash_lux_s:
        parts.append(f"a flash of {say_significant(terms.flash_lux_s)} lux s")
    return ", ".join(parts)


def format_flicker(answer: FlickerAnswer, fps: float, exposure_time_s: float) -> str:
    """Format what a shutter makes of a flicker."""
    lines = [
        f"{say.say_safe(answer, fps)}  (nearest safe shutter)",
        f"   light    {say.say_flicker(answer.flicker)}",
        f"   planned  {say.say_angle(exposure_time_s, fps)}: "
        f"{say.say_ripple(answer.ripple_stops)} of ripple, {say.say_beat(answer)}",
        f"   rolling  {say.say_bands(answer)}",
    ]
    for number, time in enumerate(answer.safe_times_s):
        lines.append(f"   {'safe     ' if number == 0 else '         '}{say.say_angle(time, fps)}")
    if not answer.safe_times_s:
        hertz = answer.flicker.light_hz
        lines.append(f"   warning  the fastest safe rate is {hertz:g} fps at 360°")
    if answer.is_risky:
        lines.append(
            "   warning  strobing: deep enough to trouble people who are sensitive to it; warn them"
        )
    return "\n".join(lines)


def format_packs(packs: tuple[Pack, ...]) -> str:
    """Format packs, the best first, with what each costs."""
    rows = []
    for pack in packs:
        mark = "" if pack.reaches else ", does not reach the mark"
        rows.append(f"{say.say_pack(pack)}: {pack.stops:.2f} stops{mark}")
    return "\n".join(rows)
