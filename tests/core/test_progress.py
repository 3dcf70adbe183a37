"""The progress bar: silent where nobody looks or nothing takes long, wiped when it is done."""

from __future__ import annotations

import io
import sys
import time

import pytest

from wbplan.core.progress import follow, keep_rising, make_bar, take_part


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_nothing_is_shown_off_a_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    assert list(follow([1, 2, 3], make_bar(), "files")) == [1, 2, 3]
    assert capsys.readouterr() == ("", "")


def test_nothing_is_shown_for_what_is_quick(monkeypatch: pytest.MonkeyPatch) -> None:
    terminal = Terminal()
    monkeypatch.setattr(sys, "stderr", terminal)
    assert list(follow([1, 2], make_bar(), "files")) == [1, 2]
    assert terminal.getvalue() == ""


def test_a_bar_after_two_seconds(monkeypatch: pytest.MonkeyPatch) -> None:
    terminal, clock = Terminal(), iter(range(100))
    monkeypatch.setattr(sys, "stderr", terminal)
    monkeypatch.setattr(time, "monotonic", lambda: float(next(clock)))
    assert list(follow(list("abcdef"), make_bar(), "files")) == list("abcdef")
    said = terminal.getvalue()
    assert "33 %  2 of 6 files" in said
    assert "5 of 6 files" in said
    assert "1 of 6" not in said
    assert said.endswith("\r")


def test_a_part_counts_as_its_share_and_no_share_falls() -> None:
    told: list[tuple[float, str]] = []
    whole = keep_rising(lambda share, doing: told.append((share, doing)))
    part = take_part(whole, 0.5, 1.0)
    assert part is not None
    for share in (0.0, 0.8, 0.2, 1.0):
        part(share, "packs")
    assert told == [(0.5, "packs"), (0.9, "packs"), (0.9, "packs"), (1.0, "packs")]
    assert list(follow([1, 2], None, "files")) == [1, 2]
    assert take_part(None, 0.0, 0.5) is keep_rising(None) is None
