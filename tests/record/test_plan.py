"""The record: JSON as RFC 8259 has it, a unit in every number's key, the plan's own values."""

from __future__ import annotations

import hashlib
import json
import re
from typing import Any

import pytest

from tests.shared import ENDS, HOSTILE, UNITS, refuse, walk
from wbplan.planning.decisions import Plan
from wbplan.record.numbers import round_by_unit
from wbplan.record.plan import build_record, format_record
from wbplan.scene.cautions import DEFERENCE


@pytest.fixture(scope="session")
def record(plan: Plan) -> dict[str, Any]:
    return build_record(plan)


def test_text_is_json_that_reads_back(record: dict[str, Any]) -> None:
    text = format_record(record)
    assert json.loads(text, parse_constant=refuse) == round_by_unit(record)
    assert text.endswith("}\n")
    assert not re.search(r"\b(NaN|Infinity)\b", text)
    assert text.startswith('{\n "format": "wbplan plan",\n "format_version": 2,\n')


def test_every_number_has_its_unit_in_the_key(record: dict[str, Any]) -> None:
    numbers = [
        key
        for key, value in walk(record)
        if isinstance(value, int | float) and not isinstance(value, bool)
    ]
    assert len(numbers) > 1000
    stray = {key for key in numbers if re.sub(ENDS, "", key).split("_")[-1] not in UNITS}
    assert stray == set()


def test_values_are_the_plans_own(plan: Plan, record: dict[str, Any]) -> None:
    assert record["digest_sha256"] == plan.digest
    assert record["invented"] is True
    for made, kept in zip(plan.setups, record["setups"], strict=True):
        exact = kept["exact_setting"]
        assert exact["kelvin"] == pytest.approx(made.exact.kelvin.value, rel=1e-8)
        assert exact["mired_low"] == pytest.approx(made.exact.mired.low, rel=1e-8)
        assert exact["kelvin_low"] <= exact["kelvin"] <= exact["kelvin_high"]
        assert exact["kelvin"] * exact["mired"] == pytest.approx(1e6, rel=1e-7)
        assert kept["dialled_setting"]["kelvin"] == made.dial.kelvin
        assert list(kept["gains"].values()) == pytest.approx(made.gains, rel=1e-8)
        for position, place in zip(made.positions, kept["positions"], strict=True):
            assert place["name"] == position.name
            assert place["illuminance_lux"] == pytest.approx(position.lux.value, rel=1e-8)
            assert place["cast"]["green_cc"] == pytest.approx(
                position.cast.green_cc.value, rel=1e-8, abs=1e-12
            )
            shares = [each["share_percent"] for each in place["shares"]]
            assert sum(shares) == pytest.approx(0 if place["trouble"] == "no light here" else 100)
        for light in kept["lights"]:
            assert len(light["spectrum_relative"]) == record["wavelengths"]["count"] == 401
            assert max(light["spectrum_relative"]) == 1
        assert kept["cautions_defer_to"] == DEFERENCE
        assert kept["cautions"]


def test_lut_is_identified_by_its_bytes(plan: Plan, record: dict[str, Any]) -> None:
    made, kept = plan.setups[0].lut, record["setups"][0]["lut"]
    assert made is not None
    assert kept["sha256"] == hashlib.sha256(made.file.data).hexdigest()
    assert kept["size_points"] == made.file.size
    assert (kept["needed_points"] is None) != kept["limit_met"]
    worst = max(kept["error"][way]["worst_ten_bit_codes"] for way in ("trilinear", "tetrahedral"))
    assert worst == pytest.approx(made.file.error.worst_codes, rel=1e-8)


def test_what_does_not_exist_is_null(record: dict[str, Any]) -> None:
    dark = record["setups"][0]["positions"][4]
    assert dark["trouble"] == "no light here"
    assert dark["eye"] == {"cct_kelvin": None, "duv": None, "x": None, "y": None}
    assert dark["from_key_stops"] is None
    assert dark["nd_for_wanted_t_stop_stops"] is None


def test_menus_are_stated_short(record: dict[str, Any]) -> None:
    ladder, presets = (each["camera"]["menu"] for each in record["setups"])
    assert {key: value for key, value in ladder.items() if key.startswith("kelvin")} == {
        "kelvin_low": 2500,
        "kelvin_high": 10000,
        "kelvin_step": 100,
    }
    assert presets["kelvin_choices"] == []
    assert presets["presets"][0] == {"name": "Indoor", "kelvin": 3200, "tint_cc": 0}


def test_hostile_names_survive_and_cannot_turn_the_text(hostile: Plan) -> None:
    text = format_record(build_record(hostile))
    assert json.loads(text)["setups"][0]["name"] == HOSTILE
    assert not re.search("[\u202a-\u202e\u2066-\u2069\x00-\x09\x0b-\x1f\x7f-\x9f]", text)
    broken = format_record({"name": "\ud800"})
    assert broken.encode() == b'{\n "name": "\\ud800"\n}\n'


def test_nan_is_refused_not_written() -> None:
    with pytest.raises(ValueError, match="not JSON compliant"):
        format_record({"kelvin": float("nan")})


def test_same_plan_gives_the_same_text(plan: Plan, record: dict[str, Any]) -> None:
    assert format_record(build_record(plan)) == format_record(record)
