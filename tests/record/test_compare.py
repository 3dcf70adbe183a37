"""What changed between two plans: by how much as worked by hand, and nothing that did not."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.shared import HOSTILE, plan_shipped
from wbplan.core.errors import InputError
from wbplan.front.cli.main import main
from wbplan.front.comparisons import compare
from wbplan.front.files import make_files
from wbplan.planning.casts import name_setting
from wbplan.planning.decisions import Plan
from wbplan.record.compare_plans import Change, Comparison
from wbplan.record.values import Shade
from wbplan.report.compare.record import build_comparison
from wbplan.report.compare.terminal import format_comparison


def say_wide(found: Comparison, show_all: bool = False) -> str:
    return format_comparison(found, show_all, 400)


Record = dict[str, Any]
Edit = Callable[[Record], Any]


@pytest.fixture(scope="session")
def text() -> str:
    return make_files(plan_shipped("dusk_workshop"))["plan.json"].decode()


@pytest.fixture
def edited(text: str, tmp_path: Path) -> Callable[..., Comparison]:
    """Compare the plan with itself after edits of its record."""

    def run(*edits: Edit, before: Edit = lambda record: None) -> Comparison:
        for name, changes in (("first", (before,)), ("second", edits)):
            record = json.loads(text)
            for edit in changes:
                edit(record)
            (tmp_path / name).mkdir(exist_ok=True)
            (tmp_path / name / "plan.json").write_text(json.dumps(record))
        return compare(tmp_path / "first", tmp_path / "second" / "plan.json")

    return run


def only(found: Comparison, setup: int = 0) -> Change:
    (change,) = [each for part in found.setups for each in part.changes]
    assert found.setups[setup].changes == (change,)
    return change


def test_nothing_differs(edited: Callable[..., Comparison]) -> None:
    found = edited()
    assert found.is_same
    assert say_wide(found).endswith("Nothing differs, and both have the same inputs.")
    found = edited(lambda r: r.update(digest_sha256="0" * 64))
    assert say_wide(found).endswith("Nothing differs.")


def test_what_is_dialled_in_is_told_however_little(edited: Callable[..., Comparison]) -> None:
    found = edited(
        lambda r: r["setups"][0]["dialled_setting"].update(
            kelvin=4350, mired=1e6 / 4350, tint_cc=1.5
        )
    )
    change = only(found)
    # 1e6/4350 - 1e6/4400 = 229.89 - 227.27 = 2.61 mired
    assert change.shift is not None
    assert change.shift.mired == pytest.approx(2.612, abs=1e-3)
    assert change.shift.cc == pytest.approx(-0.5)
    assert change.can_be_told
    said = say_wide(found)
    assert "set   4400 K, magenta 2 CC  4350 K, magenta 1.5 CC" in said
    assert "2.6 mired, for warmer light; 0.5 CC more green - too little to be told" in said
    found = edited(lambda r: r["setups"][0]["dialled_setting"].update(preset="Cloudy"))
    assert only(found).what == "dialled_setting"


def shift(path: list[str], mired: float, cc: float) -> Edit:
    def edit(record: Record) -> None:
        part = record["setups"][0]
        for name in path:
            part = part[int(name)] if name.isdigit() else part[name]
        part["mired"] += mired
        part["green_cc" if "green_cc" in part else "tint_cc"] += cc

    return edit


@pytest.mark.parametrize(
    ("path", "what", "words"),
    [
        (["exact_setting"], "exact_setting", ("mired, for warmer light", "more magenta")),
        (["lights", "1", "wanted"], "wanted_setting", ("mired warmer", "greener")),
        (["positions", "2", "cast"], "cast", ("mired warmer", "greener")),
    ],
)
def test_settings_and_casts(
    edited: Callable[..., Comparison], path: list[str], what: str, words: tuple[str, str]
) -> None:
    for mired, cc, told in ((5.1, 0, True), (0, 2.1, True), (4.9, 1.9, False), (-5.1, 0, True)):
        change = only(edited(shift(path, mired, cc)))
        assert change.what == what
        assert change.shift == Shade(pytest.approx(mired, abs=1e-9), pytest.approx(cc, abs=1e-9))
        assert change.can_be_told is told
    said = say_wide(edited(shift(path, 6, 2)))
    assert f"6 {words[0]}" in said
    assert f"2 CC {words[1]}" in said
    other = say_wide(edited(shift(path, -6, -2)))
    assert "6 mired" in other
    assert "cooler" in other
    assert ("more green" if what == "exact_setting" else "more magenta") in other


def test_invented_data_are_marked_and_are_another_input(edited: Callable[..., Comparison]) -> None:
    found = edited(lambda record: record.update(invented=False))
    said = say_wide(found)
    assert said.count(", invented data") == 1
    assert said.endswith("Nothing differs.")
    assert build_comparison(found)["first"]["invented"] is True


def test_a_spectrum_all_apart_is_said_in_plain_digits(edited: Callable[..., Comparison]) -> None:
    def flip(record: dict[str, Any]) -> None:
        light = record["setups"][0]["lights"][0]
        light["spectrum_relative"] = [0.0] * 400 + [1.0]

    said = say_wide(edited(flip))
    assert re.search(r"up to \d+ % of its peak apart", said)


def test_a_lut_that_does_the_same_is_no_small_difference(
    edited: Callable[..., Comparison],
) -> None:
    found = edited(lambda r: r["setups"][0]["lut"].update(sha256="0" * 64))
    said = say_wide(found)
    assert "LUT does the same, in a file of another digest; --all lists them" in said
    assert "too small" not in said
    assert "0" * 64 in say_wide(found, show_all=True)


def test_small_differences_are_counted(edited: Callable[..., Comparison]) -> None:
    found = edited(
        shift(["exact_setting"], 4, 0),
        shift(["positions", "0", "cast"], 0, 0.9),
        shift(["positions", "1", "cast"], 1e-6, 0),  # the last digits of another machine
        lambda r: r["setups"][0]["positions"][1].update(from_key_stops=0.15),
    )
    said = say_wide(found)
    assert (
        "3 differences are too small to be told (under 5 mired, 2 CC, 0.1 stop: common practice, "
        "no source); --all lists them"
    ) in said
    assert "will look" not in said
    listed = say_wide(found, show_all=True)
    assert "potter's face: will look" in listed
    assert "under 0.1 stops brighter" in listed
    assert "--all" not in listed


def test_stops(edited: Callable[..., Comparison]) -> None:
    # From T2.8 (2 sqrt 2) to T4 is one stop; T-numbers go with the square root of the light.
    found = edited(
        lambda r: r["setups"][0]["exposure"].update(t_stop=4, nd_stops=0.7),
        before=lambda r: r["setups"][0]["exposure"].update(t_stop=math.sqrt(8), nd_stops=2),
    )
    stop, nd = found.setups[0].changes
    assert (stop.what, nd.what) == ("t_stop", "nd")
    assert stop.stops == pytest.approx(1)
    assert nd.stops == pytest.approx(-1.3)
    said = say_wide(found)
    assert "1 stop closed down" in said
    assert "1.3 stops less" in said


def test_light_at_each_position_in_stops(edited: Callable[..., Comparison]) -> None:
    def brighten(record: Record) -> None:
        """Double the window at the face: 45 of 440 lux becomes 90 of 485."""
        face = record["setups"][0]["positions"][0]
        lux = {"dusk window": 90, "ceiling panels": 310, "old tubes": 60, "bench lamp": 25}
        face["illuminance_lux"] = 485
        for each in face["shares"]:
            each["share_percent"] = 100 * lux.get(each["light"], 0) / 485

    change = only(edited(brighten))
    assert (change.subject, change.name, change.at) == ("light", "dusk window", "potter's face")
    assert change.stops == pytest.approx(1, abs=1e-6)
    assert "dusk window: lux at potter's face  45.0 lux  90.0 lux  1 stop brighter" in (
        say_wide(edited(brighten))
    )
    said = say_wide(edited(before=brighten))
    assert "1 stop darker" in said

    def go_dark(record: Record) -> None:
        brighten(record)
        record["setups"][0]["positions"][0]["shares"][0]["share_percent"] = 0

    assert "90.0 lux  no light" in say_wide(edited(go_dark, before=brighten))


def put(path: str, value: Any) -> Edit:
    *names, last = path.split(".")

    def edit(record: Record) -> None:
        part = record["setups"][0]
        for name in names:
            part = part[int(name)] if name.isdigit() else part[name]
        if last.isdigit():
            part[int(last)] = value
        else:
            part[last] = value

    return edit


@pytest.mark.parametrize(
    ("path", "value", "said"),
    [
        ("camera.name", "cfa-presets", "camera  cfa-mid  cfa-presets"),
        ("encoding.range", "legal", "ACEScct, ACEScct, full range  ACEScct, ACEScct, legal range"),
        ("shooting.ei", 400, "shooting  EI 800, 24 fps, 180°  EI 400, 24 fps, 180°"),
        ("intent.key", "drying shelf", "exposed for  potter's face  drying shelf"),
        ("lights.0.filter", "half orange", "dusk window: filter  none  half orange"),
        ("lights.0.on", False, "dusk window: on  burns  is off"),
        ("lut.file", "x.cube", "LUT: was 01-wide-of-the-room_"),
        ("lut", None, "is  none"),
        ("positions.0.trouble", "no light here", "trouble  none  no light here"),
        ("positions.0.from_key_stops", None, "from key  level  no light"),
        ("positions.0.cast.mired", None, "will look  5.1 mired cool, 0.6 CC green  unknown"),
    ],
)
def test_what_is_told_in_words(
    edited: Callable[..., Comparison], path: str, value: Any, said: str
) -> None:
    found = edited(put(path, value))
    assert only(found).can_be_told
    squeezed = " ".join(say_wide(found).split())
    assert " ".join(said.split()) in squeezed


def test_band(edited: Callable[..., Comparison]) -> None:
    def widen(record: Record) -> None:
        record["setups"][0]["exact_setting"]["mired_high"] += 6

    change = only(edited(widen))
    assert (change.what, change.can_be_told) == ("band", True)
    assert "its band  4108 to 4585 K" in say_wide(edited(widen))


def test_spectra(edited: Callable[..., Comparison]) -> None:
    for by, told in ((0.06, True), (0.04, False)):

        def edit(record: Record, by: float = by) -> None:
            record["setups"][0]["lights"][2]["spectrum_relative"][10] += by

        change = only(edited(edit))
        assert (change.what, change.name, change.can_be_told) == ("spectrum", "old tubes", told)
        assert change.after == pytest.approx(100 * by)


def test_luts_of_other_bytes(edited: Callable[..., Comparison]) -> None:
    """A comment in a file changes its digest, and nothing that it does."""
    digest = put("lut.sha256", "0" * 64)
    assert not only(edited(digest)).can_be_told
    assert "the same matrix in other bytes" in say_wide(edited(digest), show_all=True)
    change = only(edited(digest, put("lut.matrix_linear_ratio.0", [2, 0, 0])))
    assert change.can_be_told

    def ask_another(record: Record) -> None:
        entry = {**record["setups"][0]["lut"], "file": "gains.cube", "from": "4400K", "to": "3200K"}
        record["setups"][0]["luts"] = [entry]

    change = only(edited(ask_another))
    assert (change.before, change.after) == (None, "gains.cube")


def test_luts_are_paired_by_what_they_are_for(edited: Callable[..., Comparison]) -> None:
    def ask(*wanted: tuple[str, str, str]) -> Edit:
        def edit(record: Record) -> None:
            setup = record["setups"][0]
            setup["luts"] = [
                {**setup["lut"], "file": file, "kind": kind, "from": "4400K", "to": to}
                | {"camera": "cfa-mid", "format": "cube"}
                for file, kind, to in wanted
            ]

        return edit

    # What a LUT to a position goes to is said by the planner as its name and `name_setting`.
    left, wall = (f"{name}, {name_setting(4350, 2)}" for name in ("face, left", "wall"))
    first = ask(("a", "positions", left), ("b", "positions", wall), ("c", "monitor", "4417K"))
    second = ask(
        ("x", "gains", "4417K"), ("y", "positions", wall), ("z", "positions", left), ("c", "x", "")
    )
    changes = edited(second, before=first).setups[0].changes
    assert {each.at: (each.before, each.after) for each in changes} == {
        "correction to face, left, .cube": ("a", "z"),
        "correction to wall, .cube": ("b", "y"),
        "correction by gains, .cube": (None, "x"),
        "view on a monitor, .cube": ("c", None),
        "correction, .cube": (None, "c"),
    }
    said = " ".join(say_wide(edited(second, before=first)).split())
    assert "LUT, correction to wall, .cube: was b is y" in said
    twice = ask(("a", "positions", wall), ("b", "positions", wall))
    assert edited(twice, before=twice).is_same


def test_warnings_that_came_and_went(edited: Callable[..., Comparison]) -> None:
    note = {"code": "x", "text": "mind the\nstep", "about": "", "weight": "warning"}

    def add(record: Record) -> None:
        record["setups"][0]["notes"].append(note)
        record["setups"][0]["lights"][0]["notes"].append({**note, "weight": "remark"})
        record["setups"][0]["lights"][1]["notes"].append(note)

    assert "   warning new: mind the step\n" in say_wide(edited(add))
    assert "warning gone: ceiling panels: mind the step" in say_wide(edited(before=add))


def test_what_came_and_what_went(edited: Callable[..., Comparison]) -> None:
    def rename(record: Record) -> None:
        record["setups"][1]["name"] = "Close on the bowl"
        record["setups"][1]["lights"][0]["name"] = "window"  # else it would be the same, renamed
        record["setups"][0]["positions"][4]["name"] = "door"
        record["setups"][0]["lights"][0]["name"] = "window"

    said = say_wide(edited(rename))
    assert "2  Close on the wheel: gone: only in the first plan" in said
    assert "3  Close on the bowl: new: only in the second plan" in said
    for name, was, now, size in (
        ("position street door", "there", "not there", "gone"),
        ("position door", "not there", "there", "new"),
        ("light dusk window", "there", "not there", "gone"),
        ("light window", "not there", "there", "new"),
    ):
        assert f"{name} {was} {now} {size}" in " ".join(said.split())


def test_what_else_makes_figures_differ(edited: Callable[..., Comparison]) -> None:
    found = edited(
        lambda r: r.update(wbplan_version="0.0.1", interval_percent=80), put("camera.name", "x")
    )
    said = say_wide(found)
    assert "made by wbplan 0.1.0 and 0.0.1: figures may differ for that alone" in said
    assert "the bands hold 90 % and 80 %" in said


def test_records_from_before_keys_were_added(edited: Callable[..., Comparison]) -> None:
    """The first records of format 1: no inputs, exposure, kit, luts, range, advice, day."""

    def cut(record: Record) -> None:
        for name in ("inputs", "day", "files"):
            del record[name]
        for setup in record["setups"]:
            for name in ("exposure", "kit", "luts", "trade_off", "advice", "cameras_beside"):
                del setup[name]
            del setup["encoding"]["range"]
            del setup["lut"]["encoding"]["range"]
            for name in ("scene_like", "grey_ramp"):
                del setup["lut"]["error"][name]

    found = edited(before=cut)
    # Before exposure plans a setup's stop was the key's, at the ND that the scenario states.
    assert [each.what for each in found.setups[0].changes] == ["t_stop", "nd"]
    assert found.setups[0].changes[0].before == pytest.approx(5.416, abs=1e-3)
    assert edited(cut, before=cut).is_same


BAD: dict[str, tuple[Edit, str]] = {
    "no setups": (lambda r: r.update(setups=[]), "setups: found no setup"),
    "setups": (lambda r: r.update(setups={"a": 1}), "setups: found an object; allowed: a list"),
    "setup": (lambda r: r.update(setups=[None]), r"setups\[0\]: found null; allowed: an object"),
    "title": (lambda r: r.update(title=["x"]), "title: found a list of 1; allowed: a text"),
    "name twice": (
        lambda r: r["setups"][1].update(name="Wide of the room"),
        "setups: found 'Wide of the room' twice",
    ),
    "lights": (put("lights", 5), r"setups\[0\].lights: found 'a whole number'; allowed: a list"),
    "wanted": (
        put("lights.0.wanted", "warm"),
        r"setups\[0\].lights\[0\].wanted: found 'warm'; allowed: an object",
    ),
    "mired": (
        put("lights.1.wanted.mired", "1\x1b"),
        r"lights\[1\].wanted.mired: found '1.x1b'; allowed: a number",
    ),
    "huge": (put("positions.0.cast.mired", 10**400), "cast.mired: found 'a whole number'; allowed"),
    "flag": (put("lights.0.on", 1), r"lights\[0\].on: found 'a whole number'; allowed: true or fa"),
    "key": (put("intent.key", "nobody"), r"setups\[0\].intent.key: found 'nobody'; allowed: the n"),
    "spectrum": (
        put("lights.0.spectrum_relative.3", "x"),
        r"lights\[0\].spectrum_relative\[3\]: found 'x'; allowed: a number",
    ),
    "matrix": (
        put("lut.matrix_linear_ratio.0", 1),
        r"lut.matrix_linear_ratio\[0\]: found 'a whole number'; allowed: a list of numbers",
    ),
    "note": (put("notes", [{}]), r"notes\[0\].weight: found no such field; allowed: a text"),
    "lights.json": (lambda r: r.update(format="wbplan lights"), "format: found 'wbplan lights'"),
}


@pytest.mark.parametrize("case", BAD)
def test_what_is_no_record_is_refused(case: str, edited: Callable[..., Comparison]) -> None:
    with pytest.raises(InputError, match=BAD[case][1]) as caught:
        edited(BAD[case][0])
    assert "second/plan.json" in str(caught.value).replace("\\", "/")
    assert "\x1b" not in str(caught.value)


def test_the_command(
    edited: Callable[..., Comparison], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    edited(shift(["exact_setting"], 4, 0), put("camera.name", "other"))
    arguments = ["compare", str(tmp_path / "first"), str(tmp_path / "second")]
    assert main(arguments) == 0
    out = capsys.readouterr().out
    assert "1 difference is too small" in out
    assert main([*arguments, "--all"]) == 0
    assert "exact setting" in capsys.readouterr().out
    assert main([*arguments, "--json"]) == 0
    made = json.loads(capsys.readouterr().out)
    assert (made["format"], made["format_version"], made["is_same"]) == (
        "wbplan comparison",
        1,
        False,
    )
    camera, exact = made["setups"][0]["changes"]
    assert (camera["before"], camera["after"]) == ("cfa-mid", "other")
    assert exact["shift_mired"] == pytest.approx(4)
    assert exact["after"]["mired"] == pytest.approx(exact["before"]["mired"] + 4)
    assert exact["can_be_told"] is False
    assert made["can_be_told_from"]["source"] == "common practice, no source"
    assert main(["compare", str(tmp_path / "first"), str(tmp_path / "none")]) == 2
    assert "found no such file" in capsys.readouterr().err
    assert main(["compare", str(tmp_path), str(tmp_path)]) == 2


def test_names_cannot_reach_the_terminal(hostile: Plan, plan: Plan, tmp_path: Path) -> None:
    for name, made in (("a", hostile), ("b", plan)):
        (tmp_path / name).mkdir()
        (tmp_path / name / "plan.json").write_bytes(make_files(made)["plan.json"])
    record = json.loads((tmp_path / "a" / "plan.json").read_bytes())
    for place in record["setups"][0]["positions"]:
        place["cast"]["mired"] += 50
    record["setups"][0]["positions"][1]["name"] += HOSTILE
    record["setups"][0]["notes"] = []
    (tmp_path / "c.json").write_text(json.dumps(record))
    for first, second in (("a", "b"), ("b", "a"), ("a", "c.json")):
        said = say_wide(compare(tmp_path / first, tmp_path / second), True)
        assert not {*"\x07\x1b\u202e\u2066"} & {*said}
        assert "script" in said


def test_a_renamed_setup_is_the_same_setup(edited: Callable[..., Comparison]) -> None:
    def rename(record: Record) -> None:
        record["setups"][0]["name"] = "Wide, take two"

    found = edited(rename)
    assert [each.presence for each in found.setups] == ["both", "both"]
    change = only(found)
    assert (change.what, change.before, change.after) == (
        "name",
        "Wide of the room",
        "Wide, take two",
    )
    assert "Wide, take two" in say_wide(found)
    json.dumps(build_comparison(found))

    def change_lights_too(record: Record) -> None:
        rename(record)
        record["setups"][0]["lights"][0]["name"] = "elsewhere"

    assert [each.presence for each in edited(change_lights_too).setups] == ["gone", "both", "new"]
