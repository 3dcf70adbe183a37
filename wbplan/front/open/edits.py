"""What a person can change in the browser, as changes of the scenario's own text.

An edit of a `Document` gives another one, in which all that was not meant stays to the letter,
since a person wrote it (`read.yaml.edit`).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Final, TypeGuard, cast

from wbplan.core.errors import InputError, Place
from wbplan.core.files import show_value
from wbplan.front.open.documents import (
    Document,
    YamlPath,
    find_node,
    find_sheet,
    leaves_folder,
    list_alike,
    list_lights,
    list_lux,
    list_positions,
    name_reading_field,
)
from wbplan.front.open.names import check_name, remove_thing, rename_thing, tell_what_goes
from wbplan.light.generic_filters import GENERIC_NAMES
from wbplan.read.scenario.sheet import parse_sheet, set_cell
from wbplan.read.yaml.edit import write_scalar
from wbplan.read.yaml.tree import Node

MOST_FIELD: Final = 200
MOST_NUMBER: Final = 1e300
MOST_STOPS: Final = 40
_SHOOTING: Final = ("ei", "fps", "shutter_angle_deg", "t_stop", "nd_stops")
_SHIFTS: Final = ("warm_mired", "cool_mired", "green_cc", "magenta_cc")


def _is_number(value: object) -> TypeGuard[float]:
    is_one = isinstance(value, int | float) and not isinstance(value, bool)
    return is_one and abs(cast(float, value)) <= MOST_NUMBER


class _Request:
    """The fields of one edit, each checked as it is taken."""

    def __init__(self, said: Mapping[str, Any], document: Document) -> None:
        self.said = said
        self.document = document
        self.tree, self.whole = document.tree, document.whole
        self.setup = self._take_setup()

    def refuse(self, name: str, allowed: str) -> InputError:
        return InputError(show_value(str(self.said.get(name))), allowed, Place(field=name))

    def text(self, name: str, known: Mapping[str, Any] | tuple[str, ...] | None = None) -> str:
        value = self.said.get(name)
        if not isinstance(value, str) or not 0 < len(value.strip()) <= MOST_FIELD:
            raise self.refuse(name, f"a text of 1 to {MOST_FIELD} characters")
        if known is not None and value not in known:
            raise self.refuse(name, "one that is there")
        return value.strip()

    def number(self, name: str) -> float:
        value = self.said.get(name)
        if not _is_number(value):
            raise self.refuse(name, "a number")
        return float(value)

    def check_camera(self, name: str) -> str:
        """Refuse a profile that a browser may not have read from here."""
        if leaves_folder(name):
            allowed = "a name of `wbplan cameras`, or a file in the scenario's folder"
            raise InputError(show_value(name), allowed, Place(field="camera"))
        return name

    def list_texts(self, name: str) -> list[str]:
        value = self.said.get(name)
        if not isinstance(value, list) or not all(isinstance(each, str) for each in value):
            raise self.refuse(name, "a list of texts")
        return value

    def light(self) -> str:
        return self.text("light", list_lights(self.whole, self.setup))

    def position(self) -> str:
        return self.text("position", list_positions(self.document, self.setup))

    def sheet_text(self, name: str) -> str:
        return self.document.files[name].decode("utf-8-sig")

    def _take_setup(self) -> int:
        setups = find_node(self.tree, ("setups",))
        number = self.said.get("setup", 0)
        count = 0 if setups is None else len(setups.items)
        if isinstance(number, bool) or not isinstance(number, int) or not 0 <= number < count:
            raise InputError(f"setup {number}", "the number of a setup", Place(field="setup"))
        return number

    # What is done to the text.

    def set(self, path: YamlPath, value: object) -> Document:
        return self.document.set(path, value)

    def remove(self, path: YamlPath) -> Document:
        """Take away what stands at a path, with mappings that held nothing else."""
        document = self.document
        if find_node(self.tree, path) is None:
            if find_node(self.whole, path) is not None:
                found = f"{path[-1]}, which stands in another place that this setup is like"
                raise InputError(found, "the change there", Place(field=str(path[-1])))
            return document
        while len(path) > 3:
            holder = find_node(self.tree, path[:-1])
            if holder is None or len(holder.entries) != 1:
                break
            path = path[:-1]
        return document.remove([path])

    def find_light(self, light: str) -> YamlPath:
        """Find where a light is changed for this setup alone; where it is described if it is."""
        own = self.own("sources", light)
        setups = find_node(self.tree, ("setups",))
        alone = setups is not None and len(setups.items) == 1
        is_shared = find_node(self.tree, ("sources", light)) is not None
        is_own = find_node(self.tree, own) is not None
        return ("sources", light) if alone and is_shared and not is_own else own

    def own(self, *path: str | int) -> YamlPath:
        return ("setups", self.setup, *path)


def apply_edit(document: Document, said: Mapping[str, Any]) -> Document:
    """Apply one edit.

    Parameters
    ----------
    said
        ``do``, a key of `EDITS`, and what that takes.

    Raises
    ------
    InputError
        For an edit that is not understood, and a text that cannot be changed so.
    """
    kind = said.get("do")
    if not isinstance(kind, str) or kind not in EDITS:
        raise InputError(f"the edit {show_value(str(kind))}", ", ".join(EDITS), Place(field="do"))
    return EDITS[kind](_Request(said, document))


def _set_lux(request: _Request) -> Document:
    """Set a light's reading at a position; null takes it away."""
    light, position = request.light(), request.position()
    lux = None if request.said.get("lux") is None else request.number("lux")
    return _write_lux(request, position, light, lux)


def _write_lux(request: _Request, position: str, light: str, lux: float | None) -> Document:
    """Write a reading where it stands, which may be in a setup that this one is like."""
    sheet, document = find_sheet(request.whole, request.setup), request.document
    if sheet is not None and position in parse_sheet(request.sheet_text(sheet), sheet).rows:
        said = "" if lux is None else write_scalar(lux)
        text = document.files[sheet].decode("utf-8")
        return document.put(sheet, set_cell(text, sheet, position, light, said))
    field = name_reading_field(request.whole, request.setup, light)
    paths: list[YamlPath] = [
        ("setups", number, "positions", position, field)
        for number in list_alike(request.tree, request.setup)
    ]
    there = [each for each in paths if find_node(request.tree, (*each, light)) is not None]
    path = (*(there or paths)[0], light)
    if lux is not None:
        return request.set(path, lux)
    holder = find_node(request.tree, path[:-1])
    if there and holder is not None and len(holder.entries) == 1:
        return request.set(path, 0)  # a position without any reading is refused
    return request.remove(path)


def _scale_light(request: _Request) -> Document:
    """Turn a light up or down by stops, at every position of the setup where it was read."""
    light, stops = request.light(), request.number("stops")
    if abs(stops) > MOST_STOPS:
        raise request.refuse("stops", f"a number from -{MOST_STOPS} to {MOST_STOPS}")
    factor = 2.0**stops
    document = request.document
    for position, lux in list_lux(document, request.setup, light).items():
        step = _Request(request.said, document)
        document = _write_lux(step, position, light, float(f"{lux * factor:.4g}"))
    return document


def _switch_light(request: _Request) -> Document:
    """Put a light out, or on again, in this setup."""
    on, light = request.said.get("on"), request.light()
    if not isinstance(on, bool):
        raise request.refuse("on", "true or false")
    path = (*request.find_light(light), "on")
    if find_node(request.tree, path) is None:
        return (
            request.document if _burns(request.document, request) == on else request.set(path, on)
        )
    without = request.remove(path)
    return without if _burns(without, request) == on else request.set(path, on)


def _burns(document: Document, request: _Request) -> bool:
    path = list_lights(document.whole, request.setup)[request.light()]
    node = find_node(document.whole, (*path, "on"))
    return node is None or node.text.casefold() not in ("false", "no", "off")


def _hang_filters(request: _Request) -> Document:
    """Hang generic filters before a light, one behind the other, in place of what hangs there."""
    light, names = request.light(), request.list_texts("filters")
    for each in names:
        if each not in GENERIC_NAMES:
            raise InputError(show_value(each), "a generic filter", Place(field="filters"))
    path = (*request.find_light(light), "filter")
    if not names:
        return request.remove(path)
    made: object = [{"generic": each} for each in names]
    return request.set(path, {"generic": names[0]} if len(names) == 1 else made)


def _choose_key(request: _Request) -> Document:
    """Choose the position that the exposure is for."""
    return _forget(request, "key", request.set(request.own("key"), request.position()))


def _set_intent(request: _Request) -> Document:
    """Say how a position is to look: watched, neutral, leave, or a shift."""
    path = request.own("positions", request.position(), "intent")
    intent = request.said.get("intent")
    if isinstance(intent, Mapping):
        shift = {name: intent[name] for name in _SHIFTS if intent.get(name)}
        if set(intent) - {*_SHIFTS} or not all(map(_is_number, intent.values())):
            raise request.refuse("intent", f"figures of {', '.join(_SHIFTS)}")
        return request.set(path, shift or "neutral")
    said = request.text("intent", ("watched", "neutral", "leave"))
    return request.remove(path) if said == "watched" else request.set(path, said)


def _set_shooting(request: _Request) -> Document:
    """Set EI, frame rate, shutter, wanted stop or ND; null takes it away."""
    field = request.text("field", _SHOOTING)
    path = request.own("shooting", field)
    if request.said.get("value") is None:
        return request.remove(path)
    made = request.set(path, request.number("value"))
    time = request.own("shooting", "shutter_time_s")
    if field == "shutter_angle_deg" and find_node(request.tree, time) is not None:
        made = made.remove([time])
    return _forget(request, "shooting", made)


def _choose_camera(request: _Request) -> Document:
    """Choose the camera, of the setup where it has its own, else of the scenario."""
    own = find_node(request.whole, request.own("camera")) is not None
    path = request.own("camera") if own else ("camera",)
    return _forget(
        request, "camera", request.set(path, request.check_camera(request.text("camera")))
    )


def _set_beside(request: _Request) -> Document:
    """Choose the further cameras of a setup."""
    path = request.own("also_cameras")
    names = [request.check_camera(each) for each in request.list_texts("cameras")]
    return request.set(path, names) if names else request.remove(path)


def _add_position(request: _Request) -> Document:
    """Add a position, dark until something is read there."""
    name, lights = request.text("position"), list_lights(request.whole, request.setup)
    check_name(request.document, [request.setup], name)
    light = next(iter(lights), "")
    sheet = find_sheet(request.whole, request.setup)
    if sheet is not None:
        text = request.document.files[sheet].decode("utf-8")
        return request.document.put(sheet, set_cell(text, sheet, name, light, "0"))
    return request.set(request.own("positions", name), {"lux": {light: 0}})


def _add_light(request: _Request) -> Document:
    """Add a light by a tabulated name, a Kelvin, or a file of the scenario's folder."""
    name, kind = request.text("light"), request.text("kind", _LIGHT_KINDS)
    setups = find_node(request.whole, ("setups",))
    check_name(request.document, range(0 if setups is None else len(setups.items)), name)
    value: object = request.number("value") if kind.endswith("kelvin") else request.text("value")
    return request.set(("sources", name), {kind: value})


_LIGHT_KINDS: Final = ("lamp", "black_body_kelvin", "daylight_kelvin")


def _rename_light(request: _Request) -> Document:
    """Give a light another name, wherever it is meant."""
    light, new = request.light(), request.text("name")
    return rename_thing(request.document, request.setup, "light", light, new)


def _rename_position(request: _Request) -> Document:
    """Give a position another name, wherever it is meant."""
    position, new = request.position(), request.text("name")
    return rename_thing(request.document, request.setup, "position", position, new)


def _remove_light(request: _Request) -> Document:
    """Take a light out, with what names it."""
    return remove_thing(request.document, request.setup, "light", request.light())


def _remove_position(request: _Request) -> Document:
    """Take a position out, with what names it."""
    return remove_thing(request.document, request.setup, "position", request.position())


def say_what_goes(document: Document, said: Mapping[str, Any]) -> list[str]:
    """Say in words what goes with the ``light``, or the ``position``, when it is taken out.

    Raises
    ------
    InputError
        For what is not there.
    """
    request = _Request(said, document)
    if "light" in said:
        return tell_what_goes(document, request.setup, "light", request.light())
    return tell_what_goes(document, request.setup, "position", request.position())


def _vouch(request: _Request) -> Document:
    """Say that what stood in, or was invented, is right as it is."""
    word = request.text("word")
    if word == "invented" and find_node(request.tree, ("invented",)) is not None:
        return request.remove(("invented",))
    return _forget(request, word, request.document)


def list_assumed(tree: Node) -> list[str]:
    """List what a scenario says that stands in."""
    node = find_node(tree, ("assumed",))
    return [] if node is None else [each.text for each in node.items]


def _list_lines(tree: Node, word: str) -> list[int]:
    """List the lines in which stands what a word of `assumed` is about."""
    field = "positions" if word == "lux" else word
    setups = find_node(tree, ("setups",))
    holders = [tree, *(setups.items if setups is not None else ())]
    found = [each.entries[field] for each in holders if field in each.entries]
    lines = {key.line for key, _ in found}
    if word == "lux":
        lines = {key.line for _, value in found for key, _ in value.entries.values()}
    return sorted(lines)


def _forget(request: _Request, word: str, document: Document) -> Document:
    """Take a word out of what stands in, since somebody has said it now, and remarks that ask."""
    rows = list_assumed(document.tree)
    if word not in rows:
        return document
    document = document.remove_remarks(_list_lines(document.tree, word), "CHECK")
    path: YamlPath = ("assumed",) if len(rows) == 1 else ("assumed", rows.index(word))
    return document.remove([path])


EDITS: Final[Mapping[str, Callable[[_Request], Document]]] = {
    "lux": _set_lux,
    "level": _scale_light,
    "switch": _switch_light,
    "filters": _hang_filters,
    "key": _choose_key,
    "intent": _set_intent,
    "shooting": _set_shooting,
    "camera": _choose_camera,
    "beside": _set_beside,
    "add position": _add_position,
    "add light": _add_light,
    "rename light": _rename_light,
    "rename position": _rename_position,
    "remove light": _remove_light,
    "remove position": _remove_position,
    "vouch": _vouch,
}
"""What can be done, by the word that a request calls it."""
