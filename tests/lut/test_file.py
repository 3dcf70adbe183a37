"""Every kind of LUT, in every form, as independent readers take it."""

from __future__ import annotations

import re
import shutil
import subprocess
import warnings
from collections.abc import Callable
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest

from tests.shared import render_all
from wbplan.camera.setting import view_camera
from wbplan.front.plans import plan
from wbplan.lut.correction import Shot, find_surface_rgb
from wbplan.lut.file import LutFile
from wbplan.lut.recipes import build_colours
from wbplan.planning.decisions import Plan
from wbplan.record.plan import build_record
from wbplan.report.plan.terminal import format_plan
from wbplan.scene.setup import find_position_lux, find_source_power

SCENARIO = """wbplan: 1
title: LUTs
camera: cfa-mid
sources:
  window: {daylight_kelvin: 6500}
  tubes: {lamp: FL2}
setups:
  - name: all kinds
    shooting: {ei: 800, fps: 24, shutter_angle_deg: 180}
    shot_at: {kelvin: 5000}
    encoding: {curve: S-Log3, gamut: S-Gamut3.Cine}
    positions:
      face: {lux: {window: 200, tubes: 100}}
      wall, left: {lux: {tubes: 300}}
      pit: {lux: {window: 0}, intent: leave}
    luts:
      - {kind: positions}
      - {kind: gains, formats: [cube, cc, ccc, cdl, clf]}
      - {kind: light-match, from: tubes, to: window, formats: [cube, clf]}
      - {kind: camera-match, like: cfa-duv-tint, formats: [cube, clf], size: 33}
      - {kind: monitor, formats: [cube, clf]}
      - {kind: correct, size: 17}
      - {kind: correct, formats: [clf, cdl]}
"""
FEW = SCENARIO.split("      - {kind: camera-match")[0].replace("      - {kind: positions}\n", "")
SAMPLES = 3000
FLOAT_CODES = 0.05  # single precision, and six decimals


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    path = tmp_path_factory.mktemp("luts") / "luts.yaml"
    path.write_text(SCENARIO)
    return plan(path)


@pytest.fixture(scope="module")
def luts(planned: Plan) -> tuple[LutFile, ...]:
    pytest.importorskip("PyOpenColorIO")
    return planned.setups[0].luts


@pytest.fixture(scope="module")
def codes(planned: Plan) -> np.ndarray:
    setup, dial = planned.setups[0].setup, planned.setups[0].dial
    power = find_position_lux(setup) @ find_source_power(setup)
    camera = view_camera(setup.camera)
    whole = build_colours(Shot(camera, setup.encoding, (dial.mired, dial.tint_cc)), power[:2]).codes
    return whole[:: max(1, len(whole) // SAMPLES)]


def find(luts: tuple[LutFile, ...], kind: str, ending: str) -> LutFile:
    found = [
        each for each in luts if each.recipe.kind == kind and each.file_name.endswith("." + ending)
    ]
    assert found, f"{kind} {ending}"
    return found[0]


def select(lut: LutFile, codes: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Keep codes inside the gamut before and after, and give the exact transform of them."""
    correction = lut.recipe.correction
    before = correction.encoding.decode(codes)
    inside = (np.minimum(before, before @ correction.matrix.T) >= -1e-9).all(-1)
    kept = codes[inside]
    return kept, correction.apply(kept)


def worst_codes(got: np.ndarray, exact: np.ndarray) -> float:
    return float(np.abs(got - exact).max() * 1023)


KINDS = ["positions", "gains", "light-match", "camera-match", "monitor", "correct"]


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("way", ["trilinear", "tetrahedral"])
def test_opencolorio_reads_every_kind(
    luts: tuple[LutFile, ...], codes: np.ndarray, tmp_path: Path, kind: str, way: str
) -> None:
    ocio = pytest.importorskip("PyOpenColorIO")
    lut = find(luts, kind, "cube")
    path = tmp_path / lut.file_name
    path.write_bytes(lut.data)
    how = {"trilinear": ocio.INTERP_LINEAR, "tetrahedral": ocio.INTERP_TETRAHEDRAL}[way]
    transform = ocio.FileTransform(str(path), interpolation=how)
    processor = ocio.Config.CreateRaw().getProcessor(transform).getDefaultCPUProcessor()
    kept, exact = select(lut, codes)
    pixels = kept.astype(np.float32)
    processor.applyRGB(pixels)
    assert lut.error is not None
    stated = getattr(lut.error, way).worst_codes
    assert worst_codes(pixels, exact) <= stated + FLOAT_CODES


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("way", ["trilinear", "tetrahedral"])
def test_reference_library_reads_every_kind(
    colour: ModuleType,
    luts: tuple[LutFile, ...],
    codes: np.ndarray,
    tmp_path: Path,
    kind: str,
    way: str,
) -> None:
    lut = find(luts, kind, "cube")
    path = tmp_path / lut.file_name
    path.write_bytes(lut.data)
    table = colour.read_LUT(str(path))
    kept, exact = select(lut, codes)
    more: dict[str, Any] = {}
    if lut.form == "3D table":
        more["interpolator"] = getattr(colour.algebra, f"table_interpolation_{way}")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        got = table.apply(kept, **more)
    assert lut.error is not None
    assert worst_codes(got, exact) <= getattr(lut.error, way).worst_codes + FLOAT_CODES


@pytest.mark.skipif(shutil.which("ffmpeg") is None, reason="ffmpeg is not installed")
@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("way", ["trilinear", "tetrahedral"])
def test_ffmpeg_reads_every_kind(
    luts: tuple[LutFile, ...], codes: np.ndarray, tmp_path: Path, kind: str, way: str
) -> None:
    lut = find(luts, kind, "cube")
    (tmp_path / "a.cube").write_bytes(lut.data)
    kept, _ = select(lut, codes)
    pixels = np.rint(kept * 65535).astype("<u2")
    exact = lut.recipe.correction.apply(pixels / 65535.0)
    name = f"lut3d=file=a.cube:interp={way}" if lut.form == "3D table" else "lut1d=file=a.cube"
    raw = ["-f", "rawvideo", "-pix_fmt", "rgb48le", "-s", f"{len(pixels)}x1"]
    command = ["ffmpeg", "-v", "error", "-nostdin", *raw, "-i", "in.raw", "-vf", name]
    (tmp_path / "in.raw").write_bytes(pixels.tobytes())
    subprocess.run([*command, *raw[:4], "out.raw"], cwd=tmp_path, check=True, timeout=60)
    theirs = np.frombuffer((tmp_path / "out.raw").read_bytes(), "<u2").reshape(-1, 3) / 65535.0
    assert lut.error is not None
    # ffmpeg holds integer pixels at 0 and 1, and truncates to a 64th of a code.
    stated = getattr(lut.error, way).worst_codes
    assert worst_codes(theirs, np.clip(exact, 0.0, 1.0)) <= stated + FLOAT_CODES + 1023 / 65535


@pytest.mark.parametrize("kind", ["gains", "light-match", "camera-match", "monitor", "correct"])
def test_clf_is_exact_through_opencolorio(
    luts: tuple[LutFile, ...], codes: np.ndarray, tmp_path: Path, kind: str
) -> None:
    ocio = pytest.importorskip("PyOpenColorIO")
    lut = find(luts, kind, "clf")
    path = tmp_path / "a.clf"
    path.write_bytes(lut.data)
    processor = ocio.Config.CreateRaw().getProcessor(ocio.FileTransform(str(path)))
    kept, exact = select(lut, codes)
    pixels = kept.astype(np.float32)
    processor.getDefaultCPUProcessor().applyRGB(pixels)
    assert lut.error is not None
    assert worst_codes(pixels, exact) <= lut.error.trilinear.worst_codes + 0.01
    if lut.has_exact_form:
        assert lut.error.worst_codes < 0.2
    else:
        assert lut.form == "operations with a 3D table"
    again = processor.createGroupTransform().write(
        "Academy/ASC Common LUT Format", ocio.Config.CreateRaw()
    )
    assert "ProcessList" in again  # what was read can be written again
    if kind != "monitor" and lut.has_exact_form:
        assert (lut.form, len(lut.data) < 3000) == ("operations", True)


@pytest.mark.parametrize("ending", ["cc", "ccc", "cdl"])
def test_cdl_round_trip_through_opencolorio(
    luts: tuple[LutFile, ...], tmp_path: Path, ending: str
) -> None:
    ocio = pytest.importorskip("PyOpenColorIO")
    lut = find(luts, "gains", ending)
    path = tmp_path / f"a.{ending}"
    path.write_bytes(lut.data)
    if ending == "cdl":
        group = ocio.CDLTransform.CreateGroupFromFile(str(path))
        assert len(group) == 1
    read = ocio.CDLTransform.CreateFromFile(str(path), "")
    np.testing.assert_allclose(read.getSlope(), np.diag(lut.matrix), rtol=1e-9)
    assert (read.getOffset(), read.getPower(), read.getSat()) == ([0] * 3, [1] * 3, 1.0)
    transform = ocio.FileTransform(str(path))
    processor = ocio.Config.CreateRaw().getProcessor(transform).getDefaultCPUProcessor()
    light = np.random.default_rng(1).uniform(0, 0.9, (100, 3))
    pixels = light.astype(np.float32)
    processor.applyRGB(pixels)
    np.testing.assert_allclose(pixels, light @ lut.matrix.T, rtol=1e-6)
    text = lut.data.decode("ascii")
    assert "scene-linear values, S-Gamut3.Cine primaries" in text
    assert "On log codes it is wrong" in text


def test_a_correction_that_mixes_channels_is_no_cdl(planned: Plan) -> None:
    said = [each for each in planned.setups[0].notes if "no .cdl is made" in each.text]
    assert len(said) == 1
    assert said[0].weight == "warning"
    assert "a pure gain per channel" in said[0].text


def test_gains_bring_the_grey_where_the_full_correction_does(luts: tuple[LutFile, ...]) -> None:
    gains, full = find(luts, "gains", "cube"), find(luts, "correct", "clf")
    grey = np.linalg.solve(full.matrix, np.ones(3))
    after = gains.matrix @ grey
    np.testing.assert_allclose(after / after[1], 1.0, rtol=1e-9)  # matrices hold ten decimals
    assert gains.form == "1D table"
    assert gains.recipe.against_exact is not None
    assert 0 < gains.recipe.against_exact.mean < gains.recipe.against_exact.worst < 10


def test_each_position_comes_out_neutral_by_its_own_lut(planned: Plan) -> None:
    decided = planned.setups[0]
    setup, dial = decided.setup, decided.dial
    power = find_position_lux(setup) @ find_source_power(setup)
    made = [each for each in decided.luts if each.recipe.kind == "positions"]
    assert [each.recipe.end.split(",")[0] for each in made] == ["face", "wall"]
    for row, each in enumerate(made):
        grey = find_surface_rgb(
            Shot(view_camera(setup.camera), setup.encoding, (dial.mired, dial.tint_cc)),
            power[row : row + 1],
            np.full((1, 401), 0.18),
        )[0, 0]
        after = each.matrix @ grey
        np.testing.assert_allclose(after / after[1], 1.0, atol=1e-6)
    assert any("no light here" in note.text for note in decided.notes if note.about == "pit")


def test_names_say_setup_kind_from_to_encoding_and_size(luts: tuple[LutFile, ...]) -> None:
    names = [each.file_name for each in luts]
    assert len(set(names)) == len(names)
    for each in luts:
        assert f"_{each.sha256[:8]}." in each.file_name
    bare = [re.sub(r"_[0-9a-f]{8}\.", ".", name) for name in names]
    for name in names:
        assert re.fullmatch(
            r"01-all-kinds_[a-z-]+(_[A-Za-z0-9.-]+){4}_[0-9a-f]{8}\.(cube|clf|cc|ccc|cdl)", name
        )
    assert "01-all-kinds_light-match_tubes_window_s-log3_33.clf" in bare
    assert any("_positions_5000K_wall-left-" in name for name in names)
    assert any(name.endswith("_s-log3_1d1024.cube") for name in bare)
    assert any("_s-log3-to-acescct_33.cube" in name for name in bare)
    assert any("_s-log3-to-bt-1886_33.cube" in name for name in bare)


def test_headers_say_what_the_file_is(planned: Plan, luts: tuple[LutFile, ...]) -> None:
    for lut in luts:
        text = lut.data.decode("ascii")  # ASCII throughout
        assert f"made by wbplan {planned.version}" in text
        assert planned.digest not in text  # a plan that changes elsewhere gives the same file
        assert "Recipe: {" in text or "Recipe: {&quot;" in text
        assert "Level kept: the green channel" in text
        if lut.format in ("cube", "clf"):
            assert "S-Log3, S-Gamut3.Cine, full-range codes" in text
    monitor = find(luts, "monitor", "cube").data.decode("ascii")
    assert "BT.1886 screen" in monitor


def test_a_fixed_size_that_is_not_enough_says_which_is(luts: tuple[LutFile, ...]) -> None:
    small = next(each for each in luts if each.size == 17 and each.recipe.kind == "correct")
    assert not small.met
    assert small.needed_size is None or small.needed_size > 17
    large = [each for each in luts if each.form == "3D table" and each.met]
    assert all(each.needed_size == each.size for each in large)


def test_record_page_and_terminal_list_them_all(planned: Plan, luts: tuple[LutFile, ...]) -> None:
    record = build_record(planned)["setups"][0]
    assert [each["file"] for each in record["luts"]] == [each.file_name for each in luts]
    for entry, lut in zip(record["luts"], luts, strict=True):
        assert entry["encoding"] == {
            "curve": "S-Log3",
            "gamut": "S-Gamut3.Cine",
            "range": "full",
            "ei": None,
        }
        if lut.error is not None:
            scene = entry["error"]["scene_like"]["tetrahedral"]["worst_ten_bit_codes"]
            grey = entry["error"]["grey_ramp"]["tetrahedral"]["worst_ten_bit_codes"]
            assert max(scene, grey) == entry["error"]["tetrahedral"]["worst_ten_bit_codes"]
    match = next(each for each in record["luts"] if each["kind"] == "light-match")["match"]
    assert match["after"]["mean_ciede2000"] < match["before"]["mean_ciede2000"]
    page, terminal = render_all(planned), format_plan(planned, width=200)
    for lut in luts:
        assert lut.file_name in page
        assert lut.file_name in terminal
    assert "white is kept exactly" in page.lower()


def test_the_same_plan_gives_the_same_bytes(tmp_path: Path) -> None:
    path = tmp_path / "luts.yaml"
    path.write_text(FEW)
    first, again = (plan(path).setups[0].luts for _ in range(2))
    assert len(first) == 7
    assert [each.data for each in again] == [each.data for each in first]


def test_progress_is_told_file_by_file(tmp_path: Path) -> None:
    path = tmp_path / "luts.yaml"
    path.write_text(SCENARIO)
    told: list[tuple[float, str]] = []
    plan(path, progress=lambda share, doing: told.append((share, doing)))
    shares = [share for share, _ in told]
    assert shares == sorted(shares)
    assert shares[-1] == 1.0
    assert [f"{number} of 16 LUTs" for number in range(1, 17)] == [
        doing for _, doing in told if "LUTs" in doing
    ]


def test_without_opencolorio_clf_is_refused_and_the_rest_is_made(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from wbplan.lut import clf

    find_nothing: Callable[[str], None] = lambda name: None  # noqa: E731
    monkeypatch.setattr(clf, "find_spec", find_nothing)
    path = tmp_path / "luts.yaml"
    path.write_text(FEW)
    decided = plan(path).setups[0]
    assert not [each for each in decided.luts if each.format == "clf"]
    assert [each for each in decided.luts if each.format == "cube"]
    said = [each.text for each in decided.notes if "no .clf is made" in each.text]
    assert len(said) == 2
    assert "wbplan[clf]" in said[0]


def test_legal_range_goes_into_name_header_and_codes(tmp_path: Path) -> None:
    text = SCENARIO.split("    luts:")[0]
    text = text.replace("gamut: S-Gamut3.Cine}", "gamut: S-Gamut3.Cine, range: legal}")
    text += "    luts: [{kind: gains}]\n"
    (tmp_path / "legal.yaml").write_text(text)
    (lut,) = plan(tmp_path / "legal.yaml").setups[0].luts
    assert "_s-log3-legal_" in lut.file_name
    assert b"legal range, 64 to 940" in lut.data
    # A legal-range code of grey, through the file, is the legal-range code of what the full-range
    # arithmetic gives: Sony's table has grey at 420, squeezed to 64 + 876 x 420 / 1023.
    from wbplan.codes.encodings import find_encoding
    from wbplan.lut.table1d import parse_curves, read_curves

    full = find_encoding("S-Log3", "S-Gamut3.Cine")
    expected = (64 + 876 * full.encode(0.18 * np.diag(lut.matrix))) / 1023
    got = read_curves(parse_curves(lut.data.decode()), [(64 + 876 * 420 / 1023) / 1023] * 3)
    np.testing.assert_allclose(got, expected, atol=0.1 / 1023)


def test_matches_that_differ_by_position_are_both_made_and_one_asked_twice_is_said(
    tmp_path: Path,
) -> None:
    text = SCENARIO.split("    luts:")[0]
    text += """    luts:
      - {kind: camera-match, like: cfa-duv-tint, position: face, size: 17}
      - {kind: camera-match, like: cfa-duv-tint, position: "wall, left", size: 17}
      - {kind: gains}
      - {kind: gains}
"""
    (tmp_path / "two.yaml").write_text(text)
    decided = plan(tmp_path / "two.yaml").setups[0]
    assert [each.recipe.kind for each in decided.luts] == ["camera-match", "camera-match", "gains"]
    assert len({each.file_name for each in decided.luts}) == 3
    assert [each.code for each in decided.notes].count("lut-twice") == 1


def test_cameras_do_not_share_a_name(tmp_path: Path) -> None:
    text = SCENARIO.split("    luts:")[0]
    names = []
    for camera in ("cfa-mid", "cfa-duv-tint", "layered-measured"):
        (tmp_path / "one.yaml").write_text(text.replace("cfa-mid", camera))
        lut = plan(tmp_path / "one.yaml").setups[0].lut
        assert lut is not None
        names.append(lut.file_name)
    assert len(set(names)) == 3
