"""`wbplan lut` and `wbplan apply` as a new user would try them."""

from __future__ import annotations

import re
import warnings
from importlib.util import find_spec
from pathlib import Path

import imageio.v3 as iio
import numpy as np
import pytest

from wbplan.codes.encodings import find_encoding
from wbplan.codes.table3d import parse_cube, read_tetrahedral
from wbplan.core.errors import InputError
from wbplan.front.cli.main import main
from wbplan.front.luts import read_setting
from wbplan.scene.cautions import SUN

LUT = ["lut", "--camera", "cfa-mid"]


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    code = main(list(arguments))
    said = capsys.readouterr()
    return code, said.out, said.err


def bare(name: str) -> str:
    """Take from a file's name the digits that say its contents."""
    return re.sub(r"_[0-9a-f]{8}\.", ".", name)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("5600", (1e6 / 5600, 0.0)),
        ("5600K", (1e6 / 5600, 0.0)),
        ("4350 magenta 2", (1e6 / 4350, 2.0)),
        ("4350K, green 2.5 CC", (1e6 / 4350, -2.5)),
        ("3200K magenta3CC", (1e6 / 3200, 3.0)),
    ],
)
def test_settings_are_read_as_they_are_said(text: str, expected: tuple[float, float]) -> None:
    assert read_setting(text, "--from") == pytest.approx(expected)


@pytest.mark.parametrize("text", ["", "warm", "999", "26000", "5600 magenta", "5600 2", "-5600"])
def test_settings_that_are_none_are_refused(text: str) -> None:
    with pytest.raises(InputError, match=r"--from.*allowed"):
        read_setting(text, "--from")


def test_a_match_of_lights_of_the_sky_warns_of_the_sun(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    pytest.importorskip("pvlib")
    folder = tmp_path / "a folder"
    folder.mkdir()
    shipped = Path(__file__).parents[2] / "scenarios" / "mill_yard.yaml"
    (folder / "yard.yaml").write_text(shipped.read_text())
    options = ["--kind", "light-match", "--lut-size", "17", "--out", str(tmp_path / "out")]
    ends = ["--from", f"{folder / 'yard.yaml'}:shade of the wall", "--to", "5600"]
    code, out, err = run(capsys, *LUT, *options, *ends)
    assert (code, err) == (0, "")
    (path,) = (tmp_path / "out").iterdir()
    head = path.read_text().split("LUT_3D_SIZE")[0].replace("\n# ", " ")
    assert SUN.text in out
    assert SUN.text in head
    assert str(tmp_path) not in head
    assert path.name.startswith("cfa-mid_light-match_shade-of-the-wall-of-yard_5600_")


def test_a_lut_without_a_scenario_keeps_a_grey_grey(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    options = [
        "--from",
        "5600",
        "--to",
        "4300 magenta 3",
        "--lut-size",
        "33",
        "--out",
        str(tmp_path),
    ]
    code, out, err = run(capsys, *LUT, *options, "--encoding", "s-log3", "--gamut", "S-Gamut3.Cine")
    assert (code, err) == (0, "")
    (path,) = tmp_path.iterdir()
    assert bare(path.name) == "cfa-mid_correct_5600K_4300K-magenta3CC_s-log3_33.cube"
    assert path.name in out
    for word in ("trilinear", "tetrahedral", "scene-like", "grey ramp", "stops", "ten-bit codes"):
        assert word in out
    cube = parse_cube(path.read_text())
    assert cube.size == 33
    # The grey of the wanted setting, as the shot one renders it, comes out as a grey: worked the
    # long way, from the camera's response.
    from wbplan.camera.setting import find_setting_log2
    from wbplan.lut.correction import Shot, find_surface_rgb
    from wbplan.lut.recipes import view_plainly
    from wbplan.read.catalogue import find_camera

    camera = view_plainly(find_camera("cfa-mid", Path()))
    encoding = find_encoding("S-Log3", "S-Gamut3.Cine")
    # A light whose neutral is that of the setting: any positive one with the right response.
    neutral = np.exp2(find_setting_log2(camera.locus, np.array([1e6 / 4300]), np.array([3.0]))[0])
    curves = camera.profile.sensitivities
    light = curves @ np.linalg.solve(curves.T @ curves, neutral)
    grey = find_surface_rgb(
        Shot(camera, encoding, (1e6 / 5600, 0.0)), light[None], np.full((1, 401), 0.18)
    )[0, 0]
    after = encoding.decode(read_tetrahedral(cube, encoding.encode(grey)))
    np.testing.assert_allclose(after, 0.18, rtol=0.01)


@pytest.mark.parametrize(
    ("options", "name"),
    [
        (["--kind", "gains", "--to", "4300"], "cfa-mid_gains_5600K_4300K_acescct_1d1024.cube"),
        (
            ["--kind", "gains", "--to", "4300", "--format", "ccc"],
            "cfa-mid_gains_5600K_4300K_acescct_linear.ccc",
        ),
        (
            ["--kind", "monitor", "--to", "4300", "--lut-size", "17"],
            "cfa-mid_monitor_5600K_4300K_acescct-to-bt-1886_17.cube",
        ),
        (
            ["--monitor", "PQ,legal,300", "--to", "4300", "--lut-size", "17"],
            "cfa-mid_monitor_5600K_4300K_acescct-to-pq-300cd-legal_17.cube",
        ),
        (
            ["--kind", "light-match", "--to", "FL2", "--format", "clf"],
            "cfa-mid_light-match_5600_FL2_acescct_33.clf",
        ),
        (
            ["--kind", "camera-match", "--like", "layered-measured", "--format", "clf"],
            "cfa-mid_camera-match_cfa-mid_layered-measured_acescct_exact.clf",
        ),
    ],
)
def test_each_kind_has_its_file(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, options: list[str], name: str
) -> None:
    if "clf" in options:
        pytest.importorskip("PyOpenColorIO")
    code, out, err = run(capsys, *LUT, "--from", "5600", *options, "--out", str(tmp_path))
    assert (code, err) == (0, "")
    assert [bare(each.name) for each in tmp_path.iterdir()] == [name]
    if "match" in name:
        assert "CIEDE2000 on 34 surfaces" in out


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--from", "warm", "--to", "3200"], ["--from", "'warm'"]),
        (["--from", "5600"], ["--to"]),
        (["--from", "5600", "--to", "3200", "--lut-size", "30"], ["--lut-size", "30", "17, 33"]),
        (["--from", "5600", "--to", "3200", "--format", "cubes"], ["--format", "'cube'"]),
        (["--from", "5600", "--to", "3200", "--format", ""], ["--format"]),
        (["--from", "5600", "--to", "3200", "--encoding", "S-Log3"], ["--gamut"]),
        (["--from", "5600", "--to", "3200", "--range", "leagl"], ["'legal'"]),
        (["--from", "5600", "--to", "3200", "--format", "cdl"], ["mixes the channels", "gains"]),
        (["--kind", "light-match", "--from", "FL99", "--to", "FL2"], ["--from", "FL99"]),
        (["--kind", "light-match", "--from", "FL2"], ["--to"]),
        (["--monitor", "p3", "--from", "5600", "--to", "3200"], ["--monitor", "'p3'", "p3-d65"]),
        (["--monitor", "pq,full,9", "--from", "5600", "--to", "3200"], ["--monitor", "100 to 500"]),
        (["--monitor", "pq,full,x", "--from", "5600", "--to", "3200"], ["--monitor", "cd/m2"]),
        (
            ["--kind", "gains", "--monitor", "pq", "--from", "5600", "--to", "3200"],
            ["'gains'", "kind monitor"],
        ),
        (["--kind", "camera-match", "--from", "FL2"], ["--like"]),
        (["--kind", "camera-match", "--from", "FL2", "--like", "cfa"], ["'cfa'"]),
    ],
)
def test_mistakes_are_told_and_nothing_is_written(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, options: list[str], words: list[str]
) -> None:
    code, out, err = run(capsys, *LUT, *options, "--out", str(tmp_path / "new"))
    assert (code, out) == (2, "")
    assert len(err.splitlines()) == 1
    for word in words:
        assert word in err
    assert not (tmp_path / "new").exists()


def test_a_file_is_replaced_only_with_force(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    options = [*LUT, "--kind", "gains", "--from", "5600", "--to", "5000", "--out", str(tmp_path)]
    assert run(capsys, *options)[0] == 0
    (path,) = tmp_path.iterdir()
    first = path.read_bytes()
    path.write_bytes(b"mine")
    code, _, err = run(capsys, *options)
    assert code == 2
    assert "--force" in err
    assert path.read_bytes() == b"mine"
    assert run(capsys, *options, "--force")[0] == 0
    assert path.read_bytes() == first  # the same bytes every time


def test_a_still_is_shown_before_and_after(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    options = ["--kind", "gains", "--from", "5600", "--to", "4300", "--out", str(tmp_path)]
    assert run(capsys, *LUT, *options)[0] == 0
    (lut,) = tmp_path.iterdir()
    pixels = np.random.default_rng(0).integers(20000, 30000, (8, 10, 3)).astype(np.uint16)
    still, shown = tmp_path / "in.tif", tmp_path / "out.tif"
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # imageio's own TIFF writer says that it will go
        iio.imwrite(still, pixels)
    code, out, err = run(capsys, "apply", str(lut), str(still), str(shown))
    assert (code, err) == (0, "")
    assert "before on the left" in out
    both = iio.imread(shown)
    assert (both.dtype, both.shape) == (np.uint16, (8, 24, 3))
    np.testing.assert_array_equal(both[:, :10], pixels)
    after = both[:, 14:].astype(float) - pixels
    assert abs(after[..., 1]).max() <= 1.5  # green is kept
    assert (after[..., 0] < 0).all()  # warmer light than was set for: less red, more blue
    assert (after[..., 2] > 0).all()
    code, _, err = run(capsys, "apply", str(lut), str(still), str(shown))
    assert code == 2
    assert "--force" in err
    png = tmp_path / "out.png"
    code, _, err = run(capsys, "apply", str(lut), str(still), str(png), "--after-only")
    if find_spec("OpenImageIO") is None:
        assert code == 1
        assert "wbplan[pictures]" in err
    else:
        assert png.read_bytes()[24] == 16  # bits


def test_two_contents_never_have_one_name(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """Gamut, level kept, the setting shot at, and the camera: each once was lost from the name."""
    sony = ["--encoding", "S-Log3", "--gamut"]
    change = ["--from", "5600", "--to", "3200", "--kind", "gains"]
    match = ["--kind", "light-match", "--from", "FL2", "--to", "5600", "--lut-size", "17"]
    out = ["--out", str(tmp_path)]
    runs = [
        [*LUT, *change, *sony, "S-Gamut3"],
        [*LUT, *change, *sony, "S-Gamut3.Cine"],
        [*LUT, *change, *sony, "S-Gamut3.Cine", "--keep", "no_clip"],
        [*LUT, *match, "--shot-at", "5000"],
        [*LUT, *match, "--shot-at", "4000"],
    ]
    for number, options in enumerate(runs, 1):
        assert run(capsys, *options, *out)[0] == 0
        assert len(list(tmp_path.iterdir())) == number
    held = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    assert len(set(held.values())) == len(runs)


def check_same_rows(first: Path, again: Path, kind: str) -> None:
    one, other = (path.read_bytes().split(b"D_SIZE")[1] for path in (first, again))
    if not kind.startswith("monitor"):
        assert one == other
        return
    # A header's matrix has ten digits: of a view the sixth decimal may round apart.
    held = [np.array(each.split(), dtype=np.float64) for each in (one, other)]
    np.testing.assert_allclose(held[0], held[1], rtol=0.0, atol=1.01e-6)


@pytest.mark.parametrize("kind", ["correct", "gains", "monitor", "monitor --monitor p3-dci,legal"])
def test_a_lut_is_made_again_from_its_own_header(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, kind: str
) -> None:
    options = [
        "--kind",
        *kind.split(),
        "--from",
        "5600",
        "--to",
        "3200 green 2",
        "--lut-size",
        "17",
    ]
    assert run(capsys, *LUT, *options, "--out", str(tmp_path))[0] == 0
    (first,) = tmp_path.iterdir()
    other = tmp_path / "other"
    code, out, err = run(capsys, "lut", "--from", str(first), "--out", str(other))
    assert (code, err) == (0, "")
    (again,) = other.iterdir()
    check_same_rows(first, again, kind)
    assert "3200K green2CC" in out
    # In another form: the same to what the first is off by, on greys that both hold.
    pytest.importorskip("PyOpenColorIO")
    command = ["lut", "--from", str(first), "--format", "clf", "--out", str(tmp_path / "clf")]
    assert run(capsys, *command)[0] == 0
    (chain,) = (tmp_path / "clf").iterdir()
    greys = np.repeat(np.linspace(0.3, 0.6, 50)[:, None, None], 3, axis=-1)
    from wbplan.front.luts import apply_lut

    np.testing.assert_allclose(apply_lut(chain, greys), apply_lut(first, greys), atol=0.05)
    code, _, _ = run(
        capsys,
        "lut",
        "--from",
        str(chain),
        "--format",
        "cube",
        "--lut-size",
        "17",
        "--out",
        str(other),
    )
    assert code == 0
    for each in other.iterdir():
        check_same_rows(first, each, kind)


def test_a_lut_that_was_changed_or_says_nothing_is_not_made_again(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    options = ["--from", "5600", "--to", "4300", "--lut-size", "17", "--out", str(tmp_path)]
    assert run(capsys, *LUT, *options)[0] == 0
    (path,) = tmp_path.iterdir()
    data = path.read_bytes()
    out = ["--out", str(tmp_path / "out")]
    head, rows = data.split(b"LUT_3D_SIZE 17\n")
    spoiled = {
        "rows that were changed": head + b"LUT_3D_SIZE 17\n" + rows.replace(b"5", b"6", 1),
        "without a recipe": b"LUT_3D_SIZE 17\n" + rows,
        "cannot be read": data.replace(b'"matrix": [', b'"matrix": [1, '),
        "does not give": data.replace(b'"matrix": [', b'"matrix": [1')
        if b'"matrix": [0' in data
        else data.replace(b'"matrix": [1', b'"matrix": [2'),
    }
    for words, content in spoiled.items():
        path.write_bytes(content)
        code, _, err = run(capsys, "lut", "--from", str(path), *out)
        assert code == 2, words
        assert words in err
        assert path.name in err
    path.write_bytes(data)
    code, _, err = run(capsys, "lut", "--from", str(path), "--to", "3200", *out)
    assert code == 2
    assert "--to" in err
    code, _, err = run(capsys, "lut", "--from", "5600", "--to", "3200", *out)
    assert code == 2
    assert "--camera" in err


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("Apply to scene-linear values, ACEScg primaries.", "are for scene-linear light"),
        ("warm", "do not say what they are for"),
        ("Apply to codes: S-Log3.", ""),
    ],
)
def test_a_cdl_on_codes_warns_unless_it_is_for_codes(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, text: str, said: str
) -> None:
    pytest.importorskip("PyOpenColorIO")
    lut, still = tmp_path / "a.cc", tmp_path / "a.png"
    lut.write_text(
        '<?xml version="1.0" encoding="UTF-8"?>\n<ColorCorrection id="a">\n'
        f"<Description>{text}</Description>\n<SOPNode><Slope>1 1 1</Slope><Offset>0 0 0</Offset>"
        "<Power>1 1 1</Power></SOPNode>\n</ColorCorrection>\n"
    )
    iio.imwrite(still, np.full((2, 3, 3), 100, dtype=np.uint8))
    code, _, err = run(capsys, "apply", str(lut), str(still), str(tmp_path / "b.png"))
    assert code == 0
    assert said in " ".join(err.split())
    assert bool(err) == bool(said)
