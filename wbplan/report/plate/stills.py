"""What an OpenEXR header says of a setup, under the standard attributes' names.

As OpenImageIO spells them; it writes DateTime as capDate, ExposureTime as expTime, FNumber as
aperture, Copyright as owner and ImageDescription as comments. Meanings are those of OpenEXR's
list of standard attributes.
"""

from __future__ import annotations

from wbplan.codes.encodings import Encoding
from wbplan.read.pictures import Attributes
from wbplan.scene.setup import Setup


def list_colour_attributes(encoding: Encoding, name: str = "") -> Attributes:
    """List the primaries and the white of linear pixels, and the name of their space if it has one.

    ``adoptedNeutral`` is what has three equal values.
    """
    places = (encoding.rgb_to_xyz / encoding.rgb_to_xyz.sum(axis=0))[:2].T
    white = tuple(float(each) for each in encoding.white_xy)
    found: dict[str, str | float | tuple[float, ...]] = {
        "chromaticities": (*(float(each) for each in places.ravel()), *white),
        "adoptedNeutral": white,
    }
    if name:
        found["colorInteropID"] = name
    return found


def list_time_attributes(setup: Setup) -> Attributes:
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
