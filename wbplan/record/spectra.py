"""A light's spectrum as files that others read: IES TM-27 XML, and CSV.

The XML has the form of IES TM-27-14, which readers of the later editions take too. Its header must
have a description, a creator and a date of creation (as the colour-science library states the
standard); wbplan has no clock, so the date is the moment that the setup is planned for, or one
that nobody can take for a date, and the comments say which.

Text that came from a scenario reaches the XML alone, where it is escaped and freed of what XML 1.0
(2.2) does not allow. The CSV (RFC 4180) holds numbers under a fixed header and nothing else, so no
cell of it can be a formula.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import UTC, datetime
from xml.sax.saxutils import escape

from wbplan.core.names import clean_text
from wbplan.core.tables import Array
from wbplan.light.spectrum import WAVELENGTHS_NM

NAMESPACE = "http://www.ies.org/iestm2714"
NO_DATE = "0001-01-01T00:00:00Z"
CSV_HEADER = "wavelength_nm,relative_power_per_nm"
_DECIMALS = 8  # of the peak: far below any reading, above what differs between machines
_NO_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def scale_to_peak(power: Array) -> Array:
    """Scale spectral power (401,) so that its peak is 1.

    Raises
    ------
    ValueError
        For a light without any power.
    """
    peak = float(power.max())
    if peak <= 0:
        raise ValueError("a light without power has no spectrum to write")
    return power / peak


def format_tm27(
    power: Array,
    description: str,
    creator: str,
    identifier: str,
    when: datetime | None,
    comments: Iterable[str],
) -> bytes:
    """Write relative spectral power (401,) as IES TM-27-14 XML, UTF-8.

    Parameters
    ----------
    description, creator, identifier
        Of the header; plain text.
    when
        An aware moment, written in UTC; None for `NO_DATE`.
    comments
        Sentences for the header.
    """
    created = NO_DATE if when is None else f"{when.astimezone(UTC):%Y-%m-%dT%H:%M:%SZ}"
    date = "is the moment that the light is planned for" if when else "is not known and says so"
    remarks = [*comments, f"The date of creation {date}."]
    header = (
        ("Description", description),
        ("DocumentCreator", creator),
        ("UniqueIdentifier", identifier),
        ("DocumentCreationDate", created),
        ("Comments", " ".join(remarks)),
    )
    lines = ['<?xml version="1.0" encoding="UTF-8"?>']
    lines.append(f'<IESTM2714 xmlns="{NAMESPACE}" version="1.0">')
    lines.append(" <Header>")
    lines += [f"  <{name}>{_clean(text)}</{name}>" for name, text in header]
    lines.append(" </Header>")
    lines.append(" <SpectralDistribution>")
    lines.append("  <SpectralQuantity>relative</SpectralQuantity>")
    lines += [
        f'  <SpectralData wavelength="{nm}">{value}</SpectralData>' for nm, value in _rows(power)
    ]
    lines += [" </SpectralDistribution>", "</IESTM2714>", ""]
    return "\n".join(lines).encode("utf-8")


def format_spectrum_csv(power: Array) -> bytes:
    """Write relative spectral power (401,) as CSV (RFC 4180): CRLF, a header, plain numbers."""
    rows = [CSV_HEADER, *(f"{nm},{value}" for nm, value in _rows(power)), ""]
    return "\r\n".join(rows).encode("ascii")


def _rows(power: Array) -> list[tuple[str, str]]:
    scaled = scale_to_peak(power).round(_DECIMALS)
    return [
        (f"{nm:g}", f"{value:.{_DECIMALS + 1}g}")
        for nm, value in zip(WAVELENGTHS_NM.tolist(), scaled.tolist(), strict=True)
    ]


def _clean(text: str) -> str:
    return escape(_NO_XML.sub("\ufffd", clean_text(text)))
