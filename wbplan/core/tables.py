"""Published constants on the shared grid: observer, daylight components, reflectances, sources.

The arrays are package data made from colour-science by `wbplan.data.make_spectra`; each is read
once and is read-only, so it is a constant like pi that happens to have 401 digits a row. Nothing
here is computed.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class SourceRecord:
    """What the dataset says of one tabulated source: its row, name, citation, range, interval."""

    row: int
    name: str
    dataset: str
    first_nm: float
    last_nm: float
    interval_nm: float


def _load(file: str, name: str) -> Array:
    with (files("wbplan.data") / file).open("rb") as stream, np.load(stream) as archive:
        array = np.asarray(archive[name], dtype=np.float64)
    array.flags.writeable = False
    return array


@cache
def load_table(name: str) -> Array:
    """Return one published table, read-only.

    Parameters
    ----------
    name
        ``observer`` (401, 3) CIE 1931 colour-matching functions (CIE 15:2018, table 1 at 1 nm);
        ``photopic`` (401,) V(lambda) (CIE 1924); ``daylight`` (401, 3) components S0, S1, S2
        (CIE 15:2018, table 6); ``samples`` (99, 401) reflectances of the CIE 224:2017 colour
        samples; ``chart`` (24, 401) reflectances of the ISO 17321-1 test chart, which cameras
        are learned from; ``sources`` (n, 401) relative spectral power, each row with maximum 1.
    """
    return _load("spectra.npz", name)


@cache
def load_rendering_table(name: str) -> Array:
    """Return one table that only the description of a light needs, read-only.

    Kept in a file of its own, so that a plan does not load it.

    Parameters
    ----------
    name
        ``observer_1964`` (401, 3) CIE 1964 colour-matching functions (CIE 15:2018);
        ``test_colours`` (15, 401) reflectances of the test-colour samples 1 to 14 of CIE
        13.3:1995 and of sample 15, Japanese complexion (CIE 2024, 10.25039/CIE.DS.7chm7z5h).
    """
    return _load("rendering.npz", name)


@cache
def load_television_table() -> Array:
    """Load the standard television camera and chart of EBU Tech 3355, (77, 28), read-only.

    Columns: wavelength, 380 to 760 nm by 5; red, green and blue of the camera; the 24 surfaces.
    """
    with (files("wbplan.data") / "television.csv").open("rb") as stream:
        array = np.loadtxt(stream, delimiter=",", skiprows=1)
    array.flags.writeable = False
    return array


@cache
def load_twilight() -> tuple[Array, Array]:
    """Load measured light on flat ground under a low sun and in twilight, read-only.

    Returns
    -------
    tuple
        (n,) elevations of the sun without refraction [degrees], rising, and (n, 401) spectra of
        1 lux [W m-2 nm-1] (Spitschan and others 2016, rural site).
    """
    place = files("wbplan.data") / "twilight.npz"
    with place.open("rb") as stream, np.load(stream) as archive:
        known, power = (archive[each].astype(np.float64) for each in ("elevation_deg", "power"))
    known.flags.writeable = power.flags.writeable = False
    return known, power


@cache
def load_population_table(name: str) -> Array:
    """Return one table of how measured cameras differ, read-only.

    ``patterns`` (8, 81, 3), one standard deviation each, and ``remainder`` (81, 3), the standard
    deviation of what they leave, in logs on 380 to 780 nm by 5; `wbplan.data.make_population`.
    """
    place = files("wbplan.data") / "population.npz"
    with place.open("rb") as stream, np.load(stream) as archive:
        array = np.asarray(archive[name], dtype=np.float64)
    array.flags.writeable = False
    return array


@cache
def _load_about() -> dict[str, Any]:
    text = (files("wbplan.data") / "sources.json").read_text(encoding="ascii")
    about: dict[str, Any] = json.loads(text)
    return about


@cache
def list_source_records() -> tuple[SourceRecord, ...]:
    """List the tabulated sources in the order of the ``sources`` table."""
    return tuple(SourceRecord(row, **each) for row, each in enumerate(_load_about()["sources"]))


def list_chart_patches() -> tuple[str, ...]:
    """List the names of the rows of the ``chart`` table: 1 to 24, in reading order."""
    return tuple(str(number) for number in range(1, len(load_table("chart")) + 1))


@cache
def load_scored_surfaces() -> tuple[tuple[str, ...], Array]:
    """Load the surfaces that matches are scored on: names and (34, 401) reflectances, read-only.

    The 14 test colours of CIE 13.3-1995, the 15 of the Color Quality Scale 9.0 and five human skins
    from dark to light. None is among ``samples``, on which matches are fitted.
    """
    path = files("wbplan.data") / "reflectances.npz"
    with path.open("rb") as stream, np.load(stream) as archive:
        names = tuple(str(each) for each in archive["names"])
        rows = archive["reflectances"].astype(np.float64)
    rows.flags.writeable = False
    return names, rows


def fold_channels(operation: np.ufunc, values: NDArray[Any]) -> NDArray[Any]:
    """Fold the last axis of three with an operation of two, such as ``np.maximum``.

    The same as its ``reduce``, many times faster on so short an axis.
    """
    return np.asarray(operation(operation(values[..., 0], values[..., 1]), values[..., 2]))
