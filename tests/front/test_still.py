"""LUTs applied to stills: the pixels, the bits, side by side, and files that are refused."""

from __future__ import annotations

import struct
import warnings
import zlib
from importlib.util import find_spec
from pathlib import Path

import imageio.v3 as iio
import numpy as np
import pytest

from wbplan.codes.table3d import Cube, format_cube
from wbplan.core.errors import InputError, OutputError
from wbplan.front.cli.main import main
from wbplan.front.luts import apply_lut
from wbplan.lut.table1d import CurveTable, format_curves
from wbplan.read.pictures import Still, encode_still, load_still

SIZE = (20, 30)


def swap(x: np.ndarray) -> np.ndarray:
    """Red and blue change places; a table of any size holds that exactly."""
    return x[..., ::-1]


@pytest.fixture
def cube(tmp_path: Path) -> Path:
    axis = np.linspace(0, 1, 5)
    grid = np.stack(np.meshgrid(axis, axis, axis, indexing="ij"), axis=-1)
    path = tmp_path / "swap.cube"
    path.write_bytes(format_cube(Cube(swap(grid))))
    return path


def make_pixels(kind: type, channels: int = 3) -> np.ndarray:
    top = 1.0 if kind is np.float32 else np.iinfo(kind).max
    values = np.random.default_rng(1).uniform(0, top, (*SIZE, channels))
    return values.astype(kind)


def save(path: Path, pixels: np.ndarray) -> Path:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # imageio's own TIFF writer says that it will go
        iio.imwrite(path, pixels)
    return path


def load(path: Path) -> np.ndarray:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # imageio's own TIFF reader sets a shape, as numpy 2.5 says
        return np.asarray(iio.imread(path))


@pytest.mark.parametrize("way", ["tetrahedral", "trilinear"])
@pytest.mark.parametrize(
    ("name", "kind"),
    [("a.png", np.uint8), ("a.tif", np.uint8), ("a.tif", np.uint16), ("a.tif", np.float32)],
)
def test_pixels_go_through_whole(
    tmp_path: Path, cube: Path, name: str, kind: type, way: str
) -> None:
    pixels = make_pixels(kind)
    loaded = load_still(save(tmp_path / name, pixels))
    np.testing.assert_array_equal(loaded.pixels, pixels)
    after = apply_lut(cube, loaded.pixels, way)  # type: ignore[arg-type]
    top = 1.0 if kind is np.float32 else np.iinfo(kind).max
    np.testing.assert_allclose(after, swap(pixels) / top, atol=1e-6)
    data, held = encode_still(after, tmp_path / f"b{Path(name).suffix}", loaded)
    back = tmp_path / f"b{Path(name).suffix}"
    back.write_bytes(data)
    assert held == 0
    if kind is not np.float32:
        np.testing.assert_array_equal(load(back), swap(pixels))


def test_before_and_after_stand_side_by_side(tmp_path: Path, cube: Path) -> None:
    pixels = make_pixels(np.uint8)
    both = apply_lut(cube, pixels, "trilinear", beside=True)
    rows, columns = SIZE
    assert both.shape == (rows, 2 * columns + 4, 3)
    np.testing.assert_allclose(both[:, :columns] * 255, pixels)
    np.testing.assert_allclose(both[:, -columns:] * 255, swap(pixels), atol=1e-3)
    assert (both[:, columns : columns + 4] == 0.5).all()


def test_transparency_is_kept_and_grey_becomes_colour(tmp_path: Path, cube: Path) -> None:
    pixels = make_pixels(np.uint8, 4)
    loaded = load_still(save(tmp_path / "a.png", pixels))
    after = apply_lut(cube, loaded.pixels, "trilinear")
    np.testing.assert_allclose(after[..., 3] * 255, pixels[..., 3])
    grey = load_still(save(tmp_path / "g.png", pixels[..., 0]))
    assert grey.pixels.shape == (*SIZE, 3)


def test_values_outside_are_counted_and_held(tmp_path: Path) -> None:
    path = tmp_path / "double.cube"
    path.write_bytes(format_curves(CurveTable(np.array([[0.0] * 3, [2.0] * 3]))))
    pixels = np.array([[[255, 0, 0], [100, 100, 100]]], dtype=np.uint8)
    after = apply_lut(path, pixels, "trilinear")
    np.testing.assert_allclose(after[0, 0], [2, 0, 0])
    _, held = encode_still(after, tmp_path / "a.png", Still(pixels))
    assert held == 50.0


def test_a_clf_and_a_cdl_are_applied(tmp_path: Path) -> None:
    pytest.importorskip("PyOpenColorIO")
    from wbplan.codes.encodings import find_encoding
    from wbplan.lut.bake import LinearCorrection
    from wbplan.lut.cdl import format_cdl

    gains = LinearCorrection(find_encoding("Linear", "sRGB"), np.diag([0.5, 1.0, 0.25]))
    path = tmp_path / "a.cc"
    path.write_bytes(format_cdl(gains, "cc", "x"))
    pixels = make_pixels(np.float32)
    after = apply_lut(path, pixels, "trilinear")
    np.testing.assert_allclose(after, pixels * [0.5, 1.0, 0.25], rtol=1e-5)


@pytest.mark.parametrize("name", ["a.exr", "a.dpx"])
def test_what_needs_the_extra_says_so(
    tmp_path: Path, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("wbplan.read.pictures.find_spec", lambda name: None)
    with pytest.raises(OutputError, match=r"wbplan\[pictures\]"):
        encode_still(np.zeros((2, 2, 3)), tmp_path / name, Still(np.zeros((2, 2, 3))))


HEADER = {"DateTime": "2026:11:26 09:00:00", "captureRate": 24.0, "owner": "camera B"}


@pytest.mark.parametrize("kind", ["half", "float"])
def test_exr_keeps_kind_alpha_and_metadata(tmp_path: Path, cube: Path, kind: str) -> None:
    oiio = pytest.importorskip("OpenImageIO")
    pixels = np.random.default_rng(3).uniform(0, 1, (*SIZE, 4)).astype(np.float16)
    spec = oiio.ImageSpec(SIZE[1], SIZE[0], 4, kind)
    for word, value in HEADER.items():
        spec.attribute(word, value)
    source, made = tmp_path / "a.exr", tmp_path / "b.exr"
    output = oiio.ImageOutput.create(str(source))
    assert output.open(str(source), spec)
    assert output.write_image(pixels.astype(np.float32))
    output.close()
    still = load_still(source)
    after = apply_lut(cube, still.pixels, "trilinear")
    made.write_bytes(encode_still(after, made, still)[0])
    back = oiio.ImageInput.open(str(made))
    assert str(back.spec().format) == kind
    for word, value in HEADER.items():
        assert back.spec().get(word) == pytest.approx(value) if word == "captureRate" else value
    got = back.read_image("float")
    np.testing.assert_allclose(got[..., :3], swap(pixels[..., :3].astype(float)), atol=1e-3)
    np.testing.assert_array_equal(got[..., 3], pixels[..., 3])


@pytest.mark.parametrize(("name", "bits"), [("a.dpx", 10), ("a.png", 16), ("a.tif", 16)])
def test_integers_keep_every_code(tmp_path: Path, cube: Path, name: str, bits: int) -> None:
    oiio = pytest.importorskip("OpenImageIO")
    codes = np.random.default_rng(4).integers(0, 2**bits, (*SIZE, 3))
    whole = np.rint(codes / (2**bits - 1) * 65535).astype(np.uint16)
    spec = oiio.ImageSpec(SIZE[1], SIZE[0], 3, "uint16")
    spec.attribute("oiio:BitsPerSample", bits)
    source, made = tmp_path / name, tmp_path / f"b{name}"
    output = oiio.ImageOutput.create(str(source))
    assert output.open(str(source), spec)
    assert output.write_image(whole)
    output.close()
    still = load_still(source)
    made.write_bytes(encode_still(apply_lut(cube, still.pixels), made, still)[0])
    back = load_still(made).pixels
    np.testing.assert_array_equal(np.rint(back / 65535 * (2**bits - 1)), swap(codes))


def make_16_bit_png() -> bytes:
    def chunk(name: bytes, data: bytes) -> bytes:
        check = zlib.crc32(name + data)
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", check)

    head = struct.pack(">IIBBBBB", 1, 1, 16, 2, 0, 0, 0)
    body = zlib.compress(b"\x00" + struct.pack(">HHH", 1, 2, 3))
    png = b"\x89PNG\r\n\x1a\n"
    return png + chunk(b"IHDR", head) + chunk(b"IDAT", body) + chunk(b"IEND", b"")


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("a.png", make_16_bit_png(), ["PNG of 16 bits", "a TIFF", "wbplan[pictures]"]),
        ("a.exr", b"x", ["a.exr", "OpenImageIO"]),
        ("a.dpx", b"x", ["a.dpx", "OpenImageIO"]),
        ("a.png", b"no picture", ["a.png"]),
        ("a.png", b"", ["a.png"]),
        ("a.tif", b"II*\x00garbage", ["a.tif"]),
        ("a.jpg", b"x", ["'.jpg'", ".png"]),
        ("none.png", None, ["none.png", "No such file"]),
        ("a\0.png", None, ["a\\x00.png", "no file can have"]),
        ("folder.png", None, ["a directory, a device or a pipe"]),
    ],
    ids=["16-bits", "exr", "dpx", "text", "empty", "tiff", "ending", "missing", "nul", "folder"],
)
def test_stills_that_cannot_be_used_are_refused(
    tmp_path: Path, name: str, content: bytes | None, words: list[str]
) -> None:
    if content is not None:
        (tmp_path / name).write_bytes(content)
    (tmp_path / "folder.png").mkdir()
    if "PNG of 16 bits" in words and find_spec("OpenImageIO") is not None:
        pixels = load_still(tmp_path / name).pixels  # what is there: 1, 2, 3
        np.testing.assert_array_equal(pixels, np.array([[[1, 2, 3]]], dtype=np.uint16))
        return
    with pytest.raises(InputError) as caught:
        load_still(tmp_path / name)
    for word in words:
        assert word in str(caught.value)


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("a.cube", b"LUT_3D_SIZE 2\n", ["a.cube", "0 rows"]),
        ("a.cube", b"LUT_1D_SIZE 2\n1 2\n", ["a.cube:2", "2 values"]),
        ("a.cube", b"\xff\xfe", ["a.cube", "UTF-8"]),
        ("a.3dl", b"x", ["'.3dl'", ".cube"]),
        ("none.cube", None, ["No such file"]),
        ("a.clf", b"<nonsense>", ["a.clf", "OpenColorIO"]),
    ],
    ids=["short", "row", "bytes", "ending", "missing", "clf"],
)
def test_luts_that_cannot_be_used_are_refused(
    tmp_path: Path, name: str, content: bytes | None, words: list[str]
) -> None:
    if name.endswith(".clf"):
        pytest.importorskip("PyOpenColorIO")
    if content is not None:
        (tmp_path / name).write_bytes(content)
    with pytest.raises(InputError) as caught:
        apply_lut(tmp_path / name, make_pixels(np.uint8))
    for word in words:
        assert word in str(caught.value)


@pytest.mark.parametrize(
    ("width", "channels"), [(2, 5), (300_000_000, 3)], ids=["channels", "size"]
)
def test_a_picture_that_states_too_much_is_refused_unread(
    tmp_path: Path, width: int, channels: int
) -> None:
    """Some hundred bytes may state a picture that fills the memory."""
    oiio = pytest.importorskip("OpenImageIO")
    path = tmp_path / "a.exr"
    output = oiio.ImageOutput.create(str(path))
    assert output.open(str(path), oiio.ImageSpec(2, 1, channels, "half"))
    assert output.write_image(np.zeros((1, 2, channels), np.float16))
    output.close()
    raw = path.read_bytes()
    stated = struct.pack("<i", 1)  # of data and display window, OpenEXR's header: the last column
    for name in (b"dataWindow\0box2i\0", b"displayWindow\0box2i\0"):
        at = raw.index(name) + len(name) + 4 + 8
        assert raw[at : at + 4] == stated
        raw = raw[:at] + struct.pack("<i", width - 1) + raw[at + 4 :]
    path.write_bytes(raw)
    with pytest.raises(InputError, match=f"{width} by 1 pixels of {channels}|does not read"):
        load_still(path)


def test_not_a_number_among_pixels_is_refused(tmp_path: Path) -> None:
    pixels = make_pixels(np.float32)
    pixels[0, 0, 0] = np.nan
    with pytest.raises(InputError, match="NaN"):
        load_still(save(tmp_path / "a.tif", pixels))


def test_other_writers_keywords_and_comments_are_read(tmp_path: Path) -> None:
    head = "# d\u00e9grad\u00e9\nLUT_1D_SIZE 2\nLUT_1D_INPUT_RANGE 0.0 1.0\n"
    path = tmp_path / "a.cube"
    path.write_bytes((head + "0 0 0\n1 1 1\n").encode())
    pixels = make_pixels(np.float32)
    np.testing.assert_allclose(apply_lut(path, pixels), pixels, atol=1e-6)
    path.write_bytes((head.replace("0.0 1.0", "0.0 2.0") + "0 0 0\n1 1 1\n").encode())
    np.testing.assert_allclose(apply_lut(path, pixels), pixels / 2.0, atol=1e-6)


ROWS = {
    "1D": "0 0 0\n0.2 0.3 0.4\n1 1 1\n",
    "3D": "".join(f"{k & 1} {(k & 2) / 4 + (k & 4) / 16} {k // 4}\n" for k in range(8)),
}


@pytest.mark.parametrize("size", ["LUT_1D_SIZE 3", "LUT_3D_SIZE 2"])
@pytest.mark.parametrize(
    "domain",
    [
        "DOMAIN_MIN -0.5 -0.5 -0.5\nDOMAIN_MAX 4 4 4",
        "DOMAIN_MIN 0 0.25 -1\nDOMAIN_MAX 2 1 1.5",
        "DOMAIN_MAX 0.5 0.5 0.5",
        "LUT_{}_INPUT_RANGE -0.25 2",
    ],
)
def test_a_stated_domain_is_read_as_opencolorio_reads_it(
    tmp_path: Path, size: str, domain: str
) -> None:
    """Cube LUT Specification 1.0: DOMAIN_MIN and DOMAIN_MAX; OpenColorIO knows the range too."""
    ocio = pytest.importorskip("PyOpenColorIO")
    kind = size[4:6]
    path = tmp_path / "a.cube"
    path.write_text(f"{size}\n{domain.format(kind)}\n{ROWS[kind]}")
    pixels = np.random.default_rng(5).uniform(-1.0, 5.0, (1, 500, 3)).astype(np.float32)
    after = apply_lut(path, pixels, "trilinear")
    transform = ocio.FileTransform(str(path), interpolation=ocio.INTERP_LINEAR)
    processor = ocio.Config.CreateRaw().getProcessor(transform).getDefaultCPUProcessor()
    wanted = pixels.copy()
    processor.applyRGB(wanted)
    np.testing.assert_allclose(after, wanted, atol=2e-5)


@pytest.mark.parametrize(
    ("domain", "words"),
    [
        ("DOMAIN_MIN 1 1 1", ["DOMAIN_MIN", "higher"]),
        ("DOMAIN_MAX 2 2", ["a.cube:2", "each channel"]),
        ("DOMAIN_MAX 2 2 nan", ["a.cube:2", "each channel"]),
        ("DOMAIN_MAX 2 2 1e9", ["65504"]),
        ("LUT_3D_INPUT_RANGE 0 1", ["a.cube:2", "LUT_1D_INPUT_RANGE"]),
        ("LUT_1D_INPUT_RANGE 1 0", ["higher"]),
        ("LUT_1D_INPUT_RANGE 0 2\nDOMAIN_MAX 1 1 1", ["beside the range"]),
    ],
)
def test_domains_that_are_none_are_refused(tmp_path: Path, domain: str, words: list[str]) -> None:
    path = tmp_path / "a.cube"
    path.write_text(f"LUT_1D_SIZE 3\n{domain}\n{ROWS['1D']}")
    with pytest.raises(InputError) as caught:
        apply_lut(path, make_pixels(np.float32))
    for word in words:
        assert word in str(caught.value)


def test_an_exr_without_a_date_is_the_same_bytes_at_any_time(tmp_path: Path) -> None:
    oiio = pytest.importorskip("OpenImageIO")
    picture = np.random.default_rng(6).uniform(0, 1, (*SIZE, 3))
    made = encode_still(picture, tmp_path / "a.exr", Still(picture, kind="half"))[0]
    (tmp_path / "a.exr").write_bytes(made)
    stamp = oiio.ImageInput.open(str(tmp_path / "a.exr")).spec().get("DateTime")
    assert stamp == "1970:01:01 00:00:00"  # not this machine's clock


def test_an_exr_made_of_another_still_says_what_is_known(tmp_path: Path) -> None:
    """Standard attributes of OpenEXR, by OpenEXR's names as OpenImageIO reads them back."""
    oiio = pytest.importorskip("OpenImageIO")
    pytest.importorskip("PyOpenColorIO")
    spec = oiio.ImageSpec(SIZE[1], SIZE[0], 3, "uint16")
    told = {
        "DateTime": "2026:11:26 09:00:00", "ExposureTime": 0.02, "FNumber": 4.0,
        "Exif:FocalLength": 35.0, "Exif:SubjectDistance": 2.5,
    }  # fmt: skip
    for word, value in told.items():
        spec.attribute(word, value)
    source, made = tmp_path / "a.tif", tmp_path / "b.exr"
    output = oiio.ImageOutput.create(str(source))
    assert output.open(str(source), spec)
    assert output.write_image(make_pixels(np.uint16))
    output.close()
    lut = tmp_path / "luts"
    command = ["lut", "--camera", "cfa-mid", "--from", "5600", "--to", "3200", "--out", str(lut)]
    assert main([*command, "--encoding", "Linear", "--gamut", "ACEScg", "--format", "clf"]) == 0
    (file,) = lut.glob("*.clf")
    assert main(["apply", str(file), str(source), str(made), "--after-only"]) == 0
    header = oiio.ImageInput.open(str(made)).spec()
    assert header.get("DateTime") == told["DateTime"]
    for word, value in (
        ("ExposureTime", 0.02), ("FNumber", 4.0), ("nominalFocalLength", 35.0), ("focus", 2.5),
    ):  # fmt: skip
        assert header.get(word) == pytest.approx(value)
    # Primaries and white of AP1, S-2014-004.
    assert header.get("chromaticities") == pytest.approx(
        (0.713, 0.293, 0.165, 0.830, 0.128, 0.044, 0.32168, 0.33767), abs=1e-6
    )
    assert header.get("adoptedNeutral") == pytest.approx((0.32168, 0.33767), abs=1e-6)


def test_an_exr_through_a_foreign_lut_claims_no_colours(tmp_path: Path, cube: Path) -> None:
    oiio = pytest.importorskip("OpenImageIO")
    source = save(tmp_path / "a.tif", make_pixels(np.uint16))
    made = tmp_path / "b.exr"
    assert main(["apply", str(cube), str(source), str(made), "--after-only"]) == 0
    assert oiio.ImageInput.open(str(made)).spec().get("chromaticities") is None
