"""`wbplan open`: a scenario in the browser."""

from __future__ import annotations

import argparse
import contextlib
import sys
import threading
from typing import Any

from wbplan.core.errors import InputError, Place


def add_open_command(commands: Any) -> None:
    """Add the parser of the command that opens a scenario in the browser."""
    opens = commands.add_parser(
        "open",
        help="open a scenario in the browser: change a reading, see the decision",
        description="Open a scenario in the browser, served from this machine alone. Lights stand "
        "in rows, positions in columns; every change shows its decision, and is a what-if until it "
        "is saved. A folder opens the scenario in it, or begins one from its readings; nothing "
        "means the working directory.",
    )
    opens.add_argument(
        "scenario", metavar="SCENARIO", nargs="?", help="a scenario, a shipped one, or a folder"
    )
    opens.add_argument(
        "--share",
        nargs="?",
        const="view",
        choices=("view", "edit"),
        metavar="edit",
        help="also serve the local network, at an address with a secret, printed as a QR code: to "
        "look, or with --share=edit to change things",
    )
    opens.add_argument(
        "--port", type=int, default=0, metavar="N", help="port to serve at (default: a free one)"
    )
    opens.add_argument(
        "--no-browser", action="store_true", help="print the address and open no browser"
    )
    opens.set_defaults(run=_run_open)


def _run_open(options: argparse.Namespace) -> None:
    from wbplan.core.progress import make_bar
    from wbplan.front.open.server import Server, find_own_address
    from wbplan.front.open.start import begin_session

    session = begin_session(options.scenario, make_bar())
    hosts = [find_own_address()] if options.share else []
    address = ("0.0.0.0" if options.share else "127.0.0.1", options.port)
    try:
        server = Server(session, address, hosts)
    except (OSError, OverflowError) as error:
        why = getattr(error, "strerror", None) or str(error)
        allowed = "a port that is free"
        raise InputError(f"{options.port} ({why})", allowed, Place(field="--port")) from None
    print(f"{session.path} is open at {server.make_url()}")
    if options.share:
        _print_shared(server.make_url(options.share == "edit", hosts[0]), options.share)
    print("Ctrl-C ends it; what was not saved is lost.", flush=True)
    if not options.no_browser:
        threading.Thread(target=_open_browser, args=(server.make_url(),), daemon=True).start()
    with server, contextlib.suppress(KeyboardInterrupt):
        server.serve_forever(poll_interval=0.05)
    if session.version > 1 and not session.show()["kept"]:
        print("wbplan: warning: ended with changes that were not saved", file=sys.stderr)


def _print_shared(url: str, role: str) -> None:
    may = "look at it" if role == "view" else "look at it and change it"
    print(f"\nWhoever has this address, in this network, can {may}. It is not encrypted:\n{url}")
    try:
        import segno
    except ImportError:
        print('For a QR code of it: pip install "wbplan[share]"')
        return
    if sys.stdout.isatty():
        segno.make(url, error="l").terminal(compact=True)


def _open_browser(url: str) -> None:
    """Open a browser; in a thread, since one that runs in the terminal would hold us up."""
    import webbrowser

    with contextlib.suppress(webbrowser.Error, OSError):
        webbrowser.open(url)
