"""The fields of a scenario."""

from __future__ import annotations

from dataclasses import replace
from typing import Final, get_args

from wbplan.codes.encodings import LEVELS
from wbplan.day.times import DayWish, Tolerance
from wbplan.exposure.nd_kit import MOST_GLASS
from wbplan.light.reflectances import REFLECTANCE
from wbplan.read.model.forms import Choice, Either, Flag, Items, Map, Named, Number, Text
from wbplan.read.model.lights import (
    ATMOSPHERE,
    HORIZON,
    LEAST_LUX,
    LIGHT_SHAPES,
    LONGEST_PATH,
    MAINS_HZ,
    MOST_KELVIN,
    MOST_LUX,
    WHEN,
)
from wbplan.read.model.tables import Field, Model, Shape
from wbplan.scene.changes import Preference
from wbplan.scene.luts import (
    CDL_ON,
    CUBE_SIZES,
    FORMATS,
    KIND_WORDS,
    MATCH_MAPS,
    MOST_UP_STOPS,
    SCREENS,
    WHITE_RANGE,
)

FORMAT_VERSION: Final = 1
MOST_LUX_S: Final = 1e6
_LUX = Number(LEAST_LUX, MOST_LUX, or_zero=True)
_LUX_S = Number(LEAST_LUX, MOST_LUX_S, or_zero=True)
MOST_M: Final = 10_000.0
MOST_MOVED_M: Final = 1000.0
LONGEST_NAME: Final = 80
ASSUMED: Final = ("camera", "key", "shooting", "lux")

_EI = ("iso", "asa")
LEAST_TIME_S: Final = 1e-9  # that a shutter can be open: light comes 0.3 m far
_KELVIN = Number(1000.0, MOST_KELVIN)
_SIZE = Items(Number(above=0.0, high=1000.0), 2)
_STOPS = Number(0.0, 20.0)
_LOSS = Number(above=0.0, high=20.0)
_METRES = Number(above=0.0, high=MOST_MOVED_M)
_CUBE_SIZE = Number(CUBE_SIZES[0], CUBE_SIZES[-1], is_whole=True)
_UP_STOPS = Number(-MOST_UP_STOPS, MOST_UP_STOPS)
_LONG_LENGTH = Number(-MOST_M, MOST_M)
_ANGLE = Number(-360.0, 360.0)
_SHIFT = Map("shift", "{warm_mired: 40, green_cc: 2}")
_CAMERA = Text(what="a camera that `wbplan cameras` lists, or the path of a profile")
_METER = Map("meter", "{illuminance_percent: 4, chromaticity_xy: 0.0015}")
_KIT = Map("kit", "{glass: {ND 0.6: {nd_density: 0.6}}, camera_nd_stops: [2, 4, 6]}")
_LIGHT, _POSITION = ("light",), ("position",)
_EITHER = (*_POSITION, *_LIGHT)
_SOURCES = Named(
    Map("light", "{lamp: A}"),
    "{window: {daylight_kelvin: 6000}, lamp: {lamp: A}}",
    names=_LIGHT,
)
_ENCODING = Map("encoding", "{curve: LogC3, gamut: AWG3}")
_SHARED = (
    Field("camera", _CAMERA, "a name that `wbplan cameras` lists, or a path to a profile"),
    Field("meter", _METER, "error of your meter, one standard deviation each"),
    Field("mains_hz", Choice(MAINS_HZ), "asks for flicker-safe shutters", also=("mains",)),
    Field("kit", _KIT, "ND and lenses, see below"),
    Field("sources", _SOURCES, "lights by name", also=("lights", "source")),
)
_MAGENTA = Field(
    "magenta_cc", Number(0.0, 200.0), "its tint; only one of the two", also=("tint", "tint_cc")
)
_GREEN = Field("green_cc", Number(0.0, 200.0), "its tint; only one of the two")


def _own(field: Field) -> Field:
    """Give a field of the whole scenario as a setup of its own has it."""
    return replace(field, help="instead of the scenario's")


_PLACE_KINDS = (
    Field(
        "metres", Named(_METRES, "{face: 1.4}", names=_POSITION), "{position: metres} from there"
    ),
    Field("layout", Text(names=_EITHER), "where this light or position of the layout stands"),
    Field("distance_m", Number(0.0, MOST_MOVED_M), "a place as in the layout"),
    Field(
        "lux",
        Named(_LUX, "{face: 35}", names=_POSITION),
        "what you read of it there",
    ),
)
_PLACE_ANGLES = (
    Field("bearing_deg", _ANGLE, "of a distance_m", needs=("distance_m",)),
    Field(
        "height_m",
        Number(-MOST_MOVED_M, MOST_MOVED_M),
        "of a distance_m",
        needs=("distance_m",),
    ),
)
_PLACE_NAMES = tuple(each.name for each in _PLACE_KINDS)

_SHAPES: Final[dict[str, Shape]] = {
    "root": Shape(
        (
            Field(
                "wbplan",
                Number(is_whole=True),
                f"{FORMAT_VERSION}, the format",
                is_required=True,
                example=str(FORMAT_VERSION),
            ),
            Field(
                "title", Text(), "of everything that is written", is_required=True, example="Title"
            ),
            Field(
                "invented",
                Flag(),
                "true marks demonstration data in every output",
                False,
            ),
            Field(
                "assumed",
                Items(Choice(ASSUMED)),
                "a list of camera, key, shooting and lux: what stands in since nobody said it; the "
                "plan warns of each",
            ),
            *_SHARED[:3],
            Field(
                "site",
                Map("site", "{latitude_deg: 54.4, longitude_deg: 4.4, time_zone: UTC}"),
                "where it is; needed for `when` and for sun and sky",
                also=("location", "place"),
            ),
            ATMOSPHERE,
            Field("day", Map("day", "{date: 2026-06-21}"), "for `wbplan day`, see there"),
            Field(
                "shooting_order",
                Items(Text()),
                "every setup's name once; the order of the day's summary",
            ),
            _SHARED[3],
            Field(
                "lut_size",
                _CUBE_SIZE,
                "points of every 3D table: 17, 33, 65, 97 or 129. If left out one size for all, "
                "the smallest good one, 33 at most",
            ),
            Field(
                "sources",
                _SOURCES,
                "lights by name; a setup's own of the same name take their place",
                also=_SHARED[4].also,
            ),
            Field(
                "filters",
                Named(LIGHT_SHAPES["light"].by_name["filter"].form),
                "your own filters by name, for `advise`",
            ),
            Field(
                "setups",
                Items(Map("setup", "{name: Close, shooting: {...}, positions: {...}}")),
                "a list, one entry each",
                is_required=True,
                also=("setup",),
            ),
        )
    ),
    "meter": Shape(
        (
            Field("illuminance_percent", Number(0.0, 50.0), "of its lux", 0.0),
            Field("chromaticity_xy", Number(0.0, 0.02), "of its x and y", 0.0),
        )
    ),
    "site": Shape(
        (
            Field("name", Text(LONGEST_NAME), "free"),
            Field(
                "latitude_deg",
                Number(-90.0, 90.0),
                "+ is north",
                is_required=True,
                also=("lat", "latitude"),
                example="50",
            ),
            Field(
                "longitude_deg",
                Number(-180.0, 180.0),
                "+ is east",
                is_required=True,
                also=("lon", "lng", "longitude"),
                example="0",
            ),
            Field(
                "altitude_m", Number(-430.0, 6000.0), "above the sea", 0.0, also=("elevation_m",)
            ),
            Field(
                "time_zone",
                Text(),
                "an IANA name, as Europe/Madrid",
                is_required=True,
                also=("tz", "timezone"),
                example="UTC",
            ),
            HORIZON,
        )
    ),
    "day": Shape(
        (
            Field("date", Text(what="a date, as 2026-06-21"), "else that of each setup's `when`"),
            Field("from", Text(what='a time of day in quotes, as "06:00"'), '"06:00", in quotes'),
            Field(
                "to",
                Text(what='a time of day in quotes, as "21:30"'),
                '"21:30"; one before `from` is the next day\'s',
            ),
            Field(
                "step_minutes",
                Number(1, 120, is_whole=True),
                "",
                DayWish.step_minutes,
                also=("step",),
            ),
            Field("within", Map("day_within", "{mired: 10}"), "what still matches"),
        )
    ),
    "day_within": Shape(
        (
            Field("mired", Number(above=0.0, high=500.0), "each way", Tolerance.mired),
            Field("cc", Number(above=0.0, high=200.0), "each way", Tolerance.cc),
            Field("stops", Number(above=0.0, high=20.0), "each way", Tolerance.stops),
        )
    ),
    "kit": Shape(
        (
            Field("most_glass", Number(0, MOST_GLASS, is_whole=True), "pieces before the lens", 3),
            Field(
                "camera_nd_stops",
                Items(Number(above=0.0, high=20.0)),
                "a list, besides clear",
            ),
            Field("glass", Named(Map("glass", "{nd_density: 0.6}")), "by name"),
            Field("lenses", Named(Map("kit_lens", "{widest_t_stop: 1.4}")), "by name"),
        )
    ),
    "glass": Shape(
        (
            Field("nd_density", Number(above=0.0, high=6.0), "density", example="0.3"),
            Field("stops", Number(above=0.0, high=20.0), "or what it costs", example="1"),
            Field("count", Number(1, 9, is_whole=True), "how often it is there", 1),
            Field("stays", Flag(), "true: in every pack, as a polariser", False),
        ),
        one_of=(("stops", "nd_density"),),
    ),
    "kit_lens": Shape(
        (
            Field("widest_t_stop", Number(0.5, 128.0), is_required=True, example="2.8"),
            Field("smallest_t_stop", Number(0.5, 128.0), "", 22.0),
        )
    ),
    **LIGHT_SHAPES,
    "setup": Shape(
        (
            Field(
                "name",
                Text(LONGEST_NAME),
                "each its own",
                is_required=True,
                also=("title",),
                example="a setup",
            ),
            Field(
                "like",
                Text(LONGEST_NAME),
                "another setup, by its name: what is not stated here is as there, field by field, "
                "in positions and lights too",
                also=("same_as", "as"),
            ),
            _own(_SHARED[0]),
            Field(
                "also_cameras",
                Items(Text()),
                "a list: further cameras, set so that they agree with the first",
                also=("cameras",),
            ),
            WHEN,
            Field(
                "key",
                Text(names=_POSITION),
                "the position the exposure is set for; the first if left out",
            ),
            Field(
                "shooting",
                Map("shooting", "{ei: 800, fps: 24, shutter_angle_deg: 180}"),
                "how it is exposed",
                is_required=True,
                also=("exposure",),
            ),
            Field(
                "shot_at",
                Map("shot_at", "{kelvin: 4300, magenta_cc: 2}"),
                "the setting that is dialled anyway",
            ),
            Field("encoding", _ENCODING, "of the files, instead of the profile's"),
            Field(
                "lut_keeps",
                Choice(("green", "no_clip")),
                "the level of green, or that no channel clips",
                "green",
            ),
            Field("lut_up_stops", _UP_STOPS, "how much brighter the LUTs make the picture", 0.0),
            Field(
                "luts",
                Items(Map("lut", "{kind: monitor}")),
                "a list: LUTs besides the main correction, see `wbplan guide luts`",
            ),
            *(_own(each) for each in _SHARED[1:4]),
            replace(
                _SHARED[4],
                help="instead of the scenario's; a light that is named without its kind is the "
                "scenario's, but for what is stated here: {lamp: {on: false}}",
            ),
            Field(
                "positions",
                Named(Map("position", "{lux: {window: 110}}"), names=_POSITION),
                "by name, see below",
                also=("position", "places"),
            ),
            Field(
                "readings",
                Text(LONGEST_PATH, "the path of a file"),
                "a sheet of lux in place of `lux`, see below",
            ),
            Field(
                "advise",
                Map("advise", "{lights: {window: {filters: generic}}}"),
                "what may be changed, see below",
            ),
            Field("lens", Map("lens", "{focal_length_mm: 50}"), "for plate notes, see below"),
            Field(
                "layout",
                Named(Map("spot", "{distance_m: 3, bearing_deg: -6}"), names=_EITHER),
                "for plate notes, and for lux that nobody has read yet, see below",
            ),
            Field("plate", Map("plate", "{slate: Wall 3}"), "for plate notes, see below"),
        ),
        needed=(("positions", "readings"),),
    ),
    "shooting": Shape(
        (
            Field(
                "ei",
                Number(0.01, 1e9),
                "exposure index; the profile's base EI if left out",
                also=_EI,
            ),
            Field(
                "fps",
                Number(1e-4, 100_000.0),
                "frames a second",
                is_required=True,
                also=("frame_rate", "framerate"),
                example="24",
            ),
            Field(
                "shutter_angle_deg",
                Number(above=0.0, high=360.0),
                "one of the two",
                also=("shutter", "shutter_angle", "angle"),
                example="180",
            ),
            Field(
                "shutter_time_s",
                Number(LEAST_TIME_S),
                "one of the two",
                also=("shutter_speed", "shutter_time"),
                example="0.02",
            ),
            Field("nd_stops", _STOPS, "on the camera already", 0.0, also=("nd",)),
            Field(
                "t_stop",
                Number(0.1, 1000.0),
                "the stop you want; wbplan says which ND reaches it",
                also=("stop", "f_stop", "aperture"),
            ),
            Field(
                "readout_ms",
                Number(0.0, 10_000.0),
                "first row to last of a rolling shutter, 0 for a global one; the frame time if "
                "left out",
            ),
            Field("calibration_c", Number(240.0, 540.0), "of your incident meter; or receptor"),
            Field(
                "receptor",
                Choice(("flat", "hemispherical")),
                "C 250, taken if left out, or C 340",
            ),
        ),
        one_of=(("shutter_angle_deg", "shutter_time_s"),),
        not_both=(("receptor", "calibration_c"),),
    ),
    "shot_at": Shape(
        (
            Field(
                "kelvin",
                _KELVIN,
                "one that the camera's menu offers",
                is_required=True,
                example="5600",
            ),
            _MAGENTA,
            _GREEN,
        ),
        not_both=(("magenta_cc", "green_cc"),),
    ),
    "encoding": Shape(
        (
            Field(
                "curve",
                Text(),
                "published or short names, see `wbplan encodings`",
                is_required=True,
                example="ACEScct",
            ),
            Field(
                "gamut",
                Text(),
                "published or short names, see `wbplan encodings`",
                is_required=True,
                example="AP1",
            ),
            Field("range", Text(), "full, legal or legal-expanded", "full"),
            Field(
                "ei",
                Number(1.0, 1e7),
                "of a curve published by EI; the EI shot at if left out",
                also=_EI,
            ),
        )
    ),
    "lut": Shape(
        (
            Field("kind", Choice(tuple(KIND_WORDS)), is_required=True, example="correct"),
            Field(
                "formats",
                Items(Choice(FORMATS)),
                "a list of cube, clf, cc, ccc, cdl; cube if left out",
                also=("format",),
            ),
            Field(
                "size", _CUBE_SIZE, "17, 33, 65, 97 or 129 points; as `lut_size` has it if left out"
            ),
            Field("up_stops", _UP_STOPS, "in place of `lut_up_stops`"),
            Field("from", Text(names=_EITHER), "of a light-match: positions or sources"),
            Field("to", Text(names=_EITHER), "of a light-match: positions or sources"),
            Field("like", Text(), "of a camera-match: the other camera's profile"),
            Field(
                "position", Text(names=_POSITION), "of a camera-match or of positions: one alone"
            ),
            Field("map", Choice(MATCH_MAPS), "of a match", "best"),
            Field(
                "cdl_on", Choice(CDL_ON), "what a CDL is for, linear light or log codes", "linear"
            ),
            Field("monitor", Choice(tuple(SCREENS)), "of a monitor", "bt-1886"),
            Field("range", Choice(tuple(LEVELS)), "of a monitor", "full"),
            Field(
                "white_cd_m2",
                Number(*WHITE_RANGE),
                "of a monitor that is pq or hlg; 203 if left out",
            ),
            Field(
                "into",
                _ENCODING,
                "of correct, positions and matches: the encoding that the picture comes out in",
            ),
        )
    ),
    "position": Shape(
        (
            Field(
                "lux",
                Named(
                    Either((_LUX, Choice(("model",)), Map("share", "{share: 0.4}"))),
                    "{window: 110, lamp: 40}",
                    names=_LIGHT,
                ),
                "{light: lux}. Of a light of the sky: a reading, `model`, or {share: 0.4} of the "
                "model",
            ),
            Field("flash_lux_s", Named(_LUX_S, names=_LIGHT), "{flash: lux seconds}"),
            Field(
                "intent",
                Either((Choice(("neutral", "leave")), Map("shift", "{warm_mired: 40}"))),
                "neutral, leave, or a shift in words as under `shift`: {warm_mired: 40}",
                "neutral",
            ),
            Field(
                "weight",
                Number(0.0, 1000.0),
                "how hard it pulls on the setting; if left out 1 at the key and 0 elsewhere",
            ),
            Field("within", Map("within", "{mired: 10, cc: 2}"), "a hard limit around the intent"),
        )
    ),
    "share": Shape(
        (Field("share", Number(1e-6, 10.0), "of the model", is_required=True, example="1"),)
    ),
    "within": Shape(
        (
            Field("mired", Number(above=0.0, high=500.0), "how far off it may be"),
            Field("cc", Number(above=0.0, high=200.0), "how far off it may be"),
        )
    ),
    "advise": Shape(
        (
            Field("max_loss_stops", _LOSS, "of any light; a light may have its own"),
            Field("key_loss_stops", _STOPS, "of the key position"),
            Field(
                "lights",
                Named(Map("advise_light", "{filters: generic}"), names=_LIGHT),
                "by name; one that is not named is not touched",
            ),
            Field(
                "ratios",
                Items(Map("ratio", "{key: face, fill: wall, ratio: 4}")),
                "a list: levels wanted",
            ),
            Field(
                "prefer",
                Choice(get_args(Preference)),
                "which of the drives that look alike",
                get_args(Preference)[0],
            ),
            Field(
                "stock",
                Named(Number(0, 100_000, is_whole=True), "{half orange: 4}"),
                "{filter: pieces}, of each that is limited",
            ),
            Field(
                "tune",
                Named(Map("tune", "{match: window}"), names=_LIGHT),
                "{fixture: ...}: asked for whatever the search says",
            ),
        )
    ),
    "advise_light": Shape(
        (
            Field(
                "filters",
                Either((Choice(("generic",)), Items(Text()))),
                "generic, or a list of names; or tune",
            ),
            Field("max_loss_stops", _LOSS, "of this light"),
            Field(
                "stack",
                Number(1, 3, is_whole=True),
                "up to how many one behind the other; the same one may come twice or three times",
                1,
            ),
            Field("pieces", Number(1, 1000, is_whole=True), "of each filter to cover the light", 1),
            Field(
                "gel_m2",
                Number(above=0.0, high=10_000.0),
                "area of each filter to cover the light",
            ),
            Field("trips", Number(0, 100, is_whole=True), "it takes to change the light", 1),
            Field(
                "tune",
                Flag(),
                "true: dial the fixture's channels; it may lose 2 stops if no `max_loss_stops` "
                "says otherwise",
            ),
            Field("max_gain_stops", _STOPS, "of a fixture", 0.0, needs=("tune",)),
            Field("off", Flag(), "true: it may be put out"),
            Field(
                "dim_stops",
                Items(Number(above=0.0, high=4.0)),
                "a list: by how much it may be dimmed, up to 4 each",
            ),
            Field(
                "filament_kelvin",
                Number(1500.0, 3500.0),
                "of the bare lamp undimmed; else its CCT where that is a filament's",
            ),
            Field(
                "now_m",
                Named(_METRES, names=_POSITION),
                "{position: metres} from the light as it stands; else by the layout",
            ),
            Field(
                "size_m",
                _SIZE,
                "[width, height] of the light; else the layout's, else a point",
            ),
            Field(
                "move",
                Named(Map("move", "{metres: {face: 1.4}}")),
                "new places by names of your own, each one of:",
            ),
            Field(
                "bounce",
                Named(Map("surface", "{surface: white paint, lamp_m: 1.2, size_m: [2, 2], ...}")),
                "surfaces by names of your own, each at a place as under `move`, and",
            ),
        )
    ),
    "move": Shape((*_PLACE_KINDS, *_PLACE_ANGLES), one_of=(_PLACE_NAMES,)),
    "surface": Shape(
        (
            Field("surface", Choice(tuple(REFLECTANCE)), "a name"),
            Field("reflectance_percent", Number(above=0.0, high=100.0), "or the part thrown back"),
            Field(
                "reflectance_file",
                Text(LONGEST_PATH, "the path of a file"),
                "or its curve",
            ),
            replace(LIGHT_SHAPES["light"].by_name["column"], needs=("reflectance_file",)),
            Field("lamp_m", _METRES, "from the lamp to the surface"),
            Field("size_m", _SIZE, "[width, height] of the surface"),
            *_PLACE_KINDS,
            *_PLACE_ANGLES,
        ),
        one_of=(_PLACE_NAMES,),
        not_both=(("surface", "reflectance_percent", "reflectance_file"),),
    ),
    "ratio": Shape(
        (
            Field(
                "key",
                Text(names=_EITHER),
                "two positions, all light at each; or, with `at`, two lights, each alone",
                is_required=True,
            ),
            Field(
                "fill",
                Text(names=_EITHER),
                "two positions, all light at each; or, with `at`, two lights, each alone",
                is_required=True,
            ),
            Field("at", Text(names=_POSITION), "the position where the two lights meet"),
            Field("ratio", Number(1 / 1024, 1024.0), "4 for 4:1", is_required=True, example="4"),
            Field("within_stops", Number(0.05, 5.0), "", 0.25),
        )
    ),
    "tune": Shape(
        (
            Field("match", Text(names=_LIGHT), "like this light; or kelvin; or intent"),
            Field("kelvin", _KELVIN, "a setting, with `magenta_cc` or `green_cc`"),
            replace(_MAGENTA, needs=("kelvin",)),
            replace(_GREEN, needs=("kelvin",)),
            Field(
                "intent",
                Either((Choice(("neutral",)), _SHIFT)),
                "neutral or a shift, at the plan's setting",
                example="neutral",
            ),
        ),
        one_of=(("match", "kelvin", "intent"),),
        not_both=(("magenta_cc", "green_cc"),),
    ),
    "lens": Shape(
        (
            Field("name", Text(), "free"),
            Field("focal_length_mm", Number(above=0.0, high=5000.0)),
            Field("squeeze_ratio", Number(1.0, 3.0), "1 is spherical"),
            Field(
                "focus_distance_m",
                Either((Number(above=0.0, high=MOST_M), Choice(("infinity",)))),
                "or infinity",
            ),
            Field("camera_height_m", _LONG_LENGTH, "of the lens above the floor"),
            Field("tilt_deg", Number(-90.0, 90.0), "+ is up"),
            Field("roll_deg", Number(-180.0, 180.0), "+ is clockwise from behind the camera"),
            Field("heading_deg", Number(0.0, 360.0), "from true north"),
            *(
                Field(
                    name,
                    Number(above=0.0, high=500.0),
                    "of the part that the picture comes from",
                )
                for name in ("sensor_width_mm", "sensor_height_mm")
            ),
            *(
                Field(name, Number(1, 100_000, is_whole=True), "of the recorded picture")
                for name in ("picture_width_px", "picture_height_px")
            ),
            Field("filters", Items(Text()), "a list of words: what is on the lens"),
            Field("serial", Text(LONGEST_NAME), "its serial number"),
            Field(
                "entrance_pupil_mm",
                Number(-1000.0, 5000.0),
                "from the sensor's mark forward to the point that it turns about without parallax",
            ),
            Field("distortion", Text(LONGEST_NAME), "the clip or file of its grid"),
        )
    ),
    "spot": Shape(
        (
            Field(
                "distance_m",
                Number(0.0, MOST_M),
                "along the floor from under the lens",
                is_required=True,
                example="1",
            ),
            Field(
                "bearing_deg",
                _ANGLE,
                "0 straight ahead, + to the right",
                is_required=True,
                example="0",
            ),
            Field("height_m", _LONG_LENGTH, "above the same floor"),
            Field("facing_deg", _ANGLE, "the way it points, counted as bearings are"),
            Field("tilt_deg", Number(-90.0, 90.0), "+ is up"),
            Field(
                "aimed_at",
                Text(names=_EITHER),
                "instead of these two: a light, a position or camera",
            ),
            Field("size_m", _SIZE, "[width, height] of a soft source"),
            Field(
                "photometry",
                Text(LONGEST_PATH, "the path of a file"),
                'of a lamp: its file, IES LM-63 (type C) or EULUMDAT; see "Lux before anyone has '
                'measured"',
            ),
            Field(
                "dimmer",
                Number(0.0, 1.0),
                "the share of its light that it gives",
                1.0,
                needs=("photometry",),
            ),
            Field(
                "turn_deg",
                _ANGLE,
                "how far plane C0 is turned, counterclockwise seen from behind the lamp",
                0.0,
                needs=("photometry",),
            ),
            Field(
                "band_percent",
                Items(Number(-95.0, 300.0), 2),
                "[below, above]: where a reading will lie; [-20, 10] if left out",
                needs=("photometry",),
            ),
            Field(
                "lamp_set",
                Number(1, 20, is_whole=True),
                "which set of lamps is in it, where the file has several",
                needs=("photometry",),
            ),
        )
    ),
    "plate": Shape(
        (
            *(
                Field(name, Text(LONGEST_NAME), "as on the slate")
                for name in ("slate", "scene", "take", "clip")
            ),
            Field("notes", Text(1000), "up to 1000 characters"),
            Field(
                "lamps_seen_from",
                Text(names=_POSITION),
                "a position or camera: lamps of known size are drawn into the picture of the sky "
                "as seen from there",
            ),
        )
    ),
}

SCENARIO: Final = Model(
    "scenario", "a location and what is shot there", _SHAPES, alike="setups", shared="sources"
)
