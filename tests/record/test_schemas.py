"""Every record is what its schema says: JSON Schema draft 2020-12, by the jsonschema library.

https://json-schema.org/draft/2020-12 is the published standard; the library is the judge.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

import wbplan
from tests.shared import plan_shipped
from wbplan.front.cli.main import main
from wbplan.front.files import make_files, make_light_record
from wbplan.front.lights import describe
from wbplan.planning.decisions import Plan
from wbplan.read.catalogue import list_shipped
from wbplan.record.schemas import read_schema_text

HEAD = "wbplan: 1\ntitle: Odd\ncamera: {camera}\nmains_hz: 50\nsources:\n"
SETUP = """
setups:
  - name: Wide
    shooting: {{fps: 24, shutter_angle_deg: 180{more}}}
{rest}
    positions:
"""
ODD = {
    "a line that nothing neutralises": HEAD.format(camera="cfa-mid")
    + "  sodium: {discharge_lamp: {lines: [{nm: 589, power: 1}]}}"
    + "\n  lamp: {lamp: A}"
    + SETUP.format(more="", rest="    lut_keeps: no_clip")
    + "      door: {lux: {sodium: 40}}\n      dark: {lux: {lamp: 0}, intent: leave}\n",
    "presets only, no tint": HEAD.format(camera="cfa-presets")
    + "  lamp: {lamp: FL2, flicker: {mains_hz: 50}}"
    + SETUP.format(more=", readout_ms: 0, t_stop: 128", rest="")
    + "      face: {lux: {lamp: 40}, within: {mired: 3}}\n"
    + "      wall: {lux: {lamp: 1}, within: {cc: 1}}\n",
    "flash alone, tint along Duv": HEAD.format(camera="cfa-duv-tint")
    + "  strobe: {daylight_kelvin: 5600, flash: true}"
    + SETUP.format(more=", t_stop: 8", rest="    also_cameras: [cfa-mid]")
    + "      face: {flash_lux_s: {strobe: 12}}\n      wall: {flash_lux_s: {strobe: 3}}\n",
    "every kind of LUT": HEAD.format(camera="cfa-mid")
    + "  tubes: {lamp: FL2}\n  window: {daylight_kelvin: 6500}"
    + SETUP.format(
        more="",
        rest="    kit: {glass: {ND 0.6: {nd_density: 0.6}}}\n"
        "    luts:\n"
        "      - {kind: positions, size: 17}\n"
        "      - {kind: gains, formats: [cube, cc, ccc, cdl]}\n"
        "      - {kind: light-match, from: tubes, to: window, size: 17, formats: [cube, clf]}\n"
        "      - {kind: camera-match, like: cfa-presets, size: 17}\n"
        "      - {kind: monitor, size: 17}\n",
    )
    + "      face: {lux: {tubes: 100, window: 20}}\n      wall: {lux: {window: 5}}\n",
}


def load(record: str) -> dict[str, Any]:
    schema: dict[str, Any] = json.loads(read_schema_text(record))
    Draft202012Validator.check_schema(schema)
    return schema


SCHEMAS = {name: load(name) for name in ("plan", "lights")}


def list_faults(record: str, value: Any) -> list[str]:
    found = Draft202012Validator(SCHEMAS[record]).iter_errors(value)
    return [f"{each.json_path}: {each.message[:200]}" for each in found]


def walk_schema(schema: Any, path: str = "$") -> Iterator[tuple[str, dict[str, Any]]]:
    """Give every part of a schema that describes an object."""
    if isinstance(schema, dict):
        if "properties" in schema:
            yield path, schema
        for key, each in schema.items():
            yield from walk_schema(each, f"{path}.{key}")
    elif isinstance(schema, list):
        for row, each in enumerate(schema):
            yield from walk_schema(each, f"{path}[{row}]")


def find_part(schema: dict[str, Any], root: dict[str, Any]) -> dict[str, Any]:
    """Follow a reference, and the side of a choice that is not null."""
    if "$ref" in schema:
        return find_part(root["$defs"][schema["$ref"].removeprefix("#/$defs/")], root)
    for each in schema.get("anyOf", []):
        if each != {"type": "null"}:
            return find_part(each, root)
    return schema


def check_order(value: Any, schema: dict[str, Any], root: dict[str, Any], path: str = "$") -> None:
    """Hold the order of keys to the order in which the schema declares them."""
    part = find_part(schema, root)
    if isinstance(value, dict):
        declared = list(part["properties"])
        assert list(value) == [each for each in declared if each in value], path
        for key, each in value.items():
            check_order(each, part["properties"][key], root, f"{path}.{key}")
    elif isinstance(value, list):
        for row, each in enumerate(value):
            check_order(each, part["items"], root, f"{path}[{row}]")


def check(record: str, value: Any) -> None:
    assert list_faults(record, value) == []
    check_order(value, SCHEMAS[record], SCHEMAS[record])


@pytest.mark.parametrize("record", SCHEMAS)
def test_nothing_undeclared_passes_anywhere(record: str) -> None:
    parts = list(walk_schema(SCHEMAS[record]))
    assert len(parts) > 10
    for path, part in parts:
        assert part["additionalProperties"] is False, path
        # A menu states its figures in one of two ways; all else always stands there.
        free = {
            name
            for name in part["properties"]
            if path.endswith("menu") and name.startswith(("kelvin_", "tint_cc_"))
        } - {"tint_cc_per_step"}
        assert part["required"] == [each for each in part["properties"] if each not in free], path


def test_the_format_is_the_one_that_is_written() -> None:
    assert SCHEMAS["plan"]["properties"]["format"] == {"const": "wbplan plan"}
    assert SCHEMAS["plan"]["properties"]["format_version"]["const"] == 2


@pytest.mark.parametrize("name", list_shipped("scenarios"))
def test_records_of_shipped_scenarios(name: str) -> None:
    made = plan_shipped(name, advise=True, plate=True)  # as the pages' tests want it: made once
    check("plan", json.loads(make_files(made)["plan.json"]))


@pytest.mark.parametrize("name", ODD)
def test_records_of_odd_scenarios(name: str, tmp_path: Path) -> None:
    (tmp_path / "odd.yaml").write_text(ODD[name])
    made = wbplan.plan(tmp_path / "odd.yaml", advise=True, band=0.99)
    record = json.loads(make_files(made)["plan.json"])
    check("plan", record)
    if "nothing" in name:
        assert record["setups"][0]["lut"] is None
        assert record["setups"][0]["positions"][0]["trouble"]


def test_records_of_plans_without_a_file(plan: Plan, hostile: Plan) -> None:
    for made in (plan, replace(hostile, digest="0" * 64)):
        record = json.loads(make_files(made)["plan.json"])
        assert record["inputs"] is None
        check("plan", record)


def test_an_undeclared_key_is_a_fault(plan: Plan) -> None:
    record = json.loads(make_files(plan)["plan.json"])
    record["setups"][0]["positions"][0]["colour"] = "red"
    (fault,) = list_faults("plan", record)
    assert fault.startswith("$.setups[0].positions[0]: Additional properties are not allowed")
    del record["setups"][0]["positions"][0]["colour"]
    record["setups"][0]["lut"].pop("sha256")
    (fault,) = list_faults("plan", record)
    assert "'sha256' is a required property" in fault


@pytest.mark.parametrize("more", [{}, {"camera": "cfa-mid", "against": "A", "behind": ["warm:42"]}])
def test_records_of_lights(more: dict[str, Any]) -> None:
    lights = describe(["LED-B3", "sodium-high-pressure-2000k", "daylight-5600K"], **more)
    check("lights", json.loads(make_light_record(lights)))


def test_the_command_prints_a_schema(capsys: pytest.CaptureFixture[str]) -> None:
    for arguments, record in ((["schema"], "plan"), (["schema", "lights"], "lights")):
        assert main(arguments) == 0
        assert json.loads(capsys.readouterr().out) == SCHEMAS[record]
