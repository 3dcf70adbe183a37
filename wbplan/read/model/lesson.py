"""The fields of a lesson."""

from __future__ import annotations

from typing import Final

from wbplan.read.model.forms import Choice, Items, Map, Number, Text
from wbplan.read.model.lights import LIGHT_SHAPES, LONGEST_PATH, shape_light
from wbplan.read.model.tables import Field, Model, Shape

LESSON_VERSION: Final = 1
_PATH = Text(LONGEST_PATH, "the path of a file")
_LIGHT = Field(
    "light",
    Map("light", "{lamp: A}"),
    "as in a scenario's `sources`, see `wbplan guide scenario`",
    is_required=True,
)
_INSIDE = ("mix_part", "phosphor_led", "led_mix", "led_channel", "discharge_lamp", "line")

LESSON: Final = Model(
    "lesson",
    "the frames that a camera is learned from",
    {
        "root": Shape(
            (
                Field(
                    "wbplan_lesson",
                    Number(is_whole=True),
                    f"{LESSON_VERSION}, the format",
                    is_required=True,
                    example=str(LESSON_VERSION),
                ),
                Field("title", Text(), "of the camera", is_required=True, example="Camera"),
                Field("name", Text(), "of the learned profile; the file's own if left out"),
                Field("date", Text(), "your word for when; wbplan has no clock", "not stated"),
                Field(
                    "start",
                    Text(),
                    "a profile of the same kind: the middle of what is thought likely; its menu, "
                    "EI and encoding carry over",
                    is_required=True,
                    example="cfa-mid",
                ),
                Field(
                    "scenario",
                    _PATH,
                    "of the shoot to come: what to shoot next is then named from its lights first",
                ),
                Field(
                    "chart",
                    Choice(("iso-17321",)),
                    "the 24 reflectances of that standard",
                    "iso-17321",
                ),
                Field(
                    "chart_file",
                    _PATH,
                    "instead: a table of reflectances, one column a patch, in the chart's order",
                ),
                Field(
                    "frames",
                    Items(Map("frame", "{light: {lamp: A}, patches: chart.csv}")),
                    "a list of frames of the chart",
                ),
                Field(
                    "neutrals",
                    Items(Map("neutral", "{light: {lamp: A}, raw: [0.4, 0.6, 0.3]}")),
                    "a list of readings of a grey card",
                ),
                Field(
                    "matrices",
                    Items(Map("matrix", "{light: {lamp: A}, xyz_to_camera: [...]}")),
                    "a list, as open raw formats carry them",
                ),
            ),
            not_both=(("chart", "chart_file"),),
            needed=(("frames", "neutrals", "matrices"),),
        ),
        "frame": Shape(
            (
                _LIGHT,
                Field(
                    "patches",
                    _PATH,
                    "CSV with the header patch,red,green,blue: means of linear raw values (without "
                    "`patch`, 24 rows in order)",
                    example="patches.csv",
                ),
                Field(
                    "still",
                    _PATH,
                    "instead: a camera raw or DNG, or a linear picture, demosaiced, no tone curve",
                ),
                Field(
                    "corners",
                    Items(Number(), 8),
                    "of a still: x and y of the four corners of the field of patches, in pixels: "
                    "from the first patch along its row, and round; looked for if left out",
                ),
                Field("black", Number(0.0), "raw level, of a table or a TIFF", 0.0),
                Field("white", Number(above=0.0), "raw level, likewise"),
            ),
            one_of=(("patches", "still"),),
        ),
        "neutral": Shape(
            (
                _LIGHT,
                Field(
                    "raw",
                    Items(Number(above=0.0), 3),
                    "its three raw values; or reported",
                    example="[1, 1, 1]",
                ),
                Field(
                    "reported",
                    Map("reported", "{kelvin: 4100, magenta_cc: 3}"),
                    "what the camera said after balancing on it",
                ),
            ),
            one_of=(("raw", "reported"),),
        ),
        "reported": Shape(
            (
                Field("kelvin", Number(1000.0, 25000.0), is_required=True, example="5600"),
                Field("magenta_cc", Number(-200.0, 200.0), "", 0.0),
            )
        ),
        "matrix": Shape(
            (
                _LIGHT,
                Field(
                    "xyz_to_camera",
                    Items(Number(), 9),
                    "nine numbers, row by row",
                    is_required=True,
                    example="[1, 0, 0, 0, 1, 0, 0, 0, 1]",
                ),
            )
        ),
        "light": shape_light(),
        **{name: LIGHT_SHAPES[name] for name in (*_INSIDE, "continuum", "xenon_flash")},
    },
)
