"""The verdict on a light in words: what the meter says, the camera, skin, and what to do."""

from __future__ import annotations

import math

from wbplan.core.names import clean_text
from wbplan.description.camera import CameraFigures, SkinShift
from wbplan.description.eye import LightFigures
from wbplan.description.gaps import GapFigures
from wbplan.description.lights import LightDescription, LightSet
from wbplan.planning.verdict import is_told
from wbplan.report.base import words
from wbplan.report.light import words as say
from wbplan.report.light.flicker import say_flicker, say_shutters

# Of CIEDE2000: 1 can just be told, 2 to 3 pass in a picture, over 5 anybody sees (`light.delta_e`).
_SEEN, _PLAIN, _WRONG = 1.0, 3.0, 5.0
_TURNED = 0.5  # of a CIELAB shift, for its direction to be named
_WORTH = 1.0  # of CIEDE2000 that a matrix takes off skin, to be worth carrying
_GOOD_TLCI, _EASY_TLCI, _HARD_TLCI, _POOR_TLCI = 85.0, 75.0, 50.0, 25.0  # EBU R 137
_TRUE_RF, _NEAR_RF, _OFF_RF = 90.0, 80.0, 70.0  # common practice, no source
_OPEN_MIRED, _OPEN_R9 = 4.0, 10.0  # what coarse steps leave open, from where on it is said
_DULL = 0.05  # of the red bin's chroma


def list_verdict(
    lights: LightSet, light: LightDescription, figures: LightFigures
) -> list[tuple[str, str]]:
    """List the verdict on one light: heads and what stands under them."""
    view = light.camera
    told = [("meter", _say_meter(light, figures))]
    if view is None:
        told.append(("skin", _say_skin_to_eye(figures)))
        told.append(("do", _say_doing_without(light.gap, figures)))
        return _add_flicker(told, light)
    assert lights.camera is not None
    told.append(("camera", _say_camera(clean_text(lights.camera.name), view, figures)))
    if not view.trouble:
        told.append(("skin", _say_skin(view)))
    told.append(("do", _say_doing(light, view, figures)))
    return _add_flicker(told, light)


def _add_flicker(told: list[tuple[str, str]], light: LightDescription) -> list[tuple[str, str]]:
    """Add how the light flickers before what to do, and the shutter to what to do."""
    if light.flicker is None:
        return told
    *first, (head, doing) = told
    shutters = say_shutters(light.flicker)
    doing = f"{doing}; {shutters}" if shutters else doing
    return [*first, ("flicker", say_flicker(light.flicker)), (head, doing)]


def say_skin_shortly(view: CameraFigures) -> str:
    """Say what skin does in a few words: 'true', 'a little yellow'."""
    if view.trouble:
        return say.NONE
    size = view.skin_mean.value
    if size < _SEEN:
        return "true"
    turned = _say_turned(view.skin_shift) or "off"
    if size < _PLAIN:
        return f"a little {turned}"
    return turned if size < _WRONG else f"far too {turned}" if turned != "off" else "far off"


def _say_meter(light: LightDescription, figures: LightFigures) -> str:
    level = f"{say.say_illuminance(light)}; " if math.isfinite(light.illuminance_lux) else ""
    if not math.isfinite(figures.cct_kelvin):
        return f"{level}no CCT: coloured light, {say.say_dominant(figures)} pure"
    said = f"{level}{words.say_kelvin(figures.cct_kelvin)}, Duv {say.say_light_duv(figures)}"
    if math.isfinite(figures.ra):
        said += f"; Ra {say.say_whole(figures.ra)}, R9 {say.say_whole(figures.special[8])}"
    if math.isfinite(figures.tlci):
        said += f", TLCI {say.say_whole(figures.tlci)} ({_say_tlci(figures.tlci)})"
    band = light.sampling
    if band is not None and math.isfinite(band.r9.value):
        open_mired = 1e6 / band.cct_kelvin.low - 1e6 / band.cct_kelvin.high
        if open_mired > _OPEN_MIRED or band.r9.high - band.r9.low > _OPEN_R9:
            ends = f"{words.say_kelvin_span(band.cct_kelvin)}, R9"
            ends += f" {words.say_ends(band.r9, say.say_whole)}"
            said += f"; steps of {band.step_nm:g} nm leave it open: {ends}"
    return said


def _say_tlci(qa: float) -> str:
    if qa >= _GOOD_TLCI:
        return "nothing to correct on television"
    if qa >= _EASY_TLCI:
        return "easy to correct on television"
    if qa >= _HARD_TLCI:
        return "takes time to correct on television"
    return f"{'poor' if qa >= _POOR_TLCI else 'bad'} on television"


def _say_camera(name: str, view: CameraFigures, figures: LightFigures) -> str:
    if view.trouble:
        return f"{name}: {view.trouble}"
    span = words.say_wanted_span(view.wanted)
    said = f"{name} wants {words.say_wanted(view.wanted)}" + (f" ({span})" if span else "")
    if view.metered is None:
        return said
    there = f"at the meter's {words.say_kelvin(figures.cct_kelvin)} and no tint a grey comes out"
    return f"{said}; {there} {words.say_cast(view.metered)}"


def _say_skin(view: CameraFigures) -> str:
    size, worst = view.skin_mean.value, view.skin_worst.value
    span = say.say_error_span(view.skin_mean)
    figure = f"CIEDE2000 {say.say_error(view.skin_mean)}"
    figure += f" ({span})" if span else ""
    turned = _say_turned(view.skin_shift)
    if size < _SEEN:
        said = "as under a perfect light of this Kelvin"
    elif size < _PLAIN:
        said = f"a little {turned or 'off'}, passes in a picture"
    elif size < _WRONG:
        said = f"{turned or 'off'}, and it can be seen"
    else:
        said = f"{turned or 'off'}, and anybody sees it"
    if worst > max(1.3 * size, size + _SEEN):
        figure += f", worst {say.say_error(view.skin_worst)}"
    return f"{said}: {figure}"


def _say_turned(shift: SkinShift) -> str:
    """Say which way skin goes: 'yellow and pale', 'pink'; empty where it has no clear way."""
    parts = []
    if abs(shift.hue) >= max(_TURNED, 0.5 * abs(shift.chroma)):
        parts.append("yellow" if shift.hue > 0 else "pink")
    if abs(shift.chroma) >= max(_TURNED, 0.5 * abs(shift.hue)):
        parts.append("ruddy" if shift.chroma > 0 else "pale")
    return " and ".join(parts)


def _say_skin_to_eye(figures: LightFigures) -> str:
    rf = figures.skin_rf
    if not math.isfinite(rf):
        return "no figure: this light has no reference"
    near = "nearly true" if rf >= _NEAR_RF else "off" if rf >= _OFF_RF else "wrong"
    said = f"to the eye {'true' if rf >= _TRUE_RF else near}: Rf skin {say.say_whole(rf)}"
    red = figures.bin_chroma[0]
    if math.isfinite(red) and abs(red) >= _DULL:
        said += f", reds {'duller' if red < 0 else 'stronger'} by {100 * abs(red):.0f} %"
    return said


def _say_doing_without(gap: GapFigures | None, figures: LightFigures) -> str:
    parts = [] if gap is None else [_say_meeting(gap)]
    if math.isfinite(figures.cct_kelvin):
        parts.append("name a camera for the Kelvin it wants: it is not the meter's")
    else:
        parts.append("treat it as colour: a camera balances on another light beside it")
    return "; ".join(parts)


def _say_doing(light: LightDescription, view: CameraFigures, figures: LightFigures) -> str:
    gap = light.gap
    if view.trouble or view.dial is None:
        return "treat it as colour: balance on another light, and keep it off faces that matter"
    parts = [f"dial {words.say_setting(view.dial)}"]
    if view.metered is not None:
        is_off = is_told(*view.metered.point)
        parts[0] += ", not the meter's Kelvin" if is_off else "; the meter's Kelvin does too"
    left = view.wanted.less(view.dial.mired, view.dial.tint_cc)
    if is_told(*left.point):
        filter_ = say.say_filter(-left.mired.value, -left.green_cc.value)
        leaves = f"the nearest on its menu, which leaves {words.say_cast(left)}"
        parts.append(f"{leaves}: a filter of {filter_} takes that off")
    size, mended = view.skin_mean.value, view.skin_shift.mended
    if size >= _PLAIN:
        no = "no setting mends skin"
        if size - mended >= _WORTH:
            parts.append(f"{no}: a matrix for this light leaves CIEDE2000 {mended:.1f}")
        else:
            parts.append(f"{no}, nor does a matrix: light faces with another lamp")
    elif size >= _SEEN and size - mended >= _WORTH:
        parts.append(f"for faces a matrix for this light leaves CIEDE2000 {mended:.1f}")
    if gap is not None:
        parts.append(_say_meeting(gap))
    return "; ".join(parts)


def _say_meeting(gap: GapFigures) -> str:
    """Say what brings a light to the one that it is compared with."""
    other = clean_text(gap.other)
    if gap.camera is not None:
        if not is_told(*gap.camera.point):
            return f"it passes for {other} as it is"
        mired, cc = -gap.camera.mired.value, -gap.camera.green_cc.value
        filter_ = say.say_filter(mired, cc)
        return f"to meet {other} in this camera, hang {filter_} before it"
    filter_ = say.say_closing(gap)
    if filter_ == "none needed":
        return f"it passes for {other} to the eye as it is"
    return f"to meet {other} to the eye: {filter_}"
