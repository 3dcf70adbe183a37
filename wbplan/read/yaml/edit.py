"""A person's YAML text with one thing changed and every other character left as it was.

Idea
----
A loader and dumper would lose comments, order and spacing, so nothing is dumped: the text is
composed only to learn where each value begins and ends, and the change is spliced in at these
marks. Then the new text is parsed by the project's own reader and compared with the tree that was
meant. Where they differ, as they do where an anchor carries a change to a second place, the change
is refused, so that a text is never spoiled.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, Final, NamedTuple

import yaml

from wbplan.core.errors import InputError, Place
from wbplan.core.files import show_value
from wbplan.read.yaml.tree import Node, Parse, build_tree, join_path

_LOADER: Final = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_BOM: Final = "\ufeff"
_TAKEN: Final = (
    "y",
    "n",
    "yes",
    "no",
    "on",
    "off",
    "true",
    "false",
    "null",
)

Path = tuple[str | int, ...]
"""Where a value stands: names of fields and numbers of list items, from the root."""


class _Span(NamedTuple):
    start: int
    end: int


def set_value(
    text: str, path: Path, value: object, file: str = "", parse: Parse = build_tree
) -> str:
    """Put a value at a path, in place of what stands there or as a new entry of its mapping.

    Parameters
    ----------
    text
        One YAML document, with any line ends and with or without a byte order mark.
    path
        Mappings that are missing on the way are made; a list takes an item at its end.
    value
        Numbers, texts, truth values, and lists and mappings of these, which are written in one
        line.
    parse
        Gives the tree of a text; one that remembers trees spares their making.

    Raises
    ------
    InputError
        Where the change cannot be made without touching something else.
    """
    if not path:
        raise InputError("a change of the whole file", "a field", Place(file))
    body, bom = _split_bom(text)
    wanted = _strip(parse(text, file))
    root = _compose(body)
    depth = 0
    while depth < len(path) - 1 and _has(root, path[: depth + 1]):
        depth += 1
    parent, step, rest = _find(root, path[:depth]), path[depth], path[depth + 1 :]
    if not isinstance(parent, yaml.CollectionNode):
        raise InputError("a single value", "a mapping or a list", _place(file, path[:depth]))
    for each in reversed(rest):
        value = {each: value}
    holder = _reach(wanted, path[:depth])
    if isinstance(holder, list) and step == len(holder):
        holder.append(_mean(value))
    else:
        holder[step] = _mean(value)
    made = _put(body, parent, step, write_scalar(value))
    return _check(bom + made, wanted, file, path, parse)


def remove_values(
    text: str, paths: Iterable[Path], file: str = "", parse: Parse = build_tree
) -> str:
    """Take entries and items out, each with the comment right above it; see `set_value`."""
    wanted = _strip(parse(text, file))
    body, bom = _split_bom(text)
    last: Path = ()
    for path in sorted(_drop_inner(paths), key=_order, reverse=True):  # items from the last one
        last = path
        if not _is_there(wanted, path):
            raise InputError(f"no {show_value(str(path[-1]))}", "what is there", _place(file, path))
        del _reach(wanted, path[:-1])[path[-1]]
        root = _compose(body)
        if _has(root, path):  # not, where it went with what it is an alias of
            parent = _find(root, path[:-1])
            assert isinstance(parent, yaml.CollectionNode)  # something stands in it
            body = _remove(body, parent, path[-1])
    return _check(bom + body, wanted, file, last, parse)


def rename(
    text: str,
    keys: Iterable[Path],
    values: Iterable[Path],
    name: str,
    file: str = "",
    parse: Parse = build_tree,
) -> str:
    """Give something another name in every place: as entries' key, and as a value.

    Parameters
    ----------
    keys
        Paths of the entries that it is the name of, as they are now.
    values
        Paths of the texts that name it.

    Raises
    ------
    InputError
        As `set_value`, and where a mapping has an entry of that name already.
    """
    body, bom = _split_bom(text)
    root, wanted = _compose(body), _strip(parse(text, file))
    spans: dict[_Span, str] = {}
    last: Path = ()
    for last in values:
        spans |= {_mark(node): _write_text(name) for _, node in _find_all(root, last)}
        _reach(wanted, last[:-1])[last[-1]] = ("text", name)
    for last in sorted(keys, key=len, reverse=True):  # the paths of outer ones still hold
        holder = _reach(wanted, last[:-1])
        if name in holder:
            raise InputError(f"a second {show_value(name)}", "a new name", _place(file, last))
        spans |= {_mark(key): _write_key(name) for key, _ in _find_all(root, last)}
        items = [(name if key == last[-1] else key, each) for key, each in holder.items()]
        holder.clear()
        holder.update(items)
    for span in sorted(spans, reverse=True):
        body = _splice(body, span, spans[span])
    return _check(bom + body, wanted, file, last, parse)


def remove_remarks(
    text: str, lines: Iterable[int], word: str, file: str = "", parse: Parse = build_tree
) -> str:
    """Take remarks that begin with a word away, behind the entries of some lines and above them.

    Parameters
    ----------
    lines
        By number from 1. A remark above goes from its line with the word down to the entry.

    Raises
    ------
    InputError
        As `set_value`.
    """
    begun = re.compile(rf"[ \t]*#[ \t]*{re.escape(word)}\b")
    rows = text.splitlines(keepends=True)
    gone: set[int] = set()
    for line in (each - 1 for each in lines):
        rows[line] = re.sub(rf"[ \t]+#[ \t]*{re.escape(word)}\b[^\r\n]*", "", rows[line])
        first = line
        while first and rows[first - 1].lstrip(" \t").startswith("#"):
            first -= 1
        marked = [row for row in range(first, line) if begun.match(rows[row])]
        gone |= {*range(marked[-1], line)} if marked else set()
    made = "".join(row for number, row in enumerate(rows) if number not in gone)
    return _check(made, _strip(parse(text, file)), file, (), parse)


def write_scalar(value: object) -> str:
    """Write a value so that it reads as the same in any YAML, in a line."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return _write_number(value)
    if isinstance(value, Mapping):
        inner = (f"{_write_key(str(key))}: {write_scalar(each)}" for key, each in value.items())
        return f"{{{', '.join(inner)}}}"
    if isinstance(value, Sequence) and not isinstance(value, str):
        return f"[{', '.join(map(write_scalar, value))}]"
    return _write_text(str(value))


def _write_number(value: float) -> str:
    for digits in range(1, 18):
        said = f"{value:.{digits}g}"
        if float(said) == value:
            break
    if "e" in said:
        said = f"{value:.17f}".rstrip("0").rstrip(".") if abs(value) < 1 else f"{value:.0f}"
    return said


def _write_key(name: str) -> str:
    """Write a field's name; ``on`` is one here, and needs no quotes."""
    return name if name == "on" else _write_text(name)


def _write_text(text: str) -> str:
    """Write a text as it is where a reader takes it for the same, else in double quotes."""
    plain = re.fullmatch(r"[^\W\d_][\w .()/+'-]*", text) and text == text.strip()
    if plain and text.casefold() not in _TAKEN:
        return text
    return json.dumps(text, ensure_ascii=False)


def _check(made: str, wanted: Any, file: str, path: Path, parse: Parse) -> str:
    try:
        # Of what a merge key brings, the order follows from where the rest stands.
        same = _same(_strip(parse(made, file)), wanted, ordered="<<" not in made)
    except InputError:
        same = False
    if not same:
        found = "a text in which this cannot be changed without touching something else"
        raise InputError(found, "the same change by hand", _place(file, path))
    return made


def _place(file: str, path: Path) -> Place:
    field = ""
    for each in path:
        field = f"{field}[{each}]" if isinstance(each, int) else join_path(field, each)
    return Place(file, field=field)


def _split_bom(text: str) -> tuple[str, str]:
    """Split the byte order mark off, which marks do not count."""
    return (text[1:], _BOM) if text.startswith(_BOM) else (text, "")


def _compose(text: str) -> yaml.Node:
    root = yaml.compose(text, Loader=_LOADER)
    assert root is not None  # `build_tree` has read it
    return root


def _has(root: yaml.Node, path: Path) -> bool:
    node = root
    for step in path:
        if isinstance(node, yaml.MappingNode):
            entry = _find_entry(node, step)
            if entry is None:
                return False
            node = entry[1]
        elif isinstance(node, yaml.SequenceNode) and isinstance(step, int):
            if not 0 <= step < len(node.value):
                return False
            node = node.value[step]
        else:
            return False
    return True


def _find(root: yaml.Node, path: Path) -> yaml.Node:
    node = root
    for step in path:
        entry = _find_entry(node, step)
        node = node.value[step] if entry is None else entry[1]
    return node


def _find_all(root: yaml.Node, path: Path) -> list[tuple[yaml.Node, yaml.Node]]:
    """Find keys and values at a path: its own, and those that merge keys bring there."""
    found = [(root, root)]
    for step in path:
        found = [pair for _, node in found for pair in _list_below(node, step)]
    return found


def _list_below(node: yaml.Node, step: str | int) -> Iterator[tuple[yaml.Node, yaml.Node]]:
    if isinstance(node, yaml.SequenceNode) and isinstance(step, int):
        yield node, node.value[step]
    for key, value in node.value if isinstance(node, yaml.MappingNode) else ():
        if key.value == step:
            yield key, value
        elif key.value == "<<" and not key.style:
            for part in value.value if isinstance(value, yaml.SequenceNode) else [value]:
                yield from _list_below(part, step)


def _mark(node: yaml.Node) -> _Span:
    return _Span(node.start_mark.index, node.end_mark.index)


def _find_entry(node: yaml.Node, name: str | int) -> tuple[yaml.Node, yaml.Node] | None:
    if not isinstance(node, yaml.MappingNode):
        return None
    return next((each for each in node.value if each[0].value == name), None)


def _find_end(node: yaml.Node) -> int:
    """Find where a value ends: a block's own end mark lies behind the comments that follow."""
    if not isinstance(node, yaml.CollectionNode) or node.flow_style or not node.value:
        return int(node.end_mark.index)
    last = node.value[-1]
    return _find_end(last[1] if isinstance(node, yaml.MappingNode) else last)


def _find_last_end(text: str, parent: yaml.CollectionNode) -> int:
    """Find where the last entry of a collection ends; of an alias marks tell the anchor's place."""
    last = parent.value[-1]
    key, value = last if isinstance(parent, yaml.MappingNode) else (last, last)
    end, closed = _find_end(value), int(parent.end_mark.index)
    if key.start_mark.index < end <= closed and value.start_mark.index >= key.start_mark.index:
        return end
    return len(text[: closed - 1].rstrip()) if parent.flow_style else int(key.end_mark.index)


def _splice(text: str, span: _Span, put: str) -> str:
    return text[: span.start] + put + text[span.end :]


def _find_line_end(text: str, at: int) -> int:
    """Find the end of the line that holds a place, before its line break."""
    match = re.compile(r"[^\r\n]*").match(text, at)
    return match.end() if match else at


def _find_break(text: str) -> str:
    match = re.search(r"\r\n|\n|\r", text)
    return match.group() if match else "\n"


def _put(text: str, parent: yaml.CollectionNode, step: str | int, said: str) -> str:
    if isinstance(parent, yaml.SequenceNode):
        children = parent.value
        if isinstance(step, int) and step < len(children):
            node = children[step]
            return _splice(text, _Span(node.start_mark.index, _find_end(node)), said)
        entry = said
    else:
        found = _find_entry(parent, step)
        if found is not None:
            span = _Span(found[1].start_mark.index, _find_end(found[1]))
            if span.start == span.end:
                said = f" {said}"
            return _splice(text, span, said)
        children = [each for _, each in parent.value]
        entry = f"{_write_key(str(step))}: {said}"
    if parent.flow_style or not children:
        at = _find_last_end(text, parent) if children else int(parent.start_mark.index) + 1
        return _splice(text, _Span(at, at), f", {entry}" if children else entry)
    end, new = _find_last_end(text, parent), _find_break(text)
    dash = "- " if isinstance(parent, yaml.SequenceNode) else ""
    line = " " * int(parent.start_mark.column) + dash + entry
    if text[end - 1] in "\r\n":  # a text over several lines, whose end lies on the next
        return _splice(text, _Span(end, end), line + new)
    at = _find_line_end(text, end)
    return _splice(text, _Span(at, at), new + line)


def _remove(text: str, parent: yaml.CollectionNode, step: str | int) -> str:
    if isinstance(parent, yaml.SequenceNode):
        rows = [(each, each) for each in parent.value]
        at = int(step)
    else:
        rows = list(parent.value)
        at = next(row for row, each in enumerate(rows) if each[0].value == step)
    start, end = int(rows[at][0].start_mark.index), _find_end(rows[at][1])
    if parent.flow_style:
        comma = re.compile(r"[ \t]*,[ \t]*").match(text, end)
        if comma:
            return _splice(text, _Span(start, comma.end()), "")
        before = _find_end(rows[at - 1][1]) if at else start
        hit = _find_comma(text, before, start)
        kept = text[before:hit] + text[hit + 1 : start].rstrip(" \t") if hit >= 0 else ""
        return _splice(text, _Span(before, end), kept)
    first = max(text.rfind("\n", 0, start), text.rfind("\r", 0, start)) + 1
    remark = re.compile(rf" {{{parent.start_mark.column}}}#.*")
    while first:
        above = re.search(r"([^\r\n]*)(?:\r\n|\n|\r)\Z", text[:first])
        if above is None or not remark.fullmatch(above[1]):
            break
        first = above.start()
    stop = _find_line_end(text, end)
    if text[end - 1 : end] in ("\n", "\r"):
        stop = end
    else:
        stop += 2 if text[stop : stop + 2] == "\r\n" else 1
    return text[:first] + text[stop:]


def _find_comma(text: str, start: int, end: int) -> int:
    """Find the comma between two entries that no comment holds."""
    for match in re.finditer(r"#[^\r\n]*|,", text[start:end]):
        if match.group() == ",":
            return start + match.start()
    return -1


def _strip(node: Node) -> Any:
    """Reduce a tree to what it says: mappings, lists, and scalars with their sort."""
    if node.form == "mapping":
        return {name: _strip(each) for name, (_, each) in node.entries.items()}
    if node.form == "list":
        return [_strip(each) for each in node.items]
    return (node.sort, node.text)


def _mean(value: object) -> Any:
    """Say what a value is meant to read as."""
    if isinstance(value, Mapping):
        return {str(key): _mean(each) for key, each in value.items()}
    if isinstance(value, Sequence) and not isinstance(value, str):
        return [_mean(each) for each in value]
    if isinstance(value, bool) or not isinstance(value, int | float):
        return ("text", write_scalar(value) if isinstance(value, bool) else str(value))
    return ("number", _write_number(value))


def _reach(tree: Any, path: Path) -> Any:
    for step in path:
        tree = tree[step]
    return tree


def _is_there(tree: Any, path: Path) -> bool:
    for step in path:
        if isinstance(tree, list):
            if not isinstance(step, int) or not 0 <= step < len(tree):
                return False
        elif not isinstance(tree, dict) or step not in tree:
            return False
        tree = tree[step]
    return True


def _drop_inner(paths: Iterable[Path]) -> set[Path]:
    """Leave out what goes with something else that is named, too."""
    all_of = set(paths)
    return {
        each for each in all_of if not any(each[:depth] in all_of for depth in range(len(each)))
    }


def _order(path: Path) -> list[tuple[int, str]]:
    return [(each, "") if isinstance(each, int) else (0, each) for each in path]


def _same(one: Any, other: Any, ordered: bool) -> bool:
    if isinstance(one, dict) and isinstance(other, dict):
        keys = list(one) == list(other) if ordered else one.keys() == other.keys()
        return keys and all(_same(one[each], other[each], ordered) for each in one)
    if isinstance(one, list) and isinstance(other, list):
        pairs = zip(one, other, strict=False)
        return len(one) == len(other) and all(_same(a, b, ordered) for a, b in pairs)
    return bool(one == other)
