"""A scenario and what is decided of it, as the values that the page in the browser shows.

Every word and figure is that of the pages and the terminal (`report`); nothing is rounded here.
"""

from __future__ import annotations

from typing import Any

from wbplan.core.names import clean_text
from wbplan.exposure.equation import name_t_stop
from wbplan.front.open.documents import (
    Document,
    YamlPath,
    find_node,
    find_sheet,
    list_cells,
    list_lights,
)
from wbplan.front.open.edits import list_assumed
from wbplan.light.surfaces import GREY_ROW, SKIN_ROWS
from wbplan.planning.casts import name_tint
from wbplan.planning.decisions import SetupPlan
from wbplan.planning.looks import PositionLooks
from wbplan.planning.positions import PositionPlan
from wbplan.planning.verdict import is_told
from wbplan.read.yaml.tree import Node
from wbplan.report.base import words
from wbplan.report.exposure.words import say_code, say_nd_shot, say_signed
from wbplan.report.plan.figures import draw_cast_map, is_on_map
from wbplan.report.plan.setup_page import collect_notes
from wbplan.report.plan.swatches import write_colour
from wbplan.report.plan.verdict import say_solved, say_verdict
from wbplan.scene.cautions import DEFERENCE

SHOWN_ROWS = (GREY_ROW, *SKIN_ROWS)
"""The surfaces that a position is shown with: the grey of 18 %, and skins from dark to light."""


def show_document(document: Document, kept: Document) -> dict[str, Any]:
    """Say what stands in a scenario, and where it is not what is kept."""
    tree, before = document.whole, kept.whole
    title, setups = find_node(tree, ("title",)), find_node(tree, ("setups",))
    invented = find_node(tree, ("invented",))
    count = 0 if setups is None else len(setups.items)
    return {
        "file": document.name,
        "title": "" if title is None else clean_text(title.text),
        "assumed": list_assumed(tree),
        "invented": invented is not None and invented.text.casefold() in ("true", "yes", "on"),
        "setups": [_show_setup(document, tree, kept, before, number) for number in range(count)],
    }


def _show_setup(
    document: Document, tree: Node, kept: Document, before: Node, number: int
) -> dict[str, Any]:
    own: YamlPath = ("setups", number)
    name, shooting = _say(tree, (*own, "name")), ("setups", number, "shooting")
    camera = _say(tree, (*own, "camera")) or _say(tree, ("camera",))
    was, cells = list_cells(kept, number), list_cells(document, number)
    first = next(iter(cells), "")
    lights = list_lights(tree, number)
    beside = find_node(tree, (*own, "also_cameras"))
    were = list_lights(before, number)
    placed = _pair_names(list(cells), list(was))
    lit = _pair_names(list(lights), list(were))
    return {
        "name": clean_text(name),
        "camera": camera,
        "beside": [] if beside is None else [each.text for each in beside.items],
        "key": _say(tree, (*own, "key")) or first,
        "sheet": find_sheet(tree, number) or "",
        "like": _say(tree, (*own, "like")),
        "shooting": {
            field: {"now": _say(tree, (*shooting, field)), "kept": _say(before, (*shooting, field))}
            for field in ("ei", "fps", "shutter_angle_deg", "t_stop", "nd_stops")
        },
        "shutter_time_s": _say(tree, (*shooting, "shutter_time_s")),
        "lights": [
            {
                **_show_light(tree, each, path, find_light(before, number, lit[each])),
                "was": lit[each] if lit[each] != each else "",
            }
            for each, path in lights.items()
        ],
        "positions": [
            {
                "name": each,
                "was": placed[each] if placed[each] != each else "",
                "intent": _show_intent(tree, (*own, "positions", each, "intent")),
                "lux": {
                    light: {
                        "now": _say_cell(row.get(light)),
                        "kept": _say_cell(was.get(placed[each], {}).get(lit[light])),
                    }
                    for light in lights
                },
            }
            for each, row in cells.items()
        ],
    }


def _pair_names(now: list[str], before: list[str]) -> dict[str, str]:
    """Pair names with what they were; empty for what is new.

    One that is in the place of another, which is gone, has been renamed.
    """
    pairs = {each: each if each in before else "" for each in now}
    if len(now) == len(before):
        for one, other in zip(now, before, strict=True):
            if not pairs[one] and other not in pairs:
                pairs[one] = other
    return pairs


def _say(tree: Node, path: YamlPath) -> str:
    node = find_node(tree, path)
    return node.text.strip() if node is not None and node.form == "scalar" else ""


def _say_cell(node: Node | None) -> str:
    if node is None:
        return ""
    return node.text if node.form == "scalar" else "share of a model"


def find_light(whole: Node, setup: int, name: str) -> Node | None:
    """Find how a light is described for a setup; None where it is not there."""
    path = list_lights(whole, setup).get(name)
    return None if path is None else find_node(whole, path)


def _show_light(tree: Node, name: str, path: YamlPath, was: Node | None) -> dict[str, Any]:
    hung = find_node(tree, (*path, "filter"))
    parts = [] if hung is None else hung.items or [hung]
    generic = [each.entries["generic"][1].text for each in parts if "generic" in each.entries]
    return {
        "name": name,
        "on": _say(tree, (*path, "on")).casefold() not in ("false", "no", "off"),
        "filters": generic,
        "other_filter": len(generic) != len(parts),
        "changed": _tell_apart(find_node(tree, path), was),
        "flash": _say(tree, (*path, "flash")) not in ("", "false")
        or find_node(tree, (*path, "flash", "t05_ms")) is not None,
    }


def _tell_apart(one: Node | None, other: Node | None) -> bool:
    """Tell whether two values are written otherwise."""
    if one is None or other is None:
        return one is not other
    if one.form != other.form or one.text != other.text or len(one.items) != len(other.items):
        return True
    if list(one.entries) != list(other.entries):
        return True
    pairs = [
        (a[1], b[1]) for a, b in zip(one.entries.values(), other.entries.values(), strict=True)
    ]
    return any(_tell_apart(a, b) for a, b in [*pairs, *zip(one.items, other.items, strict=True)])


def _show_intent(tree: Node, path: YamlPath) -> str | dict[str, str]:
    node = find_node(tree, path)
    if node is None:
        return "watched"
    if node.form == "scalar":
        return node.text
    return {name: each.text for name, (_, each) in node.entries.items()}


def show_plan(plan: SetupPlan) -> dict[str, Any]:
    """Say what is decided of a setup."""
    key, exposure, verdict = plan.key, plan.exposure, plan.verdict
    notes = [each for each in collect_notes(plan) if each.weight == "warning"]
    drawn = any(is_on_map(each) for each in plan.positions)
    looks = {} if plan.appearance is None else {e.name: e for e in plan.appearance.positions}
    landings = {} if exposure is None else {each.name: each for each in exposure.positions}
    stop = key.t_stop.value if exposure is None else exposure.t_stop
    share = words.say_share(plan.setup.band_share)
    span = words.say_wanted_span(plan.exact)
    return {
        "kelvin": plan.dial.preset or words.say_kelvin(plan.dial.kelvin),
        "tint": "" if plan.dial.preset else name_tint(plan.dial.tint_cc),
        "dial": words.say_dial(plan.dial, plan.setup.camera.menu.cc_per_step),
        "exact": words.say_wanted(plan.exact),
        "band": f"{share} band {span}" if span else "",
        "given": plan.dial_is_given,
        "stop": name_t_stop(stop),
        "nd": "" if exposure is None else clean_text(say_nd_shot(exposure)),
        "run": words.say_shooting(plan.setup.shooting),
        "camera": clean_text(plan.setup.camera.title or plan.setup.camera.name),
        "key": clean_text(key.name),
        "key_look": "no light" if key.lux.value <= 0 else words.say_cast(key.cast),
        "key_far": verdict is not None and verdict.is_far,
        "solved": "" if verdict is None else clean_text(say_solved(verdict)),
        "verdict": "" if verdict is None else clean_text(say_verdict(verdict)),
        "remedy": _name_remedy(plan),
        "worst": _say_worst(plan),
        "warnings": [clean_text(str(each)) for each in notes],
        "cautions": [each.text for each in plan.cautions],
        "deference": DEFERENCE,
        "map": str(draw_cast_map(plan.positions, "map")) if drawn else "",
        "lights": {
            each.name: {
                "kelvin": words.say_kelvin(each.eye.cct_kelvin),
                "duv": words.say_duv(each.eye.duv),
                "filter": "" if each.filter_name == "none" else clean_text(each.filter_name),
                "loss": words.say_stops(each.loss_stops) if round(each.loss_stops, 1) else "",
                "wants": each.trouble or words.say_wanted(each.wanted),
            }
            for each in plan.lights
        },
        "positions": [
            _show_position(each, looks.get(each.name), landings.get(each.name))
            for each in plan.positions
        ],
        "beside": [] if plan.agreement is None else [
            {
                "name": clean_text(each.title or each.name),
                "dial": words.say_setting(each.dial),
                "worst": f"{words.say_significant(each.worst_mired, 2)} mired",
                "apart": {
                    name: words.say_shift(mired.value, green.value)
                    for name, mired, green in each.apart
                },
            }
            for each in plan.agreement.cameras
        ],
    }  # fmt: skip


def _name_remedy(plan: SetupPlan) -> dict[str, str] | None:
    """Name the filter that helps the key most, and its light; None where something else does."""
    remedy = None if plan.verdict is None else plan.verdict.remedy
    if remedy is None or not remedy.filter:
        return None
    return {"light": remedy.light, "filter": remedy.filter}


def _say_worst(plan: SetupPlan) -> str:
    """Say which place lies furthest off; empty where all can pass for alike."""
    verdict = plan.verdict
    if verdict is None or not verdict.others:
        return ""
    worst = verdict.others[0]
    if not is_told(*worst.off.point):
        return f"{clean_text(worst.name)} {words.say_cast(worst.off)}, which nobody can tell"
    meant = " of what is meant" if worst.is_meant else ""
    return f"{clean_text(worst.name)} {words.say_cast(worst.off)}{meant}"


def _show_position(
    position: PositionPlan, looks: PositionLooks | None, landing: Any
) -> dict[str, Any]:
    dark = position.lux.value <= 0
    seen = {} if looks is None else {each.code: each for each in looks.looks}
    dialled = seen.get("dialled")
    meant = None if looks is None else looks.meant
    grey = landing.landings[0] if landing is not None and landing.landings else None
    far = (
        not (dark or position.trouble)
        and position.aim != "left"
        and is_told(*position.off_intent.point)
    )
    return {
        "name": position.name,
        "cast": "no light" if dark else words.say_cast(position.cast),
        "band": "" if dark else words.say_cast_span(position.cast),
        "far": far,
        "trouble": clean_text(position.trouble),
        "meant": clean_text(position.intent_words),
        "lux": words.say_lux(position.lux.value),
        "lux_band": words.say_lux_span(position.lux),
        "stop": "" if dark else name_t_stop(position.t_stop.value),
        "from_key": words.say_from_key(position.from_key_stops),
        "lands": ""
        if grey is None or dark
        else f"{say_signed(grey.from_grey_stops.value)}, code {say_code(grey)}",
        "looks": [] if dialled is None else [write_colour(dialled, row) for row in SHOWN_ROWS],
        "wanted": [] if meant is None else [write_colour(meant, row) for row in SHOWN_ROWS],
        "predicted": bool(position.predicted),
    }
