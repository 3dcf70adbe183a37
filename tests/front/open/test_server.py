"""The server: who is served, who is refused, and that nothing else of the disk can be had.

What it has to hold against: requests of other pages (Fetch Metadata, W3C Working Draft;
RFC 6454, Origin), names that are made to point here (DNS rebinding), and files outside.
"""

from __future__ import annotations

import http.client
import json
import shutil
import threading
from collections.abc import Iterator
from typing import Any

import pytest

from wbplan.front.open.server import MOST_JSON, Server
from wbplan.front.open.session import Session, read_document
from wbplan.read.catalogue import list_shipped

WORKSHOP = list_shipped("scenarios")["dusk_workshop"]
LUX = {"do": "lux", "setup": 0, "position": "potter's face", "light": "old tubes"}


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    folder = tmp_path_factory.mktemp("served")
    for each in ("dusk_workshop.yaml", "workshop_panel.csv"):
        shutil.copy(WORKSHOP.parent / each, folder / each)
    (folder / "secret.txt").write_text("secret")
    made = Server(Session(read_document(folder / "dusk_workshop.yaml")))
    thread = threading.Thread(target=made.serve_forever, args=(0.02,))
    thread.start()
    yield made
    made.shutdown()
    thread.join()
    made.server_close()


class Asker:
    """A browser's manners, each of which a test can leave out."""

    def __init__(self, server: Server, role: str = "edit") -> None:
        self.server = server
        self.base = {
            "Host": f"127.0.0.1:{server.port}",
            "Cookie": f"wbplan_{server.port}={getattr(server.keys, role)}",
            "Sec-Fetch-Site": "same-origin",
            "Content-Type": "application/json",
        }

    def ask(
        self, method: str, path: str, body: Any = None, **more: str | None
    ) -> tuple[int, dict[str, str], bytes]:
        heads = {**self.base, **{name.replace("_", "-"): value for name, value in more.items()}}
        data = body if isinstance(body, bytes | None) else json.dumps(body).encode()
        link = http.client.HTTPConnection("127.0.0.1", self.server.port, timeout=20)
        link.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
        for name, value in heads.items():
            if value is not None:
                link.putheader(name, value)
        if data is not None:
            link.putheader("Content-Length", heads.get("Content-Length") or str(len(data)))
        link.endheaders(data)
        answer = link.getresponse()
        said = answer.status, dict(answer.getheaders()), answer.read()
        link.close()
        return said

    def edit(self, lux: float, **more: str | None) -> tuple[int, dict[str, str], bytes]:
        body = {"version": self.server.session.version, "edit": {**LUX, "lux": lux}}
        return self.ask("POST", "/edit", body, **more)


def test_the_printed_address_becomes_a_cookie_and_leaves_no_secret(server: Server) -> None:
    asker = Asker(server)
    path = server.make_url().partition(str(server.port))[2]
    status, heads, _ = asker.ask("GET", path, Cookie=None)
    assert status == 303
    assert heads["Location"] == "/"
    assert "HttpOnly" in heads["Set-Cookie"]
    assert "SameSite=Strict" in heads["Set-Cookie"]
    assert f"wbplan_{server.port}={server.keys.edit}" in heads["Set-Cookie"]
    assert asker.ask("GET", "/?key=wrong", Cookie=None)[0] == 403
    assert asker.ask("GET", "/")[0] == 200
    assert len(server.keys.edit) >= 32
    assert server.keys.edit != server.keys.view


@pytest.mark.parametrize("path", ["/", "/state", "/goes", "/choices", "/main.js", "/plan/a.html"])
def test_nothing_is_read_without_the_secret_or_by_another_name(server: Server, path: str) -> None:
    asker = Asker(server)
    for cookie in (None, "wbplan_1=x", f"wbplan_{server.port}=x", f"wbplan_{server.port}=\u00e9"):
        if cookie is None or cookie.isascii():
            assert asker.ask("GET", path, Cookie=cookie)[0] == 403
    for host in (
        "evil.example",
        f"evil.example:{server.port}",
        "127.0.0.1",
        "localhost:1",
        None,
        "",
    ):
        status, _, body = asker.ask("GET", path, Host=host)
        assert status in (400, 421), host
        assert b"secret" not in body


@pytest.mark.parametrize(
    "heads",
    [
        {"Sec_Fetch_Site": "same-site"},  # another port of this machine, which has the cookie too
        {"Sec_Fetch_Site": "cross-site"},
        {"Sec_Fetch_Site": None, "Origin": "http://evil.example"},
        {"Sec_Fetch_Site": None, "Origin": "null"},
        {"Sec_Fetch_Site": None, "Origin": "http://127.0.0.1:1"},
        {"Sec_Fetch_Site": None},
        {"Cookie": None},
        {"Content_Type": "text/plain"},  # which a form may send
        {"Content_Type": None},
        {"Content_Length": "-1"},
        {"Content_Length": str(MOST_JSON + 1)},
        {"Transfer_Encoding": "chunked"},
    ],
)
def test_a_change_that_another_page_could_ask_for_is_refused(
    server: Server, heads: dict[str, str | None]
) -> None:
    before = server.session.version
    assert Asker(server).edit(11, **heads)[0] in (403, 411, 413, 415)
    assert server.session.version == before


def test_its_own_page_may_change_things_and_is_told_the_rest(server: Server) -> None:
    status, heads, body = Asker(server).edit(61)
    assert status == 200
    said = json.loads(body)
    assert said["setups"][0]["positions"][0]["lux"]["old tubes"] == {"now": "61", "kept": "60"}
    assert said["may_edit"] is True
    assert heads["Content-Security-Policy"].startswith("default-src 'none'")
    assert heads["X-Content-Type-Options"] == "nosniff"
    assert heads["Cache-Control"] == "no-store"
    origin = f"http://127.0.0.1:{server.port}"
    assert Asker(server).edit(60, Sec_Fetch_Site=None, Origin=origin)[0] == 200


def test_what_goes_is_told_without_a_change(server: Server) -> None:
    path, before = (
        "/goes?setup=1&kind=position&name=hands%20at%20the%20wheel",
        server.session.version,
    )
    status, _, body = Asker(server).ask("GET", path)
    assert (status, server.session.version) == (200, before)
    assert "it is the key" in str(json.loads(body)["goes"])
    for bad in ("kind=position&name=x", "kind=setup&name=0", "kind=light", "setup=9&kind=light"):
        assert Asker(server).ask("GET", f"/goes?{bad}")[0] == 422
    assert Asker(server).ask("GET", "/goes?setup=x")[0] == 400


def test_who_may_look_may_not_change(server: Server) -> None:
    viewer, before = Asker(server, "view"), server.session.version
    status, _, body = viewer.ask("GET", "/state")
    assert status == 200
    assert json.loads(body)["may_edit"] is False
    for path in (
        "/edit",
        "/undo",
        "/redo",
        "/keep",
        "/reload",
        "/plan",
        "/drop?version=1&name=a.csv",
    ):
        status, _, body = viewer.ask("POST", path, {"version": before})
        assert status == 403, path
        assert b"only shows" in body
    assert server.session.version == before


@pytest.mark.parametrize(
    "path",
    [
        *("/secret.txt", "/../secret.txt", "/..%2fsecret.txt", "/plan/..%2fsecret.txt"),
        *(
            "/plan/../secret.txt",
            "/dusk_workshop.yaml",
            "/page.css/..",
            "//etc/passwd",
            "/server.py",
        ),
        *("/plan/%00", "/plan/plan.json", "/index.html", "/.well-known/x", "/state/"),
    ],
)
def test_no_path_reaches_the_disk(server: Server, path: str) -> None:
    status, _, body = Asker(server).ask("GET", path)
    assert status in (404, 422)
    assert b"root:" not in body
    assert body != b"secret"


@pytest.mark.parametrize(
    ("path", "body", "status"),
    [
        ("/edit", b"{", 400),
        ("/edit", b"[]", 400),
        ("/edit", b"[" * 90_000, 400),
        ("/edit", {"version": 1e99}, 400),
        ("/edit", {"version": None}, 400),
        ("/edit", {"version": "now", "edit": {}}, 400),
        ("/edit", {"version": -1, "edit": LUX}, 409),
        ("/edit", {"version": 0, "edit": [], "group": 3}, 400),
        ("/nowhere", {"version": 1}, 404),
        ("/keep", {"version": 0}, 409),
    ],
)
def test_what_is_no_request_is_answered_and_changes_nothing(
    server: Server, path: str, body: Any, status: int
) -> None:
    before = server.session.document
    assert Asker(server).ask("POST", path, body)[0] == status
    assert server.session.document is before


def test_refusals_say_what_was_found_and_what_is_allowed(server: Server) -> None:
    status, _, body = Asker(server).edit(-5)
    said = json.loads(body)
    assert status == 422
    assert said["found"] == "-5"
    assert "from 0" in said["allowed"]


@pytest.mark.parametrize(
    ("method", "path", "body", "heads", "status"),
    [
        ("GET", "http://[::1", None, {}, 400),
        ("GET", "/state?" + "a=b&" * 100, None, {}, 400),
        ("POST", "/undo", b'{"version": 1e999}', {}, 400),
        ("POST", "/undo", b"{}", {"Content_Length": "9" * 5000}, 413),
        ("POST", "/edit", {**LUX, "lux": 10**400}, {}, 422),
        ("POST", "/edit", {"do": "level", "light": "old tubes", "stops": 1e308}, {}, 422),
        (
            "POST",
            "/edit",
            {
                "do": "intent",
                "position": "potter's face",
                "intent": {"warm_mired": 10**400},
            },
            {},
            422,
        ),
        ("PUT", "/state", None, {}, 405),
        ("HEAD", "/state", None, {}, 405),
    ],
    ids=["address", "fields", "version", "length", "number", "stops", "intent", "put", "head"],
)
def test_what_fuzzers_found_is_refused(
    server: Server, method: str, path: str, body: Any, heads: dict[str, str], status: int
) -> None:
    before = server.session.version
    edit = {"version": before, "edit": body} if isinstance(body, dict) else body
    found, more, said = Asker(server).ask(method, path, edit, **heads)
    assert found == status
    assert more["X-Content-Type-Options"] == "nosniff"
    assert method == "HEAD" or json.loads(said)["trouble"]
    assert server.session.version == before


def test_who_comes_late_is_told_and_shown_what_stands(server: Server) -> None:
    asker = Asker(server)
    late = server.session.version
    assert asker.edit(62)[0] == 200
    status, _, body = asker.ask("POST", "/edit", {"version": late, "edit": {**LUX, "lux": 1}})
    said = json.loads(body)
    assert status == 409
    assert "somebody else" in said["trouble"]
    assert said["setups"][0]["positions"][0]["lux"]["old tubes"]["now"] == "62"
    assert json.loads(asker.ask("GET", f"/state?since={server.session.version}")[2])["same"]


def test_files_that_are_dropped_are_bounded_and_read_with_care(server: Server) -> None:
    asker, kind = Asker(server), "application/octet-stream"
    path = f"/drop?version={server.session.version}&setup=0&name="
    before = server.session.version
    assert (
        asker.ask("POST", f"{path}a.csv", b"x", Content_Length="20000001", Content_Type=kind)[0]
        == 413
    )
    entity = b"<!DOCTYPE a [<!ENTITY b 'c'>]><a>&b;</a>"
    bad = {"a.csv": b"\x89PNG\r\n\x1a\n", "a.xml": entity, "a.exe": b"MZ", "": b""}
    for name, data in bad.items():
        status, _, body = asker.ask("POST", path + name, data, Content_Type=kind)
        assert status == 422, name
        assert json.loads(body)["allowed"]
    assert server.session.version == before


def test_many_requests_go_through_one_connection(server: Server) -> None:
    asker = Asker(server)
    link = http.client.HTTPConnection("127.0.0.1", server.port, timeout=20)
    for _ in range(3):
        link.request("GET", "/state", headers=asker.base)
        answer = link.getresponse()
        assert answer.version == 11
        assert json.loads(answer.read())["title"]
    assert link.sock is not None
    link.close()
