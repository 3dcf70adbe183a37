"""What an editor says of scenario files, asked of a language server for YAML.

    python -m tests.bench.editor_trial node .../yaml-language-server --stdio

Takes the command that runs the server (npm package ``yaml-language-server``). Everything that ships
and every scenario of the guide has to be without a remark, every spoilt one has to get one, and
fields have to be offered where a person types. Ends with 1 where that is not so.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from tests.read.test_schema import SPOILT, list_texts
from wbplan.read.schema import format_schema, modeline, name_schema_file

_PATIENCE_S = 30.0
BEGUN = """wbplan: 1
title: Room
camera: cfa-mid
sources:
  window: {daylight_kelvin: 6000}
  lamp:
    lamp: A
    |LIGHT
setups:
  - name: Wide
    |SETUP
    shooting:
      fps: 24
      shutter_angle_deg: 180
      |SHOOTING
    positions:
      face:
        lux: {window: 110, lamp: 40}
        |POSITION
|ROOT
"""
OFFERED = {
    "ROOT": ["site", "meter", "kit", "day", "shooting_order"],
    "LIGHT": ["filter", "on", "flicker", "is_a"],
    "SETUP": ["key", "like", "readings", "advise", "luts", "layout"],
    "SHOOTING": ["ei", "t_stop", "nd_stops"],
    "POSITION": ["intent", "weight", "within"],
}


class Editor:
    """A language server that is talked to as an editor does (LSP 3.17, over its input)."""

    def __init__(self, command: list[str], folder: Path) -> None:
        self._process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE)
        self._folder, self._number = folder, 0
        self.told: dict[str, list[dict[str, Any]]] = {}
        self._ask("initialize", {"processId": None, "rootUri": folder.as_uri(), "capabilities": {}})
        self._send({"method": "initialized", "params": {}})
        options = {"yaml": {"validate": True, "completion": True, "schemaStore": {"enable": False}}}
        self._send({"method": "workspace/didChangeConfiguration", "params": {"settings": options}})

    def close(self) -> None:
        self._process.kill()
        self._process.wait()

    def _send(self, said: dict[str, Any]) -> None:
        assert self._process.stdin is not None
        data = json.dumps({"jsonrpc": "2.0", **said}).encode()
        self._process.stdin.write(b"Content-Length: %d\r\n\r\n%s" % (len(data), data))
        self._process.stdin.flush()

    def _hear(self) -> dict[str, Any]:
        assert self._process.stdout is not None
        length = 0
        while line := self._process.stdout.readline().strip():
            name, _, value = line.partition(b":")
            if name.lower() == b"content-length":
                length = int(value)
        said: dict[str, Any] = json.loads(self._process.stdout.read(length))
        if said.get("method") == "textDocument/publishDiagnostics":
            self.told[said["params"]["uri"]] = said["params"]["diagnostics"]
        elif "method" in said and "id" in said:  # it asks for settings and the like
            items = said.get("params", {}).get("items", [])
            self._send({"id": said["id"], "result": [None] * len(items) if items else None})
        return said

    def _ask(self, method: str, params: dict[str, Any]) -> Any:
        self._number += 1
        self._send({"id": self._number, "method": method, "params": params})
        while True:
            said = self._hear()
            if said.get("id") == self._number and "method" not in said:
                return said.get("result")

    def open(self, name: str, text: str) -> str:
        uri = (self._folder / name).as_uri()
        document = {"uri": uri, "languageId": "yaml", "version": 1, "text": text}
        self._send({"method": "textDocument/didOpen", "params": {"textDocument": document}})
        return uri

    def judge(self, name: str, text: str) -> list[str]:
        """List what it has to say of a text."""
        uri, until = self.open(name, text), time.monotonic() + _PATIENCE_S
        while uri not in self.told and time.monotonic() < until:
            self._hear()
        return [each["message"] for each in self.told[uri]]

    def complete(self, name: str, text: str, line: int, column: int) -> list[str]:
        """List what it offers at a place."""
        where = {"textDocument": {"uri": self.open(name, text)},
                 "position": {"line": line, "character": column}}  # fmt: skip
        found = self._ask("textDocument/completion", where)
        items = found["items"] if isinstance(found, dict) else found or []
        return [each["label"] for each in items]


def try_editor(editor: Editor) -> list[str]:
    """Try everything, and list what is not as it has to be."""
    wrong = []
    texts = list_texts("scenario")
    for number, text in enumerate(texts):
        said = editor.judge(f"good{number}.yaml", f"{modeline()}\n{text}")
        wrong += [f"of good text {number}: {each}" for each in said]
    spoilt = 0
    for number, text in enumerate(texts):
        for row, (old, new) in enumerate(SPOILT):
            if old not in text:
                continue
            spoilt += 1
            bad = f"{modeline()}\n{text.replace(old, new, 1)}"
            said = editor.judge(f"bad{number}-{row}.yaml", bad)
            wrong += [] if said else [f"nothing of text {number} with {new!r} for {old!r}"]
    offers = 0
    for place, names in OFFERED.items():
        lines = [each for each in BEGUN.splitlines() if "|" not in each or each.endswith(place)]
        line = next(row for row, each in enumerate(lines) if "|" in each)
        indent = lines[line].index("|")
        lines[line] = " " * indent
        text = "\n".join([modeline(), *lines, ""])
        offered = editor.complete(f"begun-{place}.yaml", text, line + 1, indent)
        offers += len(offered)
        wrong += [f"{name} is not offered at {place}" for name in names if name not in offered]
        strange = [each for each in offered if each in ("object", "item")]
        wrong += [f"{each} is offered at {place}" for each in strange]
    print(f"{len(texts)} good texts, {spoilt} spoilt ones, {offers} fields offered")
    return wrong


def main() -> None:
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        (folder / name_schema_file("scenario")).write_text(format_schema("scenario"))
        editor = Editor(sys.argv[1:], folder)
        try:
            wrong = try_editor(editor)
        finally:
            editor.close()
    print("\n".join(wrong))
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
