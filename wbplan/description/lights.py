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
from dataclasses import dataclass, field, replace

import numpy as np

from wbplan.camera.sensitivities import Camera
from wbplan.camera.setting import CameraView
from wbplan.core.band import BAND_SHARE
from wbplan.core.display import Displayed
from wbplan.core.notes import Note, warn
from wbplan.description.camera import CameraFigures, see_by_camera
from wbplan.description.eye import EyeFigures, see_fully
from wbplan.description.gaps import GapFigures, list_gaps
from wbplan.description.pairs import Pair, pair_lights
from wbplan.description.repeats import Repeat, find_repeats
from wbplan.description.sampling import SamplingBand, find_sampling_bands
from wbplan.light.colorimetry import DUV_LIMIT
from wbplan.light.cri import MOST_CHROMATICITY_DIFFERENCE
from wbplan.light.filters import Filter, find_loss_stops
from wbplan.light.illuminants import DAYLIGHT_RANGE_KELVIN, LOCUS_RANGE_KELVIN
from wbplan.light.spectrum import (
    Reading,
    Spectrum,
    StatedFigure,
    normalise_peak,
    rescale,
)
from wbplan.light.waveform import FlickerFigures, find_flicker

LUX_PER_FOOTCANDLE = 10.763910416709722  # 1 / 0.3048^2, exact


@dataclass(frozen=True, eq=False)
class LightDescription:
    """Everything said of one light. ``row`` is its place in the set's `EyeFigures`.

    ``behind`` names the filter before it, with ``loss_stops`` and the ``change`` from the bare
    light; ``gap`` is that to the light the set is compared with, ``flicker`` what the waveform of
    its file is, ``sampling`` how open coarse steps leave its figures.
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
    flicker: FlickerFigures | None = None
    sampling: SamplingBand | None = None
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

    ``refused`` are files of a folder that could not be read, with the reason; ``pairs`` the bare
    lights each beside each, ``repeats`` those that a file holds several times, of which the first
    is paired.
    """

    lights: tuple[LightDescription, ...]
    eye: EyeFigures
    camera: Camera | None
    against: Reading | None
    filter_name: str
    refused: tuple[tuple[str, str], ...] = ()
    band_share: float = BAND_SHARE
    pairs: tuple[Pair, ...] = ()
    repeats: tuple[Repeat, ...] = ()

    @property
    def told(self) -> tuple[LightDescription, ...]:
        """The lights without further readings of one that is there already."""
        again = {row for each in self.repeats for row in each.rows[1:]}
        return tuple(each for each in self.lights if each.row not in again)

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
    entries = [(each, 0.0) for each in readings]
    if behind is not None:
        entries = [x for each in readings for x in ((each, 0.0), _filter(each, behind))]
    power = np.stack([each.spectrum.values for each, _ in entries])
    eye = see_fully(power)
    views: list[CameraFigures | None] = [None] * len(entries)
    if camera is not None:
        seen = tuple(each.spectrum for each, _ in entries)
        views = see_by_camera(seen, eye.cct_kelvin, camera)
    changes: list[GapFigures | None] = [None] * len(entries)
    if behind is not None:
        for row, gap in enumerate(list_gaps(power[1::2], power[::2], "the bare light")):
            changes[2 * row + 1] = gap
    gaps: list[GapFigures | None] = [None] * len(entries)
    if against is not None:
        gaps = [*list_gaps(power, against.spectrum.values, against.name, camera)]
    name = "" if behind is None else behind.name
    bands = find_sampling_bands(tuple(entry for entry, _ in entries))
    flickers = [_find_flicker(entry) for entry, _ in entries]
    lights = tuple(
        LightDescription(
            row=row,
            name=entry.name,
            spectrum=entry.spectrum,
            illuminance_lux=entry.illuminance_lux,
            understood=entry.understood,
            file=entry.file,
            ssi_reference=_name_ssi_reference(float(eye.cct_kelvin[row])),
            behind=name if row % 2 else "",
            loss_stops=loss,
            change=changes[row],
            gap=gaps[row],
            camera=views[row],
            flicker=flickers[row][0],
            sampling=bands[row],
            notes=(
                *entry.spectrum.notes,
                *flickers[row][1],
                *_note_light(eye, row, entry, bool(name) and row % 2 == 1, views[row]),
            ),
        )
        for row, (entry, loss) in enumerate(entries)
    )
    step = 1 if behind is None else 2
    bare = [*range(0, len(entries), step)]
    repeats = tuple(find_repeats(readings, bare, eye))
    again = {row for each in repeats for row in each.rows[1:]}
    paired = [row for row in bare if row not in again]
    pairs = pair_lights(power[paired], paired, camera)
    profile = None if camera is None else camera.profile
    share = BAND_SHARE if camera is None else camera.band_share
    return LightSet(lights, eye, profile, against, name, refused, share, pairs, repeats)


def _find_flicker(reading: Reading) -> tuple[FlickerFigures | None, tuple[Note, ...]]:
    """Find the flicker of a reading's waveform, or say why there is none to be had."""
    if reading.waveform is None:
        return None, ()
    try:
        return find_flicker(reading.waveform), ()
    except ValueError as error:
        return None, (warn("no-flicker-figures", f"no flicker figures: {error}"),)


def _filter(reading: Reading, behind: Filter) -> tuple[Reading, float]:
    """Put a filter before a light: the light behind it, and its loss [stops]."""
    spectrum = reading.spectrum
    shaded = rescale(spectrum, behind.transmittance)
    loss = float(find_loss_stops(behind.transmittance, spectrum.values))
    if not math.isfinite(loss):
        raise ValueError(f"{behind.name} lets nothing of {reading.name} through")
    seen = replace(
        normalise_peak(shaded),
        is_model=spectrum.is_model or behind.is_model,
        notes=(*spectrum.notes, *behind.notes),
    )
    name = f"{reading.name} behind {behind.name}"
    lux = reading.illuminance_lux * 2.0**-loss
    filtered = replace(reading, name=name, spectrum=seen, illuminance_lux=lux)
    return filtered, loss


def _name_ssi_reference(cct_kelvin: float) -> str:
    if not cct_kelvin <= DAYLIGHT_RANGE_KELVIN[1]:
        return ""
    is_day = cct_kelvin >= DAYLIGHT_RANGE_KELVIN[0]
    return f"{'CIE daylight' if is_day else 'black body'} {cct_kelvin:.0f} K"


def _note_light(
    eye: EyeFigures, row: int, entry: Reading, is_filtered: bool, view: CameraFigures | None
) -> tuple[Note, ...]:
    notes = []
    kelvin, duv = float(eye.cct_kelvin[row]), float(eye.duv[row])
    if entry.spectrum.is_model:
        part = " or the filter before it" if is_filtered else ""
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
    if not is_filtered:
        computed = {
            "illuminance": (entry.illuminance_lux, "lux"),
            "CCT": (kelvin, "K"),
            "Ra": (float(eye.cie.ra[row]), "Ra"),
        }
        notes += [_compare(each, *computed[each.name]) for each in entry.stated]
    return tuple(notes)


# How far a stated figure may be off before it is more than rounding and sampling: of its value,
# and beside that. The meter's own step, interpolation and observer tables move CCT by 0.3 %, Ra by
# 0.5 (common practice, no source).
_ROUNDING = {"illuminance": (0.01, 0.0), "CCT": (0.005, 0.0), "Ra": (0.0, 0.5)}


def _compare(stated: StatedFigure, computed: float, unit: str) -> Note:
    """Hold a figure that the file states against the computed one."""
    share, more = _ROUNDING[stated.name]
    most = share * stated.value + more + stated.half_step
    decimals = 0 if stated.half_step >= 0.5 else max(1, round(-math.log10(2 * stated.half_step)))
    if not math.isfinite(computed):
        text = f"the file says {stated.value:g} {unit}, and none can be computed"
        return warn("stated-differs", text)
    if computed > 0 and stated.name == "illuminance":
        decimals = max(decimals, 1 - math.floor(math.log10(computed)))
    text = f"the file says {stated.value:g} {unit}, computed {computed:.{decimals}f} {unit}"
    if abs(computed - stated.value) <= most:
        return Note("stated", text)
    return warn("stated-differs", f"{text}: was its spectrum read as it was meant?")
