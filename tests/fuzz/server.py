"""Hostile requests to the browser's server: heads, JSON, edits with undo, uploads, raw bytes.

Requests go through the server's own parser and routes, without a socket, and each case begins with
the same session. Of the setups that edits make only one in `ONE_IN` is really decided, by its
digest, since that takes a hundred times longer than all else: `tests.fuzz.rebuilt` and the fuzzers
of scenarios decide them.
"""

from __future__ import annotations

import io
import json
import random
import sys
import traceback
from http import HTTPStatus
from pathlib import Path
from typing import Any, Final
from urllib.parse import quote

from tests.fuzz.loop import Patch, Target, keep_shipped_cameras, lay_out
from tests.fuzz.mutation import ODD, Words, mutate_bytes, mutate_tree, write_json
from wbplan.core.digest import digest_values
from wbplan.front.open import server as servers
from wbplan.front.open import session as sessions
from wbplan.front.open.server import Secrets, Server
from wbplan.front.open.session import Session, read_document
from wbplan.read.scenario import reader
from wbplan.read.yaml.tree import MAX_YAML_BYTES

ONE_IN: Final = 200
PORT: Final = b"@PORT"
SCENARIO: Final = """\
wbplan: 1
title: Kitchen # of the flat
camera: cfa-mid
sources:
  tube: {lamp: FL11}
  window: {daylight_kelvin: 6500}
setups:
  - name: Sink
    key: face
    shooting: {ei: 800, fps: 24, shutter_angle_deg: 180}
    readings: sheet.csv
    positions:
      wall: {lux: {window: 90}, intent: {warm_mired: 20}}
  - {name: Door, like: Sink}
"""
SHEET: Final = "position,tube,window\nface,300,40\n"
FILES: Final = {"s.yaml": SCENARIO.encode(), "sheet.csv": SHEET.encode(), "secret.txt": b"SECRET"}
READING: Final = b"nm,power\n" + b"".join(b"%d,%d\n" % (nm, nm - 300) for nm in range(400, 701, 20))
KEYS: Final = Secrets("edit-key-of-the-fuzzer", "view-key-of-the-fuzzer")
EDITS: Final[tuple[dict[str, Any], ...]] = (
    {"do": "lux", "position": "face", "light": "tube", "lux": 61},
    {"do": "lux", "position": "wall", "light": "window", "lux": None},
    {"do": "level", "light": "window", "stops": -1},
    {"do": "switch", "light": "tube", "on": False},
    {"do": "filters", "light": "tube", "filters": ["half blue", "quarter magenta"]},
    {"do": "key", "position": "wall"},
    {"do": "intent", "position": "face", "intent": {"warm_mired": 10, "green_cc": 2}},
    {"do": "intent", "position": "face", "intent": "leave"},
    {"do": "shooting", "field": "t_stop", "value": 2.8},
    {"do": "shooting", "field": "shutter_angle_deg", "value": 90},
    {"do": "camera", "camera": "nikon-d5100"},
    {"do": "beside", "cameras": ["nikon-d5100"]},
    {"do": "add position", "position": "floor"},
    {"do": "add light", "light": "lamp", "kind": "black_body_kelvin", "value": 3000},
    {"do": "remove position", "position": "wall"},
    {"do": "vouch", "word": "key"},
    {"do": "rename light", "light": "tube", "name": "kitchen tube"},
    {"do": "rename position", "position": "face", "name": "cook"},
    {"do": "remove light", "light": "window"},
)
WORDS: Final = Words(
    more=(
        *(value for each in EDITS for value in each.values()),
        "../x.yaml",
        "s.yaml",
        "# x",
        "- a",
        "face: {}",
        "a: b",
        "'",
        '"',
        "{",
        "}",
        "[",
        "]",
        ": ",
        " #",
        "&a",
        "*a",
        "<<",
        "null",
    ),
)
WORDS.names[:] = sorted({name for each in EDITS for name in each} | {"setup", "version", "group"})
PATHS: Final = (
    *(
        "/",
        "/state",
        "/choices",
        "/main.js",
        "/page.css",
        "/plan/report.html",
        "/nothing",
        "//",
        "*",
    ),
    *(
        "/plan/../secret.txt",
        "/plan/%2e%2e/secret.txt",
        "/plan//etc/passwd",
        "/secret.txt",
        "/?key=",
    ),
    *(
        "/state?since=1",
        "/goes?setup=0&kind=light&name=tube",
        "/goes?kind=position&name=face",
        "/goes?setup=1e9",
        "/goes?kind=do&name=%ff",
        "/state?since=%00",
        "/?key=%ff",
        "/plan/%00",
        "http://x/state",
        "/[",
        "/\xff",
    ),
    *("http://[::1", "//[/state", "/state?" + "a=&" * 2000, "/" + "a" * 60_000, "/state#x", ""),
)
POSTS: Final = ("/edit", "/edit", "/edit", "/undo", "/redo", "/keep", "/reload", "/drop", "/state")
NAMES: Final = (
    "a.csv",
    "a b.csv",
    "../../a.csv",
    "a.exe",
    "",
    ".csv",
    "sheet.csv",
    "s.yaml",
    "CON.csv",
    "é.csv",
    "x" * 400 + ".csv",
    "a\\b.csv",
    "window at face.csv",
    "\u202e.csv",
    "a\0.csv",
)


def _write(method: str, path: str, heads: dict[str, str], body: bytes) -> bytes:
    lines = [f"{method} {path} HTTP/1.1", *(f"{name}: {value}" for name, value in heads.items())]
    return "\r\n".join([*lines, "", ""]).encode("latin-1", "replace") + body


def _draw_heads(draw: random.Random, kind: str, body: bytes) -> tuple[dict[str, str], str]:
    role = "edit" if draw.random() < 0.9 else draw.choice(("view", ""))
    heads = {
        "Host": "127.0.0.1:@PORT",
        "Sec-Fetch-Site": "same-origin",
        "Content-Type": kind,
        "Content-Length": str(len(body)),
    }
    if role:
        heads["Cookie"] = f"wbplan_@PORT={getattr(KEYS, role)}"
    if draw.random() < 0.15:
        name = draw.choice((*heads, "Origin", "Transfer-Encoding", "Expect", "Connection", "X"))
        values = (
            *("", "0", "-1", "1e9", "9" * 5000, "²", "chunked", "100-continue", "close", "null"),
            *("a" * 70_000, "\xff", "evil.example", "text/plain", "wbplan_@PORT", '=;="', "1, 2"),
        )
        heads[name] = draw.choice(values)
    if draw.random() < 0.04:
        heads.pop(draw.choice(list(heads)))
    if draw.random() < 0.01:
        heads |= {f"X-{number}": "y" for number in range(150)}
    return heads, role


def make_request(draw: random.Random) -> tuple[bytes, str]:
    """Make a request, and say which secret it has: "edit", "view", or none."""
    kind = draw.random()
    if kind < 0.15:
        heads, role = _draw_heads(draw, "", b"")
        method = draw.choice(("GET", "GET", "GET", "HEAD", "PUT", "get", "", "G\xe9T", "TRACE"))
        raw = _write(method, draw.choice(PATHS), heads, b"")
    elif kind < 0.25:
        body = READING if draw.random() < 0.3 else mutate_bytes(draw, READING)
        heads, role = _draw_heads(draw, "application/octet-stream", body)
        asked = {"version": "@V", "name": draw.choice(NAMES), "setup": "0", "place": "face"}
        if draw.random() < 0.5:
            texts = [each for each in ODD if isinstance(each, str) and len(each) < 1000]
            asked[draw.choice(list(asked))] = draw.choice(texts)
        said = "&".join(
            f"{k}={quote(v, safe='@', errors='surrogatepass')}" for k, v in asked.items()
        )
        raw = _write("POST", f"/drop?{said}", heads, body)
    else:
        edit = {**draw.choice(EDITS), "setup": draw.choice((0, 0, 1))}
        asked_json: dict[str, Any] = {
            "version": "@V",
            "edit": edit,
            "group": draw.choice(("", "a")),
        }
        if draw.random() < 0.6:
            asked_json["edit"] = mutate_tree(draw, edit, WORDS)
        if draw.random() < 0.1:
            asked_json = mutate_tree(draw, asked_json, WORDS)
        if draw.random() < 0.05:
            asked_json["over"] = True
        body = write_json(asked_json).replace(b'"@V"', b"@V", 1)
        if draw.random() < 0.08:
            body = mutate_bytes(draw, body)
        heads, role = _draw_heads(draw, "application/json", body)
        raw = _write("POST", draw.choice(POSTS), heads, body)
    if draw.random() < 0.08:
        return mutate_bytes(draw, raw), "edit"
    return raw, role


def make_visit(draw: random.Random) -> list[tuple[bytes, str]]:
    """Make a few requests that follow each other."""
    return [make_request(draw) for _ in range(draw.choice((1, 1, 2, 4)))]


class _Line:
    """A connection of one request, without a socket."""

    def __init__(self, sent: bytes) -> None:
        self.sent, self.answered = io.BytesIO(sent), io.BytesIO()
        self.answered.close = lambda: None  # type: ignore[method-assign]

    def makefile(self, mode: str, *_: Any) -> io.BytesIO:
        return self.sent if "r" in mode else self.answered

    def settimeout(self, seconds: float | None) -> None: ...

    def setsockopt(self, *_: Any) -> None: ...


TROUBLES: Final[list[str]] = []
SERVERS: Final[list[tuple[Server, dict[str, Any]]]] = []


def _ask(server: Server, sent: bytes) -> bytes:
    # The length was stated before the version's digits were put in.
    sent = sent.replace(b"=@V", b"=%02d" % server.session.version)
    sent = sent.replace(b"@V", b"%2d" % server.session.version).replace(PORT, b"%5d" % server.port)
    line = _Line(sent)
    server.RequestHandlerClass(line, ("127.0.0.1", 9), server)  # type: ignore[arg-type]
    return line.answered.getvalue()


def visit(case: list[tuple[bytes, str]], folder: Path) -> bool:
    """Send requests, hold every answer, and that the page can be worked with afterwards."""
    server, begun = SERVERS[0]
    lay_out(FILES, folder)
    server.session.__dict__.update({**begun, "_steps": list(begun["_steps"])})
    taken = False
    for sent, role in case:
        before = server.session.version
        answer = _ask(server, sent)
        assert not TROUBLES, TROUBLES.pop()
        status = answer[9:12]
        if answer or sent.partition(b"\n")[0].strip():
            assert answer.startswith(b"HTTP/1.1 "), answer[:300]
            assert status.isdigit(), answer[:100]
            assert int(status) < 500, answer[:1000]
        assert b"SECRET" not in answer
        assert role == "edit" or server.session.version == before
        taken |= status == b"200"
    state = _ask(
        server,
        _write(
            "GET", "/state", {"Host": "127.0.0.1:@PORT", "Cookie": f"wbplan_@PORT={KEYS.edit}"}, b""
        ),
    )
    assert state.startswith(b"HTTP/1.1 200"), state[:1000]
    assert json.loads(state.partition(b"\r\n\r\n")[2])["version"] == server.session.version
    assert len(server.session.document.files[server.session.document.name]) <= MAX_YAML_BYTES
    return taken


def begin(folder: Path, patch: Patch) -> None:
    """Start a server that listens and is never asked that way, on a session of two setups."""
    decide, show = sessions.decide_one, sessions.show_plan

    def decide_few(scene: Any, number: int, views: Any) -> Any:
        chosen = int(digest_values(scene.setups[number])[:8], 16) % ONE_IN == 0
        return decide(scene, number, views) if chosen else None

    send = servers._Handler._send_json

    def send_and_tell(self: Any, said: object, status: Any = HTTPStatus.OK) -> None:
        if status == HTTPStatus.INTERNAL_SERVER_ERROR:
            lines = traceback.extract_tb(sys.exc_info()[2])
            last = [each for each in lines if "/wbplan/" in each.filename][-1]
            where = f"{Path(last.filename).name}:{last.lineno}"
            TROUBLES.append(f"{where}: {sys.exc_info()[1]!r}")
        send(self, said, status)

    patch(servers._Handler, "_send_json", send_and_tell)
    patch(sessions, "decide_one", decide_few)
    patch(sessions, "show_plan", lambda made: {} if made is None else show(made))
    keep_shipped_cameras(patch, reader)
    lay_out(FILES, folder)
    session = Session(read_document(folder / "s.yaml"))
    server = Server(session, keys=KEYS)
    server.server_close()  # nothing comes by the socket
    SERVERS[:] = [(server, {**session.__dict__})]


TARGET: Final = Target("server", make_visit, visit, begin)
