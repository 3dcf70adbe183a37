"""The fields of a camera profile."""

from __future__ import annotations

from typing import Final

from wbplan.read.model.forms import Choice, Either, Items, Map, Named, Number, Text
from wbplan.read.model.lights import LONGEST_PATH
from wbplan.read.model.tables import Field, Model, Shape

LONGEST_PROVENANCE: Final = 2000
_KELVIN = Number(1000.0, 25000.0)
_MENU = "{kelvin: {low: 2500, high: 10000, step: 100}}"

PROFILE: Final = Model(
    "profile",
    "a camera: its curves, and what it lets you dial",
    {
        "root": Shape(
            (
                Field("title", Text(), "what it is, in a line"),
                Field(
                    "provenance",
                    Text(LONGEST_PROVENANCE),
                    "where the curves come from; up to 2000 characters",
                ),
                Field(
                    "sensitivities",
                    Map("sensitivities", "{table: mycamera.csv, per: energy}"),
                    "its curves",
                ),
                Field("menu", Map("menu", _MENU), "what the camera lets you dial"),
                Field("base_ei", Number(1.0, 1e6), "at which the headroom is stated", also=("ei",)),
                Field(
                    "headroom_stops",
                    Number(0.5, 20.0),
                    "from middle grey to clip under 5500 K daylight; 2.96 (ISO 12232) if left out",
                ),
                Field(
                    "matrix_kelvin",
                    Either((_KELVIN, Items(_KELVIN))),
                    "of the colour matrix that it keeps, or [2856, 6504] of two that it mixes by "
                    "mired; fitted at the set Kelvin if left out",
                ),
                Field(
                    "encoding",
                    Map("encoding", "{curve: ACEScct, gamut: AP1}"),
                    "of its log files, by published names",
                ),
                Field(
                    "band",
                    Either(
                        (
                            Choice(("exact", "model", "population")),
                            Map("band", "{cameras: band.csv}"),
                        )
                    ),
                    "`exact`; `model`, another body of this model; `population`, any camera with a "
                    "colour-filter array (taken, and said, if left out); or learned cameras",
                ),
                Field(
                    "judged",
                    Choice(("good", "fair", "poor")),
                    "by `wbplan learn`; poor is said wherever the profile is used",
                    "good",
                ),
                Field(
                    "like",
                    Text(LONGEST_PATH, "the name or the path of a profile"),
                    "instead of `sensitivities` and `band`: a profile whose curves and band this "
                    "one takes, and all else that it does not state",
                ),
            ),
            one_of=(("sensitivities", "like"),),
        ),
        "sensitivities": Shape(
            (
                Field(
                    "table",
                    Text(LONGEST_PATH, "the path of a file"),
                    "a CSV file beside this one, with the columns wavelength_nm, red, green, blue",
                    is_required=True,
                    example="table.csv",
                ),
                Field(
                    "per",
                    Choice(("energy", "quantum")),
                    "what the table's values are per",
                    is_required=True,
                    example="energy",
                ),
            )
        ),
        "menu": Shape(
            (
                Field(
                    "kelvin",
                    Either((Items(_KELVIN), Map("steps", "{low: 2500, high: 10000, step: 100}"))),
                    "a list, or low, high and step; left out where it has presets only",
                ),
                Field(
                    "tint",
                    Map("tint", "{lowest_step: -10, highest_step: 10, cc_per_step: 2.5}"),
                    "left out where it has none",
                ),
                Field("presets", Named(Map("preset", "{kelvin: 3200}")), "by name"),
            ),
            needed=(("kelvin", "presets"),),
        ),
        "steps": Shape(
            (
                Field("low", _KELVIN, "in kelvin", is_required=True, example="2500"),
                Field("high", _KELVIN, "in kelvin", is_required=True, example="10000"),
                Field("step", Number(above=0.0), "in kelvin", is_required=True, example="100"),
            )
        ),
        "tint": Shape(
            (
                Field(
                    "lowest_step",
                    Number(-1000, 0, is_whole=True),
                    "whole steps",
                    is_required=True,
                    example="-10",
                ),
                Field(
                    "highest_step",
                    Number(0, 1000, is_whole=True),
                    "whole steps; + adds magenta",
                    is_required=True,
                    example="10",
                ),
                Field(
                    "cc_per_step",
                    Number(above=0.0, high=100.0),
                    "CC that one step moves",
                    is_required=True,
                    example="1",
                ),
                Field(
                    "axis",
                    Choice(("green", "duv")),
                    "the green channel alone, or across the black-body locus",
                    "green",
                ),
            )
        ),
        "preset": Shape(
            (
                Field("kelvin", _KELVIN, is_required=True, example="5600"),
                Field("magenta_cc", Number(-200.0, 200.0), "", 0.0),
            )
        ),
        "encoding": Shape(
            (
                Field(
                    "curve",
                    Text(),
                    "wbplan names the nearest where it knows none",
                    is_required=True,
                    example="ACEScct",
                ),
                Field(
                    "gamut",
                    Text(),
                    "wbplan names the nearest where it knows none",
                    is_required=True,
                    example="AP1",
                ),
            )
        ),
        "band": Shape(
            (
                Field(
                    "cameras",
                    Text(LONGEST_PATH, "the path of a file"),
                    "of a learned profile: a CSV file of 64 to 4096 plausible cameras, red, green "
                    "and blue of each, column after column",
                    is_required=True,
                    example="band.csv",
                ),
            )
        ),
    },
)
