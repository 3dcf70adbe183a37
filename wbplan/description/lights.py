"""The full description of lights: what the eye makes of them, and what one camera does.

Idea
----
A reading goes in, everything that is said of it comes out, unrounded, as values. The eye's figures
are computed for all lights in one go (`see_fully`). With a camera come those that no meter for the
eye gives: the setting it wants, how its channels are exposed, which colours suffer. With another
light comes the gap to it, and with a filter each light is described a second time, behind it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from wbplan.camera.sensitivities import Camera
from wbplan.camera.setting import CameraView
from wbplan.core.band import BAND_SHARE
from wbplan.core.display import Displayed
from wbplan.core.notes import Note, warn
from wbplan.core.tables import Array
from wbplan.description.camera import CameraFigures, find_camera_gaps, see_by_camera
from wbplan.light.colorimetry import DUV_LIMIT, find_cct_duv, find_uv_prime, find_xy
from wbplan.light.cri import MOST_CHROMATICITY_DIFFERENCE, CieRendering, find_cie_rendering
from wbplan.light.filters import Filter, find_loss_stops
from wbplan.light.illuminants import DAYLIGHT_RANGE_KELVIN, LOCUS_RANGE_KELVIN
from wbplan.light.purity import Dominance, find_dominance
from wbplan.light.spectrum import Reading, Spectrum
from wbplan.light.ssi import Gap, find_gap, find_similarity, radiate_ssi_reference
from wbplan.light.tm30 import SKIN_SAMPLES, Fidelity, find_fidelity
from wbplan.planning.decisions import Cast

LUX_PER_FOOTCANDLE = 10.763910416709722  # 1 / 0.3048^2, exact


class EyeFigures(NamedTuple):
    """What the standard observer makes of n lights; NaN where a figure has no meaning.

    ``xy``, ``uv_prime`` (n, 2); ``cct_kelvin``, ``duv``, ``skin_rf``, ``ssi`` (n,). ``skin_rf`` is
    the mean of TM-30's two skin samples; ``ssi`` is against CIE daylight of the same CCT from 4000
    K up and the black body of that CCT under it.
    """

    xy: Array
    uv_prime: Array
    cct_kelvin: Array
    duv: Array
    dominance: Dominance
    cie: CieRendering
    fidelity: Fidelity
    skin_rf: Array
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
        skin,
        find_similarity(power, radiate_ssi_reference(kelvin)),
    )


@dataclass(frozen=True)
class GapFigures:
    """The gap from one light to another; see `ssi.Gap` for the signs.

    ``camera`` is the same gap in the camera's terms, the light's coordinates less the other's;
    None without a camera, or where one of the two cannot be neutralised.
    """

    other: str
    mired: float
    duv: float
    closing_mired: float
    closing_cc: float
    xy: float
    uv_prime: float
    ssi: float
    camera: Cast | None = None


@dataclass(frozen=True, eq=False)
class LightDescription:
    """Everything said of one light. ``row`` is its place in the set's `EyeFigures`.

    ``behind`` names the filter before it, with ``loss_stops`` and the ``change`` from the bare
    light; ``gap`` is that to the light the set is compared with.
    """

    row: int
    name: str
    spectrum: Spectrum
    illuminance_lux: float
    understood: str
    file: str
    ssi_reference: str
    behind: str = ""
    loss_stops: float = 0.0
    change: GapFigures | None = None
    gap: GapFigures | None = None
    camera: CameraFigures | None = None
    notes: tuple[Note, ...] = field(default=())

    @property
    def is_model(self) -> bool:
        """Whether no instrument measured it, or the filter before it."""
        return self.spectrum.is_model

    @property
    def illuminance_footcandle(self) -> float:
        """The illuminance in footcandle, lm/ft2."""
        return self.illuminance_lux / LUX_PER_FOOTCANDLE


@dataclass(frozen=True, eq=False)
class LightSet(Displayed):
    """Lights described together.

    ``refused`` are files of a folder that could not be read, with the reason.
    """

    lights: tuple[LightDescription, ...]
    eye: EyeFigures
    camera: Camera | None
    against: Reading | None
    filter_name: str
    refused: tuple[tuple[str, str], ...] = ()
    band_share: float = BAND_SHARE

    @property
    def spectra(self) -> tuple[Spectrum, ...]:
        """Every spectrum that is spoken of, that of ``against`` last."""
        other = () if self.against is None else (self.against.spectrum,)
        return (*(each.spectrum for each in self.lights), *other)


def describe_lights(
    readings: tuple[Reading, ...],
    camera: CameraView | None = None,
    against: Reading | None = None,
    behind: Filter | None = None,
    refused: tuple[tuple[str, str], ...] = (),
) -> LightSet:
    """Describe lights fully.

    Parameters
    ----------
    readings
        One or more, each with some visible light.
    camera
        Whose view to add, from `view_camera`.
    against
        A light that each is compared with.
    behind
        A filter: each light is described bare and then behind it.

    Returns
    -------
    LightSet
        In the order of the readings, a light behind the filter right after the bare one.

    Raises
    ------
    ValueError
        If the filter lets no visible light of a reading through, or there is no reading.
    """
    if not readings:
        raise ValueError("no light to describe")
    bare = [_enter(each) for each in readings]
    entries = (
        bare if behind is None else [x for each in bare for x in (each, _filter(each, behind))]
    )
    power = np.stack([each.spectrum.values for each in entries])
    eye = see_fully(power)
    views = [None] * len(entries) if camera is None else see_by_camera(power, camera)
    changes: list[GapFigures | None] = [None] * len(entries)
    if behind is not None:
        for row, gap in enumerate(_list_gaps(power[1::2], power[::2], "the bare light")):
            changes[2 * row + 1] = gap
    gaps: list[GapFigures | None] = [None] * len(entries)
    if against is not None:
        gaps = list(_list_gaps(power, against.spectrum.values, against.name, camera))
    lights = tuple(
        LightDescription(
            row=row,
            name=entry.name,
            spectrum=entry.spectrum,
            illuminance_lux=entry.illuminance_lux,
            understood=entry.understood,
            file=entry.file,
            ssi_reference=_name_ssi_reference(float(eye.cct_kelvin[row])),
            behind=entry.behind,
            loss_stops=entry.loss_stops,
            change=changes[row],
            gap=gaps[row],
            camera=views[row],
            notes=(*entry.spectrum.notes, *_note_light(eye, row, entry, views[row])),
        )
        for row, entry in enumerate(entries)
    )
    name = "" if behind is None else behind.name
    if camera is None:
        return LightSet(lights, eye, None, against, name, refused)
    share = camera.band_share
    return LightSet(lights, eye, camera.profile, against, name, refused, share)


class _Entry(NamedTuple):
    name: str
    spectrum: Spectrum
    illuminance_lux: float
    understood: str
    file: str
    behind: str = ""
    loss_stops: float = 0.0


def _enter(each: Reading) -> _Entry:
    return _Entry(each.name, each.spectrum, each.illuminance_lux, each.understood, each.file)


def _filter(entry: _Entry, behind: Filter) -> _Entry:
    power = entry.spectrum.values * behind.transmittance
    loss = float(find_loss_stops(behind.transmittance, entry.spectrum.values))
    if not math.isfinite(loss):
        raise ValueError(f"{behind.name} lets nothing of {entry.name} through")
    spectrum = Spectrum(
        power / power.max(),
        entry.spectrum.name,
        entry.spectrum.origin,
        entry.spectrum.is_model or behind.is_model,
        (*entry.spectrum.notes, *behind.notes),
    )
    lux = entry.illuminance_lux * 2.0**-loss
    name = f"{entry.name} behind {behind.name}"
    return _Entry(name, spectrum, lux, entry.understood, entry.file, behind.name, loss)


def _name_ssi_reference(cct_kelvin: float) -> str:
    if not cct_kelvin <= DAYLIGHT_RANGE_KELVIN[1]:
        return ""
    is_day = cct_kelvin >= DAYLIGHT_RANGE_KELVIN[0]
    return f"{'CIE daylight' if is_day else 'black body'} {cct_kelvin:.0f} K"


def _list_gaps(
    power: Array, other: Array, name: str, camera: CameraView | None = None
) -> list[GapFigures]:
    gap: Gap = find_gap(power, other)
    casts: list[Cast | None] = [None] * power.shape[0]
    if camera is not None:
        casts = find_camera_gaps(power, np.broadcast_to(other, power.shape), camera)
    return [
        GapFigures(
            other=name,
            mired=float(gap.mired[row]),
            duv=float(gap.duv[row]),
            closing_mired=float(gap.closing_mired[row]),
            closing_cc=float(gap.closing_cc[row]),
            xy=float(gap.xy[row]),
            uv_prime=float(gap.uv_prime[row]),
            ssi=float(gap.ssi[row]),
            camera=casts[row],
        )
        for row in range(power.shape[0])
    ]


def _note_light(
    eye: EyeFigures, row: int, entry: _Entry, view: CameraFigures | None
) -> tuple[Note, ...]:
    notes = []
    kelvin, duv = float(eye.cct_kelvin[row]), float(eye.duv[row])
    if entry.spectrum.is_model:
        part = " or the filter before it" if entry.behind else ""
        notes.append(Note("model", f"a model: nobody measured this light{part}"))
    if math.isnan(kelvin):
        why = (
            f"its Duv of {abs(duv):.3f} is over {DUV_LIMIT:g}"
            if abs(duv) > DUV_LIMIT
            else "it lies past the ends of the black-body locus"
        )
        text = f"CCT, Ra, TM-30 and the SSI against a light of the same CCT mean nothing: {why}"
        notes.append(warn("no-cct", text))
    elif not LOCUS_RANGE_KELVIN[0] <= kelvin <= LOCUS_RANGE_KELVIN[1]:
        low, high = LOCUS_RANGE_KELVIN
        text = f"its CCT of {kelvin:.0f} K is outside {low:g} to {high:g} K: no rendering figures"
        notes.append(warn("cct-out-of-range", text))
    elif eye.cie.chromaticity_difference[row] > MOST_CHROMATICITY_DIFFERENCE:
        text = (
            f"u, v are {eye.cie.chromaticity_difference[row]:.4f} from the reference's, over "
            f"{MOST_CHROMATICITY_DIFFERENCE:g}: CIE 13.3 calls Ra less accurate there"
        )
        notes.append(Note("ra-far-from-white", text))
    if view is not None and view.trouble:
        notes.append(warn("trouble", view.trouble))
    return tuple(notes)


class LightFigures(NamedTuple):
    """One light's eye figures as plain numbers, NaN where they have no meaning."""

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
    bin_rf: tuple[float, ...]
    bin_chroma: tuple[float, ...]
    bin_hue: tuple[float, ...]
    ssi: float


def pick_figures(lights: LightSet, light: LightDescription) -> LightFigures:
    """Pick one light's figures out of the set's arrays."""
    eye, row = lights.eye, light.row
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
        bin_rf=tuple(fidelity.bin_rf[row].tolist()),
        bin_chroma=tuple(fidelity.bin_chroma_shift[row].tolist()),
        bin_hue=tuple(fidelity.bin_hue_shift[row].tolist()),
        ssi=float(eye.ssi[row]),
    )
