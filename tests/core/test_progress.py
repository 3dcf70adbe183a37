"""The progress bar: silent where nobody looks or nothing takes long, wiped when it is done."""

from __future__ import annotations

import io
import sys
import time

import pytest

from wbplan.core.progress import show_progress


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_nothing_is_shown_off_a_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    assert list(show_progress([1, 2, 3], "files")) == [1, 2, 3]
    assert capsys.readouterr() == ("", "")


def test_nothing_is_shown_for_what_is_quick(monkeypatch: pytest.MonkeyPatch) -> None:
    terminal = Terminal()
    monkeypatch.setattr(sys, "stderr", terminal)
    assert list(show_progress([1, 2], "files")) == [1, 2]
    assert terminal.getvalue() == ""


def test_a_bar_after_two_seconds(monkeypatch: pytest.MonkeyPatch) -> None:
    terminal, clock = Terminal(), iter(range(100))
    monkeypatch.setattr(sys, "stderr", terminal)
    monkeypatch.setattr(time, "monotonic", lambda: float(next(clock)))
    assert list(show_progress(list("abcdef"), "files")) == list("abcdef")
    said = terminal.getvalue()
    assert "2 of 6 files" in said
    assert "5 of 6 files" in said
    assert "1 of 6" not in said
    assert said.endswith("\r")
