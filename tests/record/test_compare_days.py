"""What changed between two days: as worked by hand, the same both ways, and nothing else."""

from __future__ import annotations

import copy
import json
import math
from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime, timedelta, timezone
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

import wbplan
from wbplan.camera.setting import find_distance
from wbplan.core.errors import InputError
from wbplan.front.cli.main import main
from wbplan.front.days import plan_day
from wbplan.front.files import make_files
from wbplan.record.compare_days import Course, DayComparison, DaySetupChanges
from wbplan.record.schemas import read_schema_text
from wbplan.report.compare.record import build_comparison
from wbplan.report.compare.terminal import format_comparison


def say_wide(found: DayComparison, show_all: bool = False) -> str:
    return format_comparison(found, show_all, 400)


Record = dict[str, Any]
Edit = Callable[[Record], Any]
HOSTILE = "\x1b[2J\u202e</td><script>=1+1\x07\n\u2066"


def at(hour: int, minute: int = 0, day: int = 20) -> str:
    return f"2026-06-{day:02d}T{hour:02d}:{minute:02d}:00+02:00"


def with_ends(name: str, column: list[Any]) -> Record:
    return {f"{name}{end}": list(column) for end in ("", "_low", "_high")}


def make_position(name: str, count: int, lux: float) -> Record:
    return {
        "name": name,
        "intent_words": "neutral",
        **with_ends("illuminance_lux", [lux] * count),
        "cct_kelvin": [5000] * count,
        **with_ends("wanted_mired", [200] * count),
        **with_ends("wanted_tint_cc", [1] * count),
        **with_ends("t_stop", [4] * count),
        **with_ends("nd_for_wanted_t_stop_stops", [1] * count),
        "from_key_stops": [0 if name == "face" else -2] * count,
        "sun_over_shade_stops": [1] * count,
        "trouble": [None] * count,
        "predicted_lights": [],
    }


def make_setting(kelvin: float, tint: float = 0) -> Record:
    return {"kelvin": kelvin, "mired": 1e6 / kelvin, "tint_cc": tint, "preset": None}


def make_lut(name: str, times: list[str]) -> Record:
    reading = dict.fromkeys(
        ("worst_ten_bit_codes", "mean_ten_bit_codes", "over_one_code_percent", "worst_stops"), 0.1
    )
    both = {"trilinear": reading, "tetrahedral": reading}
    parts = ("above_code_one", "out_of_gamut", "scene_like_above_code_one")
    return {
        "for": "10:00",
        "times": times,
        "file": name,
        "sha256": "a" * 64,
        "size_points": 33,
        "from": make_setting(5000),
        "to_mired": 190,
        "to_tint_cc": 1,
        "encoding": {"curve": "ACEScct", "gamut": "ACEScct", "range": "full", "ei": None},
        "keeps": "green",
        "cost_stops": 0,
        "up_stops": 0,
        "limit_met": True,
        "needed_points": 17,
        "error": {
            **both,
            "scene_like": both,
            "grey_ramp": None,
            **{f"{each}_percent": 0 for each in (*parts, "scene_like_out_of_gamut")},
            "by_kind": [],
            "limit_met_for": [],
            "samples_count": 5,
            "bounded_nodes_count": 0,
        },
    }


def make_record(times: list[str] | None = None) -> Record:
    """Make a day's record by hand: six hours, two positions, one light of the sky."""
    times = times or [at(hour) for hour in range(9, 15)]
    count = len(times)
    return {
        "format": "wbplan day",
        "format_version": 1,
        "wbplan_version": "0.1.0",
        "digest_sha256": "0" * 64,
        "title": "Yard",
        "scenario": "yard.yaml",
        "invented": True,
        "interval_percent": 90,
        "setups": [
            {
                "name": "Yard",
                "camera": "cfa-mid",
                "site": {
                    "name": "Mill",
                    "latitude_deg": 49.8,
                    "longitude_deg": -0.8,
                    "altitude_m": 60,
                    "time_zone": "Europe/Paris",
                },
                "key_position": "face",
                "shooting": {
                    "ei": 800,
                    "fps": 24,
                    "exposure_time_seconds": 1 / 48,
                    "shutter_angle_degrees": 180,
                    "nd_stops": 0,
                    "wanted_t_stop": 5.6,
                    "calibration_c_lux_seconds": 250,
                    "readout_seconds": None,
                },
                "within": {"mired": 10, "cc": 2, "stops": 0.5},
                "step_minutes": 60,
                "sun": {"times": [], "spans": []},
                "lights_of_the_sky": [
                    {
                        "name": "sky",
                        "kind": "sky",
                        "words": "clear sky on a flat surface",
                        "origin": "model: B, aerosol depth 0.1, water 1.42 cm",
                        "tilt_deg": 0,
                        "azimuth_deg": 180,
                        "stated": [],
                        "horizon_deg": [[40, 8]],
                        "readings_from": times[0],
                    }
                ],
                "times": times,
                "through_the_day": {
                    "sun_elevation_deg": [40] * count,
                    "sun_azimuth_deg": [180] * count,
                    "refused": [None] * count,
                    **with_ends("exact_mired", [200] * count),
                    **with_ends("exact_tint_cc", [1] * count),
                    "nearest_setting": [make_setting(5000, 1)] * count,
                    "take_matches_until": [times[-1]] * count,
                    "take_ends_by": [None] * count,
                    "take_ends_at": [None] * count,
                },
                "positions": [make_position("face", count, 500), make_position("wall", count, 125)],
                "whole_day_setting": {
                    "setting": make_setting(5000, 1),
                    "origin": "best",
                    "at": None,
                    "windows": [
                        {
                            "from": times[1],
                            "to": times[-2],
                            "t_stop": 4,
                            "nd_for_wanted_t_stop_stops": -1,
                        }
                    ],
                },
                "hourly_settings": [],
                "filters": {
                    "lights": ["lamp"],
                    "is_assumed": False,
                    "packs_weighed": 5,
                    "is_every_pack": True,
                    "changes": [
                        {
                            "at": times[1],
                            "light": "lamp",
                            "before": [],
                            "after": ["half blue"],
                            "burns_before": None,
                            "burns_after": "dimmed by 1 stop",
                            "loss_stops": 0.9,
                        }
                    ],
                    "times": times,
                    "left_rms_mired": [3] * count,
                    "untouched_rms_mired": [9] * count,
                    "settings": [make_setting(5000, 1)] * count,
                },
                "luts": {
                    "by": "cast",
                    "count_by_hour": 6,
                    "count_by_cast": 1,
                    "luts": [make_lut("one.cube", times)],
                },
                "cautions": [{"code": "sun", "text": "Never look into the sun."}],
                "notes": [],
            }
        ],
        "setups_without_sky": [],
        "cautions_defer_to": "Local codes.",
        "files": [],
    }


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("days")


@pytest.fixture(scope="module")
def edited(folder: Path) -> Callable[..., DayComparison]:
    """Compare the hand-made day with itself after edits of its record."""

    def run(*edits: Edit, before: Edit = lambda record: None) -> DayComparison:
        for name, changes in (("first", (before,)), ("second", edits)):
            record = make_record()
            for edit in changes:
                edit(record)
            (folder / name).mkdir(exist_ok=True)
            (folder / name / "plan.json").write_text(json.dumps(record))
        found = wbplan.compare(folder / "first", folder / "second")
        assert isinstance(found, DayComparison)
        return found

    return run


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


def squeeze(text: str) -> str:
    return " ".join(text.split())


def course(found: DayComparison, what: str, name: str = "") -> Course:
    (hit,) = [each for each in found.setups[0].courses if (each.what, each.name) == (what, name)]
    return hit


def test_the_hand_made_record_is_one() -> None:
    """JSON Schema draft 2020-12, judged by the jsonschema library."""
    schema = Draft202012Validator(json.loads(read_schema_text("day")))
    assert [each.message for each in schema.iter_errors(make_record())] == []


def test_nothing_differs(edited: Callable[..., DayComparison]) -> None:
    found = edited()
    assert found.is_same
    said = say_wide(found, True)
    assert "Nothing differs, and both have the same inputs." in said.splitlines()
    assert "Never look into the sun through a lens" in said.splitlines()[-1]
    assert build_comparison(found)["is_same"] is True
    other = edited(lambda r: r.update(digest_sha256="1" * 64))
    assert "Nothing differs." in say_wide(other).splitlines()
    assert build_comparison(other)["cautions"][0]["code"] == "sun"


def test_the_largest_and_when_it_can_be_told(edited: Callable[..., DayComparison]) -> None:
    """Of 6, 12 and 4.9 mired the second is largest, and the last is too little to be told."""
    found = edited(
        put("through_the_day.exact_mired", [206, 212, 204.9, 200, 195, 200]),
        put("through_the_day.exact_tint_cc", [1, 1, 1.9, 1, 1, 1]),
    )
    exact = course(found, "exact_setting")
    assert exact.largest == 1
    assert exact.told == (0, 1, 4)
    said = squeeze(say_wide(found))
    # 1e6/212 = 4717 K
    assert (
        "exact setting 10:00 5000 K, magenta 1 CC 4717 K, magenta 1 CC 12 mired, for warmer light "
        "09:00 to 10:00, 13:00"
    ) in said
    assert "11:00" not in said
    hours = say_wide(found, True)
    assert "   11:00  4.9 mired, for warmer light; 0.9 CC more magenta" in hours
    assert "   12:00  same" in hours
    assert "   13:00  5 mired, for cooler light" in hours


def test_stops_and_light(edited: Callable[..., DayComparison]) -> None:
    """Twice the light is a stop; from T4 to T8 are two (T-numbers go with the square root)."""
    found = edited(
        put("positions.0.illuminance_lux", [500, 1000, 500, 500, 250, 0]),
        put("positions.0.t_stop", [4, 8, 4, 4, 4.05, 4]),
        put("positions.0.nd_for_wanted_t_stop_stops", [1, 3, 1, 1, 1, 1]),
        put("positions.1.from_key_stops", [-2, -2, -2, -3.5, -2, -2]),
        put("positions.1.sun_over_shade_stops", [1, 1, 1, None, 0.3, 1]),
        put("positions.1.trouble", [None, None, "too narrow", None, None, None]),
    )
    stop = course(found, "t_stop").changes[1]
    assert stop is not None
    assert stop.stops == pytest.approx(2)
    said = squeeze(say_wide(found))
    for line in (
        "stop at the key 10:00 T4 T8 2 stops closed down 10:00",
        "ND for the wanted stop 10:00 ND of 1 stop ND of 3 stops 2 stops more 10:00",
        "face: light 10:00 500 lux 1000 lux 1 stop brighter 10:00, 13:00 to 14:00",
        "wall: from key 12:00 2 stops under 3.5 stops under 1.5 stops darker 12:00",
        "wall: sun over shade 13:00 1 stop 0.3 stops 0.7 stops less 12:00 to 13:00",
        "wall: trouble 11:00 none not to be neutralised 11:00",
    ):
        assert line in said
    assert "500 lux, then no light" in say_wide(found, True)


def test_small_differences_are_counted(edited: Callable[..., DayComparison]) -> None:
    found = edited(
        put("positions.0.t_stop.0", 4.05),  # 0.036 stops
        put("positions.1.wanted_mired.0", 204),
        put("positions.1.illuminance_lux.0", 125.0000001),  # the last digits of another machine
        put("luts.luts.0.sha256", "b" * 64),
        put("whole_day_setting.windows.0.t_stop", 4.05),
    )
    said = say_wide(found)
    assert said.splitlines()[-3] == (
        "   3 differences are too small to be told (under 5 mired, 2 CC, 0.1 stop: common "
        "practice, no source); --all lists them"
    )
    assert "   1 LUT does the same, in a file of another digest; --all lists them" in said
    assert len(said.splitlines()) == 8
    listed = squeeze(say_wide(found, True))
    assert "T4 T4 under 0.1 stops closed down never" in listed
    assert "the same correction in other bytes" in listed
    said = say_wide(edited(put("luts.luts.0.sha256", "b" * 64)))
    assert "of another digest" in said
    assert "too small" not in said  # a file that does the same is no small difference


def test_how_the_camera_is_run_is_a_cause_that_is_named(
    edited: Callable[..., DayComparison],
) -> None:
    found = edited(put("shooting.ei", 400), put("shooting.wanted_t_stop", 2.8))
    said = squeeze(say_wide(found))
    assert "shooting EI 800, 24 fps, 180°, for T5.6 EI 400, 24 fps, 180°, for T2.8" in said
    older = edited(lambda record: record["setups"][0].pop("shooting"))
    assert older.is_same


def test_windows(edited: Callable[..., DayComparison]) -> None:
    found = edited(
        put(
            "whole_day_setting.windows",
            [
                {"from": at(9), "to": at(9), "t_stop": 8},
                {"from": at(11), "to": at(12), "t_stop": math.sqrt(8)},
            ],
        )
    )
    said = say_wide(found)
    assert (
        "   serves was 10:00 to 13:00 at T4\n          is  09:00 at T8; 11:00 to 12:00 at T2.8"
        in said
    )
    assert "begins 60 minutes earlier, ends 60 minutes earlier" in said
    found = edited(put("whole_day_setting.windows", []))
    assert "is  at none of these times" in say_wide(found)
    found = edited(put("whole_day_setting", None))
    said = squeeze(say_wide(found))
    assert "set 5000 K, magenta 1 CC none" in said


def test_what_is_dialled_is_told_however_little(edited: Callable[..., DayComparison]) -> None:
    # 1e6/4950 - 1e6/5000 = 2.02 mired
    found = edited(put("whole_day_setting.setting", make_setting(4950, 1)))
    said = squeeze(say_wide(found))
    assert "set 5000 K, magenta 1 CC 4950 K, magenta 1 CC 2 mired, for warmer light - too" in said
    found = edited(put("whole_day_setting.setting", make_setting(5000, -1.5)))
    assert "2.5 CC more green" in say_wide(found)


def touch(hour: int, light: str = "lamp", after: tuple[str, ...] = ("half blue",)) -> Record:
    return {"at": at(hour), "light": light, "before": [], "after": [*after], "loss_stops": 1}


def test_filters_due(edited: Callable[..., DayComparison]) -> None:
    found = edited(
        put("filters.changes", [touch(9, "bulb"), touch(12)]),
        before=put("filters.changes", [touch(10), touch(11, after=("full blue",))]),
    )
    said = squeeze(say_wide(found))
    assert "bulb: hang half blue, due not due 09:00 new" in said
    assert "lamp: hang half blue, due 10:00 12:00 120 minutes later" in said
    assert "lamp: hang full blue, due 11:00 not due gone" in said
    # Hung twice on one day and once on the other: the nearer one has moved.
    found = edited(
        put("filters.changes", [touch(13)]), before=put("filters.changes", [touch(9), touch(14)])
    )
    moved = [each.moved_minutes for each in found.setups[0].touches]
    assert moved == [None, -60]


def test_luts(edited: Callable[..., DayComparison]) -> None:
    luts = [make_lut("one.cube", [at(9), at(10), at(13)]), make_lut("two.cube", [at(11)])]
    found = edited(put("luts.luts", luts), put("luts.by", "hour"))
    said = say_wide(found)
    assert "LUTs  1 by cast  2 by hour" in said
    assert "LUT files: 1 new; --all lists them" in said
    assert "   times of one.cube was 09:00 to 14:00\n" in said
    assert " is  09:00 to 10:00, 13:00\n" in said
    assert "LUT new: two.cube" in say_wide(found, True)
    found = edited(put("luts.luts.0.sha256", "b" * 64), put("luts.luts.0.to_mired", 196))
    assert f"is  one.cube, SHA-256 {'b' * 64}" in say_wide(found)
    assert not edited(put("luts", None)).is_same


@pytest.mark.parametrize(
    ("path", "value", "said"),
    [
        ("camera", "other", "camera cfa-mid other"),
        ("site.time_zone", "UTC", "60 m, Europe/Paris is Mill, 49.8000° N, 0.8000° W, 60 m, UTC"),
        ("site", None, "is none"),
        ("key_position", "wall", "exposed for face wall"),
        ("within.mired", 5, "matches within 10 mired, 2 CC, 0.5 stops 5 mired, 2 CC, 0.5 stops"),
        ("step_minutes", 30, "times every 60 minutes every 30 minutes"),
        ("whole_day_setting.origin", "given", "what serves most of the day shot at anyway"),
        ("lights_of_the_sky.0.words", "open shade", "sky: is clear sky on a flat surface open sh"),
        (
            "lights_of_the_sky.0.origin",
            "model: B, aerosol depth 0.3, water 1.42 cm",
            "sky: air aerosol depth 0.1 aerosol depth 0.3",
        ),
        ("lights_of_the_sky.0.stated", ["water_cm"], "sky: air none water cm stated"),
        ("lights_of_the_sky.0.horizon_deg", [], "blocks it was 8° up at 40° sky: what"),
        ("lights_of_the_sky", [], "light sky there not there gone"),
        ("positions.1.intent_words", "keep 40 mired warm", "wall: meant to neutral keep 40"),
        ("positions.1.name", "door", "position wall there not there gone position door not there"),
        ("cautions", [], "caution gone: Never look into the sun."),
        (
            "notes",
            [{"code": "x", "text": "mind", "about": "sky", "weight": "warning"}],
            "warning new: sky: mind",
        ),
        ("through_the_day.refused.0", "the sun is down", "in the second day alone: 09:00"),
    ],
)
def test_what_is_told_in_words(
    edited: Callable[..., DayComparison], path: str, value: Any, said: str
) -> None:
    found = edited(put(path, value))
    assert not found.is_same
    words = squeeze(say_wide(found))
    assert said in words or said.replace("sky: what", "is none") in words


def test_setups_that_came_and_went(edited: Callable[..., DayComparison]) -> None:
    said = say_wide(edited(put("name", "Room")))
    assert "1  Yard: gone: only in the first day" in said
    assert "2  Room: new: only in the second day" in said


def write(folder: Path, name: str, record: Record) -> Path:
    path = folder / name
    path.write_text(json.dumps(record))
    return path


def test_other_steps_and_other_hours(folder: Path) -> None:
    half = [at(10, 30 * number, 21) if number < 2 else at(11, 0, 21) for number in range(3)]
    first, second = (
        write(folder, "a.json", make_record()),
        write(folder, "b.json", make_record(half)),
    )
    found = wbplan.compare(first, second)
    assert isinstance(found, DayComparison)
    (setup,) = found.setups
    assert [each.words for each in setup.clock] == ["10:00", "11:00"]
    assert (setup.only_first, setup.only_second) == (4, 1)
    said = squeeze(say_wide(found))
    assert "day Saturday 20 June 2026 Sunday 21 June 2026" in said
    assert "2 in both (10:00 to 11:00), 4 in the first alone, 1 in the second alone" in said
    late = write(folder, "c.json", make_record([at(20), at(21), at(22), at(23)]))
    said = say_wide(wbplan.compare(first, late), True)
    assert "no time of the clock is in both days: 6 in the first alone, 4 in the second" in said
    assert json.dumps(build_comparison(wbplan.compare(first, late)), allow_nan=False)


def test_an_hour_that_the_clock_shows_twice(folder: Path) -> None:
    """Summer time ends on the last Sunday of October at 01:00 UTC (Directive 2000/84/EC)."""

    def night(day: int, offsets: list[int]) -> list[str]:
        start = datetime(2026, 10, day, tzinfo=timezone(timedelta(hours=2)))
        return [
            (start + timedelta(hours=hour))
            .astimezone(timezone(timedelta(hours=offset)))
            .isoformat()
            for hour, offset in enumerate(offsets)
        ]

    plain = write(folder, "d.json", make_record(night(24, [2, 2, 2, 2, 2])))
    back = write(folder, "e.json", make_record(night(25, [2, 2, 2, 1, 1])))
    for other, count in ((plain, 4), (back, 5)):
        found = wbplan.compare(back, other)
        (setup,) = found.setups
        assert len(setup.clock) == count
        assert (setup.only_first, setup.only_second) == (5 - count, 5 - count)
    assert [each.words for each in setup.clock][2:4] == ["02:00", "02:00 the second time"]
    assert found.is_same


BAD: dict[str, tuple[Edit, str]] = {
    "no setups": (lambda r: r.update(setups=[]), "setups: found no setup"),
    "twice": (lambda r: r["setups"].append(r["setups"][0]), "setups: found 'Yard' twice"),
    "version": (lambda r: r.update(format_version=2), "format_version: found 2; allowed: 1"),
    "no name": (lambda r: r["setups"][0].pop("name"), r"setups\[0\].name: found no such field"),
    "no times": (lambda r: r["setups"][0].pop("times"), r"setups\[0\].times: found no such field"),
    "empty times": (put("times", []), "times: found a list of 0; allowed: 1 to 1500 times"),
    "many times": (put("times", ["x"] * 1501), "times: found a list of 1501; allowed: 1 to 1500"),
    "no moment": (
        put("times.1", "noon\x1b"),
        r"times\[1\]: found 'noon.x1b'; allowed: a moment wi",
    ),
    "no offset": (put("times.1", "2026-06-20T10:00:00"), r"times\[1\].*its offset from UTC"),
    "far off": (
        put("times.0", "0001-01-01T00:00:00+14:00"),
        r"times\[1\]: .*allowed: a time of the one day",
    ),
    "order": (put("times.1", at(8)), r"times\[1\]: found .*a time after the one before it"),
    "short": (
        put("through_the_day.exact_mired", [200]),
        r"through_the_day.exact_mired: found a list of 1; allowed: 6, one for each of the times",
    ),
    "text": (put("positions.0.t_stop.2", "T4"), r"positions\[0\].t_stop\[2\]: found 'T4'; allowed"),
    "refused": (put("through_the_day.refused.2", 5), r"refused\[2\]: found .*allowed: a text or n"),
    "column": (
        lambda r: r["setups"][0]["positions"][0].pop("from_key_stops"),
        r"positions\[0\].from_key_stops: found no such field; allowed: a list",
    ),
    "key": (put("key_position", "nobody"), "key_position: found 'nobody'; allowed: the name of a"),
    "step": (put("step_minutes", None), "step_minutes: found nothing; allowed: a number"),
    "horizon": (put("lights_of_the_sky.0.horizon_deg", [[1]]), "pairs of azimuth and elevation"),
    "window": (
        put("whole_day_setting.windows.0.from", at(3)),
        r"windows\[0\].from: found '2026-06-20T03.*; allowed: one of the setup's times",
    ),
    "touch": (put("filters.changes.0.at", at(9, 1)), r"changes\[0\].at: found .*setup's times"),
    "lut": (put("luts.luts.0.times", [at(9), "x"]), r"luts.luts\[0\].times\[1\]: found 'x'"),
    "lut file": (put("luts.luts.0.file", 1), r"luts.luts\[0\].file: found .*allowed: a text"),
    "lights": (lambda r: r.update(format="wbplan lights"), "'wbplan lights', the record of lights"),
}


@pytest.mark.parametrize("case", BAD)
def test_what_is_no_record_is_refused(case: str, edited: Callable[..., DayComparison]) -> None:
    with pytest.raises(InputError, match=BAD[case][1]) as caught:
        edited(BAD[case][0])
    assert "second/plan.json" in str(caught.value).replace("\\", "/")
    assert "\x1b" not in str(caught.value)


def test_no_text_of_a_record_reaches_the_terminal(edited: Callable[..., DayComparison]) -> None:
    def spoil(value: Any, key: str = "") -> Any:
        if isinstance(value, dict):
            return {name: spoil(each, name) for name, each in value.items()}
        if isinstance(value, list):
            return [spoil(each, key) for each in value]
        keep = {"format", "times", "at", "from", "to", "weight", "key_position"}
        is_key = key == "name" and value == "face"
        return (
            value + HOSTILE if isinstance(value, str) and key not in keep and not is_key else value
        )

    note = {"code": "x", "text": "mind", "about": "sky", "weight": "warning"}

    def spoil_all(record: Record) -> None:
        record["setups"][0]["notes"] = [note]
        spoiled = spoil(record)
        spoiled["setups"][0]["name"] = "Yard"
        spoiled["setups"][0]["luts"]["luts"][0]["file"] = "one.cube"
        spoiled["setups"].append({**copy.deepcopy(spoiled["setups"][0]), "name": HOSTILE})
        record.clear()
        record.update(spoiled)

    for found in (edited(spoil_all), edited(before=spoil_all)):
        said = say_wide(found, True)
        assert not {*"\x07\x1b\u202e\u2066"} & {*said}
        assert said.count("<script>") > 10
    assert edited(spoil_all, before=spoil_all).is_same


@pytest.mark.parametrize("value", [1e308, -1e308, 1e-308, 0, None])
def test_any_number_can_be_said(edited: Callable[..., DayComparison], value: float | None) -> None:
    def spoil(record: Record) -> None:
        setup = record["setups"][0]
        setup["through_the_day"].update(exact_mired=[value] * 6, exact_tint_cc=[value] * 6)
        for place in setup["positions"]:
            for name, column in place.items():
                if isinstance(column, list) and name != "trouble":
                    place[name] = [value] * 6
        setup["whole_day_setting"]["windows"][0]["t_stop"] = value
        setup["luts"]["luts"][0].update(to_mired=value, size_points=value, sha256="b" * 64)

    for found in (edited(spoil), edited(before=spoil)):
        assert "nan" not in say_wide(found, True)
        json.dumps(build_comparison(found), allow_nan=False)
    assert edited(spoil, before=spoil).is_same


NUMBERS = st.none() | st.floats(0.5, 900, allow_nan=False)
COLUMN = st.lists(NUMBERS, min_size=6, max_size=6)
PLACE = st.fixed_dictionaries(
    {
        **dict.fromkeys(("illuminance_lux", "wanted_mired", "wanted_tint_cc", "t_stop"), COLUMN),
        **dict.fromkeys(("from_key_stops", "sun_over_shade_stops"), COLUMN),
        "nd_for_wanted_t_stop_stops": COLUMN | st.none(),
    }
)
HOURS = st.integers(9, 14)


@st.composite
def days(draw: st.DrawFn) -> Record:
    """Draw a day: other figures, windows, filters, LUTs and names."""
    day = draw(st.sampled_from((20, 21)))
    record = make_record([at(hour, 0, day) for hour in range(9, 15)])
    setup = record["setups"][0]
    setup["name"] = draw(st.sampled_from(("Yard", "Yard", "Room")))
    setup["camera"] = draw(st.sampled_from(("a", "b")))
    setup["through_the_day"].update(
        exact_mired=draw(COLUMN),
        exact_tint_cc=draw(COLUMN),
        refused=draw(st.lists(st.sampled_from((None, None, "low")), min_size=6, max_size=6)),
    )
    for place in setup["positions"]:
        place.update(draw(PLACE))
    setup["positions"][1]["name"] = draw(st.sampled_from(("wall", "door")))
    firsts = sorted(draw(st.sets(HOURS, max_size=3)))
    setup["whole_day_setting"]["windows"] = [
        {"from": at(each, 0, day), "to": at(each, 0, day), "t_stop": draw(NUMBERS)}
        for each in firsts
    ]
    setup["whole_day_setting"]["setting"] = make_setting(draw(st.integers(2500, 9000)))
    setup["filters"]["changes"] = [
        {**touch(each, draw(st.sampled_from(("lamp", "bulb")))), "at": at(each, 0, day)}
        for each in sorted(draw(st.lists(HOURS, max_size=5)))
    ]
    names = draw(st.sets(st.sampled_from(("one", "two", "three"))))
    setup["luts"]["luts"] = [make_lut(each, [at(9, 0, day)]) for each in sorted(names)]
    return record


@settings(max_examples=60, deadline=None)
@given(first=days(), second=days())
def test_the_laws_of_a_comparison(
    tmp_path_factory: pytest.TempPathFactory, first: Record, second: Record
) -> None:
    """A day differs in nothing from itself; the other way round every difference turns its sign."""
    folder = tmp_path_factory.mktemp("laws")
    a, b = write(folder, "a.json", first), write(folder, "b.json", second)
    assert wbplan.compare(a, a).is_same
    there, back = wbplan.compare(a, b), wbplan.compare(b, a)
    assert isinstance(there, DayComparison)
    assert isinstance(back, DayComparison)
    assert there.is_same == back.is_same
    for found in (there, back):
        say_wide(found, True)
        json.dumps(build_comparison(found), allow_nan=False)
    turned = {each.name: each for each in back.setups}
    assert len(turned) == len(there.setups)
    for each in there.setups:
        assert sort(each) == sort(turn(turned[each.name]))


def turn(setup: DaySetupChanges) -> DaySetupChanges:
    """Turn a comparison round."""

    def turn_change(change: Any) -> Any:
        if change is None:
            return None
        shift = change.shift and replace(
            change.shift, mired=-change.shift.mired, cc=-change.shift.cc
        )
        stops = None if change.stops is None else -change.stops
        return replace(change, before=change.after, after=change.before, shift=shift, stops=stops)

    presence = {"gone": "new", "new": "gone", "both": "both"}[setup.presence]
    windows = setup.windows and replace(
        setup.windows,
        before=setup.windows.after,
        after=setup.windows.before,
        began_minutes=negate(setup.windows.began_minutes),
        ended_minutes=negate(setup.windows.ended_minutes),
    )
    return replace(
        setup,
        presence=presence,  # type: ignore[arg-type]
        changes=tuple(turn_change(each) for each in setup.changes),
        only_first=setup.only_second,
        only_second=setup.only_first,
        refused_first=setup.refused_second,
        refused_second=setup.refused_first,
        courses=tuple(
            replace(each, changes=tuple(turn_change(change) for change in each.changes))
            for each in setup.courses
        ),
        windows=windows,
        touches=tuple(replace(each, was=each.now, now=each.was) for each in setup.touches),
    )


def negate(value: int | None) -> int | None:
    return None if value is None else -value


def sort(setup: DaySetupChanges) -> list[Any]:
    """List what a comparison holds, whatever its order; texts, since NaN is not itself."""
    parts = (setup.changes, setup.courses, setup.touches)
    largest = sorted((each.what, each.name, each.largest, each.told) for each in setup.courses)
    rest = replace(setup, changes=(), courses=(), touches=())
    texts = [sorted(repr(each).replace("-0.0", "0.0") for each in part) for part in parts]
    return [*texts, largest, repr(vars(rest))]


def test_a_day_beside_a_plan_is_refused(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    day = write(folder, "day.json", make_record())
    plan = write(folder, "plan.json", {**make_record(), "format": "wbplan plan"})
    for first, second, kinds in ((day, plan, ("plan", "day")), (plan, day, ("day", "plan"))):
        assert main(["compare", str(first), str(second)]) == 2
        said = capsys.readouterr().err
        assert f"{second}: format: found the record of a {kinds[0]}, beside {first}" in said
        assert f"that of a {kinds[1]}; allowed: two plans or two days" in said
        assert said.count("\n") == 1


def test_a_day_is_not_made_again(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    day = write(folder, "day.json", make_record())
    assert main(["plan", "--from", str(day), "--out", str(folder / "out")]) == 2
    said = capsys.readouterr().err
    assert "day.json: format: found 'wbplan day', the record of a day; allowed: " in said
    assert "'wbplan day SCENARIO'" in said
    assert said.count("\n") == 1
    assert not (folder / "out").exists()


def test_the_command(
    edited: Callable[..., DayComparison], folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    edited(
        put("through_the_day.exact_mired.1", 212),
        put("through_the_day.refused.5", "low"),
        put("positions.1.illuminance_lux.0", 126),
    )
    arguments = ["compare", str(folder / "first"), str(folder / "second")]
    assert main(arguments) == 0
    out = capsys.readouterr().out
    assert "1 difference is too small to be told" in out
    assert main([*arguments, "--all"]) == 0
    assert "   10:00  12 mired, for warmer light  same\n" in capsys.readouterr().out
    assert main([*arguments, "--json"]) == 0
    made = json.loads(capsys.readouterr().out)
    assert (made["format"], made["format_version"]) == ("wbplan day comparison", 1)
    (setup,) = made["setups"]
    assert setup["times"][0] == "09:00"
    assert setup["is_compared"] == [True] * 5 + [False]
    assert setup["no_figures_only_in_second"] == [{"from": "14:00", "to": "14:00"}]
    exact, light = setup["through_the_day"]
    assert exact["shift_mired"] == [0, 12, 0, 0, 0, None]
    assert exact["largest_at"] == "10:00"
    assert exact["largest"]["after"] == {"mired": 212, "tint_cc": 1}
    assert exact["can_be_told"] == [{"from": "10:00", "to": "10:00"}]
    assert exact["shift_stops"] is None
    # log2(126/125) = 0.0115
    assert light["shift_stops"][0] == pytest.approx(0.0115, abs=1e-4)
    assert light["can_be_told"] == []


# Days as wbplan plans them.


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Plan the mill yard in June, in September, in haze, and in June a second time."""
    pytest.importorskip("pvlib")
    folder = tmp_path_factory.mktemp("planned")
    shipped = (Path(__file__).parents[2] / "scenarios" / "mill_yard.yaml").read_text()
    facing = "facing: {azimuth_deg: 190}}}"
    hazy = shipped.replace(facing, "facing: {azimuth_deg: 190}, atmosphere: {aerosol_depth: 0.4}}}")
    assert hazy != shipped
    made = {}
    for name, text, day in (
        ("june", shipped, None),
        ("again", shipped, None),
        ("september", shipped, date(2026, 9, 21)),
        ("hazy", hazy, None),
    ):
        (folder / f"{name}.yaml").write_text(text)
        asked = {"date": day, "begin": "08:00", "end": "19:00", "step_minutes": 30}
        files = make_files(plan_day(folder / f"{name}.yaml", **asked))  # type: ignore[arg-type]
        (folder / name).mkdir()
        (folder / name / "plan.json").write_bytes(files["plan.json"])
        made[name] = folder / name
    return made


def test_the_same_day_planned_twice(planned: dict[str, Path]) -> None:
    found = wbplan.compare(planned["june"], planned["again"])
    assert found.is_same
    assert found.first.digest == found.second.digest


def test_two_dates(planned: dict[str, Path]) -> None:
    """Against the records' own columns, hour by hour."""
    found = wbplan.compare(planned["june"], planned["september"])
    assert isinstance(found, DayComparison)
    first, second = (
        json.loads((planned[name] / "plan.json").read_text())["setups"][0]
        for name in ("june", "september")
    )
    clocks = [[each[11:16] for each in setup["times"]] for setup in (first, second)]
    assert clocks[0] == clocks[1]
    columns = [setup["through_the_day"] for setup in (first, second)]
    sizes = [
        None
        if a["refused"][row] or b["refused"][row]
        else (
            b["exact_mired"][row] - a["exact_mired"][row],
            b["exact_tint_cc"][row] - a["exact_tint_cc"][row],
        )
        for a, b in [columns]
        for row in range(len(clocks[0]))
    ]
    exact = next(each for each in found.setups[0].courses if each.what == "exact_setting")
    for size, change in zip(sizes, exact.changes, strict=True):
        assert (size is None) == (change is None)
        if size is not None and change is not None and change.shift is not None:
            assert (change.shift.mired, change.shift.cc) == pytest.approx(size)
    told = {
        row
        for row, each in enumerate(sizes)
        if each is not None and (abs(each[0]) >= 5 or abs(each[1]) >= 1)
    }
    assert set(exact.told) == told
    assert exact.largest == max(told, key=lambda row: float(find_distance(*(sizes[row] or (0, 0)))))
    late = [row for row, each in enumerate(columns[1]["refused"]) if each]
    early = [row for row, each in enumerate(columns[0]["refused"]) if each]
    assert found.setups[0].refused_second == tuple(row for row in late if row not in early)
    assert "day   Saturday 20 June 2026  Monday 21 September 2026" in say_wide(found)


def test_haze_weakens_the_sun_over_its_shade(planned: dict[str, Path]) -> None:
    """More aerosol takes from the beam and gives to the sky (Bird and Riordan 1984)."""
    found = wbplan.compare(planned["june"], planned["hazy"])
    assert isinstance(found, DayComparison)
    (sun,) = [each for each in found.setups[0].courses if each.what == "sun_over_shade"]
    stops = [each.stops for each in sun.changes if each is not None and each.stops is not None]
    assert len(stops) > 10
    assert max(stops) < 0
    said = squeeze(say_wide(found))
    assert "sun on the face: air aerosol depth 0.1 at 500 nm (exponent 1.14)" in said
    # The workroom's window has air of its own, so nothing that can be told has changed there.
    assert "2 Workroom by the window day" not in said
    assert all(not each.can_be_told for each in found.setups[1].changes)
    assert not found.setups[1].courses
