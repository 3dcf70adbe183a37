"""Filters: what stands in front of a light, and the light it costs.

Idea
----
A filter is a transmittance on the shared grid, and a pack is their product. An ideal mired filter
follows from Wien's approximation of the black body: exp(-(c2 / lambda) s 1e-6) turns a black body
of m mired into one of m + s mired whatever m is, so one curve stands for the correction on
any warm light. It passes all it can (1 at its clearest wavelength); a real filter of the same
nominal value has its own base density and shape, so ideal filters are marked as models.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wbplan.core.notes import Note
from wbplan.core.rounding import settle
from wbplan.core.tables import Array, load_table
from wbplan.light.illuminants import SECOND_RADIATION_CONSTANT_NM_K
from wbplan.light.spectrum import WAVELENGTHS_NM, Spectrum, freeze

_GREEN_BAND_NM = (490.0, 585.0)  # between a camera's blue and red, where plus green lets through
_BAND_EDGE_NM = 8.0


@dataclass(frozen=True, eq=False)
class Filter:
    """A transmittance (401,) from 0 to 1, with a name, and whether it is a model.

    ``spread_deg`` is how wide it spreads a narrow beam, across to half the light [degrees]; 0 for
    what is clear.
    """

    name: str
    transmittance: Array
    is_model: bool = False
    notes: tuple[Note, ...] = ()
    spread_deg: float = 0.0

    def __post_init__(self) -> None:
        values = freeze(self.transmittance, (WAVELENGTHS_NM.size,))
        object.__setattr__(self, "transmittance", values)
        if (values < 0).any() or (values > 1).any():
            raise ValueError(f"filter {self.name!r}: transmittance lies from 0 to 1")


CLEAR = Filter("none", np.ones(WAVELENGTHS_NM.size))


def name_cast(mired: float, green_cc: float) -> str:
    """Say a shift in words: '40 mired warm, 5 CC green'; 'none' for no shift at all.

    Mired whole from 10 up and to a tenth under it, CC to a tenth.
    """
    parts = []
    size = round_mired(abs(mired))
    if size > 0:
        parts.append(f"{size:.12g} mired {'warm' if mired > 0 else 'cool'}")
    tenth = round(settle(abs(green_cc)), 1)
    if tenth > 0:
        parts.append(f"{tenth:.12g} CC {'green' if green_cc > 0 else 'magenta'}")
    return ", ".join(parts) or "none"


def round_mired(mired: float) -> float:
    """Round to whole mired from 10 up, to a tenth under it."""
    mired = settle(mired)
    tenth = round(mired, 1)
    return float(round(mired)) if abs(tenth) >= 10 else tenth


def shift_mired(mired: ArrayLike, wavelength_nm: Array) -> Array:
    """Shape mired shifts (...,) over wavelengths (w,), 1 where each passes most (Wien)."""
    shift = np.asarray(mired, dtype=np.float64)[..., None]
    slope = SECOND_RADIATION_CONSTANT_NM_K * 1e-6 * shift / wavelength_nm
    return np.asarray(np.exp(-(slope - slope.min(-1, keepdims=True))))


def hold_green(green_cc: ArrayLike) -> Array:
    """Shape what green (+) or magenta (-) of so many CC (...,) passes, (..., 401)."""
    cc = np.asarray(green_cc, dtype=np.float64)[..., None]
    low, high = _GREEN_BAND_NM
    band = 0.5 * (
        np.tanh((WAVELENGTHS_NM - low) / _BAND_EDGE_NM)
        - np.tanh((WAVELENGTHS_NM - high) / _BAND_EDGE_NM)
    )
    band = np.clip(band, 0.0, 1.0)
    held_back = np.where(cc > 0, 1.0 - band, band)
    return np.asarray(10.0 ** (-0.01 * np.abs(cc) * held_back))


def make_ideal_filter(mired: float = 0.0, green_cc: float = 0.0) -> Filter:
    """Make the ideal filter of a nominal mired shift and CC.

    Parameters
    ----------
    mired
        Shift [mired], + warms.
    green_cc
        [CC], + is plus green (holds back both sides of the green band), - is minus green, that
        is magenta (holds back the band). 1 CC is 0.01 of density at the peak.

    Returns
    -------
    Filter
        Marked as a model. The green band runs from 490 to 585 nm with soft edges of 8 nm, about
        where a camera's green lies between its blue and red.
    """
    transmittance = shape_ideal_filter(mired, green_cc)
    return Filter(f"ideal {name_cast(mired, green_cc)}", transmittance, is_model=True)


def shape_ideal_filter(mired: ArrayLike, green_cc: ArrayLike) -> Array:
    """Compute the transmittances (..., 401) of ideal filters (...,); see `make_ideal_filter`."""
    return shift_mired(mired, WAVELENGTHS_NM) * hold_green(green_cc)


def make_neutral_density(stops: float) -> Filter:
    """Make a spectrally flat filter that costs ``stops`` (0.30103 of density each)."""
    flat = np.full(WAVELENGTHS_NM.size, 2.0**-stops)
    return Filter(f"ND {stops:g} stops", flat, is_model=True)


def make_diffusion(stops: float, spread_deg: float = 0.0) -> Filter:
    """Make a diffusion that takes all colours alike and costs ``stops`` where the lamp is aimed."""
    flat = np.full(WAVELENGTHS_NM.size, 2.0**-stops)
    return Filter(f"diffusion {stops:g} stops", flat, is_model=True, spread_deg=spread_deg)


def make_measured_filter(measured: Spectrum) -> Filter:
    """Make a filter from a measured transmittance, a ratio from 0 to 1.

    Raises
    ------
    ValueError
        If it passes more than all.
    """
    return Filter(measured.name, measured.values, measured.is_model, measured.notes)


def stack_filters(filters: tuple[Filter, ...]) -> Filter:
    """Put filters one behind the other: transmittances multiply, spreads add as squares do, and
    reflections between them don't count.
    """
    if not filters:
        return CLEAR
    product = np.prod([each.transmittance for each in filters], axis=0)
    return Filter(
        " + ".join(each.name for each in filters),
        product,
        any(each.is_model for each in filters),
        tuple(note for each in filters for note in each.notes),
        float(np.hypot.reduce([each.spread_deg for each in filters])),
    )


def find_loss_stops(transmittance: ArrayLike, light: ArrayLike) -> Array:
    """Find what a filter costs under a light.

    Parameters
    ----------
    transmittance, light
        (..., 401) each; the light in any unit per nm.

    Returns
    -------
    ndarray
        (...,) [stops] of illuminance, log2 of the luminous power before over after; infinite for
        a filter that passes nothing.
    """
    power = np.asarray(light, dtype=np.float64)
    sight = load_table("photopic")
    after = (power * np.asarray(transmittance)) @ sight
    with np.errstate(divide="ignore"):
        return np.asarray(np.log2((power @ sight) / after))
