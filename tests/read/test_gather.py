"""What a name on the command line can stand for."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from wbplan.core.errors import InputError
from wbplan.light.colorimetry import find_cct_duv
from wbplan.light.illuminants import radiate_daylight
from wbplan.read.gather import find_light, gather_lights, read_filter

ROWS = "\n".join(f"{x},{1 + x / 1000}" for x in range(380, 781, 5))
TWO = "nm,key,fill\n" + "\n".join(f"{x},1,{x / 780}" for x in range(380, 781, 5))


def test_a_folder_with_good_bad_and_other_files(tmp_path: Path) -> None:
    (tmp_path / "b.csv").write_text(ROWS)
    (tmp_path / "a.txt").write_text(TWO)
    (tmp_path / "bad.tsv").write_text("380\tlots\n")
    (tmp_path / "photo.jpg").write_bytes(b"\xff\xd8")
    (tmp_path / ".hidden.csv").write_text(ROWS)
    (tmp_path / "inner").mkdir()
    told: list[str] = []
    lights, refused = gather_lights([str(tmp_path)], progress=lambda _, doing: told.append(doing))
    assert [each.name for each in lights] == ["a: key", "a: fill", "b"]
    assert [file for file, _ in refused] == ["bad.tsv"]
    assert "bad.tsv" in refused[0][1]
    assert told == ["1 of 3 files", "2 of 3 files", "3 of 3 files"]


def test_a_named_file_is_never_passed_over(tmp_path: Path) -> None:
    (tmp_path / "bad.csv").write_text("380,lots\n")
    with pytest.raises(InputError, match=r"bad\.csv"):
        gather_lights([str(tmp_path / "bad.csv")])


def test_a_folder_without_a_reading(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no reading in the folder"):
        gather_lights([str(tmp_path)])
    (tmp_path / "bad.csv").write_text("380,lots\n")
    with pytest.raises(InputError, match=r"1 refused, the first: .*bad\.csv"):
        gather_lights([str(tmp_path)])


def test_a_column_of_a_file(tmp_path: Path) -> None:
    path = tmp_path / "two.csv"
    path.write_text(TWO)
    (fill,), _ = gather_lights([str(path)], "fill")
    assert fill.name == "two: fill"
    assert find_light(f"{path}:3").name == find_light(f"{path}:fill").name == "two: fill"
    with pytest.raises(InputError, match="with 2 lights"):
        find_light(str(path))


def test_names_formulas_and_scenarios() -> None:
    lights, _ = gather_lights(["FL2", "daylight-5600K", "Black Body 3200 k"])
    assert [each.spectrum.is_model for each in lights] == [False, True, True]
    np.testing.assert_allclose(lights[1].spectrum.values, radiate_daylight(5600))
    assert find_cct_duv(lights[2].spectrum.values)[0] == pytest.approx(3200)
    scenario = Path(__file__).parents[2] / "scenarios" / "dusk_workshop.yaml"
    sources, _ = gather_lights([str(scenario)])
    assert len(sources) > 2
    # invented data stay marked as such
    assert all(any(n.code == "invented" for n in each.spectrum.notes) for each in sources)


@pytest.mark.parametrize(
    ("name", "fragments"),
    [
        ("LED-B33", ["the light 'LED-B33'", "did you mean", "daylight-5600K"]),
        ("daylight-3000K", ["daylight of 3000 K", "4000 to 25000 K"]),
        ("black-body-99K", ["black body of 99 K", "1000 to 25000 K"]),
        ("no-such.csv", ["no-such.csv", "no such file"]),
        ("no-such.yaml", ["no-such.yaml"]),
        ("x\0y", ["the light"]),
        ("x" * 5000, ["the light"]),
        ("", ["the light ''"]),
    ],
)
def test_names_that_are_nothing(name: str, fragments: list[str]) -> None:
    with pytest.raises(InputError) as caught:
        gather_lights([name])
    for fragment in fragments:
        assert fragment in str(caught.value)
    assert str(caught.value).isprintable()


def test_filters(tmp_path: Path) -> None:
    path = tmp_path / "gel.csv"
    path.write_text("nm,T %\n" + "\n".join(f"{x},{50 + x / 20}" for x in range(380, 781, 5)))
    pack = read_filter(["warm:42", "nd:1", str(path)])
    assert pack.is_model
    assert pack.transmittance.max() < 0.5
    assert "gel.csv" in pack.name
    assert not read_filter([str(path)]).is_model
    cool, magenta = read_filter(["cool:80"]), read_filter(["magenta:15"])
    assert cool.transmittance[0] > cool.transmittance[-1]
    assert magenta.transmittance[170] < magenta.transmittance[0]


@pytest.mark.parametrize(
    ("word", "fragments"),
    [
        ("warm:", ["'warm:'", "a number to 500"]),
        ("warm:-3", ["'warm:-3'"]),
        ("nd:99", ["'nd:99'", "a number to 20"]),
        ("green:nan", ["'green:nan'"]),
        ("orange", ["'orange'", "a file of transmittance"]),
        ("none.csv", ["none.csv", "no such file"]),
    ],
)
def test_filters_that_are_none(word: str, fragments: list[str]) -> None:
    with pytest.raises(InputError) as caught:
        read_filter([word])
    for fragment in fragments:
        assert fragment in str(caught.value)


def test_a_filter_that_passes_more_than_all(tmp_path: Path) -> None:
    path = tmp_path / "gel.csv"
    path.write_text(ROWS)
    with pytest.raises(InputError, match="a transmittance of up to"):
        read_filter([str(path)])
