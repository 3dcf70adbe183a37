"""Spreadsheets of the Office Open XML kind (ECMA-376, ``.xlsx``), each sheet as a text table.

openpyxl reads them, an extra that may not be installed. Only the values that cells show are taken,
never a formula; the size of what is packed is looked at before it is unpacked.
"""

from __future__ import annotations

import io
import itertools
import zipfile
from typing import Any, Final

from wbplan.core.errors import Place, SpectrumError
from wbplan.read.spectra.rows import MAX_COLUMNS, MAX_LINES

_MOST_UNPACKED: Final = 100_000_000
_MOST_SHEETS: Final = 50
_MOST_CELLS: Final = 2_000_000


def is_workbook(raw: bytes) -> bool:
    """Tell a workbook by the mark of a ZIP archive."""
    return raw.startswith(b"PK\x03\x04")


def read_sheets(raw: bytes, file: str) -> list[tuple[str, str]]:
    """Read the sheets of a workbook that hold something, as text with a tab between cells.

    Raises
    ------
    SpectrumError
        Without openpyxl, for an archive that is no workbook, or one too large unpacked.
    """
    place = Place(file)
    _check_archive(raw, file)
    try:
        import openpyxl
    except ImportError:
        found = "a workbook, and openpyxl is not installed"
        allowed = "the sheet saved as CSV, or: pip install 'wbplan[excel]'"
        raise SpectrumError(found, allowed, place) from None
    import warnings

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of styles and charts that nothing here needs
            book: Any = openpyxl.load_workbook(io.BytesIO(raw), read_only=True, data_only=True)
            sheets = [(str(each.title), _write_sheet(each, file)) for each in book.worksheets]
    except SpectrumError:
        raise
    except Exception as error:  # openpyxl lets through whatever its parsers raise
        found = f"a workbook that cannot be read ({type(error).__name__})"
        raise SpectrumError(found, "an .xlsx that opens, or the sheet as CSV", place) from None
    return [(name, text) for name, text in sheets[:_MOST_SHEETS] if text.strip()]


def _check_archive(raw: bytes, file: str) -> None:
    place = Place(file)
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as archive:
            entries = archive.infolist()
    except (zipfile.BadZipFile, ValueError, NotImplementedError, OSError, EOFError):
        raise SpectrumError("an archive that breaks off", "an .xlsx", place) from None
    if not any(each.filename.startswith("xl/") for each in entries):
        raise SpectrumError("an archive that is no workbook", "an .xlsx", place)
    if sum(each.file_size for each in entries) > _MOST_UNPACKED or len(entries) > 2000:
        allowed = f"at most {_MOST_UNPACKED / 1e6:g} MB unpacked"
        raise SpectrumError("a workbook too large", allowed, place)


def _write_sheet(sheet: Any, file: str) -> str:
    lines = []
    cells = 0
    # without bounds, for rows are filled up to those that are given
    for row in itertools.islice(sheet.iter_rows(values_only=True), MAX_LINES + 1):
        if len(row) > MAX_COLUMNS:
            found = f"a row of {len(row)} cells"
            raise SpectrumError(found, f"at most {MAX_COLUMNS}", Place(file))
        cells += len(row)
        if cells > _MOST_CELLS:
            found = f"a sheet of over {_MOST_CELLS} cells"
            raise SpectrumError(found, "a smaller one", Place(file))
        lines.append("\t".join(_write_cell(each) for each in row))
    return "\n".join(lines)


def _write_cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return repr(value)
    return " ".join(str(value)[:2000].split())
