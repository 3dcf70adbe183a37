"""The command line as a new user would try it."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from fnmatch import fnmatch
from pathlib import Path

import pytest

from tests.shared import call
from wbplan.front.cli.main import make_parser

ROOT = Path(__file__).parents[2]


def run(*arguments: str, cwd: Path | None = None) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "wbplan", *arguments],
        capture_output=True,
        text=True,
        cwd=cwd,
        timeout=120,
        check=False,
    )


def test_a_console_that_lacks_a_letter_is_no_traceback(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "wbplan", "plan", "dusk_workshop", "--out", str(tmp_path / "o")],
        capture_output=True,
        text=True,
        env={**os.environ, "PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0"},
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert "shutter 180 deg" in done.stdout


def test_an_error_turns_no_text_around(tmp_path: Path) -> None:
    # U+202E, right-to-left override, in a name that the message suggests.
    (tmp_path / "s.yaml").write_text(
        "wbplan: 1\ntitle: t\ncamera: cfa-mid\nsources: {'lam\u202ep': {lamp: A}}\nsetups:\n"
        "  - name: a\n    shooting: {fps: 24, shutter_angle_deg: 180}\n"
        "    positions: {face: {lux: {lamp: 3}}}\n",
        encoding="utf-8",
    )
    done = run("plan", "s.yaml", cwd=tmp_path)
    assert done.returncode == 2
    assert "\\u202e" in done.stderr
    assert "\u202e" not in done.stderr


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    folder = tmp_path_factory.mktemp("cli")
    done = run("plan", "dusk_workshop", cwd=folder)
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    return folder / "dusk_workshop-plan", done.stdout


def test_plan_writes_report_record_and_luts(planned: tuple[Path, str]) -> None:
    folder, said = planned
    names = sorted(each.name for each in folder.iterdir() if each.name != "SHA256SUMS")
    assert [name for name in names if not name.endswith(".cube")] == [
        "01-wide-of-the-room_report.html",
        "01-wide-of-the-room_sheet.html",
        "02-close-on-the-wheel_report.html",
        "02-close-on-the-wheel_sheet.html",
        "lights.csv",
        "luts.csv",
        "plan.json",
        "positions.csv",
        "report.html",
    ]
    assert sum(name.endswith(".cube") for name in names) == 2
    record = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    assert sorted(record["files"]) == names
    assert said.index("set ") < said.index("position")  # the decision first
    assert "Written to dusk_workshop-plan: report.html, plan.json" in said
    for name in names:
        assert name.endswith((".html", ".json", ".csv")) or [
            each for each in said.split() if fnmatch(name, each)
        ]


def test_existing_output_is_refused_and_left_alone(planned: tuple[Path, str]) -> None:
    folder, _ = planned
    before = {each.name: each.read_bytes() for each in folder.iterdir()}
    done = run("plan", "harbour_noon", "--out", str(folder))
    assert done.returncode == 2
    assert "holds files already" in done.stderr
    assert "--force" in done.stderr
    assert {each.name: each.read_bytes() for each in folder.iterdir()} == before


def test_force_replaces_the_old_plan_and_nothing_else(tmp_path: Path) -> None:
    folder = tmp_path / "out"
    assert run("plan", "dusk_workshop", "--out", str(folder)).returncode == 0
    (folder / "mine.txt").write_text("keep")
    assert run("plan", "harbour_noon", "--out", str(folder), "--force").returncode == 0
    names = {each.name for each in folder.iterdir()}
    assert "mine.txt" in names
    assert not any("wide-of-the-room" in name for name in names)
    assert not [each for each in tmp_path.iterdir() if each.name.startswith(".wbplan")]


def test_same_input_same_bytes(planned: tuple[Path, str], tmp_path: Path) -> None:
    folder, _ = planned
    run("plan", "dusk_workshop", "--out", str(tmp_path / "again"))
    for each in folder.iterdir():
        assert (tmp_path / "again" / each.name).read_bytes() == each.read_bytes(), each.name


@pytest.mark.parametrize(
    ("arguments", "fragments"),
    [
        (("plan", "no-such-scenario"), ["no-such-scenario", "dusk_workshop"]),
        (("plan", "missing.yaml"), ["missing.yaml"]),
        (("plan", "dusk_workshop", "--camera", "cfa"), ["camera 'cfa'", "cfa-mid"]),
        (("plan", "dusk_workshop", "--camera", "mine.yaml"), ["mine.yaml"]),
        (("plan", "dusk_workshop", "--out", "/dev/null/x"), ["/dev/null"]),
        (("plan", "dusk_workshop", "--out", "x" * 256), ["File name too long"]),
        (("plan", "x" * 256), ["dusk_workshop"]),
        (("plan", "x" * 256 + ".yaml", "--out", "o"), ["file name too long"]),
        (("describe", "x" * 256 + ".csv"), ["file name too long"]),
        (("open", "x" * 256), ["File name too long"]),
        (("sources", "zzz"), ["zzz"]),
        (("plan",), ["SCENARIO"]),
        (("paln",), ["paln", "plan"]),
        (("plan", "dusk_workshop", "--forse"), ["--forse", "--force"]),
        (("plan", "dusk_workshop", "-q", "-v"), ["not allowed with"]),
        (("completion", "csh"), ["bash", "zsh", "fish"]),
    ],
)
def test_bad_input_ends_with_2_and_no_traceback(
    arguments: tuple[str, ...],
    fragments: list[str],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    done = call(*arguments, cwd=tmp_path, monkeypatch=monkeypatch)
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    for fragment in fragments:
        assert fragment in done.stderr
    assert not list(tmp_path.iterdir())


def test_failed_plan_leaves_nothing(tmp_path: Path) -> None:
    (tmp_path / "s.yaml").write_text("wbplan: 1\ntitle: x\nsetups:\n  - name: [1]\n")
    done = run("plan", "s.yaml", cwd=tmp_path)
    assert done.returncode == 2
    assert "s.yaml:4" in done.stderr
    assert [each.name for each in tmp_path.iterdir()] == ["s.yaml"]


@pytest.mark.parametrize(
    ("command", "fragments"),
    [
        ("sources", ["LED-B3", "FL11", "sodium-high-pressure-2000k", "CIE 15:2018", "4103 K"]),
        ("cameras", ["cfa-mid", "layered-measured", "cfa-presets"]),
        ("scenarios", ["dusk_workshop", "harbour_noon", "reading_room"]),
        ("filters", ["half orange", "67 mired warm", "stops", "generic", "spreads to 75 degrees"]),
    ],
)
def test_listings(command: str, fragments: list[str]) -> None:
    done = run(command)
    assert done.returncode == 0
    for fragment in fragments:
        assert fragment in done.stdout


def test_help_imports_nothing_heavy() -> None:
    probe = (
        "import sys; from wbplan.front.cli.main import main\n"
        "try: main(['--help'])\n"
        "except SystemExit: pass\n"
        "heavy = {'numpy', 'scipy', 'colour', 'yaml', 'jinja2'} & set(sys.modules)\n"
        "sys.exit(1 if heavy else 0)"
    )
    done = subprocess.run([sys.executable, "-c", probe], capture_output=True, check=False)
    assert done.returncode == 0


def test_a_process_ends_with_its_code_and_all_its_words() -> None:
    for words, code in ((("sources",), 0), (("plan", "nowhere.yaml"), 2), ((), 0)):
        piped = run(*words)
        assert piped.returncode == code
        assert (piped.stdout or piped.stderr).endswith("\n")
        assert not (code == 0 and piped.stderr)
    probe = [sys.executable, "-m", "wbplan", "sources"]
    with subprocess.Popen(probe, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as one:
        assert one.stdout is not None
        one.stdout.close()  # a reader that leaves at once
        assert one.stderr is not None
        assert one.stderr.read() == b""


def test_a_command_is_parsed_alone_as_among_all() -> None:
    for name, parser in make_parser().find_commands().items():
        assert make_parser(name).find_commands()[name].format_help() == parser.format_help()


def test_plan_of_the_demo_loads_nothing_that_it_does_not_need(tmp_path: Path) -> None:
    probe = (
        "import sys; from wbplan.front.cli.main import main\n"
        f"main(['plan', 'dusk_workshop', '--out', {str(tmp_path / 'o')!r}])\n"
        "needless = {'scipy', 'colour', 'numpy.ma', 'logging', 'difflib', 'zoneinfo'}\n"
        "sys.exit(3 if needless & set(sys.modules) else 0)"
    )
    done = subprocess.run([sys.executable, "-c", probe], capture_output=True, check=False)
    assert done.returncode == 0


def test_library_call_of_the_readme(tmp_path: Path) -> None:
    import wbplan

    decided = wbplan.plan("dusk_workshop", camera="layered-measured")
    assert decided.setups[0].setup.camera.name == "layered-measured"
    names = wbplan.write(decided, tmp_path / "out")
    assert sorted(names) == sorted(
        each.name for each in (tmp_path / "out").iterdir() if each.name != "SHA256SUMS"
    )
    assert wbplan.write(decided, tmp_path / "out") == names  # its own, which nobody changed
    (tmp_path / "out" / "plan.json").write_text("mine")
    with pytest.raises(wbplan.OutputError):
        wbplan.write(decided, tmp_path / "out")
    with pytest.raises(AttributeError):
        _ = wbplan.nothing


def test_band_is_said_and_checked(tmp_path: Path) -> None:
    done = run("plan", "dusk_workshop", "--out", str(tmp_path / "o"), "--band", "0.5")
    assert done.returncode == 0
    assert "50 % band" in done.stdout
    record = json.loads((tmp_path / "o" / "plan.json").read_text(encoding="utf-8"))
    assert record["interval_percent"] == 50
    page = tmp_path / "o" / "01-wide-of-the-room_report.html"
    assert "50 % band" in page.read_text(encoding="utf-8")
    assert run("plan", "dusk_workshop", "--out", str(tmp_path / "p"), "--band", "1").returncode == 2


def test_advise_searches_and_says_so(tmp_path: Path) -> None:
    done = run("plan", "reading_room", "--advise", "--out", "o", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""  # no bar but on a terminal
    assert "best found" in done.stdout  # a tuned fixture has no certificate here
    record = json.loads((tmp_path / "o" / "plan.json").read_text(encoding="utf-8"))
    assert record["setups"][0]["advice"]["plans"]
    plain = run("plan", "harbour_noon", "--advise", "--out", "p", cwd=tmp_path)
    assert plain.returncode == 0
    assert "no light is left that may be changed" in plain.stdout


def test_band_of_a_described_light() -> None:
    wide, narrow = (
        json.loads(run("describe", "FL2", "--camera", "cfa-mid", "--json", "--band", each).stdout)
        for each in ("0.99", "0.5")
    )
    assert (wide["interval_percent"], narrow["interval_percent"]) == (99, 50)
    said = run("describe", "FL2", "--camera", "cfa-mid", "--band", "0.8")
    assert "80 % band" in said.stdout
    assert run("describe", "FL2", "--camera", "cfa-mid", "--band", "2").returncode == 2
