"""Camera profiles on disk: a YAML file, and where needed a CSV of sensitivities beside it.

The fields are told by `wbplan guide profiles`. Every fault is told with file, line and
field; a profile whose Kelvin scale is not unique is refused here, once, so that no later
step has to doubt it.
"""

from __future__ import annotations

from pathlib import Path
from typing import cast

import numpy as np

from wbplan.camera.sensitivities import CHANNELS, Camera, Family, Menu, TintAxis
from wbplan.camera.setting import check_unique, find_own_locus
from wbplan.codes.encodings import find_encoding
from wbplan.core.errors import UnknownNameError
from wbplan.core.ledger import join_path
from wbplan.core.notes import Note
from wbplan.core.tables import Array
from wbplan.light.spectrum import WAVELENGTHS_NM, resample
from wbplan.read.spectra.upright import read_table
from wbplan.read.yaml.fields import Fields, read_yaml

_MOST_STEPS = 20_000
_CENTRE_NM = 560.0


def read_profile(path: Path) -> Camera:
    """Read a camera profile.

    Raises
    ------
    InputError
        For a file that cannot be read or understood, with its place.
    """
    fields = read_yaml(path)
    sensitivities, notes = _read_sensitivities(fields.mapping("sensitivities"), path)
    encoding = fields.mapping("encoding")
    curve, gamut = encoding.text("curve"), encoding.text("gamut")
    try:
        named = find_encoding(curve, gamut)
    except UnknownNameError as error:
        raise error.at(encoding.place) from None
    menu = _read_menu(fields.mapping("menu"))
    if not menu.kelvin and not menu.presets:
        raise fields.refuse("menu", "neither kelvin nor presets", "at least one of them")
    family, family_notes = _read_family(fields)
    members = _read_members(fields, path)
    profile = Camera(
        name=path.stem,
        sensitivities=sensitivities,
        menu=menu,
        family=family,
        base_ei=fields.number("base_ei", low=1.0, high=1e6),
        curve=named.curve,
        gamut=named.gamut,
        title=fields.text("title"),
        provenance=fields.text("provenance", max_length=2000),
        notes=(*notes, *family_notes),
        members=members,
        headroom_stops=fields.number("headroom_stops", None, low=0.5, high=20.0),
    )
    fields.finish()
    if not check_unique(find_own_locus(profile), menu):
        raise fields.refuse(
            "sensitivities",
            "curves under which red against blue does not rise all along the reference locus",
            "curves that give every Kelvin from 1000 to 25 000 its own ratio of red to blue",
        )
    return profile


def _read_sensitivities(fields: Fields, path: Path) -> tuple[Array, tuple[Note, ...]]:
    if fields.kind(("table", "peaks")) == "peaks":
        peaks = fields.mapping("peaks")
        curves = [_shape_peak(peaks.mapping(name)) for name in CHANNELS]
        return np.stack(curves, axis=1), ()
    file = join_path(path.parent, fields.text("table"))
    per = fields.choice("per", ("energy", "quantum"))
    table = read_table(file, columns=4)
    picked = np.stack([table.column(name) for name in CHANNELS], axis=1)
    values, _ = resample(table.wavelength_nm, picked)
    first, last = float(table.wavelength_nm[0]), float(table.wavelength_nm[-1])
    outside = (first > WAVELENGTHS_NM) | (last < WAVELENGTHS_NM)
    notes = [Note("table", text, file.name) for text in table.notes if "negative" in text]
    if outside.any():
        values = np.where(outside[:, None], 0.0, values)
        text = f"sensitivities are known from {first:g} to {last:g} nm and taken as 0 outside"
        notes.append(Note("camera-range", text, path.stem))
    if per == "quantum":
        values = values * WAVELENGTHS_NM[:, None] / _CENTRE_NM
    return values, tuple(notes)


def _shape_peak(fields: Fields) -> Array:
    """Shape one channel from its peak, half-widths at half height, and steepness either side."""
    peak = fields.number("peak_nm", low=380.0, high=780.0)
    short, long = (fields.number(each, low=5.0, high=200.0) for each in ("short_nm", "long_nm"))
    steep = [fields.number(each, low=0.5, high=20.0) for each in ("short_power", "long_power")]
    offset = WAVELENGTHS_NM - peak
    side = offset >= 0
    reach = np.abs(offset) / np.where(side, long, short)
    return np.asarray(np.exp2(-(reach ** np.where(side, steep[1], steep[0]))))


def _read_menu(fields: Fields) -> Menu:
    kelvin: tuple[float, ...] = ()
    if fields.is_list("kelvin"):
        kelvin = tuple(sorted(set(fields.numbers("kelvin", low=1000.0, high=25000.0))))
    elif "kelvin" in fields:
        span = fields.mapping("kelvin")
        kelvin = _count_steps(span, "low", "high", "step", 1000.0, 25000.0)
    tint_cc: tuple[float, ...] = (0.0,)
    step, axis = 1.0, "green"
    if "tint" in fields:
        tint = fields.mapping("tint")
        step = tint.number("cc_per_step", above=0.0, high=100.0)
        low = tint.whole("lowest_step", low=-1000, high=0)
        high = tint.whole("highest_step", low=0, high=1000)
        tint_cc = tuple(step * each for each in range(low, high + 1))
        axis = tint.choice("axis", ("green", "duv"), "green")
    presets = []
    for name, preset in fields.named_mappings("presets", required=False).items():
        preset_kelvin = preset.number("kelvin", low=1000.0, high=25000.0)
        presets.append((name, preset_kelvin, preset.number("magenta_cc", 0.0, low=-200, high=200)))
    return Menu(kelvin, tint_cc, step, cast(TintAxis, axis), tuple(presets))


def _count_steps(
    fields: Fields, low_name: str, high_name: str, step_name: str, lowest: float, highest: float
) -> tuple[float, ...]:
    low = fields.number(low_name, low=lowest, high=highest)
    high = fields.number(high_name, low=low, high=highest)
    step = fields.number(step_name, above=0.0)
    count = int(np.floor((high - low) / step + 1e-9)) + 1
    if count > _MOST_STEPS:
        raise fields.refuse(step_name, f"{count} steps", f"at most {_MOST_STEPS} steps")
    return tuple(low + step * each for each in range(count))


def _read_family(fields: Fields) -> tuple[Family, tuple[Note, ...]]:
    if "band" not in fields:
        text = "the profile states no band: the spread of unlike cameras of its kind is assumed"
        return Family(), (Note("band-assumed", text, "camera"),)
    if fields.is_text("band"):
        fields.choice("band", ("exact",))
        return Family(members=0), ()
    band = fields.mapping("band")
    if "cameras" in band:
        return Family(members=0), ()
    usual = Family()
    return Family(
        peak_sd_nm=band.number("peak_sd_nm", usual.peak_sd_nm, low=0.0, high=50.0),
        width_sd=band.number("width_sd", usual.width_sd, low=0.0, high=0.5),
        field_sd=band.number("field_sd", usual.field_sd, low=0.0, high=1.0),
        field_length_nm=band.number("field_length_nm", usual.field_length_nm, low=5.0, high=400.0),
        members=band.whole("members", usual.members, low=64, high=4096),
        seed=band.whole("seed", usual.seed, low=0, high=2**31),
    ), ()


def _read_members(fields: Fields, path: Path) -> Array | None:
    """Read the plausible cameras that a learned profile brings, (k, 401, 3)."""
    if not fields.is_mapping("band") or "cameras" not in fields.mapping("band"):
        return None
    band = fields.mapping("band")
    file = join_path(path.parent, band.text("cameras"))
    table = read_table(file, columns=None)
    count, left = divmod(table.values.shape[1], 3)
    if left or not 64 <= count <= 4096:
        raise band.refuse(
            "cameras",
            f"{table.values.shape[1]} columns of values",
            "red, green and blue of 64 to 4096 cameras",
        )
    values, _ = resample(table.wavelength_nm, table.values)
    return np.moveaxis(values.reshape(WAVELENGTHS_NM.size, count, 3), 0, 1)


def explain_menu(menu: Menu) -> str:
    """Say in one line what a menu allows."""
    parts = []
    if menu.kelvin:
        parts.append(f"{menu.kelvin[0]:.0f}-{menu.kelvin[-1]:.0f} K in {len(menu.kelvin)} steps")
    if menu.presets:
        parts.append("presets " + ", ".join(name for name, _, _ in menu.presets))
    if len(menu.tint_cc) > 1:
        low, high = -menu.tint_cc[0], menu.tint_cc[-1]
        along = "green" if menu.tint_axis == "green" else "Duv"
        parts.append(
            f"tint green {low:g} to magenta {high:g} CC by {menu.cc_per_step:g}, along {along}"
        )
    else:
        parts.append("no tint")
    return "; ".join(parts)


def check_on_menu(menu: Menu, kelvin: float, tint_cc: float) -> bool:
    """Tell whether a setting is one that a menu offers."""
    if any(abs(k - kelvin) < 0.5 and abs(t - tint_cc) < 0.01 for _, k, t in menu.presets):
        return True
    has_kelvin = any(abs(each - kelvin) < 0.5 for each in menu.kelvin)
    return has_kelvin and any(abs(each - tint_cc) < 0.01 for each in menu.tint_cc)
