"""Camera profiles on disk: what ships, what a user may drop in, what is refused."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from wbplan.core.errors import InputError
from wbplan.front.memory import format_camera
from wbplan.read.catalogue import find_camera, list_cameras, list_shipped
from wbplan.read.profiles import check_on_menu, explain_menu

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


@pytest.mark.parametrize("name", list_cameras())
def test_every_shipped_profile_is_whole(name: str) -> None:
    profile = find_camera(name, Path())
    assert profile.title
    assert profile.provenance
    assert profile.name == name
    assert profile.family == ("population" if name in list_shipped("camera_profiles") else "model")
    assert explain_menu(profile.menu)
    assert profile.base_ei > 0


def test_measured_cameras_name_source_date_licence_and_no_link() -> None:
    measured = set(list_cameras()) - set(list_shipped("camera_profiles"))
    assert len(measured) == 52
    for name in measured:
        said = find_camera(name, Path()).provenance
        assert "rawtoaces-data" in said
        assert "licence Apache-2.0" in said
        assert "has nothing to do with wbplan" in said


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        ("Sony ILCE-7SM3", "sony-ilce-7sm3"),
        ("CANON_EOS_5D_MARK_II", "canon-eos-5d-mark-ii"),
        ("nikon z f", "nikon-z-f"),
        ("arri-d21", "arri-d21"),
    ],
)
def test_measured_cameras_answer_to_what_they_are_called(asked: str, found: str) -> None:
    assert find_camera(asked, Path()).name == found


def test_curves_between_samples_never_leave_them() -> None:
    # 5 nm data brought to 1 nm: never below 0, never above either neighbour (PCHIP; Fritsch and
    # Carlson 1980).
    curves = find_camera("sony-ilce-7sm3", Path()).sensitivities
    low, high = curves[:-5:5], curves[5::5]
    for step in range(1, 5):
        between = curves[step::5]
        assert (between >= np.minimum(low, high) - 1e-6).all()
        assert (between <= np.maximum(low, high) + 1e-6).all()


def test_three_lines_give_a_measured_camera_its_own_menu(tmp_path: Path) -> None:
    (tmp_path / "a-cam.yaml").write_text(
        "like: sony-ilce-7sm3\nmenu:\n  kelvin: {low: 2500, high: 9900, step: 100}\n"
    )
    own, shipped = find_camera("a-cam.yaml", tmp_path), find_camera("sony-ilce-7sm3", Path())
    assert own.name == "a-cam"
    assert np.array_equal(own.sensitivities, shipped.sensitivities)
    assert own.family == shipped.family
    assert (own.menu.kelvin[0], own.menu.kelvin[-1], len(own.menu.kelvin)) == (2500.0, 9900.0, 75)
    assert own.menu.tint_cc == (0.0,)
    assert own.provenance == shipped.provenance


@pytest.mark.parametrize(
    ("text", "fragments"),
    [
        ("like: sony-ilce-7sm9\n", ["a.yaml:1:7", "like", "did you mean 'sony-ilce-7sm3'"]),
        ("like: a.yaml\n", ["a.yaml", "like itself"]),
        ("like: b.yaml\n", ["a.yaml", "like itself"]),
        ("like: cfa-mid\nband: exact\n", ["band"]),
        ("like: cfa-mid\nsensitivities: {table: a.csv}\n", ["only one of"]),
        ("like: cfa-mid\nmenu: {}\n", ["menu"]),
    ],
)
def test_bad_likenesses_are_refused(tmp_path: Path, text: str, fragments: list[str]) -> None:
    (tmp_path / "a.yaml").write_text(text)
    (tmp_path / "b.yaml").write_text("like: a.yaml\n")
    with pytest.raises(InputError) as caught:
        find_camera("a.yaml", tmp_path)
    for fragment in fragments:
        assert fragment in str(caught.value)


def test_a_profile_from_poor_frames_says_so(tmp_path: Path) -> None:
    path = write_profile(tmp_path, GOOD + "judged: poor\n")
    (note,) = find_camera(path.name, tmp_path).notes
    assert note.weight == "warning"
    assert "poor" in note.text


def test_which_matrix_a_camera_uses_is_read_and_written_again(tmp_path: Path) -> None:
    path = write_profile(tmp_path, GOOD + "matrix_kelvin: [2856, 6504]\n")
    own = find_camera(path.name, tmp_path)
    assert own.matrix_kelvin == (2856.0, 6504.0)
    for name, data in format_camera(own, "again").items():
        (tmp_path / name).write_bytes(data)
    assert find_camera("again.yaml", tmp_path).matrix_kelvin == own.matrix_kelvin
    (tmp_path / "like.yaml").write_text("like: mine.yaml\nmatrix_kelvin: 5600\n")
    assert find_camera("like.yaml", tmp_path).matrix_kelvin == (5600.0,)


@pytest.mark.parametrize("scale", ["energy", "quantum"])
def test_own_profile_by_path(tmp_path: Path, scale: str) -> None:
    write_profile(tmp_path, scale=scale)
    own = find_camera("mine.yaml", tmp_path)
    shipped = find_camera("cfa-mid", Path()).sensitivities
    ratio = own.sensitivities[40:300] / shipped[40:300]
    # Per quantum or per energy, the same camera up to one scale, but for interpolation from 5 nm.
    assert ratio / ratio.mean() == pytest.approx(np.ones_like(ratio), rel=0.02)
    assert own.family == "exact"
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
        ("step: 100", "step: 5e-324", ["menu.kelvin.step", "at most 20000"]),
        ("low: 2500", "low: 250", ["menu.kelvin.low", "from 1000"]),
        ("band: exact", "bnad: exact", ["bnad", "did you mean 'band'"]),
        ("band: exact", "band: perfect", ["band", "exact"]),
        (
            "band: exact",
            "matrix_kelvin: [5600, 5600]",
            ["5600 and 5600", "differ"],
        ),
        ("band: exact", "matrix_kelvin: [2856, 5000, 6504]", ["matrix_kelvin", "two that differ"]),
        ("band: exact", "matrix_kelvin: 56", ["matrix_kelvin", "56", "from 1000 to 25000"]),
        ("{table: mine.csv, per: energy}", "{per: energy}", ["sensitivities.table"]),
    ],
)
def test_bad_profiles_are_refused(
    tmp_path: Path, was: str, becomes: str, fragments: list[str]
) -> None:
    path = write_profile(tmp_path)
    assert was in GOOD
    path.write_text(GOOD.replace(was, becomes))
    with pytest.raises(InputError) as caught:
        find_camera(path.name, path.parent)
    for fragment in fragments:
        assert fragment in str(caught.value)


def test_a_sensitivity_past_all_numbers_is_refused(tmp_path: Path) -> None:
    """Found by a fuzzer: one that a float holds, and no sum of it does."""
    path = write_profile(tmp_path)
    table = (tmp_path / "mine.csv").read_text().splitlines()
    table[20] = table[20].rpartition(",")[0] + ",9e307"
    (tmp_path / "mine.csv").write_text("\n".join(table))
    with pytest.raises(InputError, match=r"mine\.csv:21: column 4: found a value of 9e\+307"):
        find_camera(path.name, path.parent)


def test_profile_without_a_single_kelvin_scale_is_refused(tmp_path: Path) -> None:
    path = write_profile(tmp_path)
    rows = ["wavelength_nm,red,green,blue"]
    # Red and blue change places: red against blue falls where it has to rise.
    for line in (tmp_path / "mine.csv").read_text().splitlines()[1:]:
        at, red, green, blue = line.split(",")
        rows.append(",".join([at, blue, green, red]))
    (tmp_path / "mine.csv").write_text("\n".join(rows))
    with pytest.raises(InputError, match="red against blue"):
        find_camera(path.name, path.parent)


def test_profile_that_states_no_band_says_so(tmp_path: Path) -> None:
    path = write_profile(tmp_path, GOOD.replace("band: exact\n", ""))
    profile = find_camera(path.name, path.parent)
    assert profile.family == "population"
    assert [note.code for note in profile.notes] == ["band-assumed"]


def test_check_on_menu() -> None:
    menu = find_camera("layered-measured", Path()).menu
    assert check_on_menu(menu, 5600.0, 2.0)
    assert not check_on_menu(menu, 5650.0, 2.0)
    assert not check_on_menu(menu, 5600.0, 1.0)
