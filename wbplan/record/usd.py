"""A plate's 3D scene as OpenUSD text, `.usda`: camera, lights, grey balls, sun and sky.

Written without a library, tested with OpenUSD's own. What the file has to be read by stands in it:

- Metres, y up, -z true north, so x is east; along the lens where it has no heading.
- Lights in photometric units, as UsdLux asks for (LightAPI: intensity times two to the exposure is
  in nits). A rect light has cd/m2. A sphere light with ``normalize`` has four times candela, since
  the luminance is divided by the sphere's area: E = I / d^2 at any radius. A distant light with
  ``normalize`` has the lux on a surface that faces it. A dome has cd/m2 through its texture.
- Colours are linear ACEScg of luminance 1, adapted to the dialled Kelvin; colour temperature is
  off, since it knows no Duv.
- Strengths and colours stand in variants alone, which would lose against a value of the light's
  own: ``readAt`` sets all lights to what was read at one position, ``seenBy`` gives colours as the
  standard observer or as this camera sees them.
- The camera's apertures and focal length are in tenths of a scene unit. A squeeze widens the
  horizontal aperture. Its exposure makes an 18 % grey at the metered light 0.18: UsdGeom's
  t S r / (100 N^2), with r = 100 pi / C of the incident meter and the T-stop for N.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Iterable, Mapping

from wbplan.core.names import clean_text
from wbplan.planning.decisions import SetupPlan
from wbplan.planning.plate.values import Stage, StageLight
from wbplan.scene.plate import PlateLens
from wbplan.sky.sun_and_moon import SUN_WIDTH_DEG

BALL_RADIUS_M = 0.05
POINT_RADIUS_M = 0.02
OWN = "each_at_its_brightest"
_APERTURES = 0.01  # millimetres in tenths of a metre
_UNITS = {"panel": "cd/m2", "point": "candela", "sun": "lux", "dome": "times the sky"}
_TYPES = {
    "panel": "RectLight",
    "point": "SphereLight",
    "sun": "DistantLight",
    "dome": "DomeLight",
}


def format_stage(
    plan: SetupPlan,
    stage: Stage,
    spectra: Mapping[str, str],
    sky_file: str,
    heading: Iterable[str],
) -> str:
    """Write a stage as `.usda`.

    Parameters
    ----------
    spectra
        File name of each light's spectrum, by light.
    sky_file
        The lat-long environment that the dome shows, "" for an even dome.
    heading
        Lines that say what the file is.
    """
    setup = plan.setup
    names = _name_prims([each.name for each in stage.lights])
    balls = _name_prims([each.name for each in stage.places])
    settings = _name_prims([each.name for each in setup.positions], taken=(OWN,))
    body = [
        "#usda 1.0",
        "(",
        '    defaultPrim = "Plate"',
        f"    doc = {_quote(' '.join(heading))}",
        f"    framesPerSecond = {_number(setup.shooting.fps)}",
        "    metersPerUnit = 1",
        f"    timeCodesPerSecond = {_number(setup.shooting.fps)}",
        '    upAxis = "Y"',
        ")",
        "",
        'def Xform "Plate" (',
        f"    displayName = {_quote(setup.name)}",
        "    variants = {",
        f'        string readAt = "{OWN}"',
        '        string seenBy = "observer"',
        "    }",
        '    prepend variantSets = ["readAt", "seenBy"]',
        ")",
        "{",
        *_indent(_write_facts(plan, stage)),
        *_indent(_write_camera(plan, stage)),
        "",
        '    def Scope "Lights"',
        "    {",
    ]
    for light, name in zip(stage.lights, names, strict=True):
        body += _indent(_write_light(plan, light, name, spectra, sky_file), 2)
    body += ["    }", "", '    def Scope "Positions"', "    {"]
    for place, name in zip(stage.places, balls, strict=True):
        body += _indent(_write_ball(place.name, name, place.at_m), 2)
    body += ["    }", "", *_indent(_write_grey()), ""]
    body += _indent(_write_strengths(plan, stage, names, settings))
    body += _indent(_write_colours(stage, names))
    return "\n".join([*body, "}", ""])


def _write_facts(plan: SetupPlan, stage: Stage) -> list[str]:
    north = "true north" if stage.has_north else "along the lens, which has no heading"
    left_out = [f"{name}: {why}" for name, why in stage.left_out]
    return [
        f"custom string wbplan:minusZ = {_quote(north)}",
        f"custom string[] wbplan:leftOut = {_quote_list(left_out)}",
        f"custom string[] wbplan:positions = {_quote_list(e.name for e in plan.positions)}",
        f"custom float wbplan:dialledKelvin = {_number(plan.dial.kelvin)}",
        f"custom float wbplan:dialledTintCc = {_number(plan.dial.tint_cc)}",
        "",
    ]


def _write_camera(plan: SetupPlan, stage: Stage) -> list[str]:
    setup, lens = plan.setup, plan.setup.lens or PlateLens()
    if stage.camera_m is None:
        return []
    shooting, exposure = setup.shooting, plan.exposure
    lines = []
    if lens.horizontal_angle_deg is not None and lens.sensor_width_mm is not None:
        across = lens.sensor_width_mm * (lens.squeeze_ratio or 1.0)
        lines.append(f"float horizontalAperture = {_number(across * _APERTURES)}")
    if lens.sensor_height_mm is not None:
        lines.append(f"float verticalAperture = {_number(lens.sensor_height_mm * _APERTURES)}")
    if lens.focal_length_mm is not None:
        lines.append(f"float focalLength = {_number(lens.focal_length_mm * _APERTURES)}")
    focus = lens.focus_distance_m
    if focus is not None and math.isfinite(focus):
        lines.append(f"float focusDistance = {_number(focus)}")
    t_stop = plan.key.t_stop.value if exposure is None else exposure.t_stop
    if math.isfinite(t_stop) and t_stop > 0:
        nd = shooting.nd_stops if exposure is None else exposure.nd_stops
        lines += [
            f"float exposure = {_number(-nd)}",
            f"float exposure:fStop = {_number(t_stop)}",
            f"float exposure:iso = {_number(shooting.ei)}",
            f"float exposure:responsivity = {_number(100 * math.pi / shooting.calibration_c)}",
            f"float exposure:time = {_number(shooting.exposure_time_s)}",
        ]
    lines += [
        "double shutter:open = 0",
        f"double shutter:close = {_number(shooting.exposure_time_s * shooting.fps)}",
        f"custom float wbplan:squeeze = {_number(lens.squeeze_ratio or 1.0)}",
        f"custom string wbplan:lens = {_quote(' '.join(filter(None, (lens.name, lens.serial))))}",
        f"double3 xformOp:translate = (0, {_number(stage.camera_m)}, 0)",
        f"float xformOp:rotateY = {_number(-(lens.heading_deg or 0.0))}",
        f"float xformOp:rotateX = {_number(lens.tilt_deg or 0.0)}",
        f"float xformOp:rotateZ = {_number(-(lens.roll_deg or 0.0))}",
        'uniform token[] xformOpOrder = ["xformOp:translate", "xformOp:rotateY", '
        '"xformOp:rotateX", "xformOp:rotateZ"]',
    ]
    return ['def Camera "Camera"', "{", *_indent(lines), "}"]


def _write_light(
    plan: SetupPlan,
    light: StageLight,
    name: str,
    spectra: Mapping[str, str],
    sky_file: str,
) -> list[str]:
    eye = plan.lights[light.row].eye
    lines = ["bool inputs:enableColorTemperature = 0"]
    if math.isfinite(eye.cct_kelvin):
        lines.append(f"float inputs:colorTemperature = {_number(eye.cct_kelvin)}")
        lines.append(f"custom float wbplan:duv = {_number(eye.duv)}")
    if light.kind == "panel" and light.size_m is not None:
        lines.append(f"float inputs:width = {_number(light.size_m[0])}")
        lines.append(f"float inputs:height = {_number(light.size_m[1])}")
    if light.kind == "point":
        lines += [
            "bool inputs:normalize = 1",
            f"float inputs:radius = {_number(POINT_RADIUS_M)}",
            "bool treatAsPoint = 1",
        ]
    if light.kind == "sun":
        lines += ["bool inputs:normalize = 1", f"float inputs:angle = {_number(SUN_WIDTH_DEG)}"]
    if light.kind == "dome" and sky_file:
        lines.append(f"asset inputs:texture:file = {_asset(sky_file)}")
        lines.append('token inputs:texture:format = "latlong"')
    if light.name in spectra:
        lines.append(f"custom asset wbplan:spectrum = {_asset(spectra[light.name])}")
    lines += [
        f"custom string wbplan:unit = {_quote(_UNITS[light.kind])}",
        f"custom string wbplan:reference = {_quote(light.reference)}",
        f"custom float[] wbplan:readLux = {_number_list(light.read_lux)}",
        f"custom float[] wbplan:stageLux = {_number_list(light.stage_lux)}",
    ]
    order = []
    if light.at_m is not None:
        lines.append(f"double3 xformOp:translate = ({', '.join(map(_number, light.at_m))})")
        order.append("xformOp:translate")
    if light.azimuth_deg is not None and light.elevation_deg is not None:
        lines.append(f"float xformOp:rotateY = {_number(-light.azimuth_deg)}")
        lines.append(f"float xformOp:rotateX = {_number(light.elevation_deg)}")
        order += ["xformOp:rotateY", "xformOp:rotateX"]
    if order:
        lines.append(f"uniform token[] xformOpOrder = {_quote_list(order)}")
    head = f'def {_TYPES[light.kind]} "{name}" ('
    return [head, f"    displayName = {_quote(light.name)}", ")", "{", *_indent(lines), "}"]


def _write_ball(name: str, prim: str, at_m: tuple[float, float, float]) -> list[str]:
    return [
        f'def Sphere "{prim}" (',
        f"    displayName = {_quote(name)}",
        '    prepend apiSchemas = ["MaterialBindingAPI"]',
        ")",
        "{",
        f"    double radius = {_number(BALL_RADIUS_M)}",
        f"    float3[] extent = [({', '.join([_number(-BALL_RADIUS_M)] * 3)}), "
        f"({', '.join([_number(BALL_RADIUS_M)] * 3)})]",
        "    color3f[] primvars:displayColor = [(0.18, 0.18, 0.18)]",
        "    rel material:binding = </Plate/Grey>",
        f"    double3 xformOp:translate = ({', '.join(map(_number, at_m))})",
        '    uniform token[] xformOpOrder = ["xformOp:translate"]',
        "}",
    ]


def _write_grey() -> list[str]:
    return [
        'def Material "Grey"',
        "{",
        "    token outputs:surface.connect = </Plate/Grey/Surface.outputs:surface>",
        "",
        '    def Shader "Surface"',
        "    {",
        '        uniform token info:id = "UsdPreviewSurface"',
        "        color3f inputs:diffuseColor = (0.18, 0.18, 0.18)",
        "        float inputs:roughness = 1",
        "        color3f inputs:specularColor = (0, 0, 0)",
        "        int inputs:useSpecularWorkflow = 1",
        "        token outputs:surface",
        "    }",
        "}",
    ]


def _write_strengths(
    plan: SetupPlan, stage: Stage, names: list[str], settings: list[str]
) -> list[str]:
    """Write the strengths of all lights, by their own reading and by those of each position."""
    lines = ['variantSet "readAt" = {', f'    "{OWN}" {{']
    own = [each.strength for each in stage.lights]
    lines += _indent(_set_strengths(stage, names, own), 2)
    lines.append("    }")
    for row, name in enumerate(settings):
        there = [each.strengths[row] for each in stage.lights]
        # What no strength explains keeps its own.
        used = [one if each is None else each for one, each in zip(own, there, strict=True)]
        lines.append(f'    "{name}" {{')
        lines.append(f"        custom string wbplan:position = {_quote(plan.positions[row].name)}")
        lines += _indent(_set_strengths(stage, names, used), 2)
        lines.append("    }")
    return [*lines, "}"]


def _set_strengths(stage: Stage, names: list[str], strengths: list[float]) -> list[str]:
    lines = ['over "Lights"', "{"]
    for light, name, strength in zip(stage.lights, names, strengths, strict=True):
        intensity = 4.0 * strength if light.kind == "point" else strength
        lines.append(f'    over "{name}" {{')
        lines.append(f"        float inputs:intensity = {_number(intensity)}")
        lines.append("    }")
    return [*lines, "}"]


def _write_colours(stage: Stage, names: list[str]) -> list[str]:
    lines = ['variantSet "seenBy" = {']
    for who in ("observer", "camera"):
        lines += [f'    "{who}" {{', '        over "Lights"', "        {"]
        for light, name in zip(stage.lights, names, strict=True):
            colour = light.eye_colour if who == "observer" else light.camera_colour
            if light.kind == "dome":  # its texture has the observer's colours already
                pairs = zip(colour, light.eye_colour, strict=True)
                colour = tuple(one / two if two > 0 else 1.0 for one, two in pairs)  # type: ignore[assignment]
            said = ", ".join(map(_number, colour))
            lines += [
                f'            over "{name}" {{',
                f"                color3f inputs:color = ({said}) (",
                '                    colorSpace = "lin_ap1_scene"',
                "                )",
                "            }",
            ]
        lines += ["        }", "    }"]
    return [*lines, "}"]


def _name_prims(names: Iterable[str], taken: tuple[str, ...] = ()) -> list[str]:
    """Make the names of prims: ASCII letters, digits and underscores, each once."""
    used, made = set(taken), []
    for each in names:
        plain = unicodedata.normalize("NFKD", each).encode("ascii", "ignore").decode("ascii")
        base = re.sub(r"[^A-Za-z0-9]+", "_", plain).strip("_")[:60] or "unnamed"
        base = f"_{base}" if base[0].isdigit() else base
        name, number = base, 2
        while name in used:
            name, number = f"{base}_{number}", number + 1
        used.add(name)
        made.append(name)
    return made


def _number(value: float) -> str:
    if not math.isfinite(value):
        raise ValueError(f"no number for a file: {value}")
    return f"{value + 0.0:.9g}"


def _number_list(values: Iterable[float | None]) -> str:
    """Write numbers; -1 stands for what is not known."""
    return f"[{', '.join('-1' if each is None else _number(each) for each in values)}]"


def _quote(text: str) -> str:
    plain = clean_text(text).replace("\\", "\\\\").replace('"', '\\"')
    return f'"{plain}"'


def _quote_list(texts: Iterable[str]) -> str:
    return f"[{', '.join(map(_quote, texts))}]"


def _asset(name: str) -> str:
    return f"@./{name}@"


def _indent(lines: Iterable[str], depth: int = 1) -> list[str]:
    return [f"{'    ' * depth}{each}" if each else "" for each in lines]
