"""Camera profiles on disk: a YAML file, and where needed a CSV of sensitivities beside it.

The fields are told by `wbplan guide profiles`. Every fault is told with file, line and
field; a profile whose Kelvin scale is not unique is refused here, once, so that no later
step has to doubt it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import cast

import numpy as np

from wbplan.camera.sensitivities import CHANNELS, Camera, Family, Menu, TintAxis
from wbplan.camera.setting import check_unique, find_own_locus
from wbplan.codes.encodings import find_encoding
from wbplan.core.errors import InputError, Place, UnknownNameError
from wbplan.core.names import clean_text
from wbplan.core.notes import Note, warn
from wbplan.core.tables import Array
from wbplan.light.spectrum import WAVELENGTHS_NM, resample
from wbplan.read.mistakes import read_file
from wbplan.read.model.profile import PROFILE
from wbplan.read.spectra.upright import read_table
from wbplan.read.yaml.fields import Fields

_MOST_STEPS = 20_000
_CENTRE_NM = 560.0


FindCamera = Callable[[str, Path, Place], Camera]


def read_profile(path: Path, find: FindCamera) -> Camera:
    """Read a camera profile.

    Parameters
    ----------
    path
        A YAML file. With ``like`` it takes curves and band from another profile, and whatever
        else it does not state itself.
    find
        Finds the profile that ``like`` names, from that name, this file's folder, and its place.

    Raises
    ------
    InputError
        For a file that cannot be read or understood, with its place.
    """
    return read_file(path, PROFILE, lambda fields: _read_profile(fields, path, find))


def _read_profile(fields: Fields, path: Path, find: FindCamera) -> Camera:
    fields.kind()
    if "like" in fields:
        named = fields.text("like")
        profile = find(named, path.parent, fields.place_of("like"))
        profile = replace(
            profile,
            name=path.stem,
            title=fields.text("title", profile.title),
            provenance=fields.text("provenance", profile.provenance),
            base_ei=fields.number("base_ei", profile.base_ei),
            headroom_stops=fields.number("headroom_stops", profile.headroom_stops),
            matrix_kelvin=_read_matrix_kelvin(fields, profile.matrix_kelvin),
        )
        if "menu" in fields:
            profile = replace(profile, menu=_read_menu(fields))
        if "encoding" in fields:
            curve, gamut = _read_encoding(fields.mapping("encoding"))
            profile = replace(profile, curve=curve, gamut=gamut)
        return _check(fields, profile, "menu")
    sensitivities, notes = _read_sensitivities(fields.mapping("sensitivities"), path)
    curve, gamut = _read_encoding(fields.mapping("encoding"))
    family, members, band_notes = _read_band(fields, path)
    profile = Camera(
        name=path.stem,
        sensitivities=sensitivities,
        menu=_read_menu(fields),
        family=family,
        base_ei=fields.number("base_ei"),
        curve=curve,
        gamut=gamut,
        title=fields.text("title"),
        provenance=fields.text("provenance"),
        notes=(*notes, *band_notes, *_read_judgement(fields, path)),
        members=members,
        headroom_stops=fields.number("headroom_stops", None),
        matrix_kelvin=_read_matrix_kelvin(fields, ()),
    )
    return _check(fields, profile, "sensitivities")


def _check(fields: Fields, profile: Camera, field: str) -> Camera:
    fields.finish()
    if not check_unique(find_own_locus(profile), profile.menu):
        raise fields.refuse(
            field,
            "curves under which red against blue does not rise along the reference locus",
            "curves that give every Kelvin from 2000 to 25 000 its own ratio of red to blue",
        )
    return profile


def _read_matrix_kelvin(fields: Fields, stated: tuple[float, ...]) -> tuple[float, ...]:
    name = "matrix_kelvin"
    if name not in fields:
        return stated
    if not fields.is_list(name):
        return (fields.number(name),)
    kelvin = tuple(fields.numbers(name))
    if len(kelvin) > 2 or len({*kelvin}) < len(kelvin):
        found = " and ".join(f"{each:g}" for each in kelvin)
        raise fields.refuse(name, found, "the one it keeps, or two that differ")
    return kelvin


def _read_encoding(fields: Fields) -> tuple[str, str]:
    curve, gamut = fields.text("curve"), fields.text("gamut")
    try:
        named = find_encoding(curve, gamut)
    except UnknownNameError as error:
        raise error.at(fields.place) from None
    return named.curve, named.gamut


def _read_judgement(fields: Fields, path: Path) -> tuple[Note, ...]:
    """Read what `learn` thought of its frames: a poor camera says so wherever it is used."""
    if fields.choice("judged") != "poor":
        return ()
    text = "learned from frames that were judged poor: shoot the chart again before trusting it"
    return (warn("camera-poor", text, path.stem),)


def _read_sensitivities(fields: Fields, path: Path) -> tuple[Array, tuple[Note, ...]]:
    file = fields.path("table", path.parent)
    per = fields.choice("per")
    try:
        table = read_table(file, columns=4)
    except InputError as error:
        raise fields.blame("table", error) from None
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


def _read_menu(profile: Fields) -> Menu:
    fields = profile.mapping("menu")
    kelvin: tuple[float, ...] = ()
    if fields.is_list("kelvin"):
        kelvin = tuple(sorted(set(fields.numbers("kelvin"))))
    elif "kelvin" in fields:
        span = fields.mapping("kelvin")
        kelvin = _count_steps(span)
    tint_cc: tuple[float, ...] = (0.0,)
    step, axis = 1.0, "green"
    if "tint" in fields:
        tint = fields.mapping("tint")
        step = tint.number("cc_per_step")
        low = tint.whole("lowest_step")
        high = tint.whole("highest_step")
        tint_cc = tuple(step * each for each in range(low, high + 1))
        axis = tint.choice("axis")
    presets = []
    for name, preset in fields.named_mappings("presets", required=False).items():
        preset_kelvin = preset.number("kelvin")
        presets.append((name, preset_kelvin, preset.number("magenta_cc")))
    if not kelvin and not presets:
        raise profile.refuse("menu", "neither kelvin nor presets", "at least one of them")
    return Menu(kelvin, tint_cc, step, cast(TintAxis, axis), tuple(presets))


def _count_steps(fields: Fields) -> tuple[float, ...]:
    low = fields.number("low")
    high = fields.number("high", low=low)
    step = fields.number("step")
    if high - low >= step * _MOST_STEPS:
        found = f"over {_MOST_STEPS} steps from {low:g} to {high:g}"
        raise fields.refuse("step", found, f"at most {_MOST_STEPS} steps")
    count = int(np.floor((high - low) / step + 1e-9)) + 1
    return tuple(low + step * each for each in range(count))


def _read_band(fields: Fields, path: Path) -> tuple[Family, Array | None, tuple[Note, ...]]:
    """Read which cameras a profile stands for, and those that it brings itself."""
    if "band" not in fields:
        text = "the profile states no band: the spread of unlike cameras is assumed"
        return "population", None, (Note("band-assumed", text, "camera"),)
    if fields.is_mapping("band"):
        return "own", _read_members(fields.mapping("band"), path), ()
    named = fields.choice("band")
    return cast(Family, named), None, ()


def _read_members(band: Fields, path: Path) -> Array:
    """Read the plausible cameras that a learned profile brings, (k, 401, 3)."""
    file = band.path("cameras", path.parent)
    try:
        table = read_table(file, columns=None)
    except InputError as error:
        raise band.blame("cameras", error) from None
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
        parts.append("presets " + ", ".join(clean_text(name) for name, _, _ in menu.presets))
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
