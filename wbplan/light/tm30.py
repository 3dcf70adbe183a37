"""ANSI/IES TM-30: fidelity Rf, gamut Rg, and what happens to the colours of each hue.

Idea
----
The 99 surfaces of CIE 224:2017 are looked at under the light and under the reference of the same
CCT (black body, blend, daylight: `illuminants.radiate_locus`) in a colour appearance space in which
equal distances are about equally visible (CAM02-UCS). Their mean shift is fidelity. Sorted by hue
into sixteen bins, the mean colour of each bin makes a polygon; its area against the reference's
is gamut, and how far each corner moves outward or round is the local chroma and hue shift.
Every light is done at once: light times surface times observer is one matrix (401, 297), made once.
"""

from __future__ import annotations

from functools import cache
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from wbplan.core.tables import Array, load_rendering_table, load_table
from wbplan.light.illuminants import LOCUS_RANGE_KELVIN, radiate_locus

HUE_BINS = 16
SKIN_SAMPLES = (15, 18)  # of the 99, counted from 1: human skin; TM-30-20 makes Rf,skin of them
_FIDELITY_SLOPE = 6.73  # ANSI/IES TM-30-18, 4.4
_ANY_KELVIN = 5000.0
_BACKGROUND, _ADAPTING_LUMINANCE = 20.0, 100.0  # CIE 224:2017, 4.5
_CAT02 = np.array([[0.7328, 0.4296, -0.1624], [-0.7036, 1.6975, 0.0061], [0.0030, 0.0136, 0.9834]])
_CONES = np.array(
    [[0.38971, 0.68898, -0.07868], [-0.22981, 1.18340, 0.04641], [0.0, 0.0, 1.0]]
) @ np.linalg.inv(_CAT02)


class Fidelity(NamedTuple):
    """TM-30 figures of lights.

    ``rf``, ``rg`` (...,); ``sample_rf`` (..., 99); by hue bin (..., 16): ``bin_rf``,
    ``bin_chroma_shift`` [ratio, + more chroma] and ``bin_hue_shift`` [rad]; ``test_ab`` and
    ``reference_ab`` (..., 16, 2) are the bins' mean a', b'.
    """

    rf: Array
    rg: Array
    sample_rf: Array
    bin_rf: Array
    bin_chroma_shift: Array
    bin_hue_shift: Array
    test_ab: Array
    reference_ab: Array


@cache
def _load_weights() -> Array:
    samples, observer = load_table("samples"), load_rendering_table("observer_1964")
    return (samples.T[:, :, None] * observer[:, None, :]).reshape(samples.shape[1], -1)


def find_fidelity(power: ArrayLike, cct_kelvin: ArrayLike) -> Fidelity:
    """Find the TM-30 figures of lights.

    Parameters
    ----------
    power
        (..., 401) relative spectral power.
    cct_kelvin
        (...,) their CCT [K]; NaN, or a CCT outside 1000-25 000 K, gives NaN throughout.
        A hue bin that holds no sample under its reference is NaN, and so is Rg then.

    Returns
    -------
    Fidelity
        ANSI/IES TM-30-20, 4 (the same figures as in TM-30-18; Rf as in CIE 224:2017).
    """
    light = np.asarray(power, dtype=np.float64)
    kelvin = np.asarray(cct_kelvin, dtype=np.float64)
    low, high = LOCUS_RANGE_KELVIN
    known = (kelvin >= low) & (kelvin <= high)
    reference = radiate_locus(np.where(known, kelvin, _ANY_KELVIN))
    shape = light.shape[:-1]
    test, ideal = _appear(light), _appear(reference)
    shift = np.linalg.norm(test - ideal, axis=-1)

    hue = np.arctan2(ideal[..., 2], ideal[..., 1]) % (2 * np.pi)
    number = np.minimum((hue / (2 * np.pi) * HUE_BINS).astype(np.intp), HUE_BINS - 1)
    member = (number[..., None] == np.arange(HUE_BINS)).astype(np.float64)
    count = member.sum(-2)
    share = member / np.where(count > 0, count, np.nan)[..., None, :]
    test_ab = np.einsum("...sb,...sc->...bc", share, test[..., 1:])
    ideal_ab = np.einsum("...sb,...sc->...bc", share, ideal[..., 1:])
    bin_shift = np.einsum("...sb,...s->...b", share, shift)

    middle = (np.arange(HUE_BINS) + 0.5) * (2 * np.pi / HUE_BINS)
    moved = (test_ab - ideal_ab) / np.linalg.norm(ideal_ab, axis=-1)[..., None]
    cos, sin = np.cos(middle), np.sin(middle)
    result = Fidelity(
        _score(shift.mean(-1)),
        100.0 * _find_area(test_ab) / _find_area(ideal_ab),
        _score(shift),
        _score(bin_shift),
        moved[..., 0] * cos + moved[..., 1] * sin,
        moved[..., 1] * cos - moved[..., 0] * sin,
        test_ab,
        ideal_ab,
    )
    if known.all():
        return result

    def blank(values: Array) -> Array:
        mask = known.reshape(shape + (1,) * (values.ndim - len(shape)))
        return np.where(mask, values, np.nan)

    return Fidelity(*(blank(each) for each in result))


def _score(shift: Array) -> Array:
    """Turn a colour shift into a score that ends softly at 0 (TM-30-18, 4.4)."""
    with np.errstate(invalid="ignore"):  # a hue bin without a sample, under a very warm reference
        return np.asarray(10.0 * np.logaddexp(0.0, (100.0 - _FIDELITY_SLOPE * shift) / 10.0))


def _find_area(ab: Array) -> Array:
    """Twice the area inside the polygon of the bins' means."""
    after = np.roll(ab, -1, axis=-2)
    return np.asarray((ab[..., 0] * after[..., 1] - ab[..., 1] * after[..., 0]).sum(-1))


def _appear(power: Array) -> Array:
    """Compute J', a', b' (..., 99, 3) of the samples: CIECAM02, average surround, full adaptation.

    CIE 159:2004 for CIECAM02; Luo, Cui and Li (2006) for the uniform space.
    """
    white = power @ load_rendering_table("observer_1964")
    scale = 100.0 / white[..., 1:2]
    white = white * scale
    xyz = (power @ _load_weights()).reshape((*power.shape[:-1], 99, 3)) * scale[..., None]
    k = 1.0 / (5.0 * _ADAPTING_LUMINANCE + 1.0)
    level = 0.2 * k**4 * 5.0 * _ADAPTING_LUMINANCE
    level += 0.1 * (1.0 - k**4) ** 2 * np.cbrt(5.0 * _ADAPTING_LUMINANCE)
    n = _BACKGROUND / 100.0
    n_bb = 0.725 * n**-0.2
    z = 1.48 + np.sqrt(n)

    white_rgb = white @ _CAT02.T
    gain = 100.0 / white_rgb  # degree of adaptation 1

    def compress(rgb: Array) -> Array:
        cones = rgb @ _CONES.T
        power_ = (level * np.abs(cones) / 100.0) ** 0.42
        return np.asarray(np.sign(cones) * 400.0 * power_ / (27.13 + power_) + 0.1)

    def add_up(signal: Array) -> Array:
        return np.asarray((signal @ np.array([2.0, 1.0, 0.05]) - 0.305) * n_bb)

    signal = compress((xyz @ _CAT02.T) * gain[..., None, :])
    achromatic_white = add_up(compress(white_rgb * gain))[..., None]
    a = signal @ np.array([1.0, -12.0 / 11.0, 1.0 / 11.0])
    b = signal @ np.array([1.0, 1.0, -2.0]) / 9.0
    hue = np.arctan2(b, a)
    eccentricity = (np.cos(hue + 2.0) + 3.8) / 4.0
    lightness = 100.0 * (np.maximum(add_up(signal), 0.0) / achromatic_white) ** (0.69 * z)
    t = (50000.0 / 13.0 * n_bb) * eccentricity * np.hypot(a, b)
    t = t / (signal @ np.array([1.0, 1.0, 1.05]))
    chroma = t**0.9 * np.sqrt(lightness / 100.0) * (1.64 - 0.29**n) ** 0.73
    colourfulness = chroma * level**0.25
    uniform = np.log1p(0.0228 * colourfulness) / 0.0228
    return np.stack(
        [
            1.7 * lightness / (1.0 + 0.007 * lightness),
            uniform * np.cos(hue),
            uniform * np.sin(hue),
        ],
        axis=-1,
    )
