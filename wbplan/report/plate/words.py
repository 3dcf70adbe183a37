"""How plate notes are said: figures for the page, and the checklist for this very setup.

What a checklist asks for is common practice on sets, no source; what can be worked out of the
setup is filled in: where, at which setting and exposure, how far a bracket has to reach.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from wbplan.camera.sensitivities import CHANNELS
from wbplan.core.intervals import Interval
from wbplan.exposure.equation import name_t_stop
from wbplan.planning.channels import Channels
from wbplan.planning.decisions import SetupPlan
from wbplan.planning.plate.bracket import STEP_STOPS
from wbplan.planning.plate.values import Bracket, Dial, Frame, InPicture, StageLight
from wbplan.planning.sun import BodyView
from wbplan.report.base import words
from wbplan.report.exposure.words import say_nd_shot, say_time
from wbplan.scene.cautions import Caution
from wbplan.scene.plate import CAMERA, PlateLens, Spot, find_separation

BASIS = "common practice, no source"
SCENE_FACTS = (
    "Metres, y up, -z true north where the lens has a heading.",
    "Intensities: cd/m2 of panels, lux of the sun, four times candela of points (normalize on).",
    "Colours: linear ACEScg of luminance 1, adapted to the dialled Kelvin.",
    "Variants: readAt sets every light to the readings at one position, seenBy gives its colour "
    "as the standard observer or this camera sees it.",
    "No walls and no bounced light are in it: wbplan:stageLux beside wbplan:readLux tells what "
    "that leaves out (-1: not known).",
    "Never look into lamps or the sun to check it.",
)
_SAME_STOPS = 0.029  # 2 %
_MISS_STOPS = 0.17
CAUTION = Caution(
    "plate",
    "Frame balls and brackets on a screen, never with the sun through an optical finder: ND for "
    "pictures protects no eye. Where a bracket goes down to the sun's disc, the ND is on before "
    "the lens turns there, the lens is wide, it stays there no longer than the frames take and is "
    "capped between them; a sun on a sensor burns it and its shutter, so the camera's maker has "
    "the last word. Lamps of a bracket stay hot and bright while you stand among them.",
)


@dataclass(frozen=True)
class Reminder:
    """One line of the checklist: a code for machines, a short name, what to do here."""

    code: str
    title: str
    text: str


def say_linear(value: float) -> str:
    """Say a scene-linear value or a ratio of channels, four digits at most: '0.1845', '1.106'."""
    if not math.isfinite(value):
        return "unknown"
    return words.say_significant(value, 4) if abs(value) >= 1 else f"{value:.4f}"


def say_linear_span(interval: Interval) -> str:
    """Say the ends of a linear value; an empty text where they are said alike."""
    return words.say_ends_apart(interval, say_linear)


def say_small_span(interval: Interval) -> str:
    """Say the ends of a value per lux; an empty text where they are said alike."""
    return words.say_ends_apart(interval, words.say_significant)


def say_level(stops: float) -> str:
    """Say how far one light lies under another: '2.1', 'unknown'."""
    return f"{stops:.1f}".replace("-", "−") if math.isfinite(stops) else "unknown"


def say_channels(stops: Channels) -> str:
    """Say stops in three channels: 'red 1.2, green 1.4, blue 2 stops'."""
    pairs = zip(CHANNELS, stops, strict=True)
    return ", ".join(f"{name} {say_level(each.value)}" for name, each in pairs) + " stops"


def say_dial(dial: Dial | None, key: str) -> str:
    """Say what a light is dialled to: '−1.52 stops; 1.124, 0.981, 0.612'."""
    if dial is None:
        return "not to be had"
    colour = ", ".join(f"{each:.3f}".replace("-", "−") for each in dial.colour)
    if dial.exposure_stops is None:
        return f"does not reach {key}; {colour}"
    return f"{dial.exposure_stops:+.2f} stops; {colour}".replace("-", "−")


def say_strength(light: StageLight) -> str:
    """Say how strong a light of the 3D scene is: '5210 cd/m²', '1.2 times the modelled sky'."""
    said = words.say_significant(light.strength, 3)
    unit = {"panel": "cd/m²", "point": "cd", "sun": "lux facing it"}
    return f"{said} {unit.get(light.kind, 'times the modelled sky')}"


def list_stage(light: StageLight, plan: SetupPlan) -> list[tuple[str, str, str]]:
    """List position, lux read and lux in the 3D scene, where either is not 0."""
    rows = []
    for place, read, given in zip(plan.positions, light.read_lux, light.stage_lux, strict=True):
        if read <= 0 and not given:
            continue
        said = "no place"
        if given is not None:
            said = words.say_lux(given) if given > 0 else "0"
        if given and read > 0:
            apart = math.log2(given / read)
            if abs(apart) > _SAME_STOPS:
                said += f", {words.say_stops(abs(apart))} {'more' if apart > 0 else 'less'}"
        rows.append((place.name, words.say_lux(read) if read > 0 else "0", said))
    return rows


def say_nm_range(low: float, high: float) -> str:
    """Say a range of wavelengths: '380 to 780 nm'."""
    return f"{low:g} to {high:g} nm"


def say_utc(moment: datetime) -> str:
    """Say a moment in UTC: '2026-06-21 12:30 UTC'."""
    return f"{moment.astimezone(UTC):%Y-%m-%d %H:%M} UTC"


def say_metres(metres: float | None) -> str:
    """Say a length, centimetres at the finest: '3.2 m', 'infinity'; '' where it is not given."""
    if metres is None:
        return ""
    return "infinity" if math.isinf(metres) else f"{round(metres, 2) + 0.0:g} m"


def say_bearing(degrees: float) -> str:
    """Say a direction seen from the camera: '30° right', '90° left', 'straight ahead'."""
    size = f"{abs(round(degrees, 1)):g}°"
    if size == "0°":
        return "0°, straight ahead"
    if size == "180°":
        return "180°, back at the camera"
    return f"{size} {'right' if degrees > 0 else 'left'}"


def say_tilt(degrees: float) -> str:
    """Say a tilt: '5° up', '12° down', 'level'."""
    size = abs(round(degrees, 1))
    return "level" if size == 0 else f"{size:g}° {'up' if degrees > 0 else 'down'}"


def say_roll(degrees: float) -> str:
    """Say a roll, as seen from behind the camera: '2° clockwise', 'level'."""
    size = abs(round(degrees, 1))
    return "level" if size == 0 else f"{size:g}° {'' if degrees > 0 else 'counter-'}clockwise"


def say_facing(spot: Spot) -> str:
    """Say which way a spot points; '' where nothing is said."""
    if spot.aimed_at:
        return f"at {'the camera' if spot.aimed_at == CAMERA else spot.aimed_at}"
    parts = []
    if spot.facing_deg is not None:
        parts.append(say_bearing(spot.facing_deg))
    if spot.tilt_deg is not None:
        parts.append(say_tilt(spot.tilt_deg))
    return ", ".join(parts)


_WINDS = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")


def say_azimuth(degrees: float) -> str:
    """Say a direction from true north: '142° from true north (south-east)'."""
    wind = _WINDS[round(degrees / 45.0) % 8]
    return f"{round(degrees, 1) % 360.0:g}° from true north ({wind})"


def say_body(body: BodyView, when: datetime, is_moon: bool = False) -> str:
    """Say where the sun or the moon stands for the camera, and when it comes into the picture."""
    if not body.is_up:
        said = f"under the horizon, {say_azimuth(body.azimuth_deg)}, {say_tilt(body.elevation_deg)}"
    else:
        parts = [say_azimuth(body.azimuth_deg), say_tilt(body.elevation_deg)]
        if is_moon:
            parts.append(f"{100 * body.lit_share:.0f} % of it lit")
        if body.bearing_deg is not None:
            parts.append(f"{say_bearing(body.bearing_deg)} of the lens")
        seen = body.seen
        if seen is not None and seen.axis_deg is not None:
            parts.append(f"{seen.axis_deg:.0f}° off its axis")
        if seen is not None:
            parts.append(say_in_picture(seen))
        said = ", ".join(parts)
    if body.enters_s is not None:
        into = "in it" if body.enters_s == 0 else _say_later(body.enters_s, when)
        out = "" if body.leaves_s is None else f", out of it {_say_later(body.leaves_s, when)}"
        said += f". With the camera as it stands {'' if body.enters_s == 0 else 'in the picture '}"
        said += f"{into}{out}"
    return said


def _say_later(seconds: float, when: datetime) -> str:
    """Say a time ahead: 'at 15:20, in 2 h 5 min'."""
    at = (when.astimezone(UTC) + timedelta(seconds=seconds)).astimezone(when.tzinfo)
    hours, minutes = divmod(round(seconds / 60.0), 60)
    ahead = f"{hours} h {minutes} min" if hours else f"{minutes} min"
    day = "" if at.date() == when.date() else " the day after"
    return f"at {at:%H:%M}{day}, in {ahead}"


_SIDES = {
    "left": "to the left",
    "right": "to the right",
    "above": "above it",
    "below": "below it",
    "behind": "behind the lens",
}


def say_in_picture(seen: InPicture | None) -> str:
    """Say where a thing lies in the picture: 'in the picture', 'out of it, above it'; '' unsaid."""
    if seen is None:
        return ""
    if seen.where == "open":
        return "in the picture across, up and down not known"
    if seen.where == "out":
        sides = " and ".join(_SIDES[each] for each in seen.sides)
        return f"out of the picture, {sides}" if sides else "out of the picture"
    if seen.where == "in":
        return "in the picture"
    return f"partly in the picture, its middle {'out of' if seen.sides else 'in'} it"


def say_size(spot: Spot) -> str:
    """Say the size of a soft source: '1.2 by 0.6 m'; '' where it is not given."""
    return "" if spot.size_m is None else f"{spot.size_m[0]:g} by {spot.size_m[1]:g} m"


def say_apart(one: Spot, two: Spot) -> str:
    """Say how far one spot is from another, along the floor where a height is missing."""
    apart = find_separation(one, two)
    if apart.straight_m is None:
        return f"{say_metres(apart.floor_m)} along the floor"
    return say_metres(apart.straight_m)


def list_lens(lens: PlateLens | None) -> tuple[list[tuple[str, str]], list[str]]:
    """List what is given of the lens, as (what, said), and the names of what is not."""
    known = lens or PlateLens()
    angle = known.horizontal_angle_deg
    sensor = (known.sensor_width_mm, known.sensor_height_mm)
    picture = (known.picture_width_px, known.picture_height_px)

    def pair(sizes: tuple[float | None, float | None], unit: str) -> str:
        if sizes == (None, None):
            return ""
        return " by ".join("?" if each is None else f"{each:g}" for each in sizes) + f" {unit}"

    def optional(value: float | None, text: str) -> str:
        return "" if value is None else text.format(value)

    rows = [
        ("Lens", known.name),
        ("Focal length", optional(known.focal_length_mm, "{:g} mm")),
        ("Squeeze", optional(known.squeeze_ratio, "{:g}")),
        ("Focus distance", say_metres(known.focus_distance_m)),
        ("Filters on the lens", ", ".join(known.filters)),
        ("Serial number", known.serial),
        ("Entrance pupil from the sensor's mark", optional(known.entrance_pupil_mm, "{:g} mm")),
        ("Distortion grid", known.distortion),
        ("Camera height", say_metres(known.camera_height_m)),
        ("Tilt", "" if known.tilt_deg is None else say_tilt(known.tilt_deg)),
        ("Roll", "" if known.roll_deg is None else say_roll(known.roll_deg)),
        ("Heading from true north", optional(known.heading_deg, "{:g}°")),
        ("Sensor in use", pair(sensor, "mm")),
        ("Picture", pair(picture, "pixels")),
    ]
    given = [row for row in rows if row[1]]
    if angle is not None:
        said = f"{angle:.1f}°, worked out without distortion, at infinity"
        given.append(("Angle of view across", said))
    if known.vertical_angle_deg is not None:
        given.append(("Angle of view up and down", f"{known.vertical_angle_deg:.1f}°"))
    missing = [name.lower() for name, said in rows if not said]
    return given, missing


def list_unplaced(plan: SetupPlan) -> list[str]:
    """List the lights and positions of a setup whose place is not given; the sky has none."""
    placed = {each.name for each in plan.setup.layout}
    lights = [each.name for each in plan.setup.sources if each.sky is None]
    names = [*lights, *(each.name for each in plan.positions)]
    return [each for each in dict.fromkeys(names) if each not in placed]


def list_reminders(plan: SetupPlan) -> tuple[Reminder, ...]:
    """List what is shot and noted beside this plate, in the order of a day."""
    setup, lens = plan.setup, plan.setup.lens or PlateLens()
    setting = words.say_setting(plan.dial)
    stop = "the planned stop"
    if plan.exposure is not None:
        stop = f"{name_t_stop(plan.exposure.t_stop)}, {say_nd_shot(plan.exposure)}"
    lit = [each.name for each in plan.positions if each.lux.value > 0]
    key = setup.key
    others = [each for each in lit if each != key]
    also = f", then at {_join(others)}" if others else ""
    flash = [each.name for each in setup.sources if each.flash and each.on]
    firing = f" {_join(flash)} has to fire in each frame." if flash else ""
    made = [
        Reminder("slate", "Slate", _say_slate(plan)),
        Reminder(
            "white-balance",
            "White balance fixed",
            f"{setting} on every camera that shoots what follows; no automatic white balance or "
            "exposure, raw where there is a choice.",
        ),
        Reminder(
            "chart",
            "Chart",
            f"At {key}{also}, square to the lens, out of reflections, at {stop}. {_say_grey(plan)}"
            f"{_say_chart_stops(plan)}{firing}".rstrip(),
        ),
        Reminder(
            "grey-ball",
            "Grey ball",
            f"Matt, 18 %, at {key}{also}, at {stop}; note the distance, keep your own shadow "
            f"off it.{_say_chart_stops(plan)}{firing}",
        ),
        Reminder(
            "chrome-ball",
            "Chrome ball",
            f"At the same places, from the camera and once from the side, sharp; the picture of "
            f"the lights in it shows where they stand.{firing}",
        ),
        Reminder(
            "clean-plate",
            "Clean plate",
            f"Nobody and nothing moving in frame, same focus, {setting}, {stop}, as long as the "
            f"take.{firing}",
        ),
    ]
    if plan.plate is not None and plan.plate.bracket is not None:
        made.append(Reminder("bracket", "HDR bracket", _say_bracket(plan, plan.plate.bracket)))
    made += [
        Reminder("lens-grid", "Lens grid", _say_grid(lens, stop)),
        Reminder(
            "dark-frame",
            "Dark frame",
            f"Lens capped, EI {setup.shooting.ei:g}, {words.say_exposure_time(setup.shooting)}: "
            "noise and hot pixels of the plate.",
        ),
        Reminder("distances", "Distances", _say_distances(plan, lens)),
        Reminder(
            "again",
            "Again after each change",
            "Of a light, a filter, the lens or its focus; where daylight reaches, at the start and "
            "the end of the setup and whenever cloud or sun moves, with the time written down.",
        ),
    ]
    return tuple(made)


def _join(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _say_slate(plan: SetupPlan) -> str:
    slate = plan.setup.slate
    pairs = []
    if slate is not None:
        pairs = [("scene", slate.scene), ("slate", slate.slate), ("take", slate.take)]
        pairs.append(("clip", slate.clip))
    said = ", ".join(f"{name} {value}" for name, value in pairs if value)
    named = f"{said[0].upper()}{said[1:]}" if said else plan.name
    return f"{named}, with lens, filter and stop on it, readable at the head."


def _say_grey(plan: SetupPlan) -> str:
    """Say what the chart's grey should come out as at the key."""
    if plan.plate is None:
        return ""
    place = next(each for each in plan.plate.positions if each.name == plan.setup.key)
    if place.balanced is None:
        return ""
    red, _, blue = (each.value for each in place.balanced)
    return (
        f"Its greys should read red {say_linear(red)}, blue {say_linear(blue)} of green, linear, "
        "after the camera's gains; what they read instead corrects all figures here."
    )


def _say_chart_stops(plan: SetupPlan) -> str:
    """Say at which exposures its grey is at middle grey, where some are not the planned one."""
    bracket = None if plan.plate is None else plan.plate.bracket
    if bracket is None or not any(round(stops, 1) for _, stops in bracket.charts):
        return ""
    return f" Once more with its grey in the middle: {say_charts(bracket)}."


def _say_bracket(plan: SetupPlan, bracket: Bracket) -> str:
    frames = bracket.frames
    dark, bright = -frames[0].from_planned_stops, frames[-1].from_planned_stops
    parts = [
        f"Still camera or the camera itself on a tripod, level, all round where it can, "
        f"{words.say_setting(plan.dial)}, from {dark:g} stops darker to {bright:g} brighter than "
        f"the planned exposure, a frame every {STEP_STOPS} stops ({len(frames)} frames, listed "
        f"below), down from {bracket.peak}."
    ]
    if bracket.brightest != bracket.darkest:
        parts.append(
            f"{bracket.brightest} lies {words.say_stops(bracket.spread_stops)} over "
            f"{bracket.darkest}."
        )
    skies = {each.name for each in plan.setup.sources if each.sky is not None}
    for each in bracket.glows:
        side = "over" if each.from_grey_stops >= 0 else "under"
        how = "a clear sun's disc, by the model"
        if each.light not in skies:
            pointing = "pointing as noted" if each.aim_is_given else "facing it"
            how = f"from its size and the lux at {each.position}, taken as even, {pointing}"
        parts.append(
            f"{each.light} itself is about {words.say_significant(each.luminance_cd_m2, 2)} "
            f"cd/m², {words.say_stops(abs(each.from_grey_stops))} {side} middle grey ({how})."
        )
    flickering = [each.name for each in plan.setup.sources if each.flicker and each.on]
    flash = [each.name for each in plan.setup.sources if each.flash and each.on]
    steady = flickering or flash
    if steady:
        one = len(steady) == 1
        why = (
            f"flicker{'s' if one else ''}" if flickering else "is a flash" if one else "are flashes"
        )
        parts.append(
            f"{_join(steady)} {why}: keep the planned shutter and go darker by ND, "
            "brighter by EI, so that every frame gets the same light of it."
        )
    else:
        short = min(each.exposure_time_s for each in frames)
        over = frames[0].nd_stops - min(each.nd_stops for each in frames)
        ends = f"{say_time(frames[-1].exposure_time_s)} to {say_time(short)}"
        rest = f"then ND of {words.say_stops(over)} more" if over > 0.05 else "never by the stop"
        parts.append(f"By shutter, {ends}, {rest}.")
    if bracket.free_sun_stops is not None:
        frame_count = max(0, math.ceil((bracket.free_sun_stops - dark) / STEP_STOPS))
        parts.append(
            f"A clear sun is up: where the panorama sees its disc that lies about "
            f"{words.say_stops(bracket.free_sun_stops)} over middle grey, {frame_count} frames "
            "further down."
        )
    if not bracket.is_whole:
        parts.append("Go on darker, with ND against clipping, until no lamp clips.")
    return " ".join(parts)


def say_frame_nd(frame: Frame) -> str:
    """Say the ND of a frame: 'none', '4.2 stops', 'polariser + ND 0.6, camera ND 2 stops'."""
    said = words.say_stops(frame.nd_stops) if round(frame.nd_stops, 1) else "none"
    if frame.glass is None:
        return said
    parts = [" + ".join(frame.glass)] if frame.glass else []
    if frame.camera_nd_stops:
        parts.append(f"camera ND {words.say_stops(frame.camera_nd_stops)}")
    pack = ", ".join(parts) or "none"
    if abs(frame.miss_stops) > _MISS_STOPS:
        side = "dark" if frame.miss_stops > 0 else "bright: more ND than the kit has"
        pack += f" ({words.say_stops(abs(frame.miss_stops))} {side})"
    return pack


def say_charts(bracket: Bracket) -> str:
    """Say what a chart or ball wants at each position: 'face as planned, wall +1.3 stops'."""
    parts = []
    for name, stops in bracket.charts:
        far = f"{stops:+.1f}".replace("-", "−")
        parts.append(f"{name} {'as planned' if round(stops, 1) == 0 else far + ' stops'}")
    return ", ".join(parts)


def _say_grid(lens: PlateLens, stop: str) -> str:
    parts = [
        "" if lens.focal_length_mm is None else f"at {lens.focal_length_mm:g} mm",
        ""
        if lens.focus_distance_m is None
        else f"focused at {say_metres(lens.focus_distance_m)} as in the take",
        f"squeeze {lens.squeeze_ratio:g}" if (lens.squeeze_ratio or 1.0) != 1.0 else "",
    ]
    said = ", ".join(each for each in parts if each) or "at the focal length and focus of the take"
    return (
        f"A flat grid filling the picture, square to the lens, {said}, at {stop}; with a pull of "
        "focus or a zoom, at both ends of it."
    )


def _say_distances(plan: SetupPlan, lens: PlateLens) -> str:
    missing = list_unplaced(plan)
    heights = [each.name for each in plan.setup.layout if each.height_m is None]
    parts = []
    if missing:
        parts.append(f"No place is noted for {_join(missing)}")
    if heights:
        parts.append(f"no height for {_join(heights)}")
    if lens.camera_height_m is None:
        parts.append("no height of the camera")
    if not parts:
        return "All are noted above; measure again after any move, with a photograph of each light."
    text = "; ".join(parts)
    return f"{text[0].upper()}{text[1:]}: measure them, with a photograph of each light."
