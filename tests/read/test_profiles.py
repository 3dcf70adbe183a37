"""Camera profiles on disk: what ships, what a user may drop in, what is refused."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from wbplan.core.errors import InputError
from wbplan.read.catalogue import find_camera, list_shipped
from wbplan.read.profiles import check_on_menu, explain_menu, read_profile

GOOD = """title: A camera of my own
provenance: measured in a test
sensitivities: {table: mine.csv, per: energy}
menu:
  kelvin: {low: 2500, high: 10000, step: 100}
  tint: {lowest_step: -4, highest_step: 4, cc_per_step: 2.5}
base_ei: 500
encoding: {curve: acescct, gamut: acescct}
band: exact
"""


def write_profile(folder: Path, text: str = GOOD, scale: str = "energy") -> Path:
    camera = find_camera("cfa-mid", Path())
    rows = np.column_stack([np.arange(380, 781), camera.sensitivities])[::5]
    if scale == "quantum":
        rows[:, 1:] /= rows[:, :1]
    lines = ["wavelength_nm,red,green,blue"]
    lines += [",".join(f"{each:.9g}" for each in row) for row in rows]
    (folder / "mine.csv").write_text("\n".join(lines))
    path = folder / "mine.yaml"
    path.write_text(text.replace("per: energy", f"per: {scale}"))
    return path


@pytest.mark.parametrize("name", list_shipped("camera_profiles"))
def test_every_shipped_profile_is_whole(name: str) -> None:
    profile = find_camera(name, Path())
    assert profile.title
    assert profile.provenance
    assert profile.name == name
    assert profile.family.members >= 256
    assert explain_menu(profile.menu)
    assert profile.base_ei > 0


def test_at_least_five_profiles_two_of_them_measured() -> None:
    provenance = [find_camera(name, Path()).provenance for name in list_shipped("camera_profiles")]
    assert len(provenance) >= 5
    measured = [text for text in provenance if "10.1364/JOSAA.32.000381" in text]
    assert len(measured) == 2


@pytest.mark.parametrize("scale", ["energy", "quantum"])
def test_own_profile_by_path(tmp_path: Path, scale: str) -> None:
    write_profile(tmp_path, scale=scale)
    own = find_camera("mine.yaml", tmp_path)
    shipped = find_camera("cfa-mid", Path()).sensitivities
    ratio = own.sensitivities[40:300] / shipped[40:300]
    # Per quantum or per energy, the same camera up to one scale, but for interpolation from 5 nm.
    assert ratio / ratio.mean() == pytest.approx(np.ones_like(ratio), rel=0.02)
    assert own.family.members == 0
    assert own.menu.tint_cc == pytest.approx([2.5 * n for n in range(-4, 5)])
    assert own.curve == "ACEScct"


@pytest.mark.parametrize(
    ("was", "becomes", "fragments"),
    [
        ("base_ei: 500", "base_ei: warm", ["mine.yaml:7:10", "base_ei", "'warm'", "a number"]),
        ("base_ei: 500", "base_ei: -1", ["base_ei", "-1", "from 1 to"]),
        ("title: A camera of my own\n", "", ["title", "a text"]),
        ("table: mine.csv", "table: gone.csv", ["gone.csv"]),
        ("per: energy", "per: energie", ["per", "did you mean 'energy'"]),
        ("curve: acescct", "curve: ACESct", ["ACESct", "did you mean"]),
        ("step: 100", "step: 0", ["menu.kelvin.step", "above 0"]),
        ("step: 100", "step: 0.01", ["menu.kelvin.step", "at most 20000"]),
        ("low: 2500", "low: 250", ["menu.kelvin.low", "from 1000"]),
        ("band: exact", "bnad: exact", ["bnad", "did you mean 'band'"]),
        ("band: exact", "band: perfect", ["band", "exact"]),
        ("{table: mine.csv, per: energy}", "{per: energy}", ["exactly one of table, peaks"]),
    ],
)
def test_bad_profiles_are_refused(
    tmp_path: Path, was: str, becomes: str, fragments: list[str]
) -> None:
    path = write_profile(tmp_path)
    assert was in GOOD
    path.write_text(GOOD.replace(was, becomes))
    with pytest.raises(InputError) as caught:
        read_profile(path)
    for fragment in fragments:
        assert fragment in str(caught.value)


def test_profile_without_a_single_kelvin_scale_is_refused(tmp_path: Path) -> None:
    path = write_profile(tmp_path)
    rows = ["wavelength_nm,red,green,blue"]
    # Red and blue change places: red against blue falls where it has to rise.
    for line in (tmp_path / "mine.csv").read_text().splitlines()[1:]:
        at, red, green, blue = line.split(",")
        rows.append(",".join([at, blue, green, red]))
    (tmp_path / "mine.csv").write_text("\n".join(rows))
    with pytest.raises(InputError, match="red against blue"):
        read_profile(path)


def test_profile_that_states_no_band_says_so(tmp_path: Path) -> None:
    path = write_profile(tmp_path, GOOD.replace("band: exact\n", ""))
    profile = read_profile(path)
    assert profile.family.members == 256
    assert [note.code for note in profile.notes] == ["band-assumed"]


def test_check_on_menu() -> None:
    menu = find_camera("cfa-wide-red", Path()).menu
    assert check_on_menu(menu, 5600.0, 2.5)
    assert not check_on_menu(menu, 5650.0, 2.5)
    assert not check_on_menu(menu, 5600.0, 1.0)
