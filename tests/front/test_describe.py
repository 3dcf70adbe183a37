"""`wbplan describe` as a new user would try it."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from tests.shared import call

ROWS = "\n".join(f"{x};{1 + x / 1000}".replace(".", ",") for x in range(380, 781))


def run(*arguments: str, cwd: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "wbplan", "describe", *arguments],
        capture_output=True,
        text=True,
        cwd=cwd,
        timeout=120,
        check=False,
    )


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "readings").mkdir()
    (tmp_path / "readings" / "key.csv").write_text("nm;mW/m2/nm\n" + ROWS)
    (tmp_path / "readings" / "broken.csv").write_text("nm;value\n380;1\n385;high\n")
    return tmp_path


def test_files_folders_and_names(folder: Path) -> None:
    done = run("readings", "FL4", "--camera", "cfa-mid", "--against", "daylight-5600K", cwd=folder)
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    for part in ("key", "lux", "FL4", "Against CIE daylight 5600 K (model)", "Camera cfa-mid"):
        assert part in done.stdout
    assert "refused  readings/broken.csv" in done.stdout
    assert "380 to 780 nm every 1 nm; column 2 'mW/m2/nm'; irradiance" in done.stdout
    assert [each.name for each in folder.iterdir()] == ["readings"]


def test_json_and_files(folder: Path) -> None:
    done = run("readings/key.csv", "--json", "--out", "out", cwd=folder)
    assert done.returncode == 0, done.stderr
    names = sorted(each.name for each in (folder / "out").iterdir())
    assert names == ["SHA256SUMS", "lights.html", "lights.json"]
    assert (folder / "out" / "lights.json").read_text(encoding="utf-8") == done.stdout
    assert json.loads(done.stdout)["lights"][0]["file"] == "key.csv"
    again = run("FL2", "--out", "out", cwd=folder)
    assert again.returncode == 2
    assert "--force" in again.stderr
    assert run("FL2", "--out", "out", "--force", cwd=folder).returncode == 0
    assert "FL2" in (folder / "out" / "lights.json").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("arguments", "fragments"),
    [
        (("readings/broken.csv",), ["readings/broken.csv:3", "'high'", "a number"]),
        (("readings/absent.csv",), ["absent.csv", "no such file"]),
        (("FL99",), ["'FL99'", "did you mean"]),
        (("FL2", "--camera", "cfa"), ["camera 'cfa'"]),
        (("FL2", "--against", "nothing"), ["'nothing'"]),
        (("FL2", "--filter", "orange"), ["'orange'"]),
        (("readings/key.csv", "--column", "lamp"), ["'lamp'", "mW/m2/nm"]),
        (("FL2", "--out", "/dev/null/x"), ["/dev/null"]),
        ((), ["FILE"]),
    ],
)
def test_bad_input_ends_with_2_and_writes_nothing(
    folder: Path, arguments: tuple[str, ...], fragments: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    done = call("describe", *arguments, cwd=folder, monkeypatch=monkeypatch)
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    assert done.stdout == ""
    for fragment in fragments:
        assert fragment in done.stderr
    assert [each.name for each in folder.iterdir()] == ["readings"]


def test_one_nanometre_data_need_neither_colour_nor_scipy(folder: Path) -> None:
    probe = (
        "import sys; from wbplan.front.cli.main import main\n"
        "main(['describe', 'readings/key.csv', 'FL2', '--camera', 'cfa-mid', '--out', 'o'])\n"
        "sys.exit(3 if {'scipy', 'colour'} & set(sys.modules) else 0)"
    )
    done = subprocess.run(
        [sys.executable, "-c", probe], cwd=folder, capture_output=True, check=False
    )
    assert done.returncode == 0


def test_a_plan_does_not_load_the_tables_of_a_description(tmp_path: Path) -> None:
    probe = (
        "import sys; from wbplan.front.cli.main import main\n"
        f"main(['plan', 'dusk_workshop', '--out', {str(tmp_path / 'o')!r}])\n"
        "import wbplan.core.tables as t\n"
        "heavy = {'wbplan.light.tm30', 'wbplan.light.cri', 'defusedxml'} & set(sys.modules)\n"
        "sys.exit(3 if heavy or t.load_rendering_table.cache_info().currsize else 0)"
    )
    done = subprocess.run([sys.executable, "-c", probe], capture_output=True, check=False)
    assert done.returncode == 0
