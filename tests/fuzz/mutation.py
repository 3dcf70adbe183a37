"""Changes that fuzzers make: of bytes, of trees of values, and of YAML as it is written."""

from __future__ import annotations

import copy
import json
import random
from collections.abc import Sequence
from typing import Any, Final

from wbplan.read.model.forms import Choice, list_forms
from wbplan.read.model.tables import Model

ODD: Final[tuple[Any, ...]] = (
    *(None, True, False, 0, -1, 1, 2, 1e308, -1e308, 5e-324, 1e-300, 10**400, 0.5, -0.0, 1e5, 1e16),
    *("", "\0", "..", "../x", "~", "*", "&a", "/etc/passwd", "/dev/zero", "C:\\x", "CON", "nul"),
    *("a" * 100_000, "x" * 300 + "/y", "\ud800", "\u202e", "\x1b[31m", "\n", "\u2028", "=1+1"),
    *(
        "<script>",
        "🔥",
        "é",
        "1e999",
        "NaN",
        ".nan",
        "-.inf",
        "1_000",
        "0x10",
        "1:30",
        "yes",
        "3,5",
    ),
    *(
        [],
        {},
        [[]],
        {"": ""},
        [None],
        {"a": {"b": []}},
        [0] * 9,
        ["x"] * 3,
        [[1, 2], [3]],
        ["", {}],
    ),
    *("scenario", "scenario/", "scenario/..", "a/b", "con/aux.", "%00", "a:b/c", "1 lux", "５"),
)
PIECES: Final = (
    *(b"\0", b"..", b"1e999", b".nan", b"-.inf", b"*a", b"&a ", b"{", b"}", b"[", b"]", b"'", b'"'),
    *(
        b"\n",
        b": ",
        b"- ",
        b"!!python/object",
        b"0",
        b"-1",
        b"1e308",
        b"\xe2\x80\xae",
        b"#",
        b"\xff",
    ),
    *(b"../../x.csv", b"/etc/passwd", b"/dev/zero", b"true", b"a" * 5000, b"\r", b"\t", b",", b";"),
    *(b"\xef\xbb\xbf", b"\xff\xfe", b"%", b"|", b">", b"? ", b"---\n", b"...\n", b"<<: *a\n", b"~"),
    *(b"[" * 100, b"{a: " * 100, b"- " * 100, "\u2028".encode(), "５".encode(), b"1e-320", b"-0"),
)


def mutate_bytes(
    draw: random.Random, data: bytes, pieces: Sequence[bytes] = PIECES, most: int = 200_000
) -> bytes:
    """Change a file in one to eight places: cut, repeat, swap or put something in."""
    made = bytearray(data)
    for _ in range(draw.randint(1, draw.choice((1, 2, 8)))):
        size = len(made)
        at = draw.randrange(size + 1)
        kind = draw.randrange(7)
        if kind == 0 and size:
            made[at % size] = draw.randrange(256)
        elif kind == 1:
            made[at:at] = draw.choice(pieces)
        elif kind == 2:
            del made[at : at + draw.choice((1, 4, 30, 4000))]
        elif kind == 3:
            made[at:at] = made[at : at + draw.randint(1, 60)] * draw.choice((1, 1, 1, 40))
        elif kind == 4:
            end = at + draw.randint(1, 8)
            made[at:end] = draw.choice(pieces)
        elif kind == 5 and size:
            made[at % size] ^= 1 << draw.randrange(8)
        else:
            lines = bytes(made).split(b"\n")
            if draw.random() < 0.1:
                draw.shuffle(lines)
            else:
                lines.insert(draw.randrange(len(lines) + 1), draw.choice(lines))
            made = bytearray(b"\n".join(lines))
    if draw.random() < 0.03:
        del made[draw.randrange(len(made) + 1) :]
    return bytes(made[:most])


def list_places(value: Any) -> list[tuple[Any, Any]]:
    """List every (container, key) inside a value."""
    found: list[tuple[Any, Any]] = []
    pending = [value]
    while pending:
        each = pending.pop()
        for key in each if isinstance(each, dict) else range(len(each)):
            found.append((each, key))
            if isinstance(each[key], dict | list):
                pending.append(each[key])
    return found


class Words:
    """The fields of a format, with values that they may hold: what a mutated tree is made of."""

    def __init__(self, *models: Model, more: Sequence[Any] = ()) -> None:
        import yaml

        fields = [each for model in models for _, each in model.walk()]
        self.names = sorted({each.name for each in fields})
        self.also = sorted({word for each in fields for word in each.also})
        said = [each.example for each in fields if each.example]
        choices = [
            name
            for each in fields
            for form in list_forms(each.form)
            if isinstance(form, Choice)
            for name in form.names
        ]
        self.values: list[Any] = [*(yaml.safe_load(each) for each in said), *choices, *more]
        self._examples = {
            each.name: yaml.safe_load(each.example) for each in fields if each.example
        }

    def draw_name(self, draw: random.Random) -> str:
        """Draw a field's name, mostly one that there is."""
        if draw.random() < 0.85 or not self.also:
            return draw.choice(self.names)
        return draw.choice((*self.also, "", "x" * 300, "é", "on", "1", "like", "name", "<<"))

    def draw_value(self, draw: random.Random, name: object = None) -> Any:
        """Draw a value: an odd one, one of the format, or one that the field itself may hold."""
        if isinstance(name, str) and name in self._examples and draw.random() < 0.3:
            return copy.deepcopy(self._examples[name])
        chosen = draw.choice(ODD if draw.random() < 0.6 or not self.values else self.values)
        return copy.deepcopy(chosen)


def mutate_tree(draw: random.Random, tree: Any, words: Words) -> Any:
    """Change values of a tree: others' values, odd ones, other types, other sizes, depth."""
    made = copy.deepcopy(tree)
    for _ in range(draw.choice((1, 1, 2, 4))):
        places = list_places(made)
        if not places:
            return made
        container, key = draw.choice(places)
        value = container[key]
        act = draw.randrange(12)
        if act <= 3:
            container[key] = words.draw_value(draw, key)
        elif act == 4:
            del container[key]
        elif act == 5:
            other, at = draw.choice(places)
            container[key] = copy.deepcopy(other[at]) if at in _keys(other) else None
        elif act == 6 and isinstance(value, int | float) and not isinstance(value, bool):
            try:
                container[key] = value * draw.choice((-1, 0, 0.001, 10, 1e6, 1e-9, 1e300))
            except OverflowError:
                container[key] = -1
        elif act == 7:
            container[key] = str(value)[:300] if draw.random() < 0.5 else [value]
        elif act == 8 and isinstance(container, list):
            container.extend(copy.deepcopy(container[:1]) * draw.choice((1, 2, 300)))
        elif act == 8:
            container[words.draw_name(draw)] = container.pop(key)
        elif act == 9 and isinstance(container, dict):
            name = words.draw_name(draw)
            container[name] = words.draw_value(draw, name)
        elif act == 10 and isinstance(value, dict) and value:
            name = words.draw_name(draw)
            value[name] = words.draw_value(draw, name)
        elif act == 11 and draw.random() < 0.2:
            for _ in range(draw.choice((5, 40, 120))):
                value = [value] if draw.random() < 0.5 else {"a": value}
            container[key] = value
            return made
    return made


def _keys(container: Any) -> Any:
    return container if isinstance(container, dict) else range(len(container))


def write_json(tree: Any) -> bytes:
    """Write a tree as JSON, whatever it holds."""
    try:
        return json.dumps(tree).encode("utf-8", "surrogatepass")
    except (RecursionError, ValueError):
        return b"[" * 20_000


def write_yaml(draw: random.Random, tree: Any) -> bytes:
    """Write a tree as YAML: in one line or in blocks, with anchors, merge keys, equal keys."""
    lines: list[str] = []
    _write(draw, tree, "", lines, 0 if draw.random() < 0.2 else 3)
    text = "\n".join(lines) + "\n"
    if draw.random() < 0.12:
        text = _tie(draw, text)
    return text.encode("utf-8", "surrogatepass")


def _write(draw: random.Random, tree: Any, indent: str, lines: list[str], depth: int) -> None:
    if isinstance(tree, dict) and tree and depth:
        for name, value in tree.items():
            key = name if isinstance(name, str) and name.isidentifier() else _write_flow(str(name))
            if isinstance(value, dict) and value and depth > 1:
                lines.append(f"{indent}{key}:")
                _write(draw, value, indent + "  ", lines, depth - 1)
            elif isinstance(value, list) and value and depth > 1:
                lines.append(f"{indent}{key}:")
                lines += [f"{indent}- {_write_flow(each)}" for each in value]
            else:
                lines.append(f"{indent}{key}: {_write_flow(value)}")
    else:
        lines.append(indent + _write_flow(tree))


def _write_flow(value: Any) -> str:
    if isinstance(value, str) and value[:1].isalpha() and value.replace("-", "").isalnum():
        return value
    if value in (".nan", "-.inf", "1:30", "0x10", "1_000", "5e-324"):
        return str(value)
    try:
        return json.dumps(value, ensure_ascii=False)
    except (RecursionError, ValueError):
        return "[" * 2000


def _tie(draw: random.Random, text: str) -> str:
    """Put anchors, aliases, merge keys, equal keys or a bomb of aliases into YAML."""
    lines = text.split("\n")
    at = draw.randrange(len(lines))
    kind = draw.randrange(6)
    if kind == 0:
        bomb = [f"b{n}: &b{n} [{', '.join([f'*b{n - 1}'] * 9) if n else '1'}]" for n in range(12)]
        return "\n".join([*bomb, *lines])
    start, colon, rest = lines[at].partition(": ")
    if kind == 1 and colon:
        lines[at] = f"{start}: &a {rest}"
        later = draw.randrange(len(lines))
        key, colon, _ = lines[later].partition(": ")
        lines[later] = f"{key}: *a" if colon else lines[later]
    elif kind == 2:
        indent = lines[at][: len(lines[at]) - len(lines[at].lstrip())]
        lines.insert(at, f"{indent}<<: {draw.choice(('*a', '{}', '[]', '{like: x}', '[*a, *a]'))}")
    elif kind == 3:
        lines.insert(at, lines[at])
    elif kind == 4 and colon:
        lines[at] = f"{start}: &a {{like: *a, a: *a}}"
    elif colon:
        lines[at] = f"{start}: {draw.choice(('!!str ', '!x ', '| ', '> ', '? '))}{rest}"
    return "\n".join(lines)
