"""The server that a browser on this machine asks, made of the standard library.

Protection
----------
A page of any other site may send requests here, and a name that it owns may be made to point here.
So every request, reads too, must name a host that this server is called by; it must carry the
secret of the address that was printed, which the first visit turns into a cookie that no script
reads; and a change must come from this server's own page (Sec-Fetch-Site, else Origin). A cookie
alone would not do: browsers send it from other ports of this machine too. What is served are the
files of the page and what `Session` says; no path of a request ever reaches the disk.

HTTP/1.1 with whole answers and no Nagle, since a request on a kept connection otherwise waits 40 ms
for an acknowledgement.
"""

from __future__ import annotations

import json
import os
import secrets
import socket
from collections.abc import Callable, Iterable
from http import HTTPStatus
from http.cookies import CookieError, SimpleCookie
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from importlib.resources import files
from typing import Any, Final, NamedTuple, cast
from urllib.parse import parse_qs, unquote, urlsplit

from wbplan.core.errors import InputError, OutputError, WbplanError, escape_unprintable
from wbplan.front.open.delivery import Delivered
from wbplan.front.open.session import ConflictError, Session
from wbplan.read.spectra.upright import MAX_TABLE_BYTES

MOST_JSON: Final = 100_000
_MOST_FIELDS: Final = 20
_MOST_DIGITS: Final = 12
_PATIENCE_S: Final = 30.0
_PAGE: Final = {
    "/": ("index.html", "text/html; charset=utf-8"),
    "/page.css": ("page.css", "text/css; charset=utf-8"),
    **{
        f"/{name}.js": (f"{name}.js", "text/javascript; charset=utf-8")
        for name in ("main", "server", "decision", "sheet", "naming", "parts")
    },
}
_ALWAYS: Final = {
    "Cache-Control": "no-store",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Resource-Policy": "same-origin",
    "X-Frame-Options": "DENY",
}
_PAGE_POLICY: Final = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
    "connect-src 'self'; frame-ancestors 'none'; base-uri 'none'; form-action 'none'"
)
_DATA_POLICY: Final = "default-src 'none'; frame-ancestors 'none'"


class RefusedError(Exception):
    """A request that is not served: status and reason."""

    def __init__(self, status: HTTPStatus, reason: str) -> None:
        super().__init__(reason)
        self.status = status


class Secrets(NamedTuple):
    """The secret of who may change things, and of who may only look."""

    edit: str
    view: str


def make_secrets() -> Secrets:
    """Make secrets that nobody guesses."""
    return Secrets(secrets.token_urlsafe(24), secrets.token_urlsafe(24))


class Server(ThreadingHTTPServer):
    """Serves one session.

    Parameters
    ----------
    session
        What is worked on.
    address
        Where to listen; port 0 takes a free one.
    hosts
        What else than this machine's own names it may be called by, without the port.
    keys
        The secrets; new ones if not given.
    """

    allow_reuse_address = os.name != "nt"  # there it would let two servers share a port
    daemon_threads = True
    request_queue_size = 32

    def __init__(
        self,
        session: Session,
        address: tuple[str, int] = ("127.0.0.1", 0),
        hosts: Iterable[str] = (),
        keys: Secrets | None = None,
    ) -> None:
        super().__init__(address, _Handler)
        self.session = session
        self.delivered = Delivered(session)
        self.keys = keys or make_secrets()
        names = ("127.0.0.1", "localhost", "[::1]", *hosts)
        self.hosts = frozenset(f"{name}:{self.port}" for name in names)

    @property
    def port(self) -> int:
        """The port that it listens at."""
        return int(self.server_address[1])

    def make_url(self, may_edit: bool = True, host: str = "127.0.0.1") -> str:
        """Make the address, with its secret, that a browser is opened at."""
        key = self.keys.edit if may_edit else self.keys.view
        return f"http://{host}:{self.port}/?key={key}"

    def handle_error(self, request: Any, client_address: Any) -> None:
        """Say nothing of a browser that went away in the middle of a request."""


class _Handler(BaseHTTPRequestHandler):
    protocol_version = "HTTP/1.1"
    default_request_version = "HTTP/1.0"  # every answer has a head, as those of 0.9 had not
    server_version, sys_version = "wbplan", ""
    wbufsize = -1
    disable_nagle_algorithm = True
    timeout = _PATIENCE_S

    @property
    def _home(self) -> Server:
        return cast(Server, self.server)

    def log_message(self, format: str, *args: Any) -> None:
        """Keep quiet: the terminal shows the address, and it has a secret in it."""

    def send_error(self, code: int, message: str | None = None, explain: str | None = None) -> None:
        """Answer what is no request of ours as every refusal is answered."""
        self.close_connection = True
        unknown = code == HTTPStatus.NOT_IMPLEMENTED  # a method, which 405 is for (RFC 9110, 9.1)
        status = HTTPStatus.METHOD_NOT_ALLOWED if unknown else HTTPStatus(code)
        if status >= 500:  # a version of HTTP that is none
            status = HTTPStatus.BAD_REQUEST
        self._send_json({"trouble": escape_unprintable(message or status.phrase)}, status)

    def do_GET(self) -> None:
        self._answer(self._get)

    def do_POST(self) -> None:
        self._answer(self._post)

    def _answer(self, serve: Callable[[str, dict[str, list[str]]], None]) -> None:
        try:
            if self.headers.get("Host", "") not in self._home.hosts:
                raise RefusedError(HTTPStatus.MISDIRECTED_REQUEST, "not a name of this server")
            try:
                parts = urlsplit(self.path)
                query = parse_qs(parts.query, max_num_fields=_MOST_FIELDS)
            except ValueError:
                raise RefusedError(HTTPStatus.BAD_REQUEST, "no address of a page") from None
            serve(parts.path, query)
        except RefusedError as refusal:
            self.close_connection = True  # a body may lie there unread
            self._send_json({"trouble": str(refusal)}, refusal.status)
        except ConflictError as conflict:
            state = self._show()
            self._send_json({**state, "trouble": str(conflict)}, HTTPStatus.CONFLICT)
        except InputError as error:
            said = {"trouble": escape_unprintable(str(error)), "found": error.found,
                    "allowed": error.allowed, "field": error.place.field}  # fmt: skip
            self._send_json(said, HTTPStatus.UNPROCESSABLE_ENTITY)
        except (OutputError, WbplanError) as error:
            self._send_json(
                {"trouble": escape_unprintable(str(error))}, HTTPStatus.UNPROCESSABLE_ENTITY
            )
        except (BrokenPipeError, ConnectionResetError, TimeoutError):
            self.close_connection = True
        except Exception:  # what nobody foresaw must not leave the browser waiting
            self.close_connection = True
            trouble = {"trouble": "an error inside wbplan; nothing was changed"}
            self._send_json(trouble, HTTPStatus.INTERNAL_SERVER_ERROR)

    # Who asks.

    def _find_role(self) -> str:
        """Find what the secret that came along allows: "edit", "view" or nothing."""
        try:
            jar = SimpleCookie(self.headers.get("Cookie", ""))
        except CookieError:
            return ""
        morsel = jar.get(self._cookie)
        return "" if morsel is None else self._match_key(morsel.value)

    def _match_key(self, said: str) -> str:
        for role, key in self._home.keys._asdict().items():
            if secrets.compare_digest(said.encode(), key.encode()):
                return role
        return ""

    @property
    def _cookie(self) -> str:
        return f"wbplan_{self._home.port}"  # cookies are shared by all ports of a machine

    def _check_origin(self) -> None:
        site = self.headers.get("Sec-Fetch-Site")
        origin = self.headers.get("Origin")
        if site is not None:
            is_own = site in ("same-origin", "none")
        else:
            is_own = origin == f"http://{self.headers['Host']}"
        if not is_own:
            raise RefusedError(HTTPStatus.FORBIDDEN, "a request of another page")

    # What is asked.

    def _get(self, path: str, query: dict[str, list[str]]) -> None:
        key = query.get("key", [""])[0]
        if path == "/" and key:
            if not self._match_key(key):
                raise RefusedError(
                    HTTPStatus.FORBIDDEN, "this address is of another run; open the new one"
                )
            self._redirect(key)
            return
        role = self._find_role()
        if not role:
            raise RefusedError(HTTPStatus.FORBIDDEN, "open the address that wbplan printed")
        if path in _PAGE:
            name, kind = _PAGE[path]
            data = files("wbplan.front.open").joinpath("page", name).read_bytes()
            self._send(data, kind, policy=_PAGE_POLICY)
        elif path == "/state":
            since = query.get("since", [""])[0]
            session = self._home.session
            stale = session.is_stale()
            if since == f"{session.version}{'*' if stale else ''}":
                self._send_json({"version": session.version, "same": True})
            else:
                self._send_json({**self._show(role), "stale": stale})
        elif path == "/choices":
            from wbplan.front.open.choices import list_choices

            self._send_json(list_choices())
        elif path == "/goes":
            said = {name: values[0] for name, values in query.items()}
            setup, kind = _take_whole(said.get("setup", "0")), said.get("kind", "")
            goes = self._home.session.tell_what_goes(setup, kind, said.get("name", ""))
            self._send_json({"goes": goes})
        elif path.startswith("/plan/"):
            data, kind = self._home.delivered.read(unquote(path.removeprefix("/plan/")))
            self._send(data, kind, policy=None)
        else:
            raise RefusedError(HTTPStatus.NOT_FOUND, "no such page")

    def _post(self, path: str, query: dict[str, list[str]]) -> None:
        role = self._find_role()
        if role != "edit":
            raise RefusedError(
                HTTPStatus.FORBIDDEN, "this address only shows" if role else "no secret"
            )
        self._check_origin()
        session = self._home.session
        if path == "/drop":
            body = self._read_body(MAX_TABLE_BYTES, "application/octet-stream")
            said = {name: values[0] for name, values in query.items()}
            remarks = session.drop(
                _take_whole(said.get("version")),
                said.get("name", ""),
                body,
                _take_whole(said.get("setup", "0")),
                said.get("place", ""),
            )
            self._send_json({**self._show(role), "remarks": remarks})
            return
        asked = self._read_json()
        version = _take_whole(asked.get("version"))
        if path == "/edit":
            edit, group = asked.get("edit"), asked.get("group", "")
            if not isinstance(edit, dict) or not isinstance(group, str):
                raise RefusedError(HTTPStatus.BAD_REQUEST, "no edit")
            session.edit(version, edit, group)
        elif path in ("/undo", "/redo"):
            session.move(version, -1 if path == "/undo" else 1)
        elif path == "/keep":
            session.keep(version, asked.get("over") is True)
        elif path == "/reload":
            session.reload(version)
        elif path == "/plan":
            self._send_json(self._home.delivered.make(version, asked.get("over") is True))
            return
        else:
            raise RefusedError(HTTPStatus.NOT_FOUND, "no such request")
        self._send_json(self._show(role))

    def _show(self, role: str = "") -> dict[str, Any]:
        return {**self._home.session.show(), "may_edit": (role or self._find_role()) == "edit"}

    # Bodies and answers.

    def _read_body(self, most: int, kind: str) -> bytes:
        said = self.headers.get("Content-Type", "").partition(";")[0].strip()
        if said != kind:  # a kind that another page may not send without asking first
            raise RefusedError(HTTPStatus.UNSUPPORTED_MEDIA_TYPE, f"not {kind}")
        length = self.headers.get("Content-Length", "")
        if not (length.isascii() and length.isdecimal()) or "Transfer-Encoding" in self.headers:
            raise RefusedError(HTTPStatus.LENGTH_REQUIRED, "a request without its length")
        if len(length) > _MOST_DIGITS or int(length) > most:
            found = f"{float(length[:_MOST_DIGITS]) / 1e6:.1f} MB or more"
            allowed = f"at most {most / 1e6:g} MB"
            raise RefusedError(HTTPStatus.REQUEST_ENTITY_TOO_LARGE, f"{found}; {allowed}")
        body = self.rfile.read(int(length))
        if len(body) != int(length):
            raise RefusedError(HTTPStatus.BAD_REQUEST, "a request that was cut off")
        return body

    def _read_json(self) -> dict[str, Any]:
        try:
            said = json.loads(self._read_body(MOST_JSON, "application/json"))
        except (ValueError, RecursionError):
            raise RefusedError(HTTPStatus.BAD_REQUEST, "no JSON") from None
        if not isinstance(said, dict):
            raise RefusedError(HTTPStatus.BAD_REQUEST, "no JSON object")
        return said

    def _send_json(self, said: object, status: HTTPStatus = HTTPStatus.OK) -> None:
        data = json.dumps(said, ensure_ascii=False, allow_nan=False).encode("utf-8")
        self._send(data, "application/json; charset=utf-8", status)

    def _send(
        self,
        data: bytes,
        kind: str,
        status: HTTPStatus = HTTPStatus.OK,
        policy: str | None = _DATA_POLICY,
    ) -> None:
        self.send_response(status)
        for name, value in _ALWAYS.items():
            self.send_header(name, value)
        if policy is not None:  # a page of the plan states its own
            self.send_header("Content-Security-Policy", policy)
        self.send_header("Content-Type", kind)
        self.send_header("Content-Length", str(len(data)))
        if status == HTTPStatus.METHOD_NOT_ALLOWED:
            self.send_header("Allow", "GET, POST")
        if self.close_connection:
            self.send_header("Connection", "close")
        self.end_headers()
        if self.command != "HEAD":
            self.wfile.write(data)
        self.wfile.flush()

    def _redirect(self, key: str) -> None:
        """Turn the secret of the address into a cookie, so that it stays in no history."""
        self.send_response(HTTPStatus.SEE_OTHER)
        for name, value in _ALWAYS.items():
            self.send_header(name, value)
        self.send_header(
            "Set-Cookie", f"{self._cookie}={key}; Path=/; HttpOnly; SameSite=Strict; Max-Age=86400"
        )
        self.send_header("Location", "/")
        self.send_header("Content-Length", "0")
        self.end_headers()
        self.wfile.flush()


def _take_whole(said: object) -> int:
    try:
        return int(cast(Any, said))
    except (TypeError, ValueError, OverflowError):
        raise RefusedError(HTTPStatus.BAD_REQUEST, "no number of a version or setup") from None


def find_own_address() -> str:
    """Find this machine's address in the local network, without sending anything.

    Raises
    ------
    InputError
        Where there is no network.
    """
    try:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
            probe.connect(("192.0.2.1", 9))  # RFC 5737: an address that nobody has
            return str(probe.getsockname()[0])
    except OSError:
        raise InputError("no network", "--share in a local network") from None
