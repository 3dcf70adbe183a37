"""The waveform that a file may carry beside its spectrum: light over time, for flicker.

In text and workbooks it is a block of its own: a heading of two cells, the first "time" with its
unit, and twenty rows or more of two numbers, the time rising. In JSON it is an object with a list
called ``time_s``, ``time_ms`` or ``time_us``, or a number called ``sample_rate_hz``, and one list
of levels beside it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from typing import Any, Final

import numpy as np

from wbplan.light.waveform import LEAST_SAMPLES, Waveform
from wbplan.read.spectra.rows import NUMBER
from wbplan.read.spectra.upright import Table

_SECONDS: Final = {
    **dict.fromkeys(("s", "sec", "seconds"), 1.0),
    **dict.fromkeys(("ms", "msec", "milliseconds"), 1e-3),
    **dict.fromkeys(("us", "µs", "μs", "microseconds"), 1e-6),
}
_TIME: Final = re.compile(
    rf'"?(?:elapsed[ _])?time[ _]?[\[(]?({"|".join(_SECONDS)})[\])]?"?', re.IGNORECASE
)
_SEPARATOR: Final = re.compile(r"[ ]*[\t;,][ ]*|[ ]{2,}")
_LEVELS: Final = ("level", "levels", "values", "value", "light", "signal", "intensity")
_MOST_SAMPLES: Final = 2_000_000


def cut_waveform(text: str) -> tuple[str, Waveform | None]:
    """Cut the first waveform out of a text, leaving blank lines in its place."""
    if "time" not in text[:5_000_000].casefold():
        return text, None
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    for place, line in enumerate(lines):
        if "time" not in line[:40].casefold():
            continue
        unit = _read_heading(line)
        if unit is None:
            continue
        pairs: list[tuple[float, float]] = []
        for row in lines[place + 1 :]:
            pair = _read_pair(row)
            if pair is None:
                break
            pairs.append(pair)
        made = _make(pairs, unit)
        if made is not None:
            end = place + 1 + len(pairs)
            return "\n".join([*lines[:place], *[""] * (end - place), *lines[end:]]), made
    return text, None


def _read_heading(line: str) -> float | None:
    """Read a heading of a time and one label: the time's unit [s], or None."""
    cells = _SEPARATOR.split(line.strip()[:200])
    if len(cells) != 2 or not cells[1] or NUMBER.fullmatch(cells[1]):
        return None
    match = _TIME.fullmatch(cells[0])
    return None if match is None else _SECONDS[match[1].casefold()]


def _read_pair(line: str) -> tuple[float, float] | None:
    if len(line) > 100:
        return None
    cells = (
        _SEPARATOR.split(line.strip()) if "," not in line or ";" not in line else line.split(";")
    )
    if len(cells) != 2 or not all(NUMBER.fullmatch(each.strip()) for each in cells):
        return None
    if any(each.rstrip().endswith("%") for each in cells):
        return None
    one, two = (float(each.strip().replace(",", ".")) for each in cells)
    return one, two


def _make(pairs: list[tuple[float, float]], unit: float) -> Waveform | None:
    if not LEAST_SAMPLES <= len(pairs) <= _MOST_SAMPLES:
        return None
    time, level = np.array(pairs).T
    if not np.isfinite(time).all() or not np.isfinite(level).all():
        return None
    if (np.diff(time) <= 0).any() or level.max() <= 0 or np.abs(time).max() > 1e9:
        return None
    if level.max() > 1e30:
        return None
    # an instrument's zero wanders a little; what is dark is dark
    return Waveform((time - time[0]) * unit, np.maximum(level, 0.0) / level.max())


def add_waveform(tables: tuple[Table, ...], waveform: Waveform | None) -> tuple[Table, ...]:
    """Add a waveform to the only spectrum of a file; beside several it is anybody's."""
    if waveform is None:
        return tables
    count, size = sum(len(each.labels) for each in tables), waveform.time_s.size
    if count > 1:
        note = f"a waveform passed over: it does not say which of {count} spectra it is of"
        return tuple(replace(each, notes=(*each.notes, note)) for each in tables)
    span = f"{waveform.time_s[-1]:.3g} s"
    note = f"a waveform of {size} samples over {span} beside it"
    return (replace(tables[0], waveform=waveform, notes=(*tables[0].notes, note)),)


def find_json_waveform(tree: Any) -> Waveform | None:
    """Find the first waveform of a JSON tree."""
    for each in _list_objects(tree):
        levels = next((each[name] for name in _LEVELS if isinstance(each.get(name), list)), None)
        if levels is None or not all(map(_is_number, levels)):
            continue
        rate = each.get("sample_rate_hz")
        if rate is not None and _is_number(rate) and 0 < rate < 1e9:
            return _make([(row / rate, float(value)) for row, value in enumerate(levels)], 1.0)
        for name, unit in (("time_s", 1.0), ("time_ms", 1e-3), ("time_us", 1e-6)):
            times = each.get(name)
            if (
                isinstance(times, list)
                and len(times) == len(levels)
                and all(map(_is_number, times))
            ):
                pairs = [(float(t), float(v)) for t, v in zip(times, levels, strict=True)]
                return _make(pairs, unit)
    return None


def _list_objects(tree: Any) -> Iterator[dict[str, Any]]:
    waiting = [(tree, 0)]
    while waiting:
        each, depth = waiting.pop()
        inside: list[Any] = []
        if isinstance(each, dict):
            yield each
            inside = list(each.values())
        elif isinstance(each, list) and len(each) < 10_000:
            inside = each
        if depth < 20:
            waiting += [(value, depth + 1) for value in inside if isinstance(value, dict | list)]


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < 1e30
