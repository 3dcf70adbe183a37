"""Where every figure of a setup's page comes from, line by line.

Three kinds of origin are told apart: what the scenario states (somebody's reading or wish), what
a profile or a published standard states, and what wbplan took for want of a figure.
"""

from __future__ import annotations

from dataclasses import dataclass

from wbplan.exposure.equation import FLAT_RECEPTOR_C
from wbplan.planning.decisions import Plan, SetupPlan
from wbplan.planning.verdict import TOLD_CC, TOLD_MIRED
from wbplan.report.base.words import (
    say_exposure_time,
    say_matrix,
    say_significant,
    say_stops,
)
from wbplan.sky.site import say_moment

_SPREADS = {
    "exact": "none: the curves are taken as exact",
    "model": "other bodies of this model, and another laboratory's measurement of it",
    "population": "how 52 measured cameras differ",
    "own": "the cameras that a chart left plausible",
}


@dataclass(frozen=True)
class Datum:
    """A figure that went in: what it is, what was used, and where it is from."""

    what: str
    used: str
    origin: str
    is_model: bool = False


def list_data(plan: Plan, setup: SetupPlan) -> tuple[Datum, ...]:
    """List every datum of a setup with its origin."""
    return (
        *_list_camera(setup),
        *_list_lights(plan, setup),
        *_list_shooting(plan, setup),
        *(Datum(*each) for each in _REFERENCES),
    )


def _list_camera(plan: SetupPlan) -> tuple[Datum, ...]:
    camera = plan.setup.camera
    profile = f"profile {camera.name}"
    spread = _SPREADS[camera.family]
    clip, clip_from = "not used", profile
    if plan.exposure is not None:
        clip = say_stops(plan.exposure.clip_stops)
        clip_from = profile if plan.exposure.clip_is_stated else "taken: ISO 12232:2019"
    menu = camera.menu
    kelvin = f"{menu.kelvin[0]:.0f} to {menu.kelvin[-1]:.0f} K" if menu.kelvin else "presets only"
    encoding = plan.setup.encoding
    is_own = (encoding.curve, encoding.gamut) == (camera.curve, camera.gamut)
    encoding_from = profile if is_own else "scenario; published curve and gamut"
    return (
        Datum("Sensitivity curves", camera.title or camera.name, camera.provenance or profile),
        Datum("Spread of its kind", spread, profile),
        Datum(
            "Colour matrix",
            say_matrix(camera.matrix_kelvin),
            profile if camera.matrix_kelvin else "worked out here",
        ),
        Datum("Menu of settings", kelvin, profile),
        Datum("Base EI", f"{camera.base_ei:g}", profile),
        Datum("Middle grey to clip", clip, clip_from),
        Datum("Encoding", encoding.words, encoding_from),
    )


def _list_lights(plan: Plan, setup: SetupPlan) -> tuple[Datum, ...]:
    said = "invented for demonstration" if plan.invented else "scenario"
    data = []
    for light, source in zip(setup.lights, setup.setup.sources, strict=True):
        spectrum = source.spectrum
        origin = light.origin or "not stated"
        data.append(Datum(f"Spectrum of {light.name}", spectrum.name, origin, spectrum.is_model))
        if light.filter_name != "none":
            kind = "model of a filter" if source.filter.is_model else f"measured; {said}"
            data.append(
                Datum(f"Filter on {light.name}", light.filter_name, kind, source.filter.is_model)
            )
        if source.flicker is not None:
            taken = "depth taken as the worst" if source.flicker.is_assumed else said
            data.append(Datum(f"Flicker of {light.name}", f"{source.flicker.light_hz:g} Hz", taken))
    meter = setup.setup.meter
    stated = bool(meter.illuminance_percent or meter.chromaticity_xy)
    error = f"{meter.illuminance_percent:g} % of lux, {meter.chromaticity_xy:g} in x and y"
    data.append(Datum("Lux of each light at each position", "one light at a time", said))
    if stated:
        data.append(Datum("Error of the meter", f"{error} (one standard deviation)", said))
    else:
        taken = "not stated: readings are taken as exact"
        data.append(Datum("Error of the meter", "none", taken))
    return tuple(data)


def _list_shooting(plan: Plan, setup: SetupPlan) -> tuple[Datum, ...]:
    said = "invented for demonstration" if plan.invented else "scenario"
    shooting, scene = setup.setup.shooting, setup.setup
    flat = shooting.calibration_c == FLAT_RECEPTOR_C
    run = f"EI {shooting.ei:g}, {shooting.fps:.6g} fps, {say_exposure_time(shooting)}"
    constant = f"{shooting.calibration_c:g}"
    constant_from = "ISO 2720:1974, flat receptor" if flat else said
    data = [
        Datum("Exposure", run, said),
        Datum("Constant C of the incident meter", constant, constant_from),
    ]
    if scene.kit is not None:
        data.append(Datum("Kit", "ND and lenses", said))
    if scene.mains_hz is not None:
        data.append(Datum("Mains", f"{scene.mains_hz:g} Hz", said))
    if scene.site is not None:
        data.append(Datum("Place", scene.site.words, said))
    if scene.when is not None:
        data.append(Datum("Time", say_moment(scene.when), said))
    gains = " ".join(say_significant(each, 4) for each in setup.gains)
    data.append(Datum("Gains of the dialled setting", f"red green blue {gains}", "worked out here"))
    return tuple(data)


_REFERENCES = (
    (
        "Reference light of a Kelvin",
        "black body to 4000 K, blend to 5000 K, CIE daylight above",
        "ANSI/IES TM-30-20; CIE 224:2017",
    ),
    ("Standard eye", "1931 2° observer, V(λ)", "CIE 15:2018"),
    ("Surfaces that the camera's matrix is fitted on", "99 samples", "CIE 224:2017"),
    ("Skins in the swatches", "5 people", "NIST, doi:10.18434/M38597"),
    ("Hues in the swatches", "12 of the 99 samples", "CIE 224:2017"),
    ("Colour difference", "CIEDE2000", "ISO/CIE 11664-6"),
    ("One CC", "0.01 of density in the camera's green", "common practice, no source"),
    (
        "Told apart side by side",
        f"about {TOLD_MIRED:g} mired or {TOLD_CC:g} CC",
        "common practice, no source",
    ),
)
