"""What is worked out for the people who put something into a plate later, as values.

Complete and unrounded, like every plan. Triples are red, green, blue; an interval holds the plan's
share of the camera's family and of the meter's stated error.

The scale
---------
All AP0 figures stand on one scale: a grey of 18 % at the key position, lit by all that burns, has
0.18 in the camera's green channel at the dialled setting. The green channel is what a white balance
leaves alone, and for a grey that is balanced all three channels, and AP0's three, are 0.18.
A perfectly white, matt surface there has 1. A light's figure per lux is what one lux of
it (behind its filter) gives such a white surface, so lights add: 0.18 times the sum of lux times
figure is the grey at any position.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

from wbplan.core.intervals import Interval
from wbplan.core.notes import Note
from wbplan.planning.channels import Channels

Triple = tuple[float, float, float]


@dataclass(frozen=True)
class InPicture:
    """Where a thing lies in the picture.

    ``where`` is "in", "partly", "out", or "open" where it is in the picture across and nothing
    tells whether it is up and down. ``sides`` tells where its middle is out: "left" or "right",
    "above" or "below", or "behind" the lens. ``axis_deg`` is the angle of its middle to the lens
    axis [degrees], None where a height or the tilt is missing.
    """

    where: Literal["in", "partly", "out", "open"]
    sides: tuple[str, ...]
    axis_deg: float | None


@dataclass(frozen=True)
class PlacePlate:
    """An 18 % grey at one position; None for all that a position without light does not have.

    ``raw`` is the camera's own RGB with green at 1, ``balanced`` the same after the gains of the
    dialled setting; ``ap0`` scene-linear on the module's scale at the dialled setting, and
    ``corrected`` after the exact correction of the setup's LUT, None where it has none. ``shot`` is
    ``ap0`` at the exposure that is shot: 0.18 where the key lands on middle grey.
    """

    name: str
    raw: Channels | None
    balanced: Channels | None
    ap0: Channels | None
    corrected: Channels | None
    shot: Channels | None


@dataclass(frozen=True)
class LightPlate:
    """One light by itself, behind its filter, whether it burns or not.

    ``lux`` is what it gives each position in this setup, 0 where it is off [lux].
    ``camera_per_lux`` and ``eye_per_lux`` are AP0 of a white surface for one lux of it, as this
    camera and as the standard observer see it; None where the filter leaves nothing or the key is
    dark. ``xyz`` is the observer's, Y = 1, without any adaptation. ``data_nm`` is the part of the
    grid that stands on data [nm].
    """

    name: str
    lux: tuple[float, ...]
    camera_per_lux: Channels | None
    eye_per_lux: Triple | None
    xyz: Triple | None
    data_nm: tuple[float, float]


@dataclass(frozen=True)
class LightAtPlace:
    """What one light alone makes of an 18 % grey at one position that it reaches.

    On the module's scale, so the lights of a position add up to its grey: ``acescg`` scene-linear
    at the dialled setting, ``raw`` the camera's own RGB before its gains. ``under_main_stops`` is
    how far it lies under the position's main light in each channel of the camera, 0 for that light.
    """

    light: str
    position: str
    lux: float
    acescg: Channels
    raw: Channels
    under_main_stops: Channels


@dataclass(frozen=True)
class KeyToFill:
    """How a position's main light, that of the most green, stands over the sum of all others.

    ``stops`` in each channel of the camera; None where it is alone.
    """

    position: str
    main: str
    stops: Channels | None


@dataclass(frozen=True)
class Dial:
    """A colour of luminance 1 in ACEScg, and the stops that it is brighter than white at 0.

    ``exposure_stops`` is None where the light does not reach the key.
    """

    exposure_stops: float | None
    colour: Triple


@dataclass(frozen=True)
class LightDial:
    """What is dialled for a light in a 3D scene, against the main light of the key position.

    With the main light white at 0 stops, colour times two to the exposure is what the grey at the
    key gets of this light, channel by channel of ACEScg, over what it gets of the main one: as this
    ``camera`` and as the standard observer see them (``eye``). None where the light's figures are,
    or where a channel of the main light is 0 or less.
    """

    light: str
    against: str
    camera: Dial | None
    eye: Dial | None


@dataclass(frozen=True)
class Levels:
    """Light by position; empty where the key is dark and nothing is scaled by it."""

    at_places: tuple[LightAtPlace, ...]
    key_to_fill: tuple[KeyToFill, ...]
    dials: tuple[LightDial, ...]


@dataclass(frozen=True)
class Glow:
    """How bright a soft source itself is, where its size and its place are given.

    ``luminance_cd_m2`` of an even, matt panel that gives ``position`` its lux from where it stands,
    pointing as the layout says; ``aim_is_given`` tells that from one that is taken to face it.
    ``from_grey_stops`` is where it lands at the exposure that is shot, from middle grey.
    """

    light: str
    position: str
    luminance_cd_m2: float
    from_grey_stops: float
    aim_is_given: bool


@dataclass(frozen=True)
class Frame:
    """One exposure of a bracket.

    ``from_planned_stops`` + is brighter. ``nd_stops`` is all that stands before the sensor;
    ``glass`` and ``camera_nd_stops`` put it together from the kit, None where none is stated;
    ``miss_stops`` is what the kit's nearest misses it by, + is too dark.
    """

    from_planned_stops: float
    exposure_time_s: float
    ei: float
    nd_stops: float
    glass: tuple[str, ...] | None
    camera_nd_stops: float | None
    miss_stops: float


@dataclass(frozen=True)
class Bracket:
    """What a bracket of the lighting has to span, in stops from the exposure that is shot.

    ``darker_stops`` brings the brightest surface, ``peak``, down to middle grey: white at the
    position ``brightest``, or a source with a known `Glow`, the sun's disc among them;
    ``brighter_stops`` brings black at ``darkest`` up to it. ``spread_stops`` lies between the two
    positions. ``is_whole`` tells that every light that burns has a known glow, so that nothing is
    left over the darkest of ``frames``, which run from dark to bright. ``free_sun_stops`` is where
    the disc of a clear sun would land that is up and no light of the setup, None where there is
    none. ``charts`` has for each lit position the stops from the planned exposure that bring a grey
    there to middle grey.
    """

    brightest: str
    darkest: str
    peak: str
    spread_stops: float
    darker_stops: float
    brighter_stops: float
    glows: tuple[Glow, ...]
    is_whole: bool
    frames: tuple[Frame, ...]
    free_sun_stops: float | None
    charts: tuple[tuple[str, float], ...]


StageKind = Literal["panel", "point", "sun", "dome"]


@dataclass(frozen=True)
class StagePlace:
    """A position: its name and where it is in the world, (3,) [m]."""

    name: str
    at_m: Triple


@dataclass(frozen=True)
class StageLight:
    """One light.

    ``row`` is its number among the setup's, from 0. ``at_m`` is where it is in the world, None of
    sun and dome; ``azimuth_deg`` and ``elevation_deg`` are the way it points, from -z over +x and
    up, None where nothing points it. ``strength`` is in cd/m2 (panel), cd (point), lux (sun) or a
    factor (dome). For each position of the setup: ``read_lux`` is what was read, ``stage_lux`` what
    this strength gives there, None where it has no place, and ``strengths`` what it would take to
    give its reading, None where nothing would. ``eye_colour`` and ``camera_colour`` are ACEScg of
    luminance 1, adapted to the dialled setting.
    """

    row: int
    name: str
    kind: StageKind
    at_m: Triple | None
    azimuth_deg: float | None
    elevation_deg: float | None
    size_m: tuple[float, float] | None
    reference: str
    strength: float
    read_lux: tuple[float, ...]
    stage_lux: tuple[float | None, ...]
    strengths: tuple[float | None, ...]
    eye_colour: Triple
    camera_colour: Triple

    @property
    def worst_stops(self) -> float:
        """How far what it gives lies from what was read, where it is farthest [stops]."""
        pairs = zip(self.stage_lux, self.read_lux, strict=True)
        known = [(one, two) for one, two in pairs if one is not None and two > 0]
        return max(abs(math.log2(one / two)) if one > 0 else math.inf for one, two in known)


@dataclass(frozen=True)
class Stage:
    """The 3D scene. ``has_north`` tells whether -z is true north; ``left_out`` names what is not
    in it, with the reason.
    """

    has_north: bool
    camera_m: float | None
    places: tuple[StagePlace, ...]
    lights: tuple[StageLight, ...]
    left_out: tuple[tuple[str, str], ...]

    def without_sky(self, reason: str) -> Stage:
        """Leave the dome out, for a reason."""
        domes = [(each.name, reason) for each in self.lights if each.kind == "dome"]
        kept = tuple(each for each in self.lights if each.kind != "dome")
        return replace(self, lights=kept, left_out=(*self.left_out, *domes))


@dataclass(frozen=True)
class PlateView:
    """What goes with a plate of one setup.

    ``key_lux`` is the light at the key position and ``key_from_grey_stops`` where a grey there
    lands at the exposure that is shot, from middle grey (NaN in the dark). ``lut_cost_stops`` is
    what the LUT darkens ``corrected`` by, None without one. ``white_kelvin`` and ``white_xy`` are
    of the white that the observer's figures are adapted from. ``bracket`` is None without light.
    ``pictured`` has for each spot of the layout where it lies in the picture, None where nothing
    tells the angle of view; ``notes`` what has to be said. ``sky_left_out`` names what is not in
    the pictures of the sky, with the reason.
    """

    positions: tuple[PlacePlate, ...]
    lights: tuple[LightPlate, ...]
    key_lux: Interval
    key_from_grey_stops: float
    lut_cost_stops: float | None
    white_kelvin: float
    white_xy: tuple[float, float]
    levels: Levels
    stage: Stage
    bracket: Bracket | None
    pictured: tuple[InPicture | None, ...]
    notes: tuple[Note, ...]
    sky_left_out: tuple[tuple[str, str], ...] = ()
