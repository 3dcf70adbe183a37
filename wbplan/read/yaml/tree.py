"""YAML text to a tree of nodes that keep their written form and know where they stand.

The usual loader throws lines and columns away and guesses types besides: ``on`` becomes a truth
value, ``1:30`` becomes 90, ``012`` becomes ten, and of two equal keys the last one wins. Here a
scalar stays the text that was written, with the one thing that is needed to give it a type later:
whether it stood without quotes.

The tree is built from the parser's events one by one, never by recursion. Depth, tags, equal
keys and the size to which aliases unfold are bounded while reading, before memory is spent.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from functools import partial
from typing import Final, Literal

import yaml

from wbplan.core.errors import InputError, Place
from wbplan.core.files import show_value
from wbplan.core.names import find_alike

MAX_YAML_BYTES: Final = 1_000_000
MAX_DEPTH: Final = 30
MAX_ALIASED_NODES: Final = 20_000

_LOADER = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_TAGS: Final = {
    "scalar": {f"tag:yaml.org,2002:{name}" for name in ("str", "int", "float", "bool", "null")},
    "list": {"tag:yaml.org,2002:seq"},
    "mapping": {"tag:yaml.org,2002:map"},
}
_YAML_FORM: Final = (
    "YAML, 'field: value' line by line, indented with spaces, with quotes around text that holds "
    "any of : # @ % [ ] { }"
)
# YAML 1.2.2, section 5.1: the printable characters; all else is refused.
_UNPRINTABLE = re.compile("[^\t\n\r\x20-\x7e\x85\xa0-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
CONTROL = re.compile("[\x00-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff]")
NUMBER = re.compile(r"[-+]?(?:(?:0|[1-9][0-9]*)(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][-+]?[0-9]+)?")
_NULLS: Final = {"", "~", "null", "Null", "NULL"}


@dataclass(slots=True)
class Node:
    """A value as written. Scalars keep their text, and whether it stood without quotes."""

    form: Literal["scalar", "list", "mapping"]
    line: int
    column: int
    text: str = ""
    plain: bool = False
    items: list[Node] = field(default_factory=list)
    entries: dict[str, tuple[Node, Node]] = field(default_factory=dict)
    key: Node | None = None  # while the mapping is open: the key that waits for its value
    merged: Node | None = None  # what stands under `<<`, whose entries come after its own
    size: int = 1
    height: int = 1

    @property
    def sort(self) -> str:
        """Tell what the value is: "nothing", "number", "text", "list" or "mapping"."""
        if self.form != "scalar":
            return self.form
        if self.plain and self.text in _NULLS:
            return "nothing"
        return "number" if self.plain and NUMBER.fullmatch(self.text) else "text"

    def describe(self) -> str:
        """Say in words what stands here."""
        if self.sort == "nothing":
            return f"nothing ({self.text or 'empty'})"
        if self.form == "scalar":
            bare = self.sort == "number" and len(self.text) <= 60
            return self.text if bare else show_value(self.text)
        return f"a {self.form}" if self.items or self.entries else f"an empty {self.form}"


Parse = Callable[[str, str], Node]
"""Gives the tree of a text, as `build_tree` does."""


def build_tree(text: str, file: str) -> Node:
    """Build the tree of one YAML document whose root is a mapping.

    Parameters
    ----------
    text
        One YAML document; a byte order mark at its start is passed over.
    file
        Name to give in errors.

    Raises
    ------
    InputError
        Broken YAML, nothing or several documents, a root that is not a mapping, equal keys,
        keys that are not plain text, merge keys of what is no mapping, tags outside the core set
        (str, int, float, bool, null, seq, map), control characters, nesting beyond `MAX_DEPTH`,
        aliases that unfold to more than `MAX_ALIASED_NODES` nodes or contain themselves.
    """
    text = text.removeprefix("\ufeff")
    if len(text) > MAX_YAML_BYTES:
        allowed = f"at most {MAX_YAML_BYTES / 1e6:g} MB"
        raise InputError(f"a text of {len(text) / 1e6:.1f} MB", allowed, Place(file))
    bad = _UNPRINTABLE.search(text)
    if bad:
        before = text[: bad.start()].replace("\r\n", "\n").replace("\r", "\n")
        place = Place(file, before.count("\n") + 1, len(before) - before.rfind("\n"))
        binary = " (a binary or UTF-16 file?)" if bad.group() == "\0" else ""
        found = f"the control character {show_value(bad.group())}{binary}"
        raise InputError(found, "text without control characters", place)
    tree = _Tree(file)
    try:
        for event in yaml.parse(text, Loader=_LOADER):
            tree.take(event)
    except yaml.YAMLError as error:
        raise _describe_syntax(error, text, file) from None
    if tree.root is None:
        raise InputError("an empty file", "a mapping of fields, 'field: value'", Place(file))
    return tree.root


def check_alike(names: Iterable[str], find_place: Callable[[str], Place]) -> None:
    """Refuse two names that are not the same and look the same, at the second one's place."""
    alike = find_alike(names)
    if alike is not None:
        found = f"{show_value(alike[0])} and {show_value(alike[1])}, which look the same"
        raise InputError(found, "names that can be told apart by eye", find_place(alike[1]))


def _describe_syntax(error: yaml.YAMLError, text: str, file: str) -> InputError:
    mark = getattr(error, "problem_mark", None) or getattr(error, "context_mark", None)
    place = Place(file, mark.line + 1, mark.column + 1) if mark else Place(file)
    lines = text.splitlines()
    if mark and mark.line < len(lines) and lines[mark.line][mark.column :].startswith("\t"):
        return InputError("a tab where YAML counts spaces", "spaces for indentation", place)
    parts = (getattr(error, "context", None), getattr(error, "problem", None))
    problem = " ".join(CONTROL.sub(" ", part) for part in parts if part) or "no cause given"
    return InputError(f"broken YAML ({problem[:120]})", _YAML_FORM, place)


class _Tree:
    """Builds the nodes of one document from parser events, within bounds."""

    def __init__(self, file: str) -> None:
        self.root: Node | None = None
        self._file = file
        self._open: list[Node] = []
        self._paths: list[str] = []  # of the nodes in _open
        self._anchors: dict[str, Node] = {}
        self._aliased = 0
        self._documents = 0

    def take(self, event: yaml.Event) -> None:
        mark = event.start_mark
        line, column = (mark.line + 1, mark.column + 1) if mark else (0, 0)
        if isinstance(event, yaml.DocumentStartEvent):
            self._documents += 1
            if self._documents > 1:
                raise InputError("a second document", "one", Place(self._file, line, column))
        elif isinstance(event, yaml.CollectionEndEvent):
            node = self._open.pop()
            self._merge(node)
            path = self._paths.pop()
            if not all(map(str.isascii, node.entries)):
                check_alike(node.entries, partial(self._place_key, node, path))
            below = [*node.items, *(value for _, value in node.entries.values())]
            node.size = 1 + sum(child.size for child in below)
            node.height = 1 + max((child.height for child in below), default=0)
        elif isinstance(event, yaml.AliasEvent):
            self._place_node(self._follow(event.anchor or "", line, column), line, column)
        elif isinstance(event, yaml.ScalarEvent):
            quoted = event.style in ("'", '"', "|", ">") or event.tag in (
                "!",
                "tag:yaml.org,2002:str",
            )
            node = Node("scalar", line, column, event.value, not quoted)
            self._begin(node, event)
        elif isinstance(event, yaml.CollectionStartEvent):
            sequence = isinstance(event, yaml.SequenceStartEvent)
            node = Node("list" if sequence else "mapping", line, column)
            path = self._path()
            self._begin(node, event)
            self._open.append(node)
            self._paths.append(path)

    def _refuse(self, found: str, allowed: str, line: int, column: int) -> InputError:
        return InputError(found, allowed, Place(self._file, line, column, self._path()))

    def _path(self) -> str:
        """Give the path of the value that comes next."""
        if not self._open:
            return ""
        parent, path = self._open[-1], self._paths[-1]
        if parent.form == "list":
            return f"{path}[{len(parent.items)}]"
        return join_path(path, parent.key.text) if parent.key else path

    def _begin(self, node: Node, event: yaml.ScalarEvent | yaml.CollectionStartEvent) -> None:
        if event.tag and event.tag != "!" and event.tag not in _TAGS[node.form]:
            found = f"the tag {show_value(event.tag)} on a {node.form}"
            raise self._refuse(found, "plain YAML without tags", node.line, node.column)
        self._place_node(node, node.line, node.column)
        if event.anchor:
            self._anchors[event.anchor] = node

    def _follow(self, anchor: str, line: int, column: int) -> Node:
        target = self._anchors.get(anchor)
        if target is None:
            found = f"the alias {show_value('*' + anchor)}, which nothing above defines"
            raise self._refuse(found, "an alias of an anchor '&...' above it", line, column)
        if any(node is target for node in self._open):
            found = f"the alias {show_value('*' + anchor)} inside its own anchor"
            raise self._refuse(found, "an alias of an anchor that is closed", line, column)
        self._aliased += target.size
        if self._aliased > MAX_ALIASED_NODES:
            found = f"aliases that unfold to over {MAX_ALIASED_NODES} values"
            raise self._refuse(found, f"at most {MAX_ALIASED_NODES}", line, column)
        return target

    def _place_key(self, node: Node, path: str, name: str) -> Place:
        key = node.entries[name][0]
        return Place(self._file, key.line, key.column, path)

    def _merge(self, node: Node) -> None:
        """Add the entries of what stands under `<<`; the mapping's own, and earlier ones, win."""
        if node.merged is None:
            return
        parts = [node.merged] if node.merged.form == "mapping" else node.merged.items
        if not parts or any(each.form != "mapping" for each in parts):
            line, column = node.merged.line, node.merged.column
            found = f"{node.merged.describe()} under '<<'"
            raise self._refuse(found, "a mapping, as *name of one above, or a list", line, column)
        for part in parts:
            for name, entry in part.entries.items():
                node.entries.setdefault(name, entry)

    def _place_node(self, node: Node, line: int, column: int) -> None:
        if len(self._open) + node.height > MAX_DEPTH:
            found = f"values nested over {MAX_DEPTH} deep"
            raise self._refuse(found, f"at most {MAX_DEPTH} levels", line, column)
        if not self._open:
            if node.form != "mapping":
                found = "an empty document" if node.sort == "nothing" else _describe(node)
                allowed = "a mapping of fields, 'field: value', as the whole file"
                raise self._refuse(found, allowed, line, column)
            self.root = node
            return
        parent = self._open[-1]
        if parent.form == "list":
            parent.items.append(node)
        elif parent.key is not None and _is_merge(parent.key):
            parent.merged, parent.key = node, None
        elif parent.key is not None:
            parent.entries[parent.key.text] = (parent.key, node)
            parent.key = None
        elif node.form != "scalar" or not node.text:
            found = f"{_describe(node)} as a field's name"
            raise self._refuse(found, "a name in plain text, written out", line, column)
        elif _is_merge(node):
            if parent.merged is not None:
                raise self._refuse("'<<' twice", "once, with a list of mappings", line, column)
            parent.key = node
        elif node.text in parent.entries:
            first = parent.entries[node.text][0].line
            found = f"{show_value(node.text)} twice, at line {first} and line {line}"
            raise self._refuse(found, "each field once", line, column)
        else:
            parent.key = node


def _describe(node: Node) -> str:
    """Say in words what begins here; of a list or a mapping nothing is known yet."""
    return node.describe() if node.form == "scalar" else f"a {node.form}"


def _is_merge(key: Node) -> bool:
    return key.plain and key.text == "<<"


def join_path(path: str, key: str) -> str:
    """Write the path of a field below ``path``: dotted, quoted where its name is odd."""
    if len(key) > 60 or not re.fullmatch(r"\w[\w /+-]*", key):
        key = show_value(key)
    return f"{path}.{key}" if path else key
