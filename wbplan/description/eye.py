"""What the standard observer makes of lights: every figure of the eye, for all lights in one go."""

from __future__ import annotations

from typing import NamedTuple

from wbplan.core.tables import Array
from wbplan.light.colorimetry import find_cct_duv, find_uv_prime, find_xy
from wbplan.light.cri import CieRendering, find_cie_rendering
from wbplan.light.design_intent import DesignIntent, find_design_intent
from wbplan.light.purity import Dominance, find_dominance
from wbplan.light.ssi import find_similarity, radiate_ssi_reference
from wbplan.light.tlci import find_tlci
from wbplan.light.tm30 import SKIN_SAMPLES, Fidelity, find_fidelity


class EyeFigures(NamedTuple):
    """What the standard observer makes of n lights; NaN where a figure has no meaning.

    ``xy``, ``uv_prime`` (n, 2); the others (n,). ``skin_rf`` is the mean of TM-30's two skin
    samples; ``ssi`` is against CIE daylight of the same CCT from 4000 K up and the black body of
    that CCT under it.
    """

    xy: Array
    uv_prime: Array
    cct_kelvin: Array
    duv: Array
    dominance: Dominance
    cie: CieRendering
    fidelity: Fidelity
    intent: DesignIntent
    skin_rf: Array
    tlci: Array
    ssi: Array


def see_fully(power: Array) -> EyeFigures:
    """Compute the eye's figures of lights (n, 401), relative power, all in one go."""
    xy = find_xy(power)
    cct_duv = find_cct_duv(power)
    kelvin = cct_duv[:, 0]
    fidelity = find_fidelity(power, kelvin)
    skin = fidelity.sample_rf[:, [number - 1 for number in SKIN_SAMPLES]].mean(-1)
    return EyeFigures(
        xy,
        find_uv_prime(xy),
        kelvin,
        cct_duv[:, 1],
        find_dominance(xy),
        find_cie_rendering(power, kelvin),
        fidelity,
        find_design_intent(
            fidelity.rf,
            fidelity.rg,
            fidelity.bin_rf[:, 0],
            fidelity.bin_chroma_shift[:, 0],
        ),
        skin,
        find_tlci(power, kelvin),
        find_similarity(power, radiate_ssi_reference(kelvin)),
    )


class LightFigures(NamedTuple):
    """One light's eye figures as plain numbers, NaN where they have no meaning.

    ``intent`` is the level of preference, vividness and fidelity, 0 for none.
    """

    x: float
    y: float
    u_prime: float
    v_prime: float
    cct_kelvin: float
    duv: float
    dominant_nm: float
    is_complementary: bool
    purity: float
    ra: float
    special: tuple[float, ...]
    rf: float
    rg: float
    skin_rf: float
    tlci: float
    intent: tuple[int, int, int]
    bin_rf: tuple[float, ...]
    bin_chroma: tuple[float, ...]
    bin_hue: tuple[float, ...]
    ssi: float


def pick_figures(eye: EyeFigures, row: int) -> LightFigures:
    """Pick one light's figures out of the arrays of several."""
    fidelity = eye.fidelity
    return LightFigures(
        x=float(eye.xy[row, 0]),
        y=float(eye.xy[row, 1]),
        u_prime=float(eye.uv_prime[row, 0]),
        v_prime=float(eye.uv_prime[row, 1]),
        cct_kelvin=float(eye.cct_kelvin[row]),
        duv=float(eye.duv[row]),
        dominant_nm=float(eye.dominance.wavelength_nm[row]),
        is_complementary=bool(eye.dominance.is_complementary[row]),
        purity=float(eye.dominance.purity[row]),
        ra=float(eye.cie.ra[row]),
        special=tuple(eye.cie.special[row].tolist()),
        rf=float(fidelity.rf[row]),
        rg=float(fidelity.rg[row]),
        skin_rf=float(eye.skin_rf[row]),
        tlci=float(eye.tlci[row]),
        intent=(
            int(eye.intent.preference[row]),
            int(eye.intent.vividness[row]),
            int(eye.intent.fidelity[row]),
        ),
        bin_rf=tuple(fidelity.bin_rf[row].tolist()),
        bin_chroma=tuple(fidelity.bin_chroma_shift[row].tolist()),
        bin_hue=tuple(fidelity.bin_hue_shift[row].tolist()),
        ssi=float(eye.ssi[row]),
    )
