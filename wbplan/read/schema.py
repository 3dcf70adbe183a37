"""The JSON Schema of the files that people write, for editors that complete and check while typing.

What a schema says is the model's (`read.model`), field by field; what takes two fields or another
file to judge is left to the readers.
"""

from __future__ import annotations

import json
import re
from itertools import combinations
from typing import Any, Final

from wbplan.read.model.lesson import LESSON
from wbplan.read.model.listing import explain_field
from wbplan.read.model.profile import PROFILE
from wbplan.read.model.scenario import SCENARIO
from wbplan.read.model.tables import NOTHING, Model, Shape

_MODELS: Final = {each.name: each for each in (SCENARIO, PROFILE, LESSON)}
_PART: Final = "_part"
_OF_A_PART: Final = ("type", "properties", "additionalProperties")
_DIALECT: Final = "https://json-schema.org/draft/2020-12/schema"


def find_model(name: str) -> Model:
    """Find the model of a "scenario", a "profile" or a "lesson"."""
    return _MODELS[name]


def name_schema_file(name: str) -> str:
    """Name the file that a schema is written to, beside the files that it is for."""
    return f"wbplan-{name}.schema.json"


def modeline(name: str = "scenario") -> str:
    """Give the first line of a new file, by which an editor finds the schema beside it.

    `make_schema` makes what `name_schema_file` is to hold.
    """
    return f"# yaml-language-server: $schema={name_schema_file(name)}"


def make_schema(name: str) -> dict[str, Any]:
    """Make the JSON Schema (draft 2020-12) of a "scenario", a "profile" or a "lesson"."""
    model = find_model(name)
    shapes = {each: _make_shape(shape) for each, shape in model.shapes.items()}
    root = shapes.pop(model.root)
    if model.alike:
        items = root["properties"][model.alike]["items"]
        whole = items["$ref"]
        items.clear()
        items.update({"if": {"required": ["like"]}, "then": {"$ref": whole + _PART}})
        items["else"] = {"$ref": whole}
        first = whole.rpartition("/")[2]
        shapes |= _make_parts(shapes, first)
        for name in (first, first + _PART):
            own = shapes[name]["properties"]
            own[model.shared] = shapes[first + _PART]["properties"][model.shared]
    return {
        "$schema": _DIALECT,
        "title": f"wbplan {model.name}",
        "description": model.title,
        **root,
        "$defs": shapes,
    }


def format_schema(name: str) -> str:
    """Write a schema as JSON text."""
    return json.dumps(make_schema(name), indent=1, ensure_ascii=False) + "\n"


def _make_parts(shapes: dict[str, Any], first: str) -> dict[str, Any]:
    """Make the schemas of what may lack anything: an entry that is like another, all through."""
    made: dict[str, Any] = {}
    waiting = [first]
    while waiting:
        name = waiting.pop()
        if name + _PART in made:
            continue
        text = json.dumps({k: v for k, v in shapes[name].items() if k in _OF_A_PART})
        waiting += re.findall(r'"#/\$defs/(\w+)"', text)
        made[name + _PART] = json.loads(re.sub(r'("#/\$defs/\w+)"', rf'\1{_PART}"', text))
    made[first + _PART]["required"] = ["name"]
    return made


def _make_shape(shape: Shape) -> dict[str, Any]:
    properties = {}
    for field in shape.fields:
        made = dict(field.form.make_schema())
        said = explain_field(field)
        if said:
            made["description"] = said
        if field.default is not NOTHING:
            made["default"] = field.default
        properties[field.name] = made
    result: dict[str, Any] = {
        "type": "object",
        "properties": properties,
        "additionalProperties": False,
    }
    required = [each.name for each in shape.fields if each.is_required]
    if required:
        result["required"] = required
    rules: list[dict[str, Any]] = [
        {"oneOf": [{"required": [name]} for name in group]} for group in shape.one_of
    ]
    rules += [{"anyOf": [{"required": [name]} for name in group]} for group in shape.needed]
    pairs = [pair for group in shape.not_both for pair in combinations(group, 2)]
    rules += [{"not": {"required": list(pair)}} for pair in pairs]
    beside = {
        each.name: {"anyOf": [{"required": [name]} for name in each.needs]}
        for each in shape.fields
        if each.needs
    }
    if beside:
        result["dependentSchemas"] = beside
    if rules:
        result["allOf"] = rules
    return result
