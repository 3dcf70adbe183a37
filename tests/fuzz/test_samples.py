"""A few cases of every fuzzer in the suite; `python -m tests.fuzz` runs them by the thousand."""

from __future__ import annotations

from importlib import import_module
from pathlib import Path

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from tests.fuzz.loop import Target, run_case
from tests.fuzz.server import EDITS as SEEDS
from wbplan.front.open.edits import EDITS

CASES = {
    "spectra": 60,
    "profiles": 60,
    "lessons": 25,
    "days": 30,
    "records": 20,
    "frames": 30,
    "formats": 40,
    "server": 40,
}
NEEDS = {
    "days": "pvlib",
    "records": "pvlib",
    "frames": "OpenImageIO",
    "formats": "PyOpenColorIO",
    "lessons": "OpenImageIO",
}


@pytest.fixture(scope="module", params=sorted(CASES))
def target(request: pytest.FixtureRequest) -> Target:
    pytest.importorskip(NEEDS.get(request.param, "numpy"))
    found: Target = import_module(f"tests.fuzz.{request.param}").TARGET
    return found


def test_every_edit_of_the_browser_is_mutated() -> None:
    assert {each["do"] for each in SEEDS} == set(EDITS)


def test_what_is_mutated_is_taken_or_refused(
    target: Target, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "case"
    folder.mkdir()
    target.begin(folder, monkeypatch.setattr)

    @settings(
        max_examples=CASES[target.name],
        deadline=None,
        database=None,
        derandomize=True,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(st.integers(0, 2**32))
    def hold(seed: int) -> None:
        run_case(target, str(seed), folder)

    hold()
