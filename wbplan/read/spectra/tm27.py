"""Spectra from IES TM-27 files, the lighting trade's XML for spectral data.

One file holds a header and any number of spectral distributions, each with its quantity and its
wavelengths in nanometres. The parser refuses document types and entities, so that a file can
neither reach for another nor grow while it is read; it reports where each element stands, so that
a refusal names the line.
"""

from __future__ import annotations

import codecs
import math
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from io import BytesIO
from typing import Any, Final
from xml.sax import ContentHandler, SAXParseException
from xml.sax.handler import feature_namespaces

import numpy as np

from wbplan.core.errors import Place, SpectrumError
from wbplan.core.files import show_value
from wbplan.light.spectrum import check_range
from wbplan.read.spectra.noise import clear_noise
from wbplan.read.spectra.quantities import SURFACE_QUANTITIES, Quantity
from wbplan.read.spectra.rows import MAX_LINES, MIN_ROWS
from wbplan.read.spectra.upright import Table, check_gaps

_ROOT: Final = "iestm27"  # TM-27-14 writes IESTM2714
_LIGHT: Final = ("flux", "intensity", "irradiance", "radiance", "exitance", "relative", "other")
_MOST_DEPTH: Final = 32
_MOST_TEXT: Final = 10_000


_MARKS: Final = (
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
# The first characters of a declaration as each family of encodings writes them: XML 1.0, F.1.
_FAMILIES: Final = (
    (b"<\0\0\0", "utf-32-le"),
    (b"\0\0\0<", "utf-32-be"),
    (b"<\0", "utf-16-le"),
    (b"\0<", "utf-16-be"),
    (b"\x4c\x6f\xa7\x94", "cp037"),
)
_DECLARATION: Final = re.compile(r"\s*<\?xml\b([^>]{0,200}?)\?>")
_ENCODING: Final = re.compile(r"encoding\s*=\s*[\"']([A-Za-z0-9._:-]{1,40})[\"']")
_NO_TEXT: Final = ("idna", "punycode", "unicode_escape", "raw_unicode_escape", "undefined", "mbcs")


def is_xml(raw: bytes) -> bool:
    """Tell XML by its first character, past a byte order mark and spaces, in any encoding."""
    start = raw[:400]
    if start.startswith(_FAMILIES[-1][0]):
        return True
    for mark, _ in _MARKS:
        start = start.removeprefix(mark)
    return start.replace(b"\0", b"").lstrip().startswith(b"<")


def decode_xml(raw: bytes, file: str) -> bytes:
    """Bring XML of any encoding that it declares to UTF-8, without its declaration.

    Raises
    ------
    SpectrumError
        For an encoding that is not known, or bytes that are not of it.
    """
    marked = next((name for mark, name in _MARKS if raw.startswith(mark)), "")
    family = next((name for start, name in _FAMILIES if raw.startswith(start)), "")
    head = raw[:1000].decode(marked or family or "latin-1", "replace")
    declared = _DECLARATION.match(head)
    named = _ENCODING.search(declared[1]) if declared else None
    encoding = named[1] if named else "utf-8"
    if marked or family.startswith("utf"):
        encoding = marked or family
    place = Place(file, 1)
    try:
        found = codecs.lookup(encoding)
        if (
            not getattr(found, "_is_text_encoding", True)
            or found.name.replace("-", "_") in _NO_TEXT
        ):
            raise LookupError
        text = raw.decode(encoding)
    except LookupError:
        raise SpectrumError("an encoding that is not known", "UTF-8", place) from None
    except (UnicodeError, ValueError):
        said = f"bytes that are not {encoding}"
        raise SpectrumError(said, "XML in the encoding that it declares", place) from None
    rest = _DECLARATION.sub("", text[:1000], count=1) + text[1000:] if declared else text
    return rest.encode("utf-8", "replace")


@dataclass
class Distribution:
    """One spectral distribution as the file gives it, before it is judged.

    ``points`` are (wavelength in nm, value, line), ``said`` what it says of its bandwidth.
    """

    line: int
    quantity: str = ""
    quantity_line: int = 0
    points: list[tuple[float, float, int]] = field(default_factory=list)
    said: list[str] = field(default_factory=list)


def read_distributions(raw: bytes, file: str) -> tuple[str, list[Distribution]]:
    """Read what a TM-27 file says, without judging whether it is enough.

    Returns
    -------
    tuple
        The description in the header, and the distributions in file order.

    Raises
    ------
    SpectrumError
        With a line: not well-formed, a document type or entity, another root, a wavelength or
        value that is no finite number, too many or no points.
    """
    from defusedxml import DefusedXmlException
    from defusedxml.sax import make_parser

    handler = _Handler(file)
    parser: Any = make_parser()
    parser.setFeature(feature_namespaces, False)
    parser.forbid_dtd = True
    parser.setContentHandler(handler)
    try:
        parser.parse(BytesIO(decode_xml(raw, file)))
    except DefusedXmlException:
        found = "a document type or an entity"
        raise SpectrumError(found, "plain XML, without DOCTYPE", Place(file, 1)) from None
    except SAXParseException as error:
        cause = error.getMessage()
        place = Place(file, error.getLineNumber() or 0)
        raise SpectrumError(f"XML that breaks off ({cause})", "well-formed XML", place) from None
    return handler.description, handler.distributions


class _Handler(ContentHandler):
    def __init__(self, file: str) -> None:
        super().__init__()
        self._file = file
        self._path: list[str] = []
        self._text = ""
        self._wavelength = math.nan
        self._points = 0
        self._line: Callable[[], int] = lambda: 0
        self.description = ""
        self.distributions: list[Distribution] = []

    def setDocumentLocator(self, locator: Any) -> None:  # noqa: N802
        self._line = lambda: locator.getLineNumber() or 0

    def _refuse(self, found: str, allowed: str, name: str = "") -> SpectrumError:
        return SpectrumError(found, allowed, Place(self._file, self._line(), 0, name))

    def startElement(self, name: str, attrs: Any) -> None:  # noqa: N802
        name = name.rpartition(":")[2]
        if not self._path and not name.casefold().startswith(_ROOT):
            raise self._refuse(f"the root element {show_value(name)}", "IESTM2714 (IES TM-27)")
        if len(self._path) >= _MOST_DEPTH:
            raise self._refuse("elements nested too deep", f"at most {_MOST_DEPTH} levels")
        self._path.append(name)
        self._text = ""
        if name == "SpectralDistribution":
            self.distributions.append(Distribution(self._line()))
        elif name == "SpectralData":
            if not self.distributions:
                raise self._refuse("SpectralData by itself", "it inside SpectralDistribution")
            self._points += 1
            if self._points > MAX_LINES:
                raise self._refuse(f"over {MAX_LINES} points", f"at most {MAX_LINES} points")
            given = {key.rpartition(":")[2]: value for key, value in attrs.items()}
            self._wavelength = self._number(given.get("wavelength", ""), "wavelength")

    def characters(self, content: str) -> None:
        if len(self._text) < _MOST_TEXT:
            self._text += content

    def endElement(self, name: str) -> None:  # noqa: N802
        name = name.rpartition(":")[2]
        text = self._text.strip()
        if name == "SpectralData":
            point = (self._wavelength, self._number(text, name), self._line())
            self.distributions[-1].points.append(point)
        elif name == "SpectralQuantity" and self.distributions:
            self.distributions[-1].quantity = text.casefold()
            self.distributions[-1].quantity_line = self._line()
        elif name in ("BandwidthFWHM", "BandwidthCorrected") and self.distributions:
            self.distributions[-1].said.append(f"{name}: {text[:40]}")
        elif name == "Description" and not self.description:
            self.description = " ".join(text.split())[:80]
        self._path.pop()
        self._text = ""

    def _number(self, text: str, name: str) -> float:
        try:
            value = float(text) if "_" not in text and text.isascii() else math.nan
        except ValueError:
            value = math.nan
        if not math.isfinite(value):
            raise self._refuse(show_value(text) if text else "nothing", "a finite number", name)
        return value


def parse_tm27(raw: bytes, file: str) -> tuple[Table, ...]:
    """Parse an IES TM-27 file into tables, one for each spectral distribution.

    Values are honoured as stated: irradiance is in W m-2 nm-1 and gives lux; flux, intensity,
    radiance, exitance and relative values give colour alone; transmittance and reflectance are
    not lights. The order of wavelengths does not matter.

    Raises
    ------
    SpectrumError
        Also for an unknown quantity, repeated wavelengths, a hole, a range that misses 420 to 680
        nm, negative values beyond noise.
    """
    description, found = read_distributions(raw, file)
    if not found:
        raise SpectrumError("no SpectralDistribution", "one or more", Place(file))
    return tuple(
        _make_table(each, number, len(found), description, file)
        for number, each in enumerate(found, 1)
    )


def _make_table(each: Distribution, number: int, count: int, description: str, file: str) -> Table:
    label = description if count == 1 and description else f"distribution {number}"
    place = Place(file, each.line, 0, f"SpectralDistribution {number}")
    if each.quantity not in (*_LIGHT, *SURFACE_QUANTITIES):
        allowed = f"SpectralQuantity one of {', '.join((*_LIGHT, *SURFACE_QUANTITIES))}"
        at = Place(file, each.quantity_line or each.line, 0, f"SpectralDistribution {number}")
        raise SpectrumError(show_value(each.quantity) if each.quantity else "none", allowed, at)
    if len(each.points) < MIN_ROWS:
        raise SpectrumError(f"{len(each.points)} points", f"at least {MIN_ROWS} points", place)
    points = sorted(each.points, key=lambda point: point[0])
    wavelength = np.array([point[0] for point in points])
    lines = [point[2] for point in points]
    same = np.flatnonzero(np.diff(wavelength) == 0)
    if same.size:
        twice = f"{wavelength[same[0]]:g} nm twice"
        at = Place(file, max(lines[same[0]], lines[same[0] + 1]))
        raise SpectrumError(twice, "each wavelength once", at)
    notes = ["IES TM-27 XML, wavelengths in nm", f"quantity: {each.quantity}"]
    if [point[0] for point in each.points] != wavelength.tolist():
        notes.append("wavelengths put in rising order")
    check_range(float(wavelength[0]), float(wavelength[-1]), place)
    check_gaps(wavelength, file, notes, lines)
    values = np.array([point[1] for point in points])
    values = clear_noise(
        values[:, None],
        notes,
        lambda row, _: Place(file, lines[row]) if row >= 0 else place,
        "distribution",
    )
    factor = 1.0 if each.quantity == "irradiance" else math.nan
    return Table(
        wavelength,
        values,
        (label,),
        tuple(notes),
        file,
        quantities=(Quantity(each.quantity, factor),),
        said=tuple(each.said),
        counted_as="distribution",
        first_number=number,
    )
