"""The sky all round as OpenEXR files, and what their headers say.

Under OpenImageIO's names of the standard attributes: it writes DateTime as capDate and
ImageDescription as comments.
"""

from __future__ import annotations

from importlib.util import find_spec
from pathlib import Path

import numpy as np

from wbplan.core.tables import Array
from wbplan.planning.decisions import Plan, SetupPlan
from wbplan.planning.plate.aces import find_ap1
from wbplan.planning.plate.environment import NoSkyError, add_lamps, picture_sky
from wbplan.read.pictures import Attributes, Still, encode_still, list_colour_attributes
from wbplan.report.plate.record import PlateFile
from wbplan.scene.setup import Setup

NO_WRITER = "no OpenImageIO to write the sky with: pip install 'wbplan[pictures]'"
_FLOAT = Still(np.zeros((1, 1, 3), dtype=np.float32), "", "float")


def make_sky_files(
    plan: Plan, setup: SetupPlan
) -> tuple[tuple[PlateFile, ...], tuple[tuple[str, str], ...]]:
    """Make the pictures of the sky over a setup.

    Returns
    -------
    tuple
        The files, first that without the sun's disc, and what is left out, with the reason.
    """
    if find_spec("OpenImageIO") is None:
        return (), (("sky", NO_WRITER),)
    try:
        sky = picture_sky(setup)
    except NoSkyError as reason:
        return (), (("sky", str(reason)),)
    made = [_write(plan, setup, sky.pixels, "sky", f"{sky.words}, without the sun's disc")]
    whole, parts, left_out = sky.pixels, [sky.words], []
    if sky.sun is not None:
        whole = whole + sky.sun
        parts.append("the sun")
    slate = setup.setup.slate
    if slate is not None and slate.lamps_seen_from and setup.plate is not None:
        try:
            whole, names = add_lamps(whole, setup.plate.stage, slate.lamps_seen_from)
        except NoSkyError as reason:
            left_out.append(("lamps in the sky", str(reason)))
        else:
            parts += names
            if not names:
                left_out.append(("lamps in the sky", "none of known size is seen from there"))
    if len(parts) > 1:
        made.append(_write(plan, setup, whole, "sky-and-lights", ", ".join(parts)))
    return tuple(made), tuple(left_out)


def _write(plan: Plan, setup: SetupPlan, pixels: Array, name: str, of: str) -> PlateFile:
    said = (
        f"{of[0].upper()}{of[1:]}. Lat-long, north at the left edge, east a quarter in, y up, -z "
        "north. Scene-linear ACEScg; 1 is 1 cd/m2 by 683 lm/W; adapted to "
        f"{setup.dial.kelvin:g} K. Modelled, not measured, by wbplan {plan.version}."
    )
    attributes: Attributes = {
        **list_colour_attributes(find_ap1(), "lin_ap1_scene"),
        **_list_time(setup.setup),
        "whiteLuminance": 1.0,
        "textureformat": "LatLong Environment",
        "compression": "zip",
        "ImageDescription": said,
    }
    file = f"{setup.stem}_plate_{name}.exr"
    content, _ = encode_still(pixels, Path(file), _FLOAT, attributes)
    return PlateFile(file, f"{of}, lat-long OpenEXR", "", content)


def _list_time(setup: Setup) -> Attributes:
    """List when and where a setup is shot."""
    found: dict[str, str | float | tuple[float, ...]] = {}
    if setup.when is not None:
        found["DateTime"] = f"{setup.when:%Y:%m:%d %H:%M:%S}"
        offset = setup.when.utcoffset()
        if offset is not None:
            found["utcOffset"] = -offset.total_seconds()  # what is added to local time
    if setup.site is not None:
        found["latitude"] = setup.site.latitude_deg
        found["longitude"] = setup.site.longitude_deg
        found["altitude"] = setup.site.altitude_m
    return found
