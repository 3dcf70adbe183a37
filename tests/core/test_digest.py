"""Digests: SHA-256 by its standard, values told apart, and what decides a result moves it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta, timezone
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wbplan import make_files, plan
from wbplan.core.digest import digest_bytes, digest_values
from wbplan.core.ledger import Asked, InputFile, Ledger, PlanInputs, digest_asked
from wbplan.read.catalogue import find_scenario_file, list_shipped
from wbplan.read.scenario.reader import read_scenario

SCENARIO = """wbplan: 1
title: A hall
invented: false
camera: cfa-mid
setups:
  - name: Hall
    sources:
      lamp: {spectrum_file: lamp.csv}
    positions: {face: {lux: {lamp: 300}}}
    shooting: {fps: 24, shutter_angle_deg: 180}
"""
LAMP = "nm,power\n" + "".join(f"{nm},{1 + (nm - 380) / 400:.4f}\n" for nm in range(380, 781, 5))


@dataclass(frozen=True)
class _Two:
    first: object
    second: object = None


@dataclass(frozen=True)
class _Other:
    first: object
    second: object = None


def test_bytes_have_the_digest_of_the_standard() -> None:
    """FIPS 180-4, the example that NIST publishes for SHA-256: the one-block message."""
    assert digest_bytes(b"abc") == (
        "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    )


APART = [
    None, True, False, 0, 1, 10**9, 10**9 + 1, "1", "", b"1", b"", (), (1,), (1, 1), ((1,), 1),
    ("a", "b"), ("ab", ""), ("ab",), {"a": 1}, {"a": 1.5}, frozenset("a"), float("nan"),
    float("inf"), _Two(1), _Two(None, 1), _Other(1), date(2026, 3, 1), datetime(2026, 3, 1),
    datetime(2026, 3, 1, tzinfo=ZoneInfo("Europe/Paris")), timezone(timedelta(hours=1)),
    np.array([1.0]), np.array([[1.0]]), np.array([1.0, 1.0]), np.array([1.0 + 1e-6]),
]  # fmt: skip


def test_what_differs_is_told_apart() -> None:
    assert len({digest_values(each) for each in APART}) == len(APART)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        (5600, 5600.0),
        (0.0, -0.0),
        (0.1 + 0.2, 0.3),
        ([1, "a"], (1, "a")),
        (frozenset("ab"), {"b", "a"}),
        (np.array([0.1 + 0.2]), np.array([0.3])),
    ],
)
def test_what_nobody_can_tell_apart_is_the_same(one: object, other: object) -> None:
    assert digest_values(one) == digest_values(other)


@given(st.lists(st.text()), st.lists(st.text()))
def test_texts_do_not_run_together(one: list[str], other: list[str]) -> None:
    assert (digest_values(*one) == digest_values(*other)) == (one == other)


def test_what_has_no_digest_is_refused() -> None:
    with pytest.raises(TypeError, match="function"):
        digest_values(_Two(digest_values))


@pytest.mark.parametrize("name", sorted(list_shipped("scenarios")))
def test_every_value_of_a_scenario_has_a_digest(name: str) -> None:
    """So that what is built in Python has one without a file; reading twice gives the same."""
    found = [read_scenario(find_scenario_file(name)) for _ in range(2)]
    digest = digest_values(found[0])
    assert digest == digest_values(found[1])
    assert digest != digest_values(replace(found[0], title="another"))
    assert digest != digest_values(replace(found[0], invented=not found[0].invented))


FILES = (InputFile("scenario/a.yaml", b"one"), InputFile("scenario/b.csv", b"two"))
INPUTS = PlanInputs("scenario/a.yaml", FILES, "cfa-mid", Asked())


@pytest.mark.parametrize(
    "other",
    [
        replace(INPUTS, asked=Asked(band_share=0.8)),
        replace(INPUTS, asked=Asked(advise=True)),
        replace(INPUTS, camera=None),
        replace(INPUTS, camera="cfa-presets"),
        replace(INPUTS, camera="camera/cfa-mid.yaml"),
        replace(INPUTS, files=(FILES[0], InputFile("scenario/b.csv", b"two "))),
        replace(INPUTS, files=FILES[:1]),
        replace(INPUTS, files=FILES[::-1]),
    ],
)
def test_what_decides_a_result_moves_the_digest(other: PlanInputs) -> None:
    assert other.digest != INPUTS.digest


@pytest.mark.parametrize(
    "other",
    [
        replace(INPUTS, asked=Asked(plate=True)),
        replace(INPUTS, asked=Asked(figures=True)),
        replace(INPUTS, camera="CFA_mid"),
        replace(INPUTS, scenario="scenario/c.yaml"),
        replace(INPUTS, files=tuple(InputFile(f"x/{each.sha256}", each.data) for each in FILES)),
    ],
)
def test_nothing_else_moves_it(other: PlanInputs) -> None:
    assert other.digest == INPUTS.digest


def test_the_version_moves_it(monkeypatch: pytest.MonkeyPatch) -> None:
    before = INPUTS.digest
    assert before == digest_asked(Asked(), "cfamid", [each.sha256 for each in FILES])
    monkeypatch.setattr("wbplan.core.ledger.__version__", "0.0.0")
    assert INPUTS.digest != before


def _write(folder: Path, text: str, name: str = "hall.yaml", lamp: str = LAMP) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "lamp.csv").write_text(lamp)
    (folder / name).write_text(text)
    return folder / name


def _digest(path: Path, camera: str | None = None) -> str:
    """Digest what a scenario file was read from, as a plan of it does."""
    ledger = Ledger()
    with ledger.scope("scenario", path.parent):
        read_scenario(path, camera)
    return PlanInputs(ledger.files[0].name, ledger.files, camera).digest


def test_a_file_counts_by_what_it_holds_not_by_where_it_lies(tmp_path: Path) -> None:
    here = _digest(_write(tmp_path / "a", SCENARIO))
    assert _digest(_write(tmp_path / "b" / "c", SCENARIO, "other.yaml")) == here
    for text, lamp in (
        (SCENARIO.replace("A hall", "The hall"), LAMP),
        (SCENARIO.replace("false", "true"), LAMP),
        (SCENARIO + "# as read\n", LAMP),
        (SCENARIO, LAMP + "\n"),
    ):
        assert _digest(_write(tmp_path / "d", text, lamp=lamp)) != here
    assert _digest(_write(tmp_path / "a", SCENARIO), "cfa-mid") != here


def test_an_absolute_path_counts_as_the_same_on_every_machine(tmp_path: Path) -> None:
    found = set()
    for folder in (tmp_path / "a", tmp_path / "other"):
        text = SCENARIO.replace("lamp.csv", f"'{folder / 'lamp.csv'}'")
        found.add(_digest(_write(folder, text)))
    assert len(found) == 1


def test_spectra_of_invented_data_have_an_identifier_of_their_own(tmp_path: Path) -> None:
    """Two TM-27 files, one of invented data and one not, or of another title, are not one."""
    found = {}
    texts = (SCENARIO, SCENARIO.replace("false", "true"), SCENARIO.replace("A hall", "A house"))
    for number, text in enumerate(texts):
        made = plan(_write(tmp_path / str(number), text), plate=True)
        files = make_files(made)
        xml = next(data for name, data in files.items() if name.endswith(".xml"))
        identifier = xml.decode().split("UniqueIdentifier>")[1].partition("<")[0]
        assert identifier == f"{made.digest}-1-1"
        found[identifier] = number
    assert len(found) == len(texts)
