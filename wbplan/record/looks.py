"""The record of how positions look, of the camera's neutral, and of place and time."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

from wbplan.light.colorimetry import find_uv_prime
from wbplan.planning.looks import Appearance, Look
from wbplan.record.numbers import make_keys, make_number, make_numbers
from wbplan.scene.setup import Setup
from wbplan.sky.site import Site

if TYPE_CHECKING:
    from wbplan.planning.sun import BodyView, SunAndMoon

_CODE_DIGITS = 4


def record_appearance(seen: Appearance) -> dict[str, Any]:
    """State the looks of every position and where the camera's neutral lies."""
    return {
        "neutral": _record_place(seen.neutral_xy),
        "exact_neutral": _record_place(seen.exact_neutral_xy),
        "lights_without_filters": [_record_place((each.x, each.y)) for each in seen.bare],
        "surfaces": list(seen.surfaces),
        "positions": [
            {
                "name": each.name,
                "looks": [_record_look(look) for look in each.looks],
                "meant": None if each.meant is None else _record_look(each.meant),
            }
            for each in seen.positions
        ],
    }


def record_site(site: Site | None) -> dict[str, Any] | None:
    """State a place."""
    if site is None:
        return None
    return {
        "name": site.name,
        "latitude_deg": make_number(site.latitude_deg, 9),
        "longitude_deg": make_number(site.longitude_deg, 9),
        "altitude_m": make_number(site.altitude_m),
        "time_zone": site.time_zone,
    }


def record_when(setup: Setup) -> dict[str, Any] | None:
    """State a moment by the place's clock and in UTC (ISO 8601)."""
    if setup.when is None:
        return None
    return {"local": _write_moment(setup.when), "utc": _write_moment(setup.when.astimezone(UTC))}


def record_bodies(setup: Setup, bodies: SunAndMoon | None) -> dict[str, Any]:
    """State where sun and moon stand for a camera, under their names."""
    if bodies is None or setup.when is None:
        return {"sun": None, "moon": None}
    pairs = (("sun", bodies.sun), ("moon", bodies.moon))
    return {name: _record_body(setup.when, each) for name, each in pairs}


def _record_body(when: datetime, body: BodyView) -> dict[str, Any]:
    right, up, back = body.direction or (None, None, None)
    seen = body.seen
    enters = None
    if body.enters_s is not None:
        moment = when.astimezone(UTC) + timedelta(seconds=body.enters_s)
        enters = _write_moment(moment.astimezone(when.tzinfo))
    return {
        **make_keys(elevation_degrees=body.elevation_deg, azimuth_degrees=body.azimuth_deg),
        "is_up": body.is_up,
        **make_keys(lit_percent=100 * body.lit_share, bearing_degrees=body.bearing_deg),
        **make_keys(right_ratio=right, up_ratio=up, back_ratio=back),
        "in_picture": None if seen is None else seen.where,
        "out_of_picture": [] if seen is None else list(seen.sides),
        **make_keys(lens_axis_degrees=None if seen is None else seen.axis_deg),
        **make_keys(enters_picture_in_seconds=body.enters_s),
        "enters_picture_local": enters,
        **make_keys(leaves_picture_in_seconds=body.leaves_s),
    }


def _write_moment(moment: datetime) -> str:
    return moment.isoformat(timespec="minutes")


def _record_place(xy: tuple[float, float]) -> dict[str, Any]:
    u, v = find_uv_prime(list(xy))
    return {
        "x": make_number(xy[0]),
        "y": make_number(xy[1]),
        "u_prime": make_number(float(u)),
        "v_prime": make_number(float(v)),
    }


def _record_look(look: Look) -> dict[str, Any]:
    differs = look.ciede2000
    return {
        "code": look.code,
        "kelvin": make_number(look.kelvin),
        "tint_cc": make_number(look.tint_cc),
        "srgb_ratio": [make_numbers(each, _CODE_DIGITS) for each in look.screen_rgb],
        "outside_screen_count": look.outside,
        "from_meant_ciede2000": None if differs is None else make_numbers(differs, _CODE_DIGITS),
    }
