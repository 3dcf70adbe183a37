"""A delivery, judged by OpenColorIO, the published schemas where they are at hand, and hashlib."""

from __future__ import annotations

import base64
import copy
import csv
import dataclasses
import hashlib
import io
import json
import os
from argparse import Namespace
from datetime import UTC, datetime
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from jsonschema import Draft202012Validator

import wbplan
from wbplan.codes.encodings import find_encoding
from wbplan.core.output import write_folder
from wbplan.front.cli.options import check_delivery
from wbplan.front.delivery import deliver
from wbplan.record.delivery.color_config import name_look, name_space
from wbplan.record.delivery.hash_list import find_c4

ocio = pytest.importorskip("PyOpenColorIO")

WRITTEN = datetime(2026, 11, 26, 9, 0, tzinfo=UTC)
SCENE = """
wbplan: 1
title: "A night's work, & more"
invented: true
camera: cfa-mid
lut_size: 17
sources:
  window: {daylight_kelvin: 6000}
  lamp: {black_body_kelvin: 2850}
setups:
  - name: Close
    shooting: {ei: 800, fps: 24, shutter_angle_deg: 180}
    also_cameras: [cfa-duv-tint]
    encoding: {curve: S-Log3, gamut: S-Gamut3.Cine}
    plate: {slate: 12A, clip: A001_C004}
    lut_up_stops: 0.7
    luts:
      - {kind: monitor}
      - {kind: camera-match, like: cfa-presets}
      - {kind: correct, formats: [clf]}
    positions:
      face: {lux: {window: 110, lamp: 40}}
"""


@pytest.fixture(scope="module")
def planned(tmp_path_factory):
    path = tmp_path_factory.mktemp("scene") / "night.yaml"
    path.write_text(SCENE, "utf-8")
    return wbplan.plan(path)


@pytest.fixture(scope="module")
def made(planned):
    return deliver(planned, WRITTEN)


@pytest.fixture(scope="module")
def folder(made, tmp_path_factory):
    target = tmp_path_factory.mktemp("out") / "delivery"
    wbplan.write(made, target)
    return target


def list_files(folder: Path) -> set[str]:
    return {each.relative_to(folder).as_posix() for each in folder.rglob("*") if each.is_file()} - {
        "SHA256SUMS"
    }


def test_everything_is_in_its_place_and_two_cameras_have_a_set_each(made, folder):
    assert list_files(folder) == set(made.files)
    for camera in ("cfa-mid", "cfa-duv-tint"):
        below = [each for each in made.files if each.startswith(f"undated/{camera}/01-close/")]
        kinds = {each.rpartition("/")[2].split("_")[1] for each in below}
        assert kinds == {"correct", "monitor", "camera-match", "gains"}
        endings = sorted(each.rpartition(".")[2] for each in below)
        assert endings == ["amf", "cdl", "clf", "clf", "cube", "cube", "cube"]


def test_the_same_time_gives_the_same_bytes(planned, made):
    assert deliver(planned, WRITTEN).files == made.files


def test_the_manifest_names_every_lut_with_its_digest(made, folder):
    record = json.loads((folder / "manifest.json").read_text("utf-8"))
    assert set(record["files"]) == set(made.files)
    schema = wbplan.read_schema("delivery")
    assert not list(Draft202012Validator(schema).iter_errors(record))
    assert list(record) == list(schema["properties"])
    assert all(list(each) == list(schema["$defs"]["lut"]["properties"]) for each in record["luts"])
    rows = list(csv.DictReader(io.StringIO(made.files["manifest.csv"].decode("utf-8-sig"))))
    luts = {each for each in made.files if each.endswith((".cube", ".cdl", ".clf"))}
    assert {each["file"] for each in rows} == {each for each in luts if "spaces/" not in each}
    for row, stated in zip(rows, record["luts"], strict=True):
        data = (folder / row["file"]).read_bytes()
        assert row["sha256"] == hashlib.sha256(data).hexdigest() == stated["sha256"]
        assert (row["slate"], row["clip"], row["setup"]) == ("12A", "A001_C004", "Close")
        assert float(row["up_stops"]) == 0.7
        if row["format"] != "cdl":
            assert float(row["worst_surfaces_ten_bit_codes"]) >= 0


@pytest.fixture(scope="module")
def config(folder):
    found = ocio.Config.CreateFromFile(str(folder / "config.ocio"))
    found.validate()
    return found


def render(config, transform, pixels):
    out = np.array(pixels, dtype=np.float32, order="C")
    config.getProcessor(transform).getDefaultCPUProcessor().applyRGB(out)
    return out.astype(np.float64)


def test_the_colour_spaces_are_the_published_ones(config):
    """Decoded and taken to AP0 by OpenColorIO as by colour-science's published matrices."""
    colour = pytest.importorskip("colour")
    pixels = np.random.default_rng(1).uniform(0.2, 0.6, (200, 3))
    transform = ocio.ColorSpaceTransform(src="S-Log3 S-Gamut3.Cine", dst="ACES2065-1")
    spaces = colour.RGB_COLOURSPACES
    wanted = colour.RGB_to_RGB(
        colour.cctf_decoding(pixels, "S-Log3"),
        spaces["S-Gamut3.Cine"],
        spaces["ACES2065-1"],
        chromatic_adaptation_transform="Bradford",
    )
    np.testing.assert_allclose(render(config, transform, pixels), wanted, rtol=2e-3, atol=1e-4)


def test_every_lut_is_a_look_that_renders_what_its_file_holds(made, config):
    assert {each.getName() for each in config.getLooks()} == {name_look(e) for e in made.entries}
    near_grey = np.random.default_rng(2).uniform(-0.03, 0.03, (500, 3))
    pixels = np.linspace(0.3, 0.6, 500)[:, None] + near_grey
    for entry in made.entries:
        look = config.getLook(name_look(entry))
        takes, recipe = look.getProcessSpace(), entry.file.recipe
        gives = takes
        if recipe.correction.target is not None and recipe.kind != "monitor":
            gives = name_space(entry.file.target)
        if entry.file.format == "cdl":
            wanted = pixels @ recipe.correction.matrix.T
        elif entry.file.format == "clf":
            wanted = recipe.correction.apply(pixels)
        else:
            wanted = wbplan.apply_lut(entry.file, pixels[None])[0]
        through = ocio.LookTransform(src=takes, dst=gives, looks=name_look(entry))
        got = render(config, through, pixels)
        assert np.abs(got - wanted).max() * 1023 < 0.3, entry.path  # ten-bit codes


def test_a_monitors_rendering_is_a_view(made, config):
    views = set(config.getViews("monitor"))
    monitors = {name_look(e) for e in made.entries if e.file.recipe.kind == "monitor"}
    assert views == monitors | {"raw"}
    grey = find_encoding("S-Log3", "S-Gamut3.Cine").encode(np.full((1, 3), 0.18 / 2**0.7))
    (entry,) = (
        e
        for e in made.entries
        if e.file.recipe.kind == "monitor" and e.file.draft.camera_name == "cfa-mid"
    )
    view = ocio.DisplayViewTransform("S-Log3 S-Gamut3.Cine", "monitor", name_look(entry))
    # A grey, lifted by the offset to 18 %, on BT.709 (item 1.2): 1.099 x 0.18^0.45 - 0.099
    wanted = 1.099 * 0.18**0.45 - 0.099
    assert render(config, view, grey)[0, 1] == pytest.approx(wanted, abs=0.01)


def test_aces_metadata_files_name_what_is_there(made, folder, config):
    space = {"a": "urn:ampas:aces:amf:v2.0"}
    paths = [each for each in made.files if each.endswith(".amf")]
    assert len(paths) == 2
    for path in paths:
        root = ElementTree.parse(folder / path).getroot()
        named = {}
        for part in ("inputTransform", "lookTransform"):
            transform = root.find(f"a:pipeline/a:{part}", space)
            file = (folder / path).parent / transform.findtext("a:file", "", space)
            digest = base64.b64decode(transform.findtext("a:hash", "", space))
            assert hashlib.sha256(file.read_bytes()).digest() == digest
            named[part] = str(file)
        assert root.findtext("a:clipId/a:clipName", "", space) == "A001_C004"
        # Input, then look: the same as the log correction, taken to ACES afterwards.
        entry = next(e for e in made.entries if e.is_main and e.folder in path)
        pixels = np.random.default_rng(3).uniform(0.3, 0.5, (100, 3))
        chain = ocio.GroupTransform([ocio.FileTransform(each) for each in named.values()])
        corrected = entry.file.recipe.correction.apply(pixels)
        after = ocio.ColorSpaceTransform(src=name_space(entry.file.source), dst="ACES2065-1")
        np.testing.assert_allclose(
            render(config, chain, pixels), render(config, after, corrected), rtol=1e-3, atol=1e-5
        )


def test_aces_metadata_files_are_valid(made):
    """Against what S-2019-001 v2.0 says of them, by libxml2; and against its own schema, whose path
    may be given (acesMetadataFile.xsd beside what it imports; github.com/ampas/aces-amf).
    """
    etree = pytest.importorskip("lxml.etree")
    published = os.environ.get("WBPLAN_AMF_SCHEMA")
    paths = [str(Path(__file__).with_name("aces_metadata.xsd")), *filter(None, [published])]
    files = [etree.fromstring(data) for name, data in made.files.items() if name.endswith(".amf")]
    assert files
    for path in paths:
        schema = etree.XMLSchema(etree.parse(path))
        for each in files:
            schema.assertValid(each)
            broken = copy.deepcopy(each)
            broken.append(broken[0])  # what it is of, after what is done to it
            assert not schema.validate(broken)


def test_the_hash_list_holds_every_file(made, folder):
    (path,) = folder.glob("ascmhl/0001_*.mhl")
    space = {"m": "urn:ASC:MHL:v2.0", "d": "urn:ASC:MHL:DIRECTORY:v2.0"}
    listed = {
        each.findtext("m:path", "", space): each.findtext("m:c4", "", space)
        for each in ElementTree.parse(path).getroot().iterfind("m:hashes/m:hash", space)
    }
    assert set(listed) == {each for each in made.files if not each.startswith("ascmhl/")}
    for name, said in listed.items():
        assert said == find_c4((folder / name).read_bytes())
    chain = ElementTree.parse(folder / "ascmhl" / "ascmhl_chain.xml").getroot()
    assert chain.findtext("d:hashlist/d:c4", "", space) == find_c4(path.read_bytes())


def test_a_c4_id_is_the_published_one():
    """SMPTE ST 2114:2017: the ID of no bytes, from memory."""
    assert find_c4(b"") == (
        "c459dsjfscH38cYeXXYogktxf4Cd9ibshE3BHUo6a58hBXmRQdZrAkZzsWcbWtDg5oQstpDuni4Hirj75GEmTc1sFT"
    )


def test_another_delivery_takes_the_place_of_one_whole(made, folder, planned, tmp_path):
    target = tmp_path / "d"
    wbplan.write(made, target)
    later = deliver(planned, datetime(2026, 11, 27, tzinfo=UTC))
    wbplan.write(later, target)  # its own, and nothing was done to it
    assert list_files(target) == set(later.files)
    options = Namespace(deliver=str(target), force=False)
    check_delivery(options, tmp_path / "plan", "plan of night.yaml")
    with pytest.raises(wbplan.OutputError, match="holds files already"):
        check_delivery(options, tmp_path / "plan", "day of night.yaml")
    (target / "own.txt").write_text("kept")
    with pytest.raises(wbplan.OutputError, match=r"holds files already \(own\.txt"):
        wbplan.write(made, target)
    wbplan.write(later, target, replace=True)
    assert list_files(target) == {*later.files, "own.txt"}
    (target / "own.txt").unlink()
    (target / "manifest.csv").write_text("mine\n")
    with pytest.raises(wbplan.OutputError, match=r"manifest\.csv is not as it was written"):
        wbplan.write(made, target)
    assert (target / "manifest.csv").read_text() == "mine\n"
    another = dataclasses.replace(made, of="plan of other.yaml")
    with pytest.raises(wbplan.OutputError, match=r"delivery of the plan of night\.yaml"):
        wbplan.write(another, folder)


@pytest.mark.parametrize("name", ["../a", "a/../b", "/a", "a//b", "a/", ""])
def test_a_name_that_leads_out_is_refused(tmp_path, name):
    with pytest.raises(wbplan.OutputError):
        write_folder(tmp_path / "x", {name: b""})
    assert not (tmp_path / "x").exists()
