"""Models of lights that nobody measured, from what a datasheet gives.

Idea
----
A measured spectrum is always better. Where there is none yet, a light of its kind with the stated
colour is a fair first guess, and everything made here says that it is a model. Shapes: a single LED
as Ohno (2005) draws it; a phosphor as one broad hump; discharge lines as narrow bells whose energy
lies in 1 nm bins; a continuum as a black body. What a datasheet states (CCT, Duv, x and y) is met
exactly, by solving for what it does not state.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import erf, sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from wbplan.core.tables import Array
from wbplan.light.colorimetry import (
    find_cct_duv,
    find_tristimulus,
    find_uv_1960,
    find_white_xyz,
    find_xy,
)
from wbplan.light.illuminants import find_mired, radiate_black_body
from wbplan.light.spectrum import STEP_NM, WAVELENGTHS_NM

PUMP_NM, PUMP_WIDTH_NM = 450.0, 20.0
PHOSPHOR_WIDTH_NM = 150.0
# How much of the hump's width lies on its short side: fitted, like the widths, to CIE LED-B1 to B5.
_SHORT_SHARE = 0.44
_PHOSPHOR_NM = (500.0, 680.0)
_LED_WIDTH = 0.921823  # full width at half height of Ohno's shape over its width parameter
_BELL_WIDTH = 2.0 * sqrt(2.0 * np.log(2.0))
_EVEN = 1e-3  # weight of evenness between channels against the wanted chromaticity
_XY_TOLERANCE = 1e-6
# Xe I, the stronger lines in the visible, with relative strengths (NIST Atomic Spectra Database,
# from memory).
_XENON_LINES = (
    (450.1, 500.0), (462.4, 1000.0), (467.1, 2000.0), (469.7, 300.0), (473.4, 600.0),
    (480.7, 500.0), (483.0, 400.0), (491.7, 500.0), (492.3, 500.0), (764.2, 500.0),
)  # fmt: skip
_XENON_LINE_WIDTH_NM = 4.0  # broadened by the pressure of a flash tube


class Line(NamedTuple):
    """A spectral line: where, its power in any unit, and its full width at half height."""

    wavelength_nm: float
    power: float
    width_nm: float = 2.0


def find_xy_of(cct_kelvin: float, duv: float = 0.0) -> Array:
    """Find the chromaticity x, y (2,) of a CCT [K] and a Duv (+ green); CIE 15:2018, 9.5."""

    def locate(mired: ArrayLike) -> Array:
        return find_uv_1960(find_tristimulus(radiate_black_body(find_mired(mired))))

    mired = float(find_mired(cct_kelvin))
    before, here, after = locate([mired - 0.01, mired, mired + 0.01])
    along = (after - before) / np.linalg.norm(after - before)
    u, v = here + duv * np.array([-along[1], along[0]]) * (1.0 if along[0] > 0 else -1.0)
    scale = 2.0 * u - 8.0 * v + 4.0
    return np.array([3.0 * u / scale, 2.0 * v / scale])


def shape_led(peak_nm: ArrayLike, width_nm: ArrayLike) -> Array:
    """Shape single LEDs, (...,) peaks and full widths at half height [nm], to (..., 401).

    (g + 2 g^5) / 3 with g a Gaussian bell, 1 at the peak (Ohno 2005, spectral design
    considerations for white LED colour rendering, Optical Engineering 44, eq. 1).
    """
    peak, width = (np.asarray(each, dtype=np.float64)[..., None] for each in (peak_nm, width_nm))
    bell = np.exp(-(((WAVELENGTHS_NM - peak) / (width / _LED_WIDTH)) ** 2))
    return np.asarray((bell + 2.0 * bell**5) / 3.0)


def shape_phosphor(peak_nm: ArrayLike, width_nm: float = PHOSPHOR_WIDTH_NM) -> Array:
    """Shape the emission of a phosphor, (...,) [nm] to (..., 401): a bell, longer to the red."""
    offset = WAVELENGTHS_NM - np.asarray(peak_nm, dtype=np.float64)[..., None]
    half = np.where(offset < 0, _SHORT_SHARE, 1.0 - _SHORT_SHARE) * width_nm
    return np.asarray(np.exp2(-((offset / half) ** 2)))


def make_phosphor_led(
    cct_kelvin: float,
    duv: float = 0.0,
    pump_nm: float = PUMP_NM,
    pump_width_nm: float = PUMP_WIDTH_NM,
    phosphor_width_nm: float = PHOSPHOR_WIDTH_NM,
) -> Array:
    """Model a blue LED under a phosphor, solved to a CCT and Duv.

    Parameters
    ----------
    cct_kelvin, duv
        What the light is stated to be [K], and its distance from the black-body locus (+ green).
    pump_nm, pump_width_nm
        Peak and full width at half height of the blue.
    phosphor_width_nm
        Full width at half height of the phosphor's hump; where it peaks, and how much of it there
        is, are solved. With the usual widths the model's spectral similarity index to the
        measured CIE LED-B1 to B5 is 91 to 94.

    Returns
    -------
    ndarray
        (401,), maximum 1.

    Raises
    ------
    ValueError
        If no phosphor of that width gives the chromaticity with that pump.
    """
    wanted = find_xy_of(cct_kelvin, duv)
    pump = shape_led(pump_nm, pump_width_nm)
    pump_xy = find_xy(pump)
    aim = wanted - pump_xy

    def turn(peak_nm: Array) -> Array:
        """Which side of the line from the pump through the wanted colour a phosphor lies on."""
        reach = find_xy(shape_phosphor(peak_nm, phosphor_width_nm)) - pump_xy
        return np.asarray(reach[..., 0] * aim[1] - reach[..., 1] * aim[0])

    grid = np.arange(*_PHOSPHOR_NM, 2.0)
    side = np.sign(turn(grid))
    change = np.flatnonzero(side[:-1] * side[1:] <= 0)
    if not change.size:
        raise ValueError("no phosphor gives this colour with this pump")
    low, high = grid[change[-1]], grid[change[-1] + 1]
    for _ in range(50):
        middle = (low + high) / 2.0
        if np.sign(turn(middle)) == side[change[-1]]:
            low = middle
        else:
            high = middle
    phosphor = shape_phosphor(low, phosphor_width_nm)
    blue, glow = find_tristimulus(pump), find_tristimulus(phosphor)
    share = -(blue[0] - wanted[0] * blue.sum()) / (glow[0] - wanted[0] * glow.sum())
    power = pump + share * phosphor
    if share <= 0 or np.abs(find_xy(power) - wanted).max() > _XY_TOLERANCE:
        raise ValueError("no phosphor gives this colour with this pump")
    return np.asarray(power / power.max())


class Mix(NamedTuple):
    """A mixed light: its spectrum (401,), maximum 1, and each channel's share of the lux (n,)."""

    power: Array
    lux_share: Array


def mix_channels(channels: ArrayLike, xy: ArrayLike) -> Mix:
    """Mix the channels of a light to a chromaticity, none of them negative.

    Parameters
    ----------
    channels
        (n, 401) relative spectral power of each channel at full drive.
    xy
        (2,) wanted chromaticity.

    Returns
    -------
    Mix
        Non-negative least squares (Lawson and Hanson 1974). Where more than three channels leave
        a choice, the drives come out as even as the colour allows; a maker's own mixing may
        choose otherwise.

    Raises
    ------
    ValueError
        If the chromaticity lies outside what the channels reach.
    """
    from scipy.optimize import nnls

    spectra = np.asarray(channels, dtype=np.float64)
    levelled = spectra / find_tristimulus(spectra)[:, 1:2]  # equal luminous power
    columns = find_tristimulus(levelled).T
    target = find_white_xyz(xy)
    even = _EVEN * np.eye(spectra.shape[0])
    drive, _ = nnls(np.vstack([columns, even]), np.append(target, np.zeros(spectra.shape[0])))
    # Evenness moved the colour by a hair: the burning channels are set right among themselves.
    burning = drive > 0
    miss = target - columns @ drive
    drive[burning] += np.linalg.lstsq(columns[:, burning], miss, rcond=None)[0]
    if (drive < -1e-9).any() or not burning.any():
        raise ValueError("the channels do not reach this colour")
    drive = np.maximum(drive, 0.0)
    power = drive @ levelled
    if np.abs(find_xy(power) - np.asarray(xy)).max() > _XY_TOLERANCE:
        raise ValueError("the channels do not reach this colour")
    return Mix(power / power.max(), drive / drive.sum())


def shape_lines(lines: Sequence[Line]) -> Array:
    """Shape spectral lines, (401,), each a bell whose power is its energy in the 1 nm bins."""
    edges = np.append(WAVELENGTHS_NM - STEP_NM / 2, WAVELENGTHS_NM[-1] + STEP_NM / 2)
    total = np.zeros(WAVELENGTHS_NM.size)
    for line in lines:
        reach = (edges - line.wavelength_nm) / (line.width_nm / _BELL_WIDTH * sqrt(2.0))
        below = np.array([0.5 * (1.0 + erf(each)) for each in reach])
        total += line.power * np.diff(below) / STEP_NM
    return total


def make_discharge_lamp(
    lines: Sequence[Line], continuum_kelvin: float = 5000.0, continuum_power: float = 0.0
) -> Array:
    """Model a discharge lamp: lines over the continuum of a black body.

    Parameters
    ----------
    lines
        Power in one unit, of any size.
    continuum_kelvin, continuum_power
        Black body's temperature [K], and its power from 380 to 780 nm in the lines' unit.

    Returns
    -------
    ndarray
        (401,), maximum 1.
    """
    glow = radiate_black_body(continuum_kelvin)
    power = shape_lines(lines) + glow * (continuum_power / glow.sum())
    return np.asarray(power / power.max())


def make_xenon_flash(cct_kelvin: float, line_percent: float = 4.0) -> Array:
    """Model a xenon flash: a continuum with a few weak lines, solved to a CCT.

    Parameters
    ----------
    cct_kelvin
        Of the whole flash [K]; its Duv follows from the model.
    line_percent
        The lines' share of the power from 380 to 780 nm. Short, hard flashes have more continuum.

    Returns
    -------
    ndarray
        (401,), maximum 1.

    Raises
    ------
    ValueError
        If no continuum from 1000 K up gives the CCT.
    """
    lines = shape_lines([Line(nm, power, _XENON_LINE_WIDTH_NM) for nm, power in _XENON_LINES])
    lines *= line_percent / (100.0 - line_percent) / lines.sum()

    def compose(mired: Array) -> Array:
        glow = radiate_black_body(find_mired(mired))
        return np.asarray(glow / glow.sum(-1, keepdims=True) + lines)

    wanted = float(find_mired(cct_kelvin))
    low, high = np.array(10.0), np.array(1000.0)
    for _ in range(60):
        middle = (low + high) / 2.0
        found = 1e6 / find_cct_duv(compose(middle))[0]
        # Without a CCT the continuum is far too blue or far too red: judged by where it stands.
        warmer = found > wanted if np.isfinite(found) else middle > wanted
        low, high = (low, middle) if warmer else (middle, high)
    power = compose((low + high) / 2.0)
    if not abs(1e6 / find_cct_duv(power)[0] - wanted) < 0.01:
        raise ValueError("no continuum with these lines gives this CCT")
    return np.asarray(power / power.max())
