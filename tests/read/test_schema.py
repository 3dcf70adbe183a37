"""The JSON Schemas of what people write, held to what ships and to what the reader refuses."""

from __future__ import annotations

from typing import Any

import pytest
from jsonschema import Draft202012Validator

from tests.front.test_guide import list_blocks
from wbplan.read.catalogue import list_cameras, list_shipped
from wbplan.read.model.forms import (
    FLAGS,
    Choice,
    Flag,
    Form,
    Items,
    Map,
    Named,
    Number,
    Text,
    list_forms,
)
from wbplan.read.model.tables import NOTHING, Model
from wbplan.read.schema import find_model, make_schema, modeline, name_schema_file
from wbplan.read.yaml.tree import Node, build_tree

NAMES = {"scenario": "scenario", "profile": "profiles", "lesson": "lessons"}
VALIDATORS = {name: Draft202012Validator(make_schema(name)) for name in NAMES}


def plain(node: Node) -> Any:
    """Give the values of a tree as an editor takes them (YAML 1.2 core schema)."""
    if node.form == "mapping":
        return {name: plain(value) for name, (_, value) in node.entries.items()}
    if node.form == "list":
        return [plain(each) for each in node.items]
    if node.sort == "number":
        number = float(node.text)
        return int(number) if number.is_integer() else number
    if node.plain and node.text in ("true", "false"):
        return FLAGS[node.text]
    return node.text


def read(text: str) -> Any:
    return plain(build_tree(text, "a.yaml"))


def list_texts(name: str) -> list[str]:
    texts = list_blocks(NAMES[name])
    shipped = {"scenario": list_shipped("scenarios"), "profile": list_cameras(), "lesson": {}}
    return texts + [path.read_text("utf-8") for path in shipped[name].values()]


@pytest.mark.parametrize("name", NAMES)
def test_the_schema_is_one(name: str) -> None:
    Draft202012Validator.check_schema(make_schema(name))


@pytest.mark.parametrize("name", NAMES)
def test_all_that_ships_is_valid(name: str) -> None:
    for text in list_texts(name):
        VALIDATORS[name].validate(read(text))


SPOILT = [
    ("fps: 24", "fps: 0"),
    ("fps: 24", "fsp: 24"),
    ("fps: 24, ", ""),
    ("shutter_angle_deg: 180", "shutter_angle_deg: 180, shutter_time_s: 0.02"),
    ("shutter_angle_deg: 180", "nd_stops: 1"),
    ("{daylight_kelvin: 6000}", "{daylight_kelvin: warm}"),
    ("{daylight_kelvin: 6000}", "{daylight_kelvin: 6000, lamp: A}"),
    ("{window: 110, lamp: 40}", "40"),
    ("setups:", "setup:"),
    ("invented: true", "invented: maybe"),
]


@pytest.mark.parametrize(("was", "becomes"), SPOILT)
def test_what_the_reader_refuses_is_not_valid(was: str, becomes: str) -> None:
    text = list_blocks("scenario")[0]
    assert was in text
    assert not VALIDATORS["scenario"].is_valid(read(text.replace(was, becomes, 1)))


def test_a_modeline_names_the_file_beside_it() -> None:
    assert modeline() == "# yaml-language-server: $schema=wbplan-scenario.schema.json"
    assert modeline("lesson").endswith(name_schema_file("lesson"))


def check_example(form: Form, text: str, model: Model) -> None:
    if "..." not in text:
        schema = {**form.make_schema(), "$defs": make_schema(model.name)["$defs"]}
        value = plain(build_tree(f"x: {text}", "a").entries["x"][1])
        Draft202012Validator(schema).validate(value)


@pytest.mark.parametrize("name", NAMES)
def test_the_models_own_words_fit(name: str) -> None:
    """Examples, defaults and shapes of a model are such as the model allows."""
    model = find_model(name)
    used = {model.root}
    for shape, field in model.walk():
        if field.example:
            check_example(field.form, field.example, model)
        scalars = [
            f for f in list_forms(field.form) if isinstance(f, Number | Choice | Text | Flag)
        ]
        if field.default is not NOTHING:
            valid = [Draft202012Validator(f.make_schema()).is_valid(field.default) for f in scalars]
            assert any(valid), (shape, field.name)
        if field.is_required and not isinstance(field.form, Map | Named | Items):
            # What stands in for it while further mistakes are looked for; names are looked up.
            assert field.example or isinstance(field.form, Text), (shape, field.name)
        waiting = [*list_forms(field.form)]
        while waiting:
            form = waiting.pop()
            if isinstance(form, Items | Named):
                waiting += list_forms(form.of)
            if isinstance(form, Map | Named) and form.example:
                check_example(form, form.example, model)
            if isinstance(form, Map):
                used.add(form.shape)
    assert used == set(model.shapes)
    for shape in model.shapes.values():
        for group in (*shape.one_of, *shape.not_both, *shape.needed):
            assert set(group) <= set(shape.by_name)
        taken = [word for each in shape.fields for word in each.also]
        assert len(set(taken)) == len(taken)
        assert not set(taken) & set(shape.by_name)
