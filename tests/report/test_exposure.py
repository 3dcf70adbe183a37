"""The exposure in page, record and terminal, and the short commands as a user would try them."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.read.scenario.test_exposure import GOOD
from tests.shared import ENDS, UNITS, Reader, render_all, squeeze, walk
from wbplan.core.intervals import Interval
from wbplan.exposure.flicker import Flicker
from wbplan.exposure.nd_kit import Pack
from wbplan.front.cli.main import main
from wbplan.front.plans import plan as plan_file
from wbplan.planning.decisions import Plan
from wbplan.planning.exposure import Landing
from wbplan.record.plan import build_record, format_record
from wbplan.report.exposure import words as said
from wbplan.report.plan.terminal import format_plan


@pytest.fixture(scope="module")
def plan(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    path = tmp_path_factory.mktemp("day") / "s.yaml"
    dark = "      cellar: {lux: {lamp: 0}, intent: leave}\n  - name: two\n"
    text = GOOD.replace("  - name: two\n", dark).replace(
        "title: Test\n", "title: Test\nmeter: {illuminance_percent: 4}\n"
    )
    path.write_text(text, encoding="utf-8")
    return plan_file(path)


@pytest.fixture(scope="module")
def record(plan: Plan) -> dict[str, Any]:
    return json.loads(format_record(build_record(plan)))  # type: ignore[no-any-return]


def test_every_number_of_the_record_has_its_unit(record: dict[str, Any]) -> None:
    keys = {
        key
        for key, value in walk(record)
        if isinstance(value, int | float) and not isinstance(value, bool)
    }
    assert {key for key in keys if re.sub(ENDS, "", key).split("_")[-1] not in UNITS} == set()
    assert {"light_hz", "flash_over_ambient_stops_low", "ten_bit_codes", "ripple_stops"} <= keys


@pytest.mark.parametrize("kit", [False, True])
def test_a_stop_that_the_light_does_not_reach_is_said_with_the_nd(
    tmp_path: Path, kit: bool
) -> None:
    # ISO 2720, C = 250: N^2 = E t S / C = 100 x 800 / 48 / 250, T2.58; T5.6 is sqrt(32), 2.26 stops
    # more, and glass of 1 stop that stays makes it 3.3.
    glass = "kit: {glass: {fixed: {stops: 1, stays: true}}}\n" if kit else ""
    path = tmp_path / "s.yaml"
    path.write_text(
        f"wbplan: 1\ntitle: t\ncamera: cfa-mid\n{glass}setups:\n  - name: a\n    shooting: "
        "{ei: 800, fps: 24, shutter_angle_deg: 180, t_stop: 5.6}\n    sources: {b: {lamp: A}}\n"
        "    positions: {face: {lux: {b: 100}}}\n",
        encoding="utf-8",
    )
    made = plan_file(path)
    exposure = made.setups[0].exposure
    assert exposure is not None
    assert said.say_nd_shot(exposure) == (
        "fixed (3.3 stops dark)" if kit else "no ND (2.3 stops dark)"
    )
    pages = squeeze(render_all(made))
    assert "the light falls 2.3 stops short of T5.6" in pages
    assert "asks for 2.2 stops too dark" not in pages


def test_record_holds_the_plans_own_values(plan: Plan, record: dict[str, Any]) -> None:
    made, kept = plan.setups[0].exposure, record["setups"][0]["exposure"]
    assert made is not None
    assert made.nd_needed is not None
    assert kept["nd_needed"]["nd_stops"] == pytest.approx(made.nd_needed.value, rel=1e-5)
    assert kept["nd_needed"]["nd_stops_low"] < kept["nd_needed"]["nd_stops_high"]
    face = kept["positions"][0]
    assert face["landings"][0]["ten_bit_codes"] == pytest.approx(
        1023 * made.positions[0].landings[0].code.value, rel=1e-5
    )
    assert face["red_headroom_stops_low"] < face["red_headroom_stops_high"]
    assert kept["packs"][0]["glass"] == list(made.packs[0].glass)
    assert len(kept["flash_mix"]) == len(made.flash)
    assert {each["waveform"] for each in kept["flicker"]["lights"]} == {"sine", "square"}
    assert kept["positions"][2]["landings"][0]["from_grey_stops"] is None
    assert record["setups"][0]["kit"]["glass"][1]["stays"] is True
    assert record["setups"][0]["shooting"]["readout_seconds"] == 0.014
    assert [each["setup"] for each in record["day"]] == ["two", "one"]
    assert record["day"][0]["shooting_number"] == 1


def test_page_says_it(plan: Plan) -> None:
    page = Reader(render_all(plan))
    text = squeeze(page.text)
    for each in (
        "The day in shooting order",
        "Exposure: where things land",
        "polariser",
        "Flash against ambient by shutter",
        "100 Hz, 20 %, sine",
        "900 Hz, 100 % taken as the worst, square, on 40 %",
        "Other packs from the kit",
        "Lenses of the kit that can be set to it: fast",
        "clips first",
        "readout 14 ms",
        "mains 60 Hz",
    ):
        assert each in text, each
    assert text.index("two", text.index("shooting order")) < text.index(
        "one", text.index("order") + 200
    )
    assert "nan" not in text.lower().replace("fluoresc", "").replace("ordinan", "").split()


def test_terminal_says_it(plan: Plan) -> None:
    text = format_plan(plan, "full", 200)
    for each in ("pack    ", "flash   face", "flicker lamp", "lands at", "widest", "gains"):
        assert each in text, each
    assert "nan" not in text.split()


def test_hostile_glass_is_text(tmp_path: Path) -> None:
    path = tmp_path / "s.yaml"
    path.write_text(GOOD.replace("polariser:", '"<script>x</script>":'), encoding="utf-8")
    decided = plan_file(path)
    source = render_all(decided)
    assert "<script" not in source.lower()
    assert "&lt;script&gt;" in source


def near(value: float) -> Interval:
    return Interval(value, value - 0.2, value + 0.2)


def sure(value: float) -> Interval:
    return Interval(value, value, value)


@pytest.mark.parametrize(
    ("found", "expected"),
    [
        (said.say_signed(1.26), "+1.3"),
        (said.say_signed(-0.04), "0"),
        (said.say_signed(np.nan), "unknown"),
        (said.say_signed(-np.inf), "none"),
        (said.say_signed_range(near(1.0)), "+1 (+0.8 to +1.2)"),
        (said.say_signed_range(sure(-1.0)), "−1"),
        (said.say_code(Landing("x", 0.9, sure(1), sure(1.2))), "over 1023"),
        (said.say_code(Landing("x", 0.9, sure(1), sure(0.5))), "512"),
        (said.say_contrast(sure(2.0)), "2 stops, 4:1"),
        (said.say_contrast(sure(0.1)), "level, 1.1:1"),
        (said.say_contrast(sure(np.inf)), "no light on one side"),
        (said.say_contrast_span(near(2.0)), "3.5:1 to 4.6:1"),
        (said.say_pack(Pack(("a", "b"), 2, 3, 0.2)), "a + b, camera ND 2 stops (0.2 stops dark)"),
        (said.say_pack(Pack((), 0.0, 0.0, 0.0)), "no ND"),
        (said.name_density(2.0), "0.6"),
        (said.say_angle(1 / 50, 24), "172.8° (1/50 s)"),
        (said.say_time(0.5), "0.5 s"),
        (said.say_ripple(0.0), "none"),
        (said.say_ripple(0.004), "under 0.01 stop"),
        (said.say_ripple(0.123), "0.12 stops"),
        (said.say_ripple(np.inf), "down to black"),
        (said.say_flicker(Flicker(100.0, 0.35, "rectified")), "100 Hz, 35 %, rectified"),
        (said.say_flash_ratio(sure(np.inf)), "flash alone"),
        (said.say_flash_ratio(sure(1.0)), "+1, 2:1"),
    ],
)  # fmt: skip
def test_words(found: str, expected: str) -> None:
    assert found == expected


# T2.8 is sqrt(8): 8 x 250 x 48 / 800 is 120 lux, with C 340 163.2 (ISO 2720, arithmetic).
@pytest.mark.parametrize(
    ("line", "fragments"),
    [
        ("expose --ei 800 --fps 24 --angle 180 --lux 117.6", ["T2.8 ", "C 250", "1/48 s"]),
        ("expose --ei 800 --fps 24 --angle 180 --t-stop 2.8", ["120 lux", "11.1 footcandles"]),
        ("expose --ei 800 --fps 24 --angle 180 --t-stop 2.8 --dome", ["163 lux", "C 340"]),
        ("expose --ei 100 --time 1 --t-stop 8 --cd 8 --find nd", ["ND 0 stops", "K 12.5"]),
        ("expose --ei 100 --fps 24 --angle 180 --footcandles 100", ["T2.8 ", "2.99"]),
        ("expose --ei 800 --fps 24 --t-stop 2.8 --lux 120", ["180°", "1/48 s"]),
        ("expose --ei 800 --fps 24 --t-stop 2.8 --lux 50", ["warning", "1/3 stop short"]),
        ("expose --ei 800 --angle 180 --t-stop 2.8 --lux 120", ["24.00 fps"]),
        ("expose --angle 180 --fps 24 --t-stop 2.8 --lux 120", ["EI 800"]),
        ("expose --ei 100 --flash 40", ["T4 ", "E t + H"]),
        ("expose --ei 100 --time 1 --t-stop 8 --lux 80 --find flash", ["80.0 lux s"]),
        ("expose --ei 100 --time 1 --t-stop 8 --lux 320 --nd 0", ["1 stop over"]),
        ("expose --ei 100 --time 1 --t-stop 8 --lux 40", ["2 stops too dark"]),
        ("expose --ei 100 --time 1 --lux 160 --meter-percent 5", ["7.66 to 8.32", "90 %"]),
        ("expose --ei 100 --time 1 --lux 180 --parts 10", ["T8 and 2/10"]),
        ("flicker --fps 24 --angle 180 --mains 50", ["172.8° (1/50 s)", "0.11 stops", "4.0 times"]),
        ("flicker --fps 24 --angle 144 --mains 60 --depth 5", ["the planned one"]),
        ("flicker --fps 120 --angle 180 --mains 50", ["none at 120 fps", "100 fps at 360"]),
        ("flicker --fps 25 --angle 90 --hz 500 --waveform square --duty 20 --depth 90",
         ["strobing", "sensitive"]),
        ("flicker --fps 25 --time 1/60 --mains 50 --readout-ms 0", ["global shutter"]),
        ("pack --stops 3 --glass 0.3,0.6,0.9", ["ND 0.9: 2.99 stops"]),
        ("pack --stops 7 --glass 0.3 --camera-nd 2,4,6", ["ND 0.3, camera ND 6 stops"]),
        ("pack --stops 9 --glass 0.3", ["does not reach"]),
    ],
)  # fmt: skip
def test_commands(line: str, fragments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(line.split()) == 0
    found = capsys.readouterr()
    assert found.err == ""
    for each in fragments:
        assert each in found.out


# T2.8 is sqrt(8): 8 x 250 x 48 / 800 is 120 lux, with C 340 163.2 (ISO 2720, arithmetic).
@pytest.mark.parametrize(
    ("line", "fragments"),
    [
        ("expose", ["t-stop, ei, light and shutter missing"]),
        ("expose --ei 800 --lux 5", ["t-stop and shutter missing"]),
        ("expose --ei warm", ["--ei", "'warm'", "a number"]),
        ("expose --ei 0 --lux 5", ["--ei", "1e-9 to 1e9"]),
        ("expose --ei 1/0", ["--ei", "1/0"]),
        ("expose --ei nan", ["--ei", "nan"]),
        ("expose --ei 800 --angle 400 --fps 24 --lux 5", ["--angle: found 400", "from 0 to 360"]),
        ("expose --ei 800 --time 0.1 --fps 24 --lux 5", ["at most one frame"]),
        ("expose --ei 800 --time 0.1 --c 100 --lux 5", ["--c: found 100", "240 to 540"]),
        ("expose --ei 800 --time 0.1 --k 12.5 --lux 5", ["reflected and an incident"]),
        ("expose --ei 800 --time 0.1 --cd 5 --flash 5", ["reflected reading with a flash"]),
        ("expose --lux 5 --cd 5", ["not allowed with"]),
        ("expose --ei 800 --time 1 --lux 5 --find speed", ["--find", "t-stop"]),
        (
            "expose --ei 800 --time 1 --lux 5 --meter-percent 90",
            ["--meter-percent: found 90", "0 to 50"],
        ),
        ("flicker --fps 24 --mains 50", ["--angle: found no shutter", "its time"]),
        ("flicker --fps 24 --angle 180", ["--mains", "--hz"]),
        ("flicker --fps 24 --angle 180 --mains 55", ["--mains", "50"]),
        ("flicker --fps 24 --time 1/20 --mains 50", ["--time: found 0.05"]),
        ("flicker --fps 24 --angle 180 --mains 50 --depth 120", ["--depth: found 120"]),
        (
            "flicker --fps 24 --angle 180 --mains 50 --duty 20",
            ["--duty: found a duty with waveform sine"],
        ),
        ("pack --stops 3", ["an empty kit"]),
        ("pack --stops 3 --glass 0.3,,0.6", ["--glass", "found ''"]),
        ("pack --glass 0.3", ["--stops"]),
        ("pack --stops 3 --glass 0.3 --most 9", ["--most"]),
    ],
)
def test_bad_commands_end_with_2(
    line: str, fragments: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    try:
        code = main(line.split())
    except SystemExit as ended:
        code = int(ended.code or 0)
    found = capsys.readouterr()
    assert code == 2
    assert found.out == ""
    for each in fragments:
        assert each in found.err
