"""The shapes of lights and filters, which scenarios and lessons name in the same words."""

from __future__ import annotations

from typing import Final

from wbplan.exposure.flicker import WAVEFORMS
from wbplan.light.generic_filters import GENERIC_NAMES
from wbplan.light.models import PHOSPHOR_WIDTH_NM, PUMP_NM, PUMP_WIDTH_NM
from wbplan.read.model.forms import Choice, Either, Flag, Items, Map, Named, Number, Text
from wbplan.read.model.tables import Field, Shape
from wbplan.scene.changes import MAKES
from wbplan.sky.broken import HIDDEN, OUT
from wbplan.sky.clear import USUAL_AIR
from wbplan.sky.glass import MOST_PANES

MOST_LUX: Final = 1e7
LEAST_LUX: Final = 1e-6  # a night of stars alone gives some 1e-4: from memory
MOST_KELVIN: Final = 25000.0
LONGEST_PATH: Final = 1000
MAINS_HZ: Final = ("50", "60")
SKY_EXAMPLE: Final = "{facing: {azimuth_deg: 200}}"

_KELVIN = Number(1000.0, MOST_KELVIN)
_CCT = Field("cct_kelvin", Number(1500.0, MOST_KELVIN), is_required=True, example="5600")
_DUV = Field("duv", Number(-0.05, 0.05), "+ is green", 0.0)
_LED_SHAPE = (
    _DUV,
    Field("pump_nm", Number(380.0, 490.0), "", PUMP_NM),
    Field("pump_width_nm", Number(5.0, 60.0), "", PUMP_WIDTH_NM),
    Field("phosphor_width_nm", Number(40.0, 250.0), "", PHOSPHOR_WIDTH_NM),
)
_LEAST_SHARE = 0.0001  # of what a surface looks at; of less no light is left to plan with
LUX = Field("lux", Number(LEAST_LUX, MOST_LUX), example="500")

# What a light is: exactly one of these. The last is a fixture, which stands in no other light.
PLAIN_KINDS: Final = (
    Field("lamp", Text(), "a name that `wbplan sources` lists", example="A"),
    Field("black_body_kelvin", _KELVIN, also=("kelvin", "tungsten"), example="3200"),
    Field(
        "daylight_kelvin",
        Number(4000.0, MOST_KELVIN),
        "CIE daylight",
        also=("daylight",),
        example="5600",
    ),
    Field(
        "spectrum_file",
        Text(LONGEST_PATH, "the path of a file"),
        "a table or IES TM-27 file, see `wbplan guide lights`",
        also=("file", "path", "spectrum", "csv"),
    ),
    Field(
        "mix",
        Items(Map("mix_part", "{lamp: A, share: 3}")),
        "a list of lights, each with its `share` of the lux",
    ),
)
MODEL_KINDS: Final = (
    Field(
        "phosphor_led",
        Map("phosphor_led", "{cct_kelvin: 5600, duv: 0.002}"),
        "white, of a blue pump and a phosphor",
    ),
    Field(
        "led_mix",
        Map("led_mix", "{xy: [0.35, 0.36], channels: {red: {peak_nm: 630}, ...}}"),
        "of `channels`, to a colour: `xy`, or `cct_kelvin` and `duv`",
    ),
    Field(
        "discharge_lamp",
        Map("discharge_lamp", "{lines: [{nm: 546.1, power: 50}]}"),
        "`lines` and `continuum` in one unit of power",
    ),
    Field("xenon_flash", Map("xenon_flash", "{cct_kelvin: 5600}"), "a flash tube"),
)
_OF_A_FILE = (
    Field(
        "column",
        Either((Number(1, is_whole=True), Text())),
        "of a file: a label, or a number as the file counts columns (wavelength is 1), readings "
        "across or distributions from 1",
        needs=("spectrum_file",),
    ),
    Field(
        "origin",
        Text(),
        "where the file comes from, in words; else its name",
        needs=("spectrum_file",),
    ),
    Field(
        "model",
        Flag(),
        "true: worked out, not measured; every output marks it",
        False,
        needs=("spectrum_file",),
    ),
)
FIXTURE = Field(
    "channels",
    Named(Map("channel"), "{warm: {lamp: LED-B1, lux: 620}, cool: {lamp: LED-B5, lux: 700}}"),
    "a fixture: lights by name, each with the `lux` that it gives at full drive, all read at one "
    "place",
)
_OF_A_FIXTURE = (
    Field(
        "drives",
        Named(Number(0.00001, 1.0, or_zero=True), "{warm: 0.5, cool: 1}"),
        "{channel: 0 to 1} at which the positions were read; all at 1 if left out",
        needs=("channels",),
    ),
    Field(
        "dmx_bits",
        Choice(("8", "16")),
        "drives are dialled in 255 or 65535 steps",
        needs=("channels",),
    ),
    Field(
        "kelvin_step",
        Number(above=0.0, high=2000.0),
        "it is set in Kelvin by a panel of its own, in such steps; `dmx_bits` are then those of "
        "its level",
        needs=("channels",),
    ),
    Field(
        "tint_step_cc",
        Number(above=0.0, high=60.0),
        "the steps of that panel's tint, in CC",
        needs=("channels",),
    ),
)
_HORIZON = Named(Number(0.0, 89.0), "{90: 20, 180: 5}")
HORIZON = Field(
    "horizon",
    _HORIZON,
    "what blocks the view: {azimuth: elevation, ...} in degrees, straight lines between",
)
WHEN = Field(
    "when",
    Text(what="a date and a time of day by the site's clock, as 2026-06-21 14:30"),
    "2026-06-21 14:30 by the site's clock; an hour that is shown twice takes its offset, "
    "2026-10-25 02:30 +01:00",
    also=("time", "date"),
)
ATMOSPHERE = Field(
    "atmosphere",
    Map("atmosphere", "{aerosol_depth: 0.12}"),
    "the air of a clear sky; what you state is held, the rest is spread for the bands",
)
_OWN_SKY = (
    Field(HORIZON.name, _HORIZON, "of this light alone; else the scenario's"),
    Field(ATMOSPHERE.name, ATMOSPHERE.form, "of this light alone; else the scenario's"),
    Field(WHEN.name, WHEN.form, "of this light alone; else the setup's"),
)
_FACING = Field(
    "facing",
    Either((Choice(("up",)), Map("facing", "{azimuth_deg: 200, tilt_deg: 90}"))),
    "the surface that is lit: up, or a mapping",
    is_required=True,
    example="up",
)
_PANES = Field("panes", Number(0, MOST_PANES, is_whole=True), "clear glass before the surface", 0)
SKY_KINDS: Final = (
    Field("sun", Map("sun", SKY_EXAMPLE), "the beam"),
    Field("sky", Map("sky", SKY_EXAMPLE), "all but the beam"),
    Field("overcast", Map("overcast", "{facing: up}"), "a closed sky"),
    Field("shade", Map("shade", "{share_of_sky: 0.5}"), "sky without sun, the ground in shade too"),
    Field(
        "broken_cloud",
        Map("broken_cloud", "{sun: out, facing: up}"),
        "all light under broken or thin cloud",
    ),
    Field(
        "bounce",
        Map("bounce", "{facing: {azimuth_deg: 20}, albedo: 0.6, share_of_view: 0.2}"),
        "a sunlit or shaded wall or ground opposite, under a clear sky; `facing` is the way the "
        "wall itself faces",
    ),
)
_SKY_KELVIN = Field("kelvin", Number(4500.0, 12000.0), "stated and held; else 6500 with a band")
_FILTER = Either(
    (Map("filter", "{shift: {warm_mired: 40}}"), Items(Map("filter", "{nd_stops: 1}")))
)
_OF_EVERY_LIGHT = (
    Field("on", Flag(), "false switches it off", True),
    Field(
        "is_a",
        Choice(MAKES),
        "what can be done to it; by the kind or the lamp if left out, and of a measured spectrum, "
        "a mix or daylight nothing is known then",
    ),
    Field("filter", _FILTER, "what stands before it, see below"),
    Field(
        "flash",
        Either((Flag(), Map("flash", "{t05_ms: 1.2}"))),
        "true: fires once within every exposure and is read in lux seconds; or how long it lasts",
        False,
    ),
    Field(
        "flicker",
        Map("flicker", "{mains_hz: 50, depth_percent: 35}"),
        "see `wbplan guide exposure`",
    ),
)


def _name(fields: tuple[Field, ...]) -> tuple[str, ...]:
    return tuple(each.name for each in fields)


LIGHT_KINDS: Final = (*PLAIN_KINDS, *MODEL_KINDS)
_EVERY_KIND = (*LIGHT_KINDS, FIXTURE, *SKY_KINDS)


def shape_light(*beside: Field) -> Shape:
    """Make the shape of a light that stands inside something else, with fields ``beside``."""
    return Shape((*LIGHT_KINDS, *_OF_A_FILE, *beside), one_of=(_name(LIGHT_KINDS),))


SHIFT: Final = Shape(
    (
        Field("warm_mired", Number(0.0, 500.0), also=("warm", "mired")),
        Field("cool_mired", Number(0.0, 500.0), "or this", also=("cool",)),
        Field("green_cc", Number(0.0, 200.0), also=("green", "cc")),
        Field("magenta_cc", Number(0.0, 200.0), "or this", also=("magenta",)),
    ),
    not_both=(("warm_mired", "cool_mired"), ("green_cc", "magenta_cc")),
)
LIGHT_SHAPES: Final[dict[str, Shape]] = {
    "light": Shape(
        (
            *PLAIN_KINDS,
            *_OF_A_FILE,
            FIXTURE,
            *_OF_A_FIXTURE,
            *MODEL_KINDS,
            *SKY_KINDS,
            *_OF_EVERY_LIGHT,
        ),
        one_of=(_name(_EVERY_KIND),),
    ),
    "mix_part": shape_light(Field("share", Number(1e-6, 1e6), is_required=True, example="1")),
    "channel": shape_light(
        Field(
            "lux",
            LUX.form,
            "of one channel at full drive",
            is_required=True,
            example=LUX.example,
        )
    ),
    "phosphor_led": Shape((_CCT, *_LED_SHAPE)),
    "led_mix": Shape(
        (
            Field("xy", Items(Number(0.01, 0.9), 2), "[0.35, 0.36]", example="[0.35, 0.36]"),
            Field("cct_kelvin", _CCT.form, example="5600"),
            _DUV,
            Field(
                "channels",
                Named(Map("led_channel", "{peak_nm: 630}")),
                "by name; one with cct_kelvin is a phosphor LED",
                is_required=True,
            ),
        ),
        one_of=(("xy", "cct_kelvin"),),
    ),
    "led_channel": Shape(
        (
            Field("peak_nm", Number(380.0, 780.0), "of one colour", example="530"),
            Field("width_nm", Number(2.0, 200.0), "of that colour", 25.0),
            Field("cct_kelvin", _CCT.form, "of a phosphor LED"),
            *_LED_SHAPE,
        ),
        one_of=(("peak_nm", "cct_kelvin"),),
    ),
    "discharge_lamp": Shape(
        (
            Field(
                "lines", Items(Map("line", "{nm: 546.1, power: 50}")), "a list", is_required=True
            ),
            Field("continuum", Map("continuum", "{kelvin: 5000, power: 30}")),
        )
    ),
    "line": Shape(
        (
            Field("nm", Number(380.0, 780.0), is_required=True, example="546.1"),
            Field("power", Number(1e-9, 1e9), is_required=True, example="1"),
            Field("width_nm", Number(0.1, 50.0), "", 2.0),
        )
    ),
    "continuum": Shape(
        (
            Field("kelvin", _KELVIN, is_required=True, example="5000"),
            Field("power", Number(1e-9, 1e9), is_required=True, example="1"),
        )
    ),
    "xenon_flash": Shape(
        (
            Field("cct_kelvin", Number(2000.0, 20000.0), is_required=True, example="5600"),
            Field("line_percent", Number(0.0, 50.0), "", 4.0),
        )
    ),
    "sun": Shape(
        (_FACING, Field("with_sky", Flag(), "true counts the sky in", False), _PANES, *_OWN_SKY)
    ),
    "sky": Shape((_FACING, _PANES, *_OWN_SKY)),
    "overcast": Shape((_FACING, _SKY_KELVIN, _PANES, *_OWN_SKY)),
    "shade": Shape(
        (
            Field("share_of_sky", Number(_LEAST_SHARE, 1.0), "of the dome that is seen", 0.5),
            *_OWN_SKY,
        )
    ),
    "broken_cloud": Shape(
        (
            Field(
                "sun",
                Choice((OUT, HIDDEN)),
                "one state, never a mean of both",
                is_required=True,
                example=OUT,
            ),
            _FACING,
            Field("kelvin", _SKY_KELVIN.form, "as of overcast, with the sun hidden"),
            *_OWN_SKY,
        )
    ),
    "bounce": Shape(
        (
            _FACING,
            Field(
                "albedo",
                Number(0.02, 0.95),
                "what it sends back; its colour: `filter`",
                is_required=True,
                example="0.5",
            ),
            Field(
                "share_of_view",
                Number(_LEAST_SHARE, 1.0),
                "of all that the lit surface looks at",
                is_required=True,
                example="0.5",
            ),
            *_OWN_SKY,
        )
    ),
    "facing": Shape(
        (
            Field(
                "azimuth_deg",
                Number(0.0, 360.0),
                "0 north, 90 east",
                is_required=True,
                example="180",
            ),
            Field("tilt_deg", Number(0.0, 90.0), "0 lies flat, 90 stands", 90.0),
        )
    ),
    "atmosphere": Shape(
        (
            Field("aerosol_depth", Number(0.0, 1.0), "at 500 nm", USUAL_AIR.aerosol_depth),
            Field("angstrom_exponent", Number(0.0, 3.0), "", USUAL_AIR.angstrom_exponent),
            Field("ozone_atm_cm", Number(0.1, 0.6), "", USUAL_AIR.ozone_atm_cm),
            Field("water_cm", Number(0.0, 8.0), "", USUAL_AIR.water_cm),
            Field("ground_albedo", Number(0.0, 0.95), "", USUAL_AIR.ground_albedo),
            Field(
                "colour_by_direction",
                Number(0.0, 1.5),
                "how far the sky is warm by the sun and blue away from it",
                USUAL_AIR.colour_by_direction,
            ),
        )
    ),
    "flash": Shape(
        (
            Field("t05_ms", Number(above=0.0, high=10_000.0), "over half of its peak", example="1"),
            Field(
                "t01_ms",
                Number(above=0.0, high=10_000.0),
                "or over a tenth of its peak",
                example="3",
            ),
            Field(
                "pops",
                Number(1, 1000, is_whole=True),
                "in one exposure, each as bright as it was read",
                1,
            ),
            Field("gap_ms", Number(above=0.0, high=60_000.0), "from one pop to the next"),
            Field("most_per_second", Number(above=0.0, high=10_000.0), "how often it can be fired"),
            Field("sync", Choice(("shutter", "free")), "", "shutter"),
        ),
        one_of=(("t05_ms", "t01_ms"),),
    ),
    "flicker": Shape(
        (
            Field("mains_hz", Choice(MAINS_HZ), "the light has twice that", example="50"),
            Field("light_hz", Number(1.0, 1e6), "or the light's own, 1 to 1000000", example="100"),
            Field(
                "depth_percent",
                Number(above=0.0, high=100.0),
                "(max - min) / (max + min); 100 if left out",
            ),
            Field("waveform", Choice(WAVEFORMS), "", "sine"),
            Field("duty_percent", Number(0.1, 99.9), "of a square", 50.0),
            Field(
                "uneven_percent",
                Number(0.0, 100.0),
                "depth at the mains frequency itself, of ageing tubes",
                0.0,
            ),
            Field(
                "dimmest",
                Map("shift", "{warm_mired: 20}"),
                "its colour at its dimmest against its brightest, a shift in words as below",
            ),
        ),
        one_of=(("mains_hz", "light_hz"),),
    ),
    "shift": SHIFT,
    "filter": Shape(
        (
            Field("shift", Map("shift", "{warm_mired: 40}"), "an ideal one, in words"),
            Field("nd_stops", Number(0.0, 20.0), "neutral", also=("nd",), example="1"),
            Field("generic", Choice(GENERIC_NAMES), "a name that `wbplan filters` lists"),
            Field(
                "diffusion_stops",
                Number(0.0, 20.0),
                "diffusion or frost by what your meter lost",
                also=("diffusion", "frost"),
            ),
            Field(
                "transmittance_file",
                Text(LONGEST_PATH, "the path of a file"),
                "a measured curve, 0 to 1 or in %",
            ),
            Field(
                "column",
                _OF_A_FILE[0].form,
                "of that file: a label, or a number (wavelength is 1)",
                needs=("transmittance_file",),
            ),
            Field(
                "two_readings",
                Map(
                    "two_readings",
                    "{without: {spectrum_file: bare.csv}, behind: {spectrum_file: behind.csv}}",
                ),
                "your own: the light read without it and behind it",
            ),
            Field(
                "spread_deg",
                Number(above=0.0, high=180.0),
                "beside a diffusion, curve or readings of yours: how wide it spreads a narrow beam "
                "to half",
                needs=("diffusion_stops", "transmittance_file", "two_readings"),
            ),
        ),
        one_of=(
            (
                *("shift", "nd_stops", "generic"),
                *("diffusion_stops", "transmittance_file", "two_readings"),
            ),
        ),
    ),
    "two_readings": Shape(
        (
            Field("without", Map("reading"), "a spectrum_file", is_required=True),
            Field("behind", Map("reading"), "another", is_required=True),
        )
    ),
    "reading": Shape(
        (
            Field(
                "spectrum_file",
                Text(LONGEST_PATH, "the path of a file"),
                "",
                is_required=True,
                example="reading.csv",
            ),
            _OF_A_FILE[0],
            Field("lux", LUX.form, "of that reading, where the files are relative"),
        )
    ),
}
