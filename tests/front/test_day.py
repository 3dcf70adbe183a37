"""`wbplan day`: files, words, refusals."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from html import unescape
from pathlib import Path

import numpy as np
import pytest
from jsonschema import Draft202012Validator

import wbplan
from tests.day.test_day import SCENARIO
from wbplan.day.setups import DayPlan
from wbplan.front.cli.main import main
from wbplan.front.days import plan_day
from wbplan.front.files import make_files
from wbplan.record.schemas import read_schema_text
from wbplan.report.base.words import say_setting
from wbplan.report.day.terminal import format_day_plan
from wbplan.report.day.words import say_filtered, say_window
from wbplan.scene.cautions import DEFERENCE, SUN

pytest.importorskip("pvlib")

DAY = 'day: {date: 2026-09-01, from: "09:00", to: "17:00", step_minutes: 30, within: {mired: 8}}\n'


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> DayPlan:
    path = tmp_path_factory.mktemp("day") / "yard.yaml"
    path.write_text(SCENARIO + DAY)
    return plan_day(path)


def test_the_record_is_what_its_schema_says(made: DayPlan) -> None:
    """JSON Schema draft 2020-12, judged by the jsonschema library."""
    schema = json.loads(read_schema_text("day"))
    Draft202012Validator.check_schema(schema)
    files = make_files(made)
    record = json.loads(files["plan.json"])
    faults = [each.message for each in Draft202012Validator(schema).iter_errors(record)]
    assert faults == []
    assert record["files"] == list(files)
    setup = record["setups"][0]
    count = len(setup["times"])
    assert count == 17
    assert setup["times"][0] == "2026-09-01T09:00:00+02:00"
    places = {k: v for k, v in setup["positions"][0].items() if k != "predicted_lights"}
    for column in (*setup["through_the_day"].values(), *places.values()):
        assert column is None or isinstance(column, str) or len(column) == count
    assert setup["within"] == {"mired": 8, "cc": 2, "stops": 0.5}


def test_the_same_day_gives_the_same_bytes(made: DayPlan, tmp_path: Path) -> None:
    (tmp_path / "yard.yaml").write_text(SCENARIO + DAY)
    assert make_files(plan_day(tmp_path / "yard.yaml")) == make_files(made)


def test_every_output_warns_of_the_sun(made: DayPlan) -> None:
    page = unescape(make_files(made)["day.html"].decode())
    assert SUN.text in page
    assert DEFERENCE in page
    assert SUN.text in format_day_plan(made, width=400)
    assert SUN.text in make_files(made)["plan.json"].decode()


def test_the_page_needs_nothing_else(made: DayPlan) -> None:
    page = make_files(made)["day.html"].decode()
    for word in ("http:", "https:", "<script", "url(", "@import", "nan", "None"):
        assert word not in page.replace("http://www.w3.org", ""), word
    assert page.count("<svg role=") == 12  # five along the clock and the bars, for two setups


@pytest.mark.parametrize(
    ("hours", "step", "marks"),
    [
        (("12:00", "12:00"), 10, ["12:00"]),  # one time stands in the middle
        (("12:10", "12:50"), 10, ["12:10", "12:50"]),
        (("09:00", "16:00"), 7, [f"{hour:02d}" for hour in range(9, 17)]),  # at any step
    ],
)
def test_the_clock_is_marked(
    tmp_path: Path, hours: tuple[str, str], step: int, marks: list[str]
) -> None:
    asked = f'day: {{from: "{hours[0]}", to: "{hours[1]}", step_minutes: {step}}}\n'
    (tmp_path / "a.yaml").write_text(SCENARIO.split("  - name: Room")[0] + asked)
    page = make_files(plan_day(tmp_path / "a.yaml"))["day.html"].decode()
    bars = page.split('<figure class="windows">')[1].split("</figure>")[0]
    found = re.findall(r">(\d\d(?::\d\d)?)</text>", bars)
    assert found == marks


def test_filters_come_with_the_setting_under_them(made: DayPlan) -> None:
    """What the record holds for the times at which filters were worked out."""
    room = made.setups[1]
    assert room.changes is not None
    change = room.changes.changes[0]
    under = say_setting(room.changes.settings[room.changes.at.index(change.at)])
    assert say_filtered(room, change.at) == under
    page = unescape(make_files(made)["day.html"].decode())
    assert "Set with filters" in page
    assert f">{under}</td>" in page
    assert "with filters" in format_day_plan(made, "full", 400)
    assert page.index("Filters due") < page.rindex("<h3>Windows")  # what is due comes first


def test_what_is_asked_counts_in_the_digest(made: DayPlan, tmp_path: Path) -> None:
    (tmp_path / "yard.yaml").write_text(SCENARIO + DAY.replace("mired: 8", "mired: 9"))
    assert plan_day(tmp_path / "yard.yaml").digest != made.digest


def test_the_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path, out = tmp_path / "yard.yaml", tmp_path / "out"
    path.write_text(SCENARIO)
    words = ["day", str(path), "--out", str(out), "--from", "12:00", "--to", "14:00"]
    assert main([*words, "--step", "60", "--date", "2026-05-02", "--tolerance", "cc:1"]) == 0
    said = capsys.readouterr().out
    assert "Saturday 2 May 2026, Europe/Brussels, every 60 minutes" in said
    assert "within 10 mired, 1 CC, 0.5 stops either way" in said
    assert "wbplan" not in said.split("Written")[0]
    record = json.loads((out / "plan.json").read_text())
    assert sorted(each.name for each in out.iterdir()) == sorted(["SHA256SUMS", *record["files"]])
    assert main([*words, "--step", "30"]) == 0, "what it wrote itself makes way"
    record = json.loads((out / "plan.json").read_text())
    assert sorted(each.name for each in out.iterdir()) == sorted(["SHA256SUMS", *record["files"]])


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--date", "21.6.2026"], "--date: found '21.6.2026'; allowed: a date"),
        (["--date", "2026-02-30"], "--date"),
        (["--date", "9999-12-31"], "--date: found '9999-12-31'; allowed: a year from 1950 to 2099"),
        (["--tolerance", "mired:0"], "a number above 0"),
        (["--tolerance", "mired:nan"], "a number above 0"),
        (["--from", "25:00"], "--from: found '25:00'"),
        (["--from", "noon"], "a time of day"),
        (["--from", "15:00", "--to", "14:00", "--step", "0"], "1 to 120 minutes"),
        (["--step", "0"], "1 to 120 minutes"),
        (["--tolerance", "kelvin:100"], "mired:, cc: or stops:"),
        (["--tolerance", "mired:-1"], "mired:, cc: or stops:"),
        (["--tolerance", "mired"], "mired:, cc: or stops:"),
        (["--band", "2"], "a share from"),
    ],
)
def test_bad_words(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], words: list[str], said: str
) -> None:
    path = tmp_path / "yard.yaml"
    path.write_text(SCENARIO)
    assert main(["day", str(path), "--out", str(tmp_path / "out"), *words]) == 2
    assert said in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    ("field", "said"),
    [
        ('date: "next week"', "day.date: found 'next week'"),
        ('from: "26:00"', "day.from: found '26:00'"),
        ('from: "15:00", to: "14:00", step_minutes: 0', "from 1 to 120"),
        ("step_minutes: 0", "from 1 to 120"),
        ("step: 10", "unknown field 'step'; allowed: did you mean 'step_minutes'"),
        ("within: {mired: 0}", "above 0"),
        ("within: {kelvin: 100}", "unknown field 'kelvin'"),
    ],
)
def test_bad_fields(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], field: str, said: str
) -> None:
    path = tmp_path / "yard.yaml"
    path.write_text(SCENARIO + f"day: {{{field}}}\n")
    assert main(["day", str(path), "--out", str(tmp_path / "out")]) == 2
    found = capsys.readouterr().err
    assert said in found
    assert "yard.yaml:" in found


def test_a_time_at_night_does_not_stop_a_day(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """It is the date that counts; a plan of that time is refused, and so is a reading from it."""
    text = SCENARIO.split("  - name: Room")[0]
    path, night = tmp_path / "noon.yaml", tmp_path / "night.yaml"
    path.write_text(text)
    night.write_text(text.replace("14:30", "01:30"))
    asked = {"begin": "12:00", "end": "13:00", "step_minutes": 60}
    days = [plan_day(each, **asked).setups[0] for each in (path, night)]  # type: ignore[arg-type]
    for name in ("lux", "exact_mired", "mired"):
        noon, dark = (getattr(each.scene, name) for each in days)
        for end in ("value", "low", "high"):
            assert getattr(dark, end) == pytest.approx(getattr(noon, end), nan_ok=True)
    assert main(["plan", str(night), "--out", str(tmp_path / "out")]) == 2
    assert "the sun stands at -" in capsys.readouterr().err
    night.write_text(night.read_text().replace("sky: {share: 0.5}", "sky: 900"))
    assert main(["day", str(night), "--out", str(tmp_path / "out")]) == 2
    said = capsys.readouterr().err
    assert "900 lux of 'sky'" in said
    assert "night.yaml:" in said


def test_a_day_goes_on_after_midnight(tmp_path: Path) -> None:
    """22:00 to 02:00 in June at 65.5 north, where it does not get dark."""
    text = SCENARIO.split("  - name: Room")[0].replace(
        "54.4, longitude_deg: 4.4", "65.5, longitude_deg: 25"
    )
    text = text.replace("Europe/Brussels", "Europe/Helsinki")
    asked = 'day: {from: "22:00", to: "02:00", step_minutes: 30, within: {mired: 0.5, cc: 0.1}}\n'
    (tmp_path / "a.yaml").write_text(text + asked)
    made = plan_day(tmp_path / "a.yaml")
    day = made.setups[0]
    assert [f"{each:%d %H:%M}" for each in day.moments[::2]] == [
        *("21 22:00", "21 23:00", "22 00:00", "22 01:00", "22 02:00")
    ]
    assert day.scene.usable.all()
    assert np.ptp(day.scene.azimuth_deg) > 50
    files = make_files(made)
    assert any("-at-0100-next-day_" in name for name in files)
    words = format_day_plan(made, "full", 400)
    assert "Sunday 21 June 2026 to Monday 22 June, Europe/Helsinki" in words
    assert "sunrise" not in words.split("golden")[0] or "the next day" in words
    record = json.loads(files["plan.json"])
    days = {each["at"][:10] for each in record["setups"][0]["sun"]["times"]}
    assert days == {"2026-06-21", "2026-06-22"}
    two = [tmp_path / name for name in ("x.json", "y.json")]
    for each in two:
        each.write_bytes(files["plan.json"])
    assert wbplan.compare(*two).is_same


def test_the_call_sheet_holds_every_setup(made: DayPlan) -> None:
    files = make_files(made)
    page = unescape(files["day_sheet.html"].decode()).replace("<wbr>", "")
    assert 'href="day.html"' in page
    assert 'href="day_sheet.html"' in files["day.html"].decode()
    assert "size: A4 landscape" in page
    assert SUN.text in page
    assert DEFERENCE in page
    for number, day in enumerate(made.setups, 1):
        assert f"<b>{number} {day.setup.name}</b>" in page
        for change in () if day.changes is None else day.changes.changes:
            assert change.light in page
        for window in () if day.whole is None else day.whole.windows:
            assert say_window(day, window) in page
        for note in [each for each in day.notes if each.weight == "warning"][:3]:
            assert str(note)[:100] in page
    rows = dict(re.findall(r'<th scope="row">([^<]*)</th>(.*?)</tr>', page))
    kelvins = re.findall(r">(\d+)K", rows["set"])
    day = made.setups[0]
    assert kelvins == [f"{day.dials[row].kelvin:.0f}" for row in day.hours]  # type: ignore[union-attr]
    nd = re.findall(r">([\d.]+)(?: dark)?<", rows["ND for T2.8"])
    room = made.setups[1]
    assert room.nd_stops is not None
    want = [abs(round(float(room.nd_stops.value[row, room.key]), 1)) for row in room.hours]
    assert [float(each) for each in nd] == want


def test_the_headline_is_in_nd_at_the_wanted_stop(made: DayPlan) -> None:
    """The window's middle level, by the equation of ISO 2720: 2^ND = E t S / (C N^2)."""
    room = made.setups[1]
    assert room.whole is not None
    record = json.loads(make_files(made)["plan.json"])["setups"][1]
    assert record["shooting"]["wanted_t_stop"] == pytest.approx(8**0.5, abs=1e-5)  # engraved 2.8
    told = record["whole_day_setting"]["windows"]
    for window, said in zip(room.whole.windows, told, strict=True):
        dose = 2.0**window.key_log2_lux / 48 * 800
        nd = np.log2(dose / 250 / 8)
        assert said["nd_for_wanted_t_stop_stops"] == pytest.approx(nd, abs=1e-4)
        assert f"T2.8 with ND of {round(nd, 1):g} stop" in say_window(room, window)


def test_a_scenario_without_sky(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["day", "dusk_workshop", "--out", str(tmp_path / "out")]) == 2
    assert (
        "a source of kind sun, sky, overcast, broken_cloud, bounce or shade"
        in capsys.readouterr().err
    )


def test_text_of_a_scenario_is_escaped(tmp_path: Path) -> None:
    text = SCENARIO.replace("title: Yard", 'title: "<b>Yard</b>"')
    text = text.replace("name: Yard", 'name: "<script>x"').replace("face:", '"<i>face":')
    (tmp_path / "a.yaml").write_text(text + DAY)
    page = make_files(plan_day(tmp_path / "a.yaml"))["day.html"].decode()
    assert "<script" not in page
    assert "<i>face" not in page
    assert "&lt;b&gt;Yard" in page


def test_the_base_install_does_all_else_and_says_what_is_missing(tmp_path: Path) -> None:
    """In a fresh interpreter that cannot find pvlib."""
    code = (
        "import sys\n"
        "sys.modules['pvlib'] = None\n"
        "from wbplan.front.cli.main import main\n"
        f"assert main(['plan', 'dusk_workshop', '--out', r'{tmp_path / 'plan'}']) == 0\n"
        "assert main(['scenarios']) == 0\n"
        f"sys.exit(main(['day', 'mill_yard', '--out', r'{tmp_path / 'day'}']))\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert done.returncode == 2
    assert 'pip install "wbplan[sky]"' in done.stderr
    assert done.stderr.count("\n") == 1
    assert not (tmp_path / "day").exists()
