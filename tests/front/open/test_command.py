"""`wbplan open` as a command: what it refuses, and that Ctrl-C ends it at once."""

from __future__ import annotations

import http.client
import re
import signal
import socket
import subprocess
import sys
from pathlib import Path

import pytest

from wbplan.front.cli.main import main


@pytest.mark.parametrize(
    ("arguments", "fragments"),
    [
        (("gone.yaml",), ["gone.yaml", "no such file"]),
        (("dusk_workshp",), ["dusk_workshop"]),
        (("broken.yaml",), ["broken.yaml:2"]),
        (("dusk_workshop", "--port", "70000"), ["--port", "70000"]),
        (("dusk_workshop", "--port", "TAKEN"), ["--port", "a port that is free"]),
    ],
)
def test_what_cannot_be_opened_is_refused(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    arguments: tuple[str, ...],
    fragments: list[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "broken.yaml").write_text("wbplan: [1\n")
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = str(taken.getsockname()[1])
        said = [each.replace("TAKEN", port) for each in arguments]
        assert main(["open", *said, "--no-browser"]) == 2
    told = capsys.readouterr()
    for each in fragments:
        assert each in told.err
    assert told.out == ""


def heed_interrupts() -> None:
    """Undo that a shell has what it runs behind it ignore Ctrl-C, which children take over."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


def test_it_says_where_it_is_and_ends_when_it_is_told_to(tmp_path: Path) -> None:
    pytest.importorskip("segno")
    command = [sys.executable, "-m", "wbplan", "open", str(tmp_path), "--no-browser"]
    with subprocess.Popen(
        command,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        preexec_fn=heed_interrupts,
    ) as running:
        try:
            assert running.stdout is not None
            line = running.stdout.readline()
            url = re.fullmatch(r".* is open at http://127\.0\.0\.1:(\d+)(/\?key=\S+)\n", line)
            assert url, line
            link = http.client.HTTPConnection("127.0.0.1", int(url[1]), timeout=20)
            link.request("GET", url[2])
            assert link.getresponse().status == 303  # and the connection stays open
            running.send_signal(signal.SIGINT)
            out, err = running.communicate(timeout=60)
            link.close()
        finally:
            running.kill()
    assert running.returncode == 0
    assert url[2].removeprefix("/?key=") not in out + err
    assert err == ""
    assert list(tmp_path.iterdir()) == []
