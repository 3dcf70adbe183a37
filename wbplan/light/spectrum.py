"""Spectra on one shared grid, and the photometric integrals over it.

Idea
----
Every spectrum in wbplan, of a light, a filter, a surface or a camera channel, stands on the same
wavelengths: 380 to 780 nm in steps of 1 nm. An integral over wavelength is then a sum, light adds
by adding arrays, and a camera's response is a matrix product.

Sampling
--------
1 nm, because discharge lamps and red phosphors have lines 2 nm wide: point-sampled at 5 nm such a
line moves the red channel by up to 0.2 stop, at 1 nm by less than 0.001. Coarser data are brought
up to the grid, the grid never goes down to the data. Between samples wbplan interpolates by the
modified Akima method: it reproduces the chromaticities that CIE 15 tabulates for its 5 nm
illuminants (to 0.0002 in x and y, where straight lines miss by up to 0.0003), and unlike a cubic
spline it does not ring around lines. What little it dips under zero (2e-6 of the energy at worst
over all CIE illuminants) is set to zero. Samples closer than 1 nm are averaged over each 1 nm bin,
so that a narrow line keeps its energy. Evenly spaced coarser samples keep theirs too: what lies
under the curve is what lies under straight lines between the samples, to 0.3 % for the measured
tubes of CIE 15 at 5 and at 10 nm. What a meter's coarse sampling has lost before, nothing brings
back.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from wbplan.core.display import Displayed
from wbplan.core.errors import Place, SpectrumError
from wbplan.core.notes import Note, warn
from wbplan.core.tables import Array, load_table

if TYPE_CHECKING:
    from wbplan.light.waveform import Waveform  # which freezes its fields by what is here

STEP_NM = 1.0
LUMINOUS_EFFICACY_LM_PER_W = 683.0  # at 540 THz; the candela's definition, CIE S 017 ILV
REQUIRED_NM = (420.0, 680.0)
WANTED_NM = (400.0, 700.0)
WAVELENGTHS_NM: Array = np.arange(380.0, 780.5, STEP_NM)
WAVELENGTHS_NM.flags.writeable = False


def freeze(values: ArrayLike, shape: tuple[int, ...] | None = None) -> Array:
    """Copy into a read-only float array, checking the trailing shape.

    Raises
    ------
    ValueError
        If the array does not end in ``shape`` or holds NaN or infinity.
    """
    array = np.array(values, dtype=np.float64)
    if shape is not None and array.shape[array.ndim - len(shape) :] != shape:
        raise ValueError(f"expected an array that ends in {shape}, found {array.shape}")
    if not np.isfinite(array).all():
        raise ValueError("expected finite numbers, found NaN or infinity")
    array.flags.writeable = False
    return array


def freeze_fields(value: object, *names: str) -> None:
    """Freeze the named arrays of a frozen dataclass, in its ``__post_init__``; see `freeze`."""
    for name in names:
        object.__setattr__(value, name, freeze(getattr(value, name)))


COARSE_NM = 4.0  # steps from here on leave figures open


@dataclass(frozen=True, eq=False)
class Sampling:
    """How coarse a reading is: its step [nm], and what the light may be instead.

    ``alternatives`` (2, 401), in the unit of the values: as if a bandwidth of one and of two steps
    had smeared it. ``first_nm`` is the first wavelength of the grid that was read [nm].
    """

    step_nm: float
    alternatives: Array
    first_nm: float = float(WAVELENGTHS_NM[0])

    def __post_init__(self) -> None:
        freeze_fields(self, "alternatives")


@dataclass(frozen=True, eq=False)
class Spectrum(Displayed):
    """A named spectral quantity on the shared grid.

    Parameters
    ----------
    values
        (401,), relative spectral power per nm for a light (the unit follows from what it is
        scaled to), a ratio for a reflectance. Non-negative.
    name
        What it is called in messages and in the report.
    origin
        Where the numbers come from: a dataset's citation, a file's name, a model's name.
    is_model
        True where no instrument measured it.
    notes
        What had to be assumed or repaired to get here.
    illuminance_lux
        What a light's file states, or its absolute values give [lux]; NaN where neither does.
    sampling
        What coarse steps of its file leave open; None for fine ones.

    Examples
    --------
    A reading on the shared grid; one on another is a file for `wbplan.read_spectra`, or goes
    through `resample`.

    >>> import numpy as np
    >>> import wbplan
    >>> flat = wbplan.Spectrum(np.ones(401), name="equal energy", is_model=True)
    >>> flat.values.shape, flat.values.flags.writeable
    ((401,), False)
    >>> found = wbplan.describe(flat)
    >>> found.eye.xy.round(4)
    array([[0.3333, 0.3333]])
    """

    values: Array
    name: str = ""
    origin: str = ""
    is_model: bool = False
    notes: tuple[Note, ...] = field(default=())
    illuminance_lux: float = math.nan
    sampling: Sampling | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "values", freeze(self.values, (WAVELENGTHS_NM.size,)))
        if (self.values < 0).any():
            raise ValueError(f"spectrum {self.name!r}: expected values of 0 or more")

    def _repr_svg_(self) -> str | None:
        import wbplan  # see `core.display`

        return wbplan._render_svg(self)


def rescale(spectrum: Spectrum, factor: float | Array) -> Spectrum:
    """Multiply a spectrum, and what coarse steps leave open of it, by a factor, () or (401,)."""
    values = spectrum.values * factor
    if spectrum.sampling is None:
        return replace(spectrum, values=values)
    others = replace(spectrum.sampling, alternatives=spectrum.sampling.alternatives * factor)
    return replace(spectrum, values=values, sampling=others)


def normalise_peak(spectrum: Spectrum) -> Spectrum:
    """Divide a spectrum, and what coarse steps leave open of it, by its highest value."""
    peak = spectrum.values.max()
    values, sampling = spectrum.values / peak, spectrum.sampling
    if sampling is not None:
        sampling = replace(sampling, alternatives=sampling.alternatives / peak)
    return replace(spectrum, values=values, sampling=sampling)


def add_samplings(
    power: ArrayLike, samplings: Sequence[Sampling | None], share: ArrayLike
) -> Sampling | None:
    """Find how coarse a sum of lights is, (n, 401) times (n,); None where no part is coarse."""
    coarse = [each for each in samplings if each is not None]
    if not coarse:
        return None
    others = [
        np.stack([own] * 2) if each is None else each.alternatives
        for own, each in zip(np.asarray(power), samplings, strict=True)
    ]
    total = np.einsum("n,nqw->qw", np.asarray(share), np.stack(others))
    return Sampling(max(each.step_nm for each in coarse), total)


def check_range(first_nm: float, last_nm: float, place: Place | None = None) -> None:
    """Refuse data that leave out a part of the visible range that no rule can fill.

    Raises
    ------
    SpectrumError
        If the data do not reach from 420 nm to 680 nm.
    """
    if first_nm > REQUIRED_NM[0] or last_nm < REQUIRED_NM[1]:
        raise SpectrumError(
            f"data from {first_nm:g} to {last_nm:g} nm",
            f"data that reach at least from {REQUIRED_NM[0]:g} to {REQUIRED_NM[1]:g} nm",
            place,
        )


def resample(wavelength_nm: ArrayLike, values: ArrayLike) -> tuple[Array, tuple[Note, ...]]:
    """Bring sampled spectral data to the shared grid.

    Parameters
    ----------
    wavelength_nm
        (n,), strictly increasing [nm].
    values
        (n,) or (n, k), at those wavelengths; non-negative.

    Returns
    -------
    tuple
        The (401,) or (401, k) values, and notes on what was extended. Outside the data the
        nearest value is held, never a slope: the end of the visible range weighs little, and a
        level is the assumption that moves a continuous light least. It is always reported, as a
        warning where a part of 400-700 nm had to be filled.

    Raises
    ------
    SpectrumError
        If the data leave out a part of 420-680 nm.
    ValueError
        If wavelengths do not strictly increase.
    """
    x = np.asarray(wavelength_nm, dtype=np.float64)
    y = np.asarray(values, dtype=np.float64)
    if (np.diff(x) <= 0).any():
        raise ValueError("expected strictly increasing wavelengths")
    check_range(float(x[0]), float(x[-1]))
    inside = np.clip(WAVELENGTHS_NM, x[0], x[-1])
    if np.diff(x).min() < 0.999 * STEP_NM:
        result = _average_bins(x, y)
    elif {*inside.tolist()} <= {*x.tolist()}:
        result = y[np.searchsorted(x, inside)]
    else:
        from scipy.interpolate import Akima1DInterpolator

        result = np.maximum(Akima1DInterpolator(x, y, axis=0, method="makima")(inside), 0.0)
    return result, note_extension(float(x[0]), float(x[-1]))


def _average_bins(x: Array, y: Array) -> Array:
    """Average piecewise linear data over 1 nm bins centred on the grid."""
    edges = np.concatenate([WAVELENGTHS_NM - STEP_NM / 2, [WAVELENGTHS_NM[-1] + STEP_NM / 2]])
    columns = y.reshape(y.shape[0], -1)
    ends = np.union1d(np.clip(edges, x[0], x[-1]), x)
    binned = np.empty((WAVELENGTHS_NM.size, columns.shape[1]))
    for number, column in enumerate(columns.T):
        dense = np.interp(ends, x, column)
        area = np.concatenate([[0.0], np.cumsum(np.diff(ends) * (dense[1:] + dense[:-1]) / 2)])
        low, high = np.clip(edges[:-1], x[0], x[-1]), np.clip(edges[1:], x[0], x[-1])
        width = high - low
        area_in_bin = np.interp(high, ends, area) - np.interp(low, ends, area)
        held = np.interp(WAVELENGTHS_NM, x, column)
        binned[:, number] = np.where(width > 0, area_in_bin / np.where(width > 0, width, 1), held)
    return binned.reshape((WAVELENGTHS_NM.size, *y.shape[1:]))


def note_extension(first_nm: float, last_nm: float) -> tuple[Note, ...]:
    """Say what part of the grid data from ``first_nm`` to ``last_nm`` leave to be filled."""
    parts = []
    if first_nm > WAVELENGTHS_NM[0]:
        parts.append(f"below {first_nm:g} nm")
    if last_nm < WAVELENGTHS_NM[-1]:
        parts.append(f"above {last_nm:g} nm")
    if not parts:
        return ()
    text = f"no data {' and '.join(parts)}: the nearest value is held there"
    if first_nm > WANTED_NM[0] or last_nm < WANTED_NM[1]:
        return (warn("range-filled", text + ", and a part of 400-700 nm is filled that way"),)
    return (Note("range-extended", text),)


_EXTENDED = re.compile(r"\b(below|above) ([0-9.]+(?:e[+-]?[0-9]+)?) nm")


def find_data_range_nm(notes: Iterable[Note]) -> tuple[float, float]:
    """Find what part of the grid stands on data, by the notes of `note_extension` [nm].

    Of several notes (a mix, a filter before a lamp) the narrowest range counts.
    """
    low, high = float(WAVELENGTHS_NM[0]), float(WAVELENGTHS_NM[-1])
    for each in notes:
        if each.code in ("range-extended", "range-filled"):
            for side, figure in _EXTENDED.findall(each.text):
                if side == "below":
                    low = max(low, float(figure))
                else:
                    high = min(high, float(figure))
    return low, high


def find_illuminance_lux(irradiance: ArrayLike) -> Array:
    """Integrate spectral irradiance to illuminance.

    Parameters
    ----------
    irradiance
        (..., 401) [W m-2 nm-1].

    Returns
    -------
    ndarray
        (...,) [lux]: 683 lm/W times the sum over V(lambda) at 1 nm (CIE S 025, CIE 15:2018, 7).
    """
    values = np.asarray(irradiance, dtype=np.float64)
    total = values @ load_table("photopic") * (LUMINOUS_EFFICACY_LM_PER_W * STEP_NM)
    return np.asarray(total)


def scale_to_lux(relative_power: ArrayLike, illuminance_lux: ArrayLike) -> Array:
    """Scale relative spectral power so that it gives a stated illuminance.

    Parameters
    ----------
    relative_power
        (..., 401), any unit per nm, with some light in the visible.
    illuminance_lux
        (...,) [lux], 0 or more.

    Returns
    -------
    ndarray
        (..., 401) spectral irradiance [W m-2 nm-1].

    Raises
    ------
    ValueError
        If a spectrum has no luminous power, so that no factor gives it lux.
    """
    values = np.asarray(relative_power, dtype=np.float64)
    return np.asarray(values * _find_lux_factor(values, illuminance_lux)[..., None])


def rescale_to_lux(spectrum: Spectrum, illuminance_lux: float) -> Spectrum:
    """Scale a spectrum, and what coarse steps leave open of it, to lux; see `scale_to_lux`."""
    return rescale(spectrum, float(_find_lux_factor(spectrum.values, illuminance_lux)))


def _find_lux_factor(values: Array, illuminance_lux: ArrayLike) -> Array:
    unscaled = find_illuminance_lux(values)
    if (unscaled <= 0).any():
        raise ValueError("a spectrum without luminous power cannot be scaled to lux")
    return np.asarray(np.asarray(illuminance_lux) / unscaled)


def find_effective_width_nm(power: ArrayLike) -> Array:
    """Find how many nanometres a light's power is spread over.

    (sum P)^2 / sum P^2, (...,) [nm]: 1 nm for one line, 401 nm for equal energy; a measure that
    tells a line spectrum, in which no colour can be seen, from white light.
    """
    values = np.asarray(power, dtype=np.float64)
    peak = values.max(-1, keepdims=True)
    values = values / np.where(peak > 0, peak, 1.0)  # the square of a faint light would be 0
    square = (values**2).sum(-1)
    return np.asarray(values.sum(-1) ** 2 / np.where(square > 0, square, 1.0) * STEP_NM)


class StatedFigure(NamedTuple):
    """A figure that a file states of its own light.

    ``name`` is illuminance [lux], CCT [K] or Ra; ``half_step`` is half of the last decimal given.
    """

    name: str
    value: float
    half_step: float


@dataclass(frozen=True, eq=False)
class Reading:
    """One light as a file, a dataset or a model gives it.

    ``illuminance_lux`` is NaN where the values are relative; ``understood`` says how a file was
    read, in a line; ``file`` is empty for a light that is not from one. ``stated`` are figures
    that the file gives beside the spectrum, ``waveform`` its light over time if the file has it.
    """

    name: str
    spectrum: Spectrum
    illuminance_lux: float = math.nan
    understood: str = ""
    file: str = ""
    stated: tuple[StatedFigure, ...] = ()
    waveform: Waveform | None = None
