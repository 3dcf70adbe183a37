"""What several test modules share."""

from __future__ import annotations

import os
import warnings
from dataclasses import replace
from types import ModuleType

import pytest
from hypothesis import settings

from tests.shared import HOSTILE, decide, make_camera, make_kitchen
from wbplan.core.names import make_setup_stem
from wbplan.core.notes import warn
from wbplan.planning.decisions import Plan, SetupPlan

# How long an example takes says more of the machine than of the code; speed lives in tests/bench.
# What gates a landing draws the same examples each time; elsewhere they are new in every run.
settings.register_profile("wbplan", deadline=None, derandomize="CI" in os.environ)
settings.load_profile("wbplan")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Begin with the browser, whose modules take longest: else one core waits at the end."""
    items.sort(key=lambda item: item.get_closest_marker("browser") is None)


@pytest.fixture(scope="session")
def colour() -> ModuleType:
    """colour-science, the reference library, which warns of every optional package it misses."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour
    return colour


@pytest.fixture(scope="session")
def kitchen() -> SetupPlan:
    return decide(make_kitchen(), "01-kitchen")


@pytest.fixture(scope="session")
def plan(kitchen: SetupPlan) -> Plan:
    presets = make_camera(
        "exact", kelvin=(), presets=(("Indoor", 3200.0, 0.0), ("Sun", 5500.0, 3.0)), cc_per_step=1.5
    )
    street = decide(make_kitchen("street", camera=presets, keep="no_clip"), "02-street")
    return Plan("A night's work", "scene.yaml", "ab" * 32, "0.1.0", True, (kitchen, street))


@pytest.fixture(scope="session")
def hostile() -> Plan:
    setup = make_kitchen(HOSTILE, HOSTILE)
    face, *others = setup.positions
    renamed = (replace(face, name=HOSTILE), *others)
    made = decide(replace(setup, positions=renamed, key=HOSTILE), make_setup_stem(1, HOSTILE))
    assert made.lut is not None
    made = replace(made, lut=replace(made.lut, file=replace(made.lut.file, file_name=HOSTILE)))
    made = replace(made, notes=(*made.notes, warn("x", HOSTILE, HOSTILE)))
    return Plan(HOSTILE, HOSTILE, HOSTILE, HOSTILE, False, (made,))
