"""What the command line prints: it fits, nothing is lost by folding, what to set stands last."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from dataclasses import replace
from fnmatch import fnmatch
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.shared import HOSTILE, decide, make_kitchen, plan_shipped, squeeze
from wbplan.front.cli.completion import make_completion
from wbplan.front.cli.main import main, make_parser
from wbplan.front.cli.next_step import tell_next
from wbplan.front.cli.plain_letters import PLAIN_LETTERS
from wbplan.planning.decisions import Plan
from wbplan.report.base.columns import fit_text, format_rows
from wbplan.report.plan.terminal import format_decisions, format_plan, list_written


@pytest.fixture(scope="module", params=["dusk_workshop", "night_market"])
def plan(request: pytest.FixtureRequest) -> Plan:
    return plan_shipped(request.param)


@pytest.mark.parametrize("width", [60, 80, 132])
def test_no_line_is_wider_than_the_terminal(plan: Plan, width: int) -> None:
    said = [format_plan(plan, detail, width) for detail in ("usual", "full")]
    said.append(format_decisions(plan, width))
    assert max(len(line) for each in said for line in each.splitlines()) <= width


def test_folding_loses_no_word(plan: Plan) -> None:
    narrow, wide = (format_plan(plan, "full", width) for width in (80, 2000))
    words = [each for each in re.findall(r"[^\s;]+", narrow) if not each.endswith(".cube")]
    all_words = [each for each in re.findall(r"[^\s;]+", wide) if not each.endswith(".cube")]
    # A table that becomes blocks repeats its heads with a colon.
    assert set(all_words) <= set(words) | {each.rstrip(":") for each in words}


def test_luts_can_be_found_by_what_is_printed(plan: Plan) -> None:
    names = [each.file_name for setup in plan.setups for each in setup.lut_files]
    printed = [each for each in format_plan(plan).split() if each.endswith((".cube", ".clf"))]
    assert [sum(fnmatch(name, each) for each in printed) for name in names] == [1] * len(names)


def test_decisions_are_a_line_a_setup_and_say_what_to_set(plan: Plan) -> None:
    said = format_plan(plan, "brief", 160).splitlines()
    assert len(said) == 1 + len(plan.setups)
    for setup in plan.setups:
        line = next(each for each in said if f"  {setup.name}  " in each)
        assert f"{setup.dial.kelvin:.0f} K" in line


def test_decisions_fit_eighty_columns_however_long_the_names(plan: Plan) -> None:
    one, *others = plan.setups
    long = replace(one, setup=replace(one.setup, name="Wide of the upper gallery from the stair"))
    said = format_plan(replace(plan, setups=(long, *others)), "brief")
    assert max(map(len, said.splitlines())) <= 80
    assert "…" in said
    assert {"Wide", "upper", "galle…", f"{one.dial.kelvin:.0f}"} <= set(squeeze(said).split())


def test_hostile_names_are_text_and_fit() -> None:
    setup = decide(make_kitchen(name=HOSTILE, window=HOSTILE), "01-x")
    plan = Plan("t", "f", "d", "v", False, (setup,))
    for detail in ("brief", "usual", "full"):
        said = format_plan(plan, detail)
        assert not {"\u202e", "\u2066", "\x07"} & set(said)


cell = st.text("ab ,;(", max_size=30).map(lambda each: " ".join(each.split()))


@settings(max_examples=30)
@given(st.integers(2, 5).flatmap(lambda n: st.lists(st.lists(cell, min_size=n, max_size=n),
       min_size=2, max_size=4)), st.integers(40, 90))  # fmt: skip
def test_a_table_keeps_its_letters_and_its_width(rows: list[list[str]], width: int) -> None:
    lines = format_rows(rows, "", width)
    assert all(len(line) <= width for line in lines)
    kept = sorted("".join(lines).replace(" ", "").replace(":", "").replace(";", ""))
    body = "".join(map("".join, rows[1:])).replace(" ", "").replace(";", "")
    assert all(kept.count(each) >= body.count(each) for each in set(body))


def test_text_breaks_under_its_label() -> None:
    said = fit_text("   warning " + "word " * 30 + "x" * 90, 80).splitlines()
    assert said[1].startswith("           word")
    assert said[-1].strip() == "x" * 90  # a name is copied whole


def test_files_are_counted() -> None:
    names = ["report.html", "01-a_report.html", "plan.json", "a.csv", "b.csv", "01-a_x_1.cube"]
    assert list_written(names) == "report.html, plan.json, 1 setup page, 2 tables, 1 LUT"
    assert list_written(names, full=True).split() == names


@pytest.mark.parametrize(
    ("encoding", "text", "expected"),
    [
        ("cp1252", "−0.1 to +0.6, 180°", "-0.1 to +0.6, 180°"),
        ("ascii", "−3 dB, 180°, 5 × 5 µm, Žluťoučký", "-3 dB, 180 deg, 5 x 5 um, Zlutoucky"),
        ("ascii", "夜市", "??"),
        ("cp437", "Δ−1", "d-1"),
    ],
)
def test_a_sign_survives_a_console(encoding: str, text: str, expected: str) -> None:
    assert text.encode(encoding, PLAIN_LETTERS).decode(encoding) == expected


def test_alone_it_says_what_to_do_next(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "my place.yaml").write_text("wbplan: 1\nsetups:\n")
    (tmp_path / "other.yaml").write_text("camera: x\n")
    assert main([]) == 0
    said = capsys.readouterr().out
    assert said == tell_next()
    assert 'wbplan plan "my place.yaml"' in said
    assert "other.yaml" not in said
    known = make_parser().find_commands()
    named = [line.split()[1] for line in said.splitlines() if line.startswith("  wbplan ")]
    assert {each for each in named if not each.startswith("-")} <= set(known)


@pytest.mark.parametrize(
    ("arguments", "expected"),
    [
        (["paln"], "did you mean 'plan'?"),
        (["descibe", "x"], "did you mean 'describe'?"),
        (["plan", "x", "--advice"], "did you mean '--advise'"),
        (["day", "x", "--tolernace=5"], "did you mean '--tolerance'"),
        (["plan", "x", "--zzz"], "wbplan plan --help"),
        (["xyzzy"], "wbplan --help"),
    ],
)
def test_did_you_mean(
    arguments: list[str], expected: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as ended:
        main(arguments)
    assert ended.value.code == 2
    assert expected in capsys.readouterr().err


def test_version_has_a_short_form(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["-V"])
    assert capsys.readouterr().out.startswith("wbplan ")


def test_bash_completes_commands_and_options(tmp_path: Path) -> None:
    # Bash itself runs the script that shtab wrote.
    (tmp_path / "c.bash").write_text(make_completion("bash"))
    probe = (
        "source ./c.bash; COMP_WORDS=(wbplan de); COMP_CWORD=1; _shtab_wbplan;"
        'echo "${COMPREPLY[@]}"; COMP_WORDS=(wbplan plan --lut); COMP_CWORD=2; COMPREPLY=();'
        '_shtab_wbplan; echo "${COMPREPLY[@]}"'
    )
    done = subprocess.run(
        ["bash", "--norc", "-c", probe], cwd=tmp_path, capture_output=True, text=True, check=True
    )
    assert done.stdout.split() == ["describe", "--lut-size"]


@pytest.mark.parametrize("shell", ["zsh", "fish"])
def test_every_command_can_be_completed(shell: str) -> None:
    script = make_completion(shell)
    assert all(re.search(rf"\b{each}\b", script) for each in make_parser().find_commands())


@pytest.mark.skipif(not hasattr(os, "openpty"), reason="needs a pseudo-terminal")
def test_a_terminal_is_used_to_its_width() -> None:
    probe = (
        "import os, struct, fcntl, termios, sys; from wbplan.front.cli.options import find_width;"
        "fcntl.ioctl(1, termios.TIOCSWINSZ, struct.pack('HHHH', 50, 132, 0, 0));"
        "sys.stderr.write(str(find_width()))"
    )
    ours, theirs = os.openpty()
    env = {key: value for key, value in os.environ.items() if key != "COLUMNS"}
    done = subprocess.run(
        [sys.executable, "-c", probe], stdout=theirs, stderr=subprocess.PIPE, env=env, check=True
    )
    os.close(ours)
    os.close(theirs)
    assert done.stderr == b"132"


def test_columns_stay_under_one_another_with_signs_two_columns_wide() -> None:
    """Unicode UAX 11: wide signs take two columns of a terminal, marks on others none."""
    rows = [["setup", "set"], ["名前", "3800 K"], ["cafe\u0301", "4000 K"], ["plain", "5000 K"]]
    lines = format_rows(rows)
    assert lines == [
        "   setup  set",
        "   名前   3800 K",
        "   cafe\u0301   4000 K",
        "   plain  5000 K",
    ]
