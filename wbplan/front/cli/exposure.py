"""The short commands on exposure: ``expose``, ``flicker`` and ``pack``."""

from __future__ import annotations

import argparse
import math
from typing import Any

from wbplan.front.cli.options import name_options

TERMS = ("t-stop", "ei", "shutter", "fps", "nd", "light", "flash")
LUX_PER_FOOTCANDLE = 1 / 0.3048**2
_SHUTTER = {"shutter_angle_deg": "--angle", "exposure_time_s": "--time"}
_EXPOSE = {
    **_SHUTTER,
    "nd_stops": "--nd",
    "meter_percent": "--meter-percent",
    "incident_c": "--c",
    "reflected_k": "--k",
}
_FLICKER = {
    **_SHUTTER,
    "depth_percent": "--depth",
    "duty_percent": "--duty",
    "light_hz": "--hz",
    "waveform": "--waveform",
}
_PACK = {"glass": "--glass", "camera_nd": "--camera-nd"}


def add_exposure_commands(commands: Any) -> None:
    """Add the parsers of the commands that need no scenario."""
    expose = commands.add_parser(
        "expose",
        help="solve the one term of an exposure that is missing",
        description="Give all but one of stop, EI, shutter, light (and frame rate, ND, flash): the "
        "missing one is answered. ND is none unless it alone is missing or asked for by --find.",
    )
    expose.add_argument("--t-stop", metavar="N", type=_above_zero, help="T-number, 2.8")
    expose.add_argument("--ei", metavar="S", type=_above_zero, help="exposure index")
    expose.add_argument("--fps", metavar="R", type=_above_zero, help="frames a second")
    _add_shutter(expose)
    expose.add_argument("--nd", metavar="STOPS", type=_zero_or_more, help="ND, in stops")
    light = expose.add_mutually_exclusive_group()
    light.add_argument("--lux", metavar="E", type=_above_zero, help="illuminance, incident meter")
    light.add_argument(
        "--footcandles", metavar="E", type=_above_zero, help="the same, 10.76 lux each"
    )
    light.add_argument(
        "--cd", metavar="L", type=_above_zero, help="luminance, reflected meter, cd/m2"
    )
    expose.add_argument("--flash", metavar="H", type=_above_zero, help="flash, lux seconds")
    expose.add_argument("--find", choices=TERMS, help="the term to solve, where it is not plain")
    constant = expose.add_mutually_exclusive_group()
    constant.add_argument(
        "--c", metavar="C", type=_above_zero, help="incident constant, 240 to 540"
    )
    constant.add_argument("--dome", action="store_true", help="hemispherical receptor, C 340")
    constant.add_argument(
        "--k", metavar="K", type=_above_zero, help="reflected constant, 10.6 to 14"
    )
    expose.add_argument(
        "--meter-percent", metavar="SD", type=_zero_or_more, default=0.0,
        help="error of the meter, one standard deviation; gives the answer a 90 %% band",
    )  # fmt: skip
    expose.add_argument(
        "--parts",
        type=int,
        choices=(1, 3, 10),
        default=3,
        help="write stops in wholes, thirds, tenths",
    )
    expose.set_defaults(run=_run_expose)

    flicker = commands.add_parser(
        "flicker",
        help="find shutters that a flickering light does not show in",
        description="Find the safe shutters for a light's flicker, the nearest to the wanted one, "
        "and how many stops of ripple the wanted one leaves, in time and down a rolling frame.",
    )
    flicker.add_argument("--fps", metavar="R", type=_above_zero, required=True)
    _add_shutter(flicker)
    rate = flicker.add_mutually_exclusive_group(required=True)
    rate.add_argument("--mains", choices=("50", "60"), help="mains, Hz; the light has twice that")
    rate.add_argument("--hz", metavar="F", type=_above_zero, help="the light's own frequency")
    flicker.add_argument(
        "--depth", metavar="PERCENT", type=_above_zero, help="(max-min)/(max+min); 100 if not given"
    )
    flicker.add_argument(
        "--waveform", choices=("sine", "square", "rectified"), default="sine", help="default sine"
    )
    flicker.add_argument("--duty", metavar="PERCENT", type=_above_zero, help="of a square, on")
    flicker.add_argument(
        "--readout-ms", metavar="MS", type=_zero_or_more,
        help="first row to last of a rolling shutter; the frame time if not given, 0 for global",
    )  # fmt: skip
    flicker.set_defaults(run=_run_flicker)

    pack = commands.add_parser(
        "pack",
        help="find the ND in a kit that reaches a wanted loss",
        description="Find the packs of ND that come within a sixth of a stop, fewest pieces first.",
    )
    pack.add_argument("--stops", metavar="S", type=_above_zero, required=True, help="wanted loss")
    pack.add_argument(
        "--glass", metavar="D,D,...", type=_list_above_zero, default=[],
        help="densities of the pieces, each as often as it is there: 0.3,0.6,0.6",
    )  # fmt: skip
    pack.add_argument(
        "--camera-nd", metavar="S,S,...", type=_list_above_zero, default=[],
        help="steps of the camera's own ND, in stops",
    )  # fmt: skip
    pack.add_argument("--most", type=int, choices=(0, 1, 2, 3, 4), default=3, help="pieces at once")
    pack.set_defaults(run=_run_pack)


def _add_shutter(parser: argparse.ArgumentParser) -> None:
    shutter = parser.add_mutually_exclusive_group()
    shutter.add_argument("--angle", metavar="DEG", type=_above_zero, help="shutter angle, to 360")
    shutter.add_argument(
        "--time", metavar="T", type=_above_zero, help="exposure time, 1/48 or seconds"
    )


def _read_number(text: str) -> float:
    above, slash, below = text.partition("/")
    try:
        value = float(above) / float(below) if slash else float(above)
    except (ValueError, ZeroDivisionError):
        value = math.nan
    if not math.isfinite(value):
        raise argparse.ArgumentTypeError(f"found '{text}'; allowed: a number, or one over another")
    return value


def _above_zero(text: str) -> float:
    value = _read_number(text)
    if not 1e-9 <= value <= 1e9:
        raise argparse.ArgumentTypeError(f"found '{text}'; allowed: a number from 1e-9 to 1e9")
    return value


def _zero_or_more(text: str) -> float:
    value = _read_number(text)
    if not 0 <= value <= 1e4:
        raise argparse.ArgumentTypeError(f"found '{text}'; allowed: a number from 0 to 10000")
    return value


def _list_above_zero(text: str) -> list[float]:
    return [_above_zero(each) for each in text.split(",")]


def _run_expose(options: argparse.Namespace) -> None:
    from wbplan.exposure.equation import HEMISPHERICAL_RECEPTOR_C
    from wbplan.front.exposures import solve_exposure
    from wbplan.report.exposure.answers import format_answer

    lux = options.lux
    if options.footcandles is not None:
        lux = options.footcandles * LUX_PER_FOOTCANDLE
    with name_options(_EXPOSE):
        answer = solve_exposure(
            t_stop=options.t_stop,
            ei=options.ei,
            fps=options.fps,
            shutter_angle_deg=options.angle,
            exposure_time_s=options.time,
            nd_stops=options.nd,
            lux=lux,
            luminance_cd_m2=options.cd,
            flash_lux_s=options.flash,
            incident_c=HEMISPHERICAL_RECEPTOR_C if options.dome else options.c,
            reflected_k=options.k,
            meter_percent=options.meter_percent,
            find=options.find,
        )
    is_reflected = options.cd is not None or options.k is not None
    print(format_answer(answer, is_reflected, options.parts))


def _run_flicker(options: argparse.Namespace) -> None:
    from wbplan.exposure.equation import find_exposure_time_s
    from wbplan.front.exposures import find_safe_shutters
    from wbplan.report.exposure.answers import format_flicker

    with name_options(_FLICKER):
        answer = find_safe_shutters(
            options.fps,
            2.0 * float(options.mains) if options.mains else options.hz,
            options.angle,
            options.time,
            options.depth,
            options.waveform,
            options.duty,
            None if options.readout_ms is None else options.readout_ms / 1000.0,
        )
    time = options.time or float(find_exposure_time_s(options.angle, options.fps))
    print(format_flicker(answer, options.fps, time))


def _run_pack(options: argparse.Namespace) -> None:
    from wbplan.front.exposures import find_nd_packs
    from wbplan.report.exposure.answers import format_packs

    with name_options(_PACK):
        packs = find_nd_packs(options.stops, options.glass, options.camera_nd, options.most)
    print(format_packs(packs))
