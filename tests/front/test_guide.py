"""The guide against the readers and the schemas that it describes."""

from __future__ import annotations

import json
import re
import shlex
import subprocess
import sys
from importlib.resources import files
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from tests.front.test_cli import run
from tests.read.photometry_files import write_lm63
from tests.read.test_lesson import write_lesson
from wbplan.core.tables import load_table
from wbplan.front.cli.guide import TOPICS, read_topic
from wbplan.front.cli.main import make_parser
from wbplan.light.spectrum import WAVELENGTHS_NM
from wbplan.read.catalogue import find_camera, list_shipped
from wbplan.read.lesson import read_lesson
from wbplan.read.model.forms import Map
from wbplan.read.model.lights import LIGHT_SHAPES
from wbplan.read.scenario.reader import read_scenario
from wbplan.read.schema import find_model
from wbplan.read.yaml.fields import Fields
from wbplan.sky.source import SKY_KINDS

PACKAGE = Path(str(files("wbplan")))
CHECKOUT = Path(__file__).parent.parent.parent
LIST_LINE = re.compile(r"( {4,8})([A-Za-z_0-9]+(?:, [A-Za-z_0-9]+)*)(?:  +(\S.*))?$")
MEANING_AT = 21  # the column of the meaning in a list of fields
READERS = {"scenario": "wbplan: 1", "profiles": "menu:", "lessons": "wbplan_lesson: 1"}


def list_blocks(topic: str) -> list[str]:
    return re.findall(r"^```yaml\n(.*?)^```$", read_topic(topic), re.M | re.S)


def list_entries(text: str) -> list[tuple[str, str]]:
    """List the entries of a topic's indented lists: names as written, and their meaning."""
    entries: list[tuple[str, str]] = []
    fenced = False
    for line in text.splitlines():
        fenced ^= line.startswith("```")
        if fenced or not line.startswith("    ") or re.match(" {4}wbplan [a-z]", line):
            continue  # prose, an example, or a command
        if line.startswith(" " * MEANING_AT):
            names, meaning = entries[-1]
            entries[-1] = names, f"{meaning} {line.strip()}".strip()
            continue
        match = LIST_LINE.match(line)
        assert match, f"neither a field nor a meaning from column {MEANING_AT} on: {line!r}"
        entries.append((match[2], match[3] or ""))
    return entries


def list_names(text: str) -> list[str]:
    return [name for names, _ in list_entries(text) for name in names.split(", ")]


def write_table(path: Path, columns: dict[str, float]) -> None:
    """Write invented curves that lean to one side or the other, between 0 and 1."""
    rows = [",".join(["wavelength_nm", *columns])]
    for nm in WAVELENGTHS_NM:
        rows.append(
            ",".join([f"{nm:g}", *(f"{0.5 + (nm - 580) * k:.4f}" for k in columns.values())])
        )
    path.write_text("\n".join(rows), encoding="utf-8")


def write_files(folder: Path, topic: str, number: int) -> Path:
    """Write an example and invented data for every file that it names."""
    text = list_blocks(topic)[number]
    for name in ("panel", "gel", "bare", "behind"):
        write_table(folder / f"{name}.csv", {"value": 0.002})
    write_table(folder / "channels.csv", {"warm": 0.002, "cool": -0.002})
    (folder / "readings.csv").write_text("lux,window,lamp\nAnna,310,45\nsink,,110\n")
    (folder / "fixture.ies").write_text(write_lm63([0], [0, 90], np.array([[900.0, 0.0]])))
    if topic == "profiles":
        read = find_camera("nikon-d5100", Path()).sensitivities
        curves = np.column_stack([WAVELENGTHS_NM, read / read.max()])
        header = "wavelength_nm,red,green,blue"
        np.savetxt(folder / "mycamera.csv", curves, "%.6f", ",", header=header, comments="")
        many = np.column_stack([WAVELENGTHS_NM, *[read / read.max()] * 64])
        header = ",".join(["nm", *(f"{c}_{n}" for n in range(64) for c in "rgb")])
        np.savetxt(folder / "mycamera-band.csv", many, "%.5f", ",", header=header, comments="")
    if topic == "lessons":
        write_lesson(folder)
        (folder / "A.csv").rename(folder / "tungsten.csv")
        write_still(folder / "panel.tiff", folder / "panel.csv")
    path = folder / f"example{number}.yaml"
    path.write_text(text, encoding="utf-8")
    return path


def write_still(path: Path, light: Path) -> None:
    """Write a linear 16-bit picture of the chart, 6 patches of 40 pixels across and 4 down."""
    from wbplan.read.pictures import Still, encode_still

    power = np.loadtxt(light, delimiter=",", skiprows=1)[:, 1]
    raw = (power * load_table("chart")) @ find_camera("nikon-d5100", Path()).sensitivities
    codes = 512 + 9000 * raw / raw.max()
    picture = np.kron(codes.reshape(4, 6, 3), np.ones((40, 40, 1)))
    picture = np.pad(picture, ((10, 10), (10, 10), (0, 0)), "edge")
    path.write_bytes(encode_still(picture / 65535.0, path, Still(picture, kind="uint16"))[0])


def read_example(topic: str, path: Path) -> None:
    if topic == "profiles":
        find_camera(path.name, path.parent)
    else:
        {"scenario": read_scenario, "lessons": read_lesson}[topic](path)


EXAMPLES = [(topic, number) for topic in TOPICS for number in range(len(list_blocks(topic)))]


def test_the_topics_are_those_that_ship() -> None:
    folder = files("wbplan").joinpath("guide")
    names = {each.name for each in folder.iterdir()} - {"dusk_workshop.svg"}  # the README's picture
    assert names == {f"{name}.md" for name in TOPICS}
    # The wheel takes the whole package; nothing in the build leaves these out.
    build = (CHECKOUT / "pyproject.toml").read_text() if PACKAGE.parent != CHECKOUT else ""
    assert "exclude" not in build


@pytest.mark.parametrize("topic", TOPICS)
def test_a_topic_reads_well_in_a_terminal(topic: str) -> None:
    text = read_topic(topic)
    lines = text.splitlines()
    assert re.fullmatch(rf"# {topic}: \S.*", lines[0])
    assert len(lines[0]) <= 80
    assert text.endswith("\n")
    assert not text.endswith("\n\n")
    for line in lines:
        assert len(line) <= 80, line
        assert line == line.rstrip()
        assert line.isprintable()
    for first, second in pairwise(lines):
        assert first or second, "two empty lines"


def test_examples_are_there_to_be_read() -> None:
    assert {topic for topic, _ in EXAMPLES} == set(READERS)
    assert len(EXAMPLES) >= 8


@pytest.mark.parametrize(("topic", "number"), EXAMPLES)
def test_every_example_is_read_by_the_real_reader(tmp_path: Path, topic: str, number: int) -> None:
    assert READERS[topic] in list_blocks(topic)[number]
    if "facing:" in list_blocks(topic)[number]:
        pytest.importorskip("pvlib")
    read_example(topic, write_files(tmp_path, topic, number))


MODELS = {"scenario": "scenario", "profiles": "profile", "lessons": "lesson"}


@pytest.mark.parametrize("topic", READERS)
def test_every_field_of_the_model_is_listed_and_no_other(topic: str) -> None:
    listed = set(list_names(read_topic(topic)))
    known = {field.name for _, field in find_model(MODELS[topic]).walk()}
    if topic == "lessons":  # what it says of a light is a scenario's, and stands there
        known -= set(list_names(read_topic("scenario"))) - listed
    assert known == listed


@pytest.mark.parametrize("topic", READERS)
def test_readers_ask_for_every_field_of_the_model_and_no_other(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, topic: str
) -> None:
    pytest.importorskip("pvlib")
    opened: list[Fields] = []
    begin = Fields.__init__

    def remember(fields: Fields, *rest: object, **more: object) -> None:
        begin(fields, *rest, **more)  # type: ignore[arg-type]
        opened.append(fields)

    monkeypatch.setattr(Fields, "__init__", remember)
    paths = [write_files(tmp_path, topic, number) for number in range(len(list_blocks(topic)))]
    if topic == "scenario":
        text = next(each for path in paths if "xy: [" in (each := path.read_text("utf-8")))
        paths.append(tmp_path / "by_kelvin.yaml")
        paths[-1].write_text(text.replace("xy: [0.35, 0.36]", "cct_kelvin: 4300"), "utf-8")
        paths += list_shipped("scenarios").values()
    for path in paths:
        read_example(topic, path)
    model = find_model(MODELS[topic])
    asked: dict[str, set[str]] = {name: set() for name in model.shapes}
    for each in opened:
        if each._model is model and isinstance(each._form, Map):
            asked[each._form.shape] |= set(each._known)
    unknown = {"channels", *SKY_KINDS}  # looked for in order to say that they cannot be there
    for name, shape in model.shapes.items():
        assert asked[name] - unknown <= {*shape.by_name}, name
        if topic == "lessons" and name in LIGHT_SHAPES:
            continue  # read by what reads a scenario's
        other = {"mix_part": "light", "channel": "light", "surface": "move"}.get(name, name)
        seen = asked[name] | asked[other]
        assert set(shape.by_name) <= seen, f"{name}: fields that no reader asks for"


def find_part(text: str, heading: str) -> str:
    """Find what stands under a heading, up to the next one."""
    match = re.search(rf"^#+ {re.escape(heading)}$(.*?)(?=^#|\Z)", text, re.M | re.S)
    assert match, heading
    return match[1]


def read_schema(name: str) -> dict:  # type: ignore[type-arg]
    return json.loads(files("wbplan.record").joinpath(f"{name}.schema.json").read_text("utf-8"))


@pytest.mark.parametrize(
    ("heading", "schema", "inner"),
    [
        ("A plan: `plan.json`", "plan", ""),
        ("One setup of a plan", "plan", "setups"),
        ("A day: `plan.json` of `wbplan day`", "day", ""),
        ("One setup of a day", "day", "setups"),
        ("Plate notes: `NN-setup_plate.json`", "plate", ""),
        ("Lights: `lights.json`", "lights", ""),
        ("One light of `lights.json`", "lights", "lights"),
        ("A delivery: `manifest.json`", "delivery", ""),
    ],
)
def test_the_records_topic_has_the_keys_of_the_schemas(
    heading: str, schema: str, inner: str
) -> None:
    whole = read_schema(schema)
    part = whole["properties"]
    if inner:
        items = part[inner]["items"]
        items = whole["$defs"][items["$ref"].split("/")[-1]] if "$ref" in items else items
        part = items["properties"]
    listed = list_names(find_part(read_topic("records"), heading))
    assert listed == list(part), "the keys, in the order in which they are written"


def test_every_schema_has_its_part() -> None:
    names = {path.name.split(".")[0] for path in PACKAGE.glob("record/*.schema.json")}
    assert names == {"plan", "day", "plate", "lights", "delivery"}


def test_the_records_topic_has_the_columns_of_the_tables(tmp_path: Path) -> None:
    done = run("plan", "harbour_noon", "--out", str(tmp_path / "p"))
    assert done.returncode == 0, done.stderr
    for name in ("lights.csv", "positions.csv", "luts.csv"):
        header = (tmp_path / "p" / name).read_text("utf-8-sig").splitlines()[0].split(",")
        plain = [each for each in header if not each.endswith(("_low", "_high"))]
        listed = list_names(find_part(read_topic("records"), f"Columns of `{name}`"))
        assert listed == plain


@pytest.mark.parametrize("topic", TOPICS)
def test_commands_and_topics_that_the_guide_names_are_there(topic: str) -> None:
    text = read_topic(topic)
    parser = make_parser()
    helped = parser.format_help()
    for name in re.findall(r"wbplan guide ([a-z]+)", text):
        assert name in TOPICS, name
    for name in re.findall(r"`wbplan ([a-z]+)", text):
        assert re.search(rf"^    {name}\b", helped, re.M), name
    for line in re.findall(r"^    wbplan ([a-z].*)$", text, re.M):
        if "[" not in line:  # stands for a choice
            parser.parse_args(shlex.split(line))


def test_the_list_has_a_line_a_topic() -> None:
    done = run("guide")
    assert done.returncode == 0
    lines = done.stdout.splitlines()
    assert [line.split()[0] for line in lines[2:]] == list(TOPICS)
    assert all(20 < len(line) <= 80 for line in lines[2:])


def test_a_topic_is_printed_as_it_is() -> None:
    done = run("guide", "Scenario")
    assert done.returncode == 0
    assert done.stdout == read_topic("scenario")


def test_an_unknown_topic_names_the_nearest() -> None:
    done = run("guide", "lut")
    assert done.returncode == 2
    assert not done.stdout
    assert "'lut'" in done.stderr
    assert "did you mean 'luts'" in done.stderr


def test_a_reader_may_leave_the_pipe() -> None:
    with subprocess.Popen(
        [sys.executable, "-m", "wbplan", "guide", "scenario"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    ) as running:
        assert running.stdout is not None
        assert running.stderr is not None
        running.stdout.readline()
        running.stdout.close()
        said = running.stderr.read()
    assert running.returncode == 0
    assert said == b""


def test_the_developers_page_stays_short() -> None:
    path = CHECKOUT / "DEVELOPERS.md"
    if not path.is_file():
        pytest.skip("no DEVELOPERS.md beside the tests")
    assert len(path.read_bytes()) <= 8192


def test_paths_that_the_developers_page_names_are_there() -> None:
    path = CHECKOUT / "DEVELOPERS.md"
    if not path.is_file():
        pytest.skip("no DEVELOPERS.md beside the tests")
    named = set(re.findall(r"`(\w[\w./]*/[\w./]*)`", path.read_text(encoding="utf-8")))
    assert len(named) > 15
    missing = {
        each for each in named if not (PACKAGE / each).exists() and not (CHECKOUT / each).exists()
    }
    assert missing == set()
