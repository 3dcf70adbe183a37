"""The camera: spectral sensitivities, what its menus allow, and the family a profile stands for.

Idea
----
A camera's raw value in one channel is the sum over wavelength of the light times the channel's
sensitivity. White balance multiplies channels, so the three overall scales of a profile
drop out of every setting and cast; only the shapes count. A profile does not claim to be one very
camera: it stands for a family, drawn here as an ensemble of plausible neighbours, and every
result that is computed for the ensemble as well carries the interval its members span.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from wbplan.camera.population import MODEL, POPULATION, draw_cameras
from wbplan.core.notes import Note
from wbplan.core.tables import Array
from wbplan.light.spectrum import WAVELENGTHS_NM, freeze

CHANNELS = ("red", "green", "blue")
STOPS_PER_CC = 0.01 * np.log2(10.0)  # 1 CC is 0.01 of density
LOG_FLOOR = 1e-12  # a channel that reads less than this share of the brightest one reads nothing

TintAxis = Literal["green", "duv"]
Family = Literal["exact", "model", "population", "own"]
"""What a profile stands for: this very camera, another body of its model, any camera with a
colour-filter array, or the cameras that it brings itself."""

_MEMBERS, _SEED = 256, 20130115


@dataclass(frozen=True)
class Menu:
    """What a camera lets a person set.

    Parameters
    ----------
    kelvin
        The Kelvin figures that can be set, ascending [K]; empty for presets only.
    tint_cc
        The tint figures that can be set, ascending [CC, + adds magenta]; ``(0.0,)`` for none.
    cc_per_step
        CC of one step of the camera's own tint figure, so that a plan can say "M +2".
    tint_axis
        ``green``: tint moves the green channel alone. ``duv``: it moves chromaticity across the
        reference locus, which moves red against blue a little as well.
    presets
        (name, Kelvin, tint in CC) of each named setting.
    """

    kelvin: tuple[float, ...]
    tint_cc: tuple[float, ...] = (0.0,)
    cc_per_step: float = 1.0
    tint_axis: TintAxis = "green"
    presets: tuple[tuple[str, float, float], ...] = ()

    def __post_init__(self) -> None:
        if not self.kelvin and not self.presets:
            raise ValueError("a menu needs Kelvin figures or presets")


@dataclass(frozen=True, eq=False)
class Camera:
    """One camera, or the middle of a family of cameras.

    Parameters
    ----------
    sensitivities
        (401, 3), non-negative, per unit of energy (not per quantum), one overall scale.
    menu
        What can be set.
    family
        Which cameras the profile stands for.
    base_ei
        The exposure index at which the sensor's native sensitivity is stated.
    curve, gamut
        Names of the default log encoding and its gamut, as colour-science has them.
    provenance
        Where the curves come from.
    members
        (k, 401, 3) plausible cameras, where the profile brings its own (a learned one does).
    headroom_stops
        From middle grey to clip at the base EI under daylight of 5500 K, of the channel that clips
        first; None where the profile does not state it (ISO 12232 puts 78/10, 2.96 stops).
    matrix_kelvin
        Of the colour matrix that the camera keeps whatever is set (one), or of the two it mixes by
        the set mired; empty where nothing is stated, and one is fitted at the set Kelvin.

    Examples
    --------
    A neighbour of a shipped camera, its red a little stronger: nothing changes, since white balance
    takes the scale of a channel out.

    >>> import dataclasses
    >>> import wbplan
    >>> camera = wbplan.find_camera("cfa-mid")
    >>> redder = dataclasses.replace(camera, sensitivities=camera.sensitivities * [1.2, 1, 1])
    >>> light = wbplan.find_light("LED-B3")
    >>> [wbplan.solve_settings(each, light).kelvin.round(-1) for each in (camera, redder)]
    [array([4000.]), array([4000.])]
    """

    name: str
    sensitivities: Array
    menu: Menu
    family: Family
    base_ei: float
    curve: str
    gamut: str
    title: str = ""
    provenance: str = ""
    notes: tuple[Note, ...] = ()
    members: Array | None = None
    headroom_stops: float | None = None
    matrix_kelvin: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        if len(self.matrix_kelvin) > 2 or len({*self.matrix_kelvin}) < len(self.matrix_kelvin):
            raise ValueError("a camera keeps one matrix, or mixes two of different Kelvin")
        values = freeze(self.sensitivities, (WAVELENGTHS_NM.size, 3))
        object.__setattr__(self, "sensitivities", values)
        if self.members is not None:
            object.__setattr__(self, "members", freeze(self.members, values.shape))
        if (values < 0).any() or (values.max(axis=0) <= 0).any():
            raise ValueError("sensitivities are 0 or more, and each channel sees something")
        if (self.family == "own") != (self.members is not None):
            raise ValueError("a profile brings its own cameras where its family says so")


def respond(light: ArrayLike, sensitivities: ArrayLike) -> Array:
    """Compute the raw response of cameras to lights.

    Parameters
    ----------
    light
        (..., 401) spectral power, times reflectance or transmittance if any.
    sensitivities
        (k, 401, 3) for k cameras, or (401, 3) for one. Those whose wavelengths come first in memory
        need not be moved.

    Returns
    -------
    ndarray
        (..., k, 3), or (..., 3) for one camera: the sum over 1 nm of light times sensitivity.
    """
    power = np.asarray(light, dtype=np.float64)
    curves = np.asarray(sensitivities, dtype=np.float64)
    if curves.ndim == 2:
        return np.asarray(power @ curves)
    cameras = curves.shape[0]
    flat = np.moveaxis(curves, 0, 1).reshape(WAVELENGTHS_NM.size, cameras * 3)
    return np.asarray(power @ flat).reshape((*power.shape[:-1], cameras, 3))


def find_log2_response(raw: ArrayLike) -> Array:
    """Take log2 of raw values [stops], (..., 3), a blind channel floored, not minus infinity.

    A channel that reads less than 1e-12 of the brightest one is taken as that (40 stops down), so
    that every later step stays finite; such a light is called not neutralisable anyway.
    """
    values = np.asarray(raw, dtype=np.float64)
    floor = np.maximum(values.max(-1, keepdims=True) * LOG_FLOOR, np.finfo(np.float64).tiny)
    return np.asarray(np.log2(np.maximum(values, floor)))


def draw_ensemble(profile: Camera) -> Array:
    """Draw the plausible cameras that a profile stands for.

    Returns
    -------
    ndarray
        (k, 401, 3) sensitivities; the same for the same profile, always. (0, 401, 3) for a
        profile that is taken as exact; the profile's own members, where it brings them.
    """
    if profile.members is not None:
        return profile.members
    if profile.family == "exact":
        return np.empty((0, *profile.sensitivities.shape))
    spread = POPULATION if profile.family == "population" else MODEL
    return draw_cameras(profile.sensitivities, spread, _MEMBERS, _SEED)
