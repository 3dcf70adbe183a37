"""The `luts:` list of a scenario: what is understood, and what is refused with its place."""

from __future__ import annotations

from pathlib import Path

import pytest

from wbplan.core.digest import digest_values
from wbplan.core.errors import InputError
from wbplan.read.scenario.reader import read_scenario

HEAD = """wbplan: 1
title: Test
camera: cfa-mid
sources:
  window: {daylight_kelvin: 6000}
  lamp: {lamp: A}
setups:
  - name: one
    shooting: {ei: 800, fps: 24, shutter_angle_deg: 180}
    positions:
      face: {lux: {window: 100, lamp: 50}}
      wall: {lux: {lamp: 30}}
"""


def read(tmp_path: Path, more: str):
    path = tmp_path / "s.yaml"
    path.write_text(HEAD + more)
    return read_scenario(path)


def test_every_kind_is_read(tmp_path: Path) -> None:
    more = """    luts:
      - {kind: positions, position: wall}
      - {kind: gains, formats: [cube, cdl, cube]}
      - {kind: light-match, from: lamp, to: face, size: 65}
      - {kind: camera match, like: cfa-presets}
      - {kind: Monitor}
      - {kind: correct, formats: [clf]}
"""
    luts = read(tmp_path, more).setups[0].luts
    assert [each.kind for each in luts] == [
        *("positions", "gains", "light-match", "camera-match", "monitor", "correct"),
    ]
    assert luts[0].position == "wall"
    assert luts[1].formats == ("cube", "cdl")
    assert (luts[2].start, luts[2].end, luts[2].size) == ("lamp", "face", 65)
    assert luts[3].like is not None
    assert luts[3].like.name == "cfa-presets"
    assert (luts[5].formats, luts[5].size) == (("clf",), None)


def test_no_list_is_no_further_lut(tmp_path: Path) -> None:
    assert read(tmp_path, "").setups[0].luts == ()


def test_what_is_asked_for_is_part_of_the_digest(tmp_path: Path) -> None:
    digests = {
        digest_values(read(tmp_path, more))
        for more in (
            "",
            "    luts: [{kind: gains}]\n",
            "    luts: [{kind: gains, formats: [clf]}]\n",
            "    luts: [{kind: camera-match, like: cfa-presets}]\n",
            "    luts: [{kind: camera-match, like: nikon-d5100}]\n",
            "    encoding: {curve: S-Log3, gamut: S-Gamut3}\n",
            "    encoding: {curve: S-Log3, gamut: S-Gamut3, range: legal}\n",
        )
    }
    assert len(digests) == 7


@pytest.mark.parametrize(
    ("entry", "words"),
    [
        ("{}", ["luts"]),
        ("gains", ["luts"]),
        ("{formats: [cube]}", ["kind"]),
        ("{kind: gain}", ["luts[0].kind", "did you mean 'gains'"]),
        ("{kind: gains, size: 32}", ["luts[0].size", "32", "17, 33, 65, 97, 129"]),
        ("{kind: gains, size: big}", ["luts[0].size", "'big'"]),
        ("{kind: gains, formats: [cub]}", ["luts[0].formats", "'cub'", "did you mean 'cube'"]),
        ("{kind: gains, formats: []}", ["luts[0].formats"]),
        ("{kind: gains, position: face}", ["position"]),
        ("{kind: positions, position: fact}", ["luts[0].position", "did you mean 'face'"]),
        ("{kind: light-match, from: lamp}", ["luts[0].to"]),
        ("{kind: light-match, from: lamp, to: lamp}", ["luts[0].to", "again"]),
        ("{kind: light-match, from: lmap, to: face}", ["luts[0].from", "did you mean 'lamp'"]),
        ("{kind: camera-match}", ["luts[0].like"]),
        ("{kind: camera-match, like: cfa-midd}", ["luts[0].like", "s.yaml:13", "cfa-mid"]),
        ("{kind: monitor, from: face}", ["from"]),
        ("{kind: monitor, monitor: p3-d60}", ["luts[0].monitor", "did you mean 'p3-d65'"]),
        ("{kind: monitor, range: leagl}", ["luts[0].range", "did you mean 'legal'"]),
        ("{kind: monitor, white_cd_m2: 300}", ["luts[0].white_cd_m2", "pq and hlg"]),
        ("{kind: monitor, monitor: hlg, white_cd_m2: 90}", ["s.yaml:13", "100 to 500"]),
        ("{kind: gains, monitor: pq}", ["monitor"]),
    ],
)
def test_faults_are_named(tmp_path: Path, entry: str, words: list[str]) -> None:
    with pytest.raises(InputError) as caught:
        read(tmp_path, f"    luts: [{entry}]\n")
    for word in words:
        assert word in str(caught.value)


def test_a_range_that_is_none_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="did you mean 'legal'") as caught:
        read(tmp_path, "    encoding: {curve: S-Log3, gamut: S-Gamut3, range: leagl}\n")
    assert caught.value.place.line == 13


def test_no_more_than_a_hundred(tmp_path: Path) -> None:
    entries = ", ".join(["{kind: gains}"] * 101)
    with pytest.raises(InputError, match="101 entries"):
        read(tmp_path, f"    luts: [{entries}]\n")
