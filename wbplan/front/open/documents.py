"""The scenario in work: its file with what stands beside it, and where things are in it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path, PurePath
from typing import Final

from wbplan.read.alike import fill_alike
from wbplan.read.model.scenario import SCENARIO
from wbplan.read.scenario.sheet import parse_sheet
from wbplan.read.yaml.edit import remove_remarks, remove_values, rename, set_value
from wbplan.read.yaml.tree import Node, build_tree

YamlPath = tuple[str | int, ...]
_MOST_TREES: Final = 4
_NO: Final = ("false", "no", "off")


class Trees:
    """The trees of the last few texts, so that each is parsed once."""

    def __init__(self) -> None:
        self._known: dict[str, Node] = {}

    def build(self, text: str, file: str) -> Node:
        """Give the tree of a text, which nobody may change; see `build_tree`."""
        if text not in self._known:
            self._known[text] = build_tree(text, file)
            if len(self._known) > _MOST_TREES:
                del self._known[next(iter(self._known))]
        return self._known[text]


@dataclass(frozen=True)
class Document:
    """A scenario in work.

    Parameters
    ----------
    path
        Of the scenario file.
    files
        Contents by name from the scenario's folder: the scenario itself, every sheet that it names,
        and spectra that were dropped.
    trees
        Remembers the trees of its texts, for what comes of it too.
    """

    path: Path
    files: Mapping[str, bytes]
    trees: Trees = field(default_factory=Trees, compare=False, repr=False)

    @property
    def name(self) -> str:
        """Name of the scenario file."""
        return self.path.name

    @property
    def text(self) -> str:
        """The scenario's text."""
        return self.files[self.name].decode("utf-8")

    @cached_property
    def tree(self) -> Node:
        """The scenario as it is written; to be read only."""
        return self.trees.build(self.text, self.name)

    @cached_property
    def whole(self) -> Node:
        """The scenario with what its setups have from others; to be read only."""
        return fill_alike(self.tree, SCENARIO, self.name)[0]

    def set(self, path: YamlPath, value: object) -> Document:
        """Put a value into the scenario; see `set_value`."""
        made = set_value(self.text, path, value, self.name, self.trees.build)
        return self.put(self.name, made)

    def remove(self, paths: Iterable[YamlPath]) -> Document:
        """Take entries out of the scenario; see `remove_values`."""
        return self.put(self.name, remove_values(self.text, paths, self.name, self.trees.build))

    def rename(self, keys: Iterable[YamlPath], values: Iterable[YamlPath], name: str) -> Document:
        """Give something another name in the scenario; see `read.yaml.edit.rename`."""
        made = rename(self.text, keys, values, name, self.name, self.trees.build)
        return self.put(self.name, made)

    def remove_remarks(self, lines: Iterable[int], word: str) -> Document:
        """Take remarks out of the scenario; see `read.yaml.edit.remove_remarks`."""
        made = remove_remarks(self.text, lines, word, self.name, self.trees.build)
        return self.put(self.name, made)

    def put(self, name: str, text: str) -> Document:
        """Put another text in the place of a file."""
        return self.add(name, text.encode("utf-8"))

    def add(self, name: str, data: bytes) -> Document:
        """Add a file, or put another in its place."""
        return replace(self, files={**self.files, name: data})


def find_node(node: Node, path: YamlPath) -> Node | None:
    """Find what stands at a path of a tree; None where nothing does."""
    for step in path:
        if isinstance(step, int):
            if not 0 <= step < len(node.items):
                return None
            node = node.items[step]
        elif step in node.entries:
            node = node.entries[step][1]
        else:
            return None
    return node


def list_lights(whole: Node, setup: int) -> dict[str, YamlPath]:
    """List the lights that a setup can read, each with where it is described for it."""
    found: dict[str, YamlPath] = {}
    places: tuple[YamlPath, ...] = (("sources",), ("setups", setup, "sources"))
    for path in places:
        node = find_node(whole, path)
        for name in node.entries if node is not None else ():
            found[name] = (*path, name)
    return found


def list_alike(tree: Node, setup: int) -> list[int]:
    """List a setup, the one that it is like, the one that this is like, and so on."""
    setups = find_node(tree, ("setups",))
    names = [] if setups is None else [_say(each, "name").casefold() for each in setups.items]
    chain = [setup]
    while setups is not None:
        like = _say(setups.items[chain[-1]], "like").casefold()
        if not like or like not in names or names.index(like) in chain:
            break
        chain.append(names.index(like))
    return chain


def _say(node: Node, name: str) -> str:
    entry = node.entries.get(name)
    return "" if entry is None else entry[1].text.strip()


def leaves_folder(name: str) -> bool:
    """Tell whether a path leads out of the folder that it starts from."""
    path = PurePath(name.replace("\\", "/"))
    return path.is_absolute() or ".." in path.parts


def find_sheet(tree: Node, setup: int) -> str | None:
    """Find the sheet of lux that a setup names."""
    node = find_node(tree, ("setups", setup, "readings"))
    return node.text.strip() if node is not None and node.form == "scalar" else None


def list_positions(document: Document, setup: int) -> tuple[str, ...]:
    """List the positions of a setup: the rows of its sheet, then its own."""
    sheet = find_sheet(document.whole, setup)
    own = find_node(document.whole, ("setups", setup, "positions"))
    rows: tuple[str, ...] = ()
    if sheet is not None and sheet in document.files:
        rows = tuple(parse_sheet(document.files[sheet].decode("utf-8-sig"), sheet).rows)
    return tuple(dict.fromkeys((*rows, *(own.entries if own is not None else ()))))


def name_reading_field(whole: Node, setup: int, light: str) -> str:
    """Name the field that a light's readings stand in."""
    flash = find_node(whole, (*list_lights(whole, setup)[light], "flash"))
    return "lux" if flash is None or flash.text in _NO else "flash_lux_s"


def list_lux(document: Document, setup: int, light: str) -> dict[str, float]:
    """List what was read of a light, by position, where it is a figure."""
    found: dict[str, float] = {}
    for position, cells in list_cells(document, setup).items():
        node = cells.get(light)
        if node is not None and node.sort == "number":
            found[position] = float(node.text)
    return found


def list_cells(document: Document, setup: int) -> dict[str, dict[str, Node]]:
    """List what is written of each light at each position, in the sheet or in the scenario."""
    result: dict[str, dict[str, Node]] = {}
    tree = document.whole
    name = find_sheet(tree, setup)
    if name is not None and name in document.files:
        sheet = parse_sheet(document.files[name].decode("utf-8-sig"), name)
        for position, cells in sheet.rows.items():
            result[position] = {
                light: Node("scalar", 0, 0, sheet.find_text(position, column), plain=True)
                for column, (light, cell) in enumerate(zip(sheet.lights, cells, strict=False))
                if cell.text
            }
    places = find_node(tree, ("setups", setup, "positions"))
    for position, (_, node) in places.entries.items() if places is not None else ():
        own = result.setdefault(position, {})
        for kind in ("lux", "flash_lux_s"):
            if kind in node.entries:
                lux = node.entries[kind][1]
                own |= {light: each for light, (_, each) in lux.entries.items()}
    return result
