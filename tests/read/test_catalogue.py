"""Names: every source that can be named, the near misses, the shipped scenarios."""

from __future__ import annotations

import re
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from tests.shared import plan_shipped
from wbplan.core.errors import SpectrumError, UnknownNameError, fold_name
from wbplan.core.tables import list_source_records
from wbplan.read.catalogue import (
    describe_sources,
    find_camera,
    find_scenario_file,
    find_source,
    list_shipped,
    list_usable_sources,
)


def test_every_source_of_the_library_is_there(colour: ModuleType) -> None:
    names = [each.name for each in list_source_records()]
    assert names[: len(colour.SDS_ILLUMINANTS)] == list(colour.SDS_ILLUMINANTS)
    assert len(names) == len(colour.SDS_ILLUMINANTS) + len(colour.SDS_LIGHT_SOURCES)


def test_names_are_unique_as_compared() -> None:
    folded = [fold_name(each.name) for each in list_source_records()]
    assert len(set(folded)) == len(folded)


def test_lamp_names_say_their_colour_temperature() -> None:
    said = {}
    for name, cct, _, dataset in describe_sources():
        found = re.search(r"-(\d+)k", name)
        if found and not dataset.startswith("CIE"):
            said[name] = (float(found[1]), cct)
    assert len(said) == 56
    for name, (written, cct) in said.items():
        assert written == pytest.approx(cct, abs=60), name


@pytest.mark.parametrize("record", list_usable_sources(), ids=lambda each: each.name)
def test_every_usable_source_is_a_light(record: object) -> None:
    spectrum = find_source(record.name)  # type: ignore[attr-defined]
    assert spectrum.values.max() == pytest.approx(1.0)
    assert spectrum.values.min() >= 0
    assert spectrum.origin
    assert np.isfinite(spectrum.values).all()


@pytest.mark.parametrize("name", ["led-b3", "LED_B3", "Led B3"])
def test_case_and_separators_do_not_count(name: str) -> None:
    assert find_source(name).name == "LED-B3"


def test_a_typo_is_answered_with_the_nearest_names() -> None:
    with pytest.raises(UnknownNameError, match="did you mean 'sodium-high-pressure"):
        find_source("sodium-hi-pressure-2000k")
    with pytest.raises(UnknownNameError, match="did you mean 'cfa-mid'"):
        find_camera("cfamidd", Path())
    with pytest.raises(UnknownNameError, match="dusk_workshop"):
        find_scenario_file("dusk workshp")


def test_a_truncated_table_is_refused_not_extended() -> None:
    # The ISO 7589 printer table stops at 560 nm.
    with pytest.raises(SpectrumError, match="from 350 to 560 nm"):
        find_source("ISO 7589 Sensitometric Printer")
    assert find_source("ISO 7589 Photoflood").notes[0].weight == "warning"


@pytest.mark.parametrize("name", list_shipped("scenarios"))
def test_every_shipped_scenario_plans_and_is_marked_invented(name: str) -> None:
    decided = plan_shipped(name)
    assert decided.invented
    assert decided.setups


def test_demo_has_unlike_sources_a_file_and_a_kept_cast() -> None:
    setup = plan_shipped("dusk_workshop").setups[0]
    assert len(setup.lights) >= 4
    assert len(setup.positions) >= 5
    assert any(light.origin.endswith(".csv") for light in setup.lights)
    assert any(place.intent_words.startswith("keep") for place in setup.positions)
