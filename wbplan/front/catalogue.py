"""What can be named, and what the records hold, in one call each."""

from __future__ import annotations

import json
from typing import Any, Literal

from wbplan.codes.encodings import find_ei_range, list_aliases, list_curves, list_gamuts
from wbplan.core.errors import InputError, Place, describe_choices, fold_name
from wbplan.front.cameras import find_camera
from wbplan.light.generic_filters import DIFFUSIONS, GELS, describe_diffusion, describe_gel
from wbplan.read.catalogue import describe_sources, list_cameras, list_shipped
from wbplan.read.profiles import explain_menu
from wbplan.record.schemas import FILES, SCHEMAS, read_schema_text

Kind = Literal["sources", "cameras", "scenarios", "filters", "encodings"]
COLUMNS: dict[Kind, tuple[str, ...]] = {
    "sources": ("name", "CCT", "Duv", "data"),
    "cameras": ("name", "what it is", "EI", "menu"),
    "scenarios": ("name", "file"),
    "filters": ("name", "nominal", "loss under 3200 K", "loss under 5600 K", "data"),
    "encodings": ("name", "what it is", "short names"),
}
"""What stands in each row of `list_known`."""


def list_known(kind: Kind, word: str = "") -> tuple[tuple[str, ...], ...]:
    """List what can be named: lights, cameras, scenarios, filters, encodings of picture files.

    Parameters
    ----------
    kind
        ``sources``, ``cameras``, ``scenarios``, ``filters`` or ``encodings``.
    word
        Only names that contain this.

    Returns
    -------
    tuple
        A row for each, its name first, then what `COLUMNS` says, as the command line prints it.

    Examples
    --------
    >>> import wbplan
    >>> wbplan.list_known("sources", "LED-B3")
    (('LED-B3', '4103 K', '-0.0007', 'CIE 15:2018 and its illuminant tables'),)
    >>> [name for name, *_ in wbplan.list_known("scenarios", "d")]
    ['dusk_workshop', 'mill_yard', 'reading_room']
    """
    part = word.lower()
    if kind == "sources":
        return tuple(
            (name, f"{cct:.0f} K" if cct == cct else "no CCT", f"{duv:+.4f}", dataset)
            for name, cct, duv, dataset in describe_sources(word)
        )
    if kind == "cameras":
        names = [each for each in list_cameras() if fold_name(part) in fold_name(each)]
        return tuple(describe_camera(each) for each in names)
    if kind == "scenarios":
        shipped = list_shipped("scenarios")
        return tuple((name, str(path)) for name, path in shipped.items() if part in name)
    if kind == "filters":
        rows = [(each.name, *describe_gel(each)) for each in GELS]
        rows += [(each.name, *describe_diffusion(each)) for each in DIFFUSIONS]
        return tuple(each for each in rows if part in each[0])
    if kind == "encodings":
        listed = [(name, _describe_curve(name)) for name in list_curves()]
        listed += [(name, "gamut") for name in list_gamuts()]
        known = ((name, what, ", ".join(list_aliases(name))) for name, what in listed)
        return tuple(
            each for each in known if fold_name(part) in fold_name(each[0] + " " + each[2])
        )
    raise InputError(f"'{kind}'", describe_choices(kind, COLUMNS), Place(field="kind"))


def _describe_curve(name: str) -> str:
    known = find_ei_range(name)
    return "curve" if known is None else f"curve, by EI {known[0]} to {known[1]}"


def describe_camera(name: str) -> tuple[str, ...]:
    """Describe a shipped camera: its name, what it is, base EI, menu."""
    camera = find_camera(name)
    return name, camera.title, f"{camera.base_ei:g}", explain_menu(camera.menu)


def read_schema(record: str = "plan") -> dict[str, Any]:
    """Read the JSON Schema (draft 2020-12) of what this version writes or reads.

    Parameters
    ----------
    record
        ``plan``, ``lights``, ``plate``, ``day`` or ``delivery``, which it writes; ``scenario``,
        ``profile`` or ``lesson``, which it reads.

    Examples
    --------
    >>> import wbplan
    >>> wbplan.read_schema("lights")["properties"]["format"]
    {'const': 'wbplan lights'}
    """
    known = (*SCHEMAS, *FILES)
    if record not in known:
        raise InputError(f"'{record}'", describe_choices(record, known), Place(field="record"))
    schema: dict[str, Any] = json.loads(read_schema_text(record))
    return schema
