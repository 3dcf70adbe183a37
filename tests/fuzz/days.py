"""Mutated scenarios of a day under sun and sky, and what a command line asks of the day."""

from __future__ import annotations

import random
from pathlib import Path
from typing import Any, Final

import numpy as np

from tests.fuzz.loop import Patch, Target, keep_results, keep_shipped_cameras, open_files
from tests.fuzz.mutation import ODD, Words, mutate_bytes, mutate_tree, write_yaml
from wbplan.core.errors import InputError
from wbplan.day.setups import find_date
from wbplan.day.times import MOST_TIMES, DayWish, list_moments, list_seconds
from wbplan.front.days import change_wish
from wbplan.read.model.scenario import SCENARIO
from wbplan.read.scenario import reader, sky
from wbplan.scene.sky_draws import has_sky

SITE: Final[dict[str, Any]] = {
    "latitude_deg": 49.8,
    "longitude_deg": -0.8,
    "altitude_m": 60,
    "time_zone": "Europe/Paris",
    "horizon": {"40": 8, "180": 6},
}
SHOOTING: Final[dict[str, Any]] = {"ei": 800, "fps": 24, "shutter_angle_deg": 180, "t_stop": 5.6}
DAY: Final[dict[str, Any]] = {
    "date": "2026-06-20",
    "from": "10:00",
    "to": "21:30",
    "step_minutes": 30,
    "within": {"mired": 10, "cc": 2, "stops": 0.5},
}


def make_scenario(lights: dict[str, Any], lux: dict[str, Any], **more: Any) -> dict[str, Any]:
    """Make a scenario of one position under lights of the sky."""
    setup = {
        "name": "yard",
        "when": "2026-06-20 14:00",
        "shooting": SHOOTING,
        "positions": {"face": {"lux": lux}},
    }
    head = {"wbplan": 1, "title": "Y", "camera": "cfa-mid", "site": SITE, "sources": lights}
    return {**head, "day": DAY, "setups": [setup], **more}


SEEDS: Final = (
    make_scenario(
        {"cloud": {"overcast": {"facing": "up"}}, "lamp": {"lamp": "A"}}, {"cloud": 900, "lamp": 50}
    ),
    make_scenario({"sky": {"sky": {"facing": {"azimuth_deg": 190}}}}, {"sky": "model"}),
    make_scenario(
        {"sun": {"sun": {"facing": "up"}}, "wall": {"shade": {"share_of_sky": 0.4}}}, {"wall": 800}
    ),
)
CLOCKS: Final = (
    "06:00",
    "24:00",
    "00:00",
    "23:59",
    "6:5",
    "25:00",
    "12:60",
    "٠٦:00",
    "-1:00",
    "12",
)
DATES: Final = ("2026-06-21", "2026-03-29", "2026-10-25", "0001-01-01", "9999-12-31", "2026-02-30")
TOLERANCES: Final = ("5", "1e308", "nan", "-1", "0", "1e-320", "inf", "x", "", "1_0", "٣")
WORDS: Final = Words(
    SCENARIO,
    more=(*CLOCKS, *DATES, "model", {"share": 0.5}, "sky", "sun", "Asia/Tokyo", "UTC", "Nowhere/X"),
)


def make_day(draw: random.Random) -> tuple[dict[str, bytes], dict[str, Any]]:
    """Make a scenario and what is asked of its day besides, one or both of them changed."""
    seed = draw.choice(SEEDS)
    kind = draw.random()
    if kind < 0.35:
        seed = {**seed, "day": mutate_tree(draw, DAY, WORDS)}
    elif kind < 0.7:
        seed = mutate_tree(draw, seed, WORDS)
    raw = write_yaml(draw, seed)
    if 0.7 <= kind < 0.85:
        raw = mutate_bytes(draw, raw)
    asked: dict[str, Any] = {}
    if kind > 0.85 or draw.random() < 0.2:
        texts = [each for each in ODD if isinstance(each, str)]
        asked = {
            "date": draw.choice((None, *DATES, draw.choice(texts))),
            "begin": draw.choice((None, *CLOCKS, draw.choice(texts))),
            "end": draw.choice((None, *CLOCKS, draw.choice(texts))),
            "step_minutes": draw.choice((None, 1, 120, 0, -5, 121, 10**9)),
            "tolerance": {
                draw.choice(("mired", "cc", "stops", "", "x", "\u202e")): draw.choice(TOLERANCES)
            },
        }
    return {"s.yaml": raw}, asked


def list_times(case: tuple[dict[str, bytes], dict[str, Any]], folder: Path) -> bool:
    """Read a day, and hold the times that it asks for: in order, as many as it says."""
    files, asked = case
    refused: InputError | None = None
    wish = DayWish()
    if asked:
        try:
            wish = change_wish(wish, **asked)
        except InputError as error:
            refused = error
    with open_files(files, folder):
        scene = reader.read_scenario(folder / "s.yaml", None, True)
    for asks in (scene.day or wish, wish):
        for setup in scene.setups:
            if has_sky(setup) and setup.site is not None:
                times = list_moments(find_date(setup, asks), setup.site.time_zone, asks)
                assert 1 <= len(times) <= MOST_TIMES + 60
                assert (np.diff(list_seconds(times)) > 0).all()
    if refused is not None:
        raise refused
    return True


def begin(folder: Path, patch: Patch) -> None:
    """Read shipped cameras once, and model one sky once."""
    keep_shipped_cameras(patch, reader)
    for name in ("shine", "find_beam_stops", "find_other_state"):
        keep_results(patch, sky, name, lambda light, site, seconds, *_: (light, site, seconds[0]))
    for seed in SEEDS:
        list_times(({"s.yaml": write_yaml(random.Random(0), seed)}, {}), folder)


TARGET: Final = Target("days", make_day, list_times, begin)
