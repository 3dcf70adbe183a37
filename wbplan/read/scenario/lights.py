"""How a file names a light: a tabulated lamp, a formula, a model, a measured file, a mix.

Scenarios and lessons name lights in the same words, and they are read here.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from wbplan.core.errors import InputError
from wbplan.light.illuminants import radiate_black_body, radiate_daylight
from wbplan.light.spectrum import (
    Spectrum,
    add_samplings,
    find_illuminance_lux,
    normalise_peak,
    rescale_to_lux,
)
from wbplan.read.catalogue import find_source
from wbplan.read.model.lights import LIGHT_KINDS
from wbplan.read.scenario.models import MODELS, read_model
from wbplan.read.scenario.sky import refuse_inside
from wbplan.read.spectra.files import read_curve
from wbplan.read.yaml.fields import Fields


class LightReader:
    """Reads lights; relative paths start from ``folder``."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def read(self, name: str, fields: Fields) -> Spectrum:
        """Read the light that a mapping names by exactly one of `LIGHT_KINDS`."""
        if "channels" in fields:
            found = "a fixture inside another light"
            raise fields.refuse("channels", found, "a fixture as a light of its own")
        refuse_inside(fields)
        kind = fields.kind([each.name for each in LIGHT_KINDS])
        if kind == "black_body_kelvin":
            kelvin = fields.number(kind)
            said = f"black body {kelvin:g} K"
            return Spectrum(radiate_black_body(kelvin), said, "Planck's law", is_model=True)
        if kind == "daylight_kelvin":
            kelvin = fields.number(kind)
            said = f"daylight {kelvin:g} K"
            return Spectrum(radiate_daylight(kelvin), said, "CIE 15:2018 daylight", is_model=True)
        if kind == "spectrum_file":
            return self._read_spectrum_file(fields, kind)
        if kind == "mix":
            return self._read_mix(name, fields)
        if kind in MODELS:
            return read_model(fields, kind)
        try:
            return find_source(fields.text(kind))
        except InputError as error:
            raise error.at(fields.place_of(kind)) from None

    def read_curve(self, fields: Fields, name: str) -> Spectrum:
        """Read one column of a table file as it stands, brought to the shared grid."""
        column: str | int | None = None
        if "column" in fields:
            number = fields.is_number("column")
            column = fields.whole("column") if number else fields.text("column")
        path = fields.path(name, self._folder)
        try:
            return read_curve(path, name, column, None if column else 2)
        except InputError as error:
            raise fields.blame(name, error) from None

    def _read_spectrum_file(self, fields: Fields, name: str) -> Spectrum:
        curve = self.read_curve(fields, name)
        if find_illuminance_lux(curve.values) <= 0:
            raise fields.refuse(name, "a spectrum without any visible light", "some light")
        return replace(
            normalise_peak(curve),
            origin=fields.text("origin", curve.origin),
            is_model=fields.flag("model"),
        )

    def _read_mix(self, name: str, fields: Fields) -> Spectrum:
        shares, parts = [], []
        for part in fields.mappings("mix"):
            shares.append(part.number("share"))
            parts.append(rescale_to_lux(self.read(name, part), shares[-1]))
        power = np.stack([each.values for each in parts])
        total = power.sum(0)
        sampling = add_samplings(power, [each.sampling for each in parts], np.ones(len(parts)))
        said = "mix by lux of " + ", ".join(
            f"{share:g} {each.name}" for share, each in zip(shares, parts, strict=True)
        )
        mixed = Spectrum(
            total,
            said,
            said,
            any(each.is_model for each in parts),
            tuple(note for each in parts for note in each.notes),
            sampling=sampling,
        )
        return normalise_peak(mixed)
