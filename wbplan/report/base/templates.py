"""Templates beside the code, loaded into the one environment that all pages share.

Text from scenarios and spectrum files is not trusted: what reaches a page is cleaned of control
characters and escaped here, whatever page it is.

Templates take longer to compile than pages to render. What they compile to is kept as Python keeps
that of modules: in a folder ``__pycache__`` beside them or where ``PYTHONPYCACHEPREFIX`` says, if
it can be written and Python keeps any.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
import sys
from base64 import b64encode
from collections.abc import Sequence
from functools import cache
from importlib.resources import files
from importlib.util import cache_from_source
from pathlib import Path

import jinja2
from jinja2 import BytecodeCache, Environment, FunctionLoader, StrictUndefined, Template
from jinja2.bccache import Bucket
from markupsafe import Markup, escape

from wbplan import __version__
from wbplan.core.names import clean_text
from wbplan.exposure.equation import name_t_stop
from wbplan.planning.casts import name_tint
from wbplan.report.base import words
from wbplan.scene.cautions import DEFERENCE

_LONGEST_WORD, _PIECE = 30, 10
_FIGURE = re.compile("(<svg.*?</svg>)", re.DOTALL)
# A letter as it stands in a page, an entity being one, with the marks that join it to the next.
_LETTER = re.compile(
    "(?:&[#\\w]+;|.)[\u0300-\u036f\u200d\ufe0f\U0001f3fb-\U0001f3ff]*(?:(?<=\u200d).)*"
)
# A word that offers no place to break.
_WORD = re.compile(f"(?:&[#\\w]+;|[^\\s<&-]){{{_LONGEST_WORD},}}")
_DIGEST = re.compile("[0-9a-f]{64}")
_TAG = re.compile("(<[^>]*>)")
_HEAD = re.compile("<th[^>]*>(.*?)</th>", re.DOTALL)
_CELL = re.compile(r"<(?P<row>tr)\b|<(?P<cell>t[dh])\b(?P<more>[^>]*)>")


class _CompiledBeside(BytecodeCache):
    """What templates compile to, where Python keeps that of the modules beside them."""

    def get_source_checksum(self, source: str) -> str:
        """Tell apart the same source under another version of Jinja or of what cleans text."""
        return super().get_source_checksum(f"{jinja2.__version__} {__version__} {source}")

    def load_bytecode(self, bucket: Bucket) -> None:
        """Load a template's code if it is kept and is of this source."""
        with contextlib.suppress(OSError), _find_compiled(bucket.key).open("rb") as stream:
            bucket.load_bytecode(stream)

    def dump_bytecode(self, bucket: Bucket) -> None:
        """Keep a template's code, whole or not at all."""
        if sys.dont_write_bytecode:
            return
        path = _find_compiled(bucket.key)
        part = path.with_name(f"{path.name}.{os.getpid()}")
        with contextlib.suppress(OSError):
            path.parent.mkdir(parents=True, exist_ok=True)
            part.write_bytes(bucket.bytecode_to_string())
            part.replace(path)

    def get_cache_key(self, name: str, filename: str | None = None) -> str:
        """A template is kept under its own name."""
        return name


def _find_compiled(name: str) -> Path:
    return Path(cache_from_source(str(files("wbplan.report").joinpath(name))))


@cache
def make_environment() -> Environment:
    """Make the environment that loads templates of this folder by their file names.

    One serves all pages, since what they share is compiled once in it.
    Every page and part can say figures by `words`, stops and tints, and to whom cautions defer.
    """
    environment = Environment(
        loader=FunctionLoader(_read_template),
        bytecode_cache=_CompiledBeside(),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=_clean,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    environment.filters["break_words"] = break_words
    environment.filters["label_cells"] = label_cells
    environment.filters["quote_style"] = quote_style
    script = _read_template("base/page.js")
    digest = b64encode(hashlib.sha256(script.encode("utf-8")).digest()).decode("ascii")
    environment.globals |= {
        "words": words,
        "name_t_stop": name_t_stop,
        "name_tint": name_tint,
        "deference": DEFERENCE,
        "page_script": Markup(script),
        "page_script_policy": Markup(f"script-src 'sha256-{digest}'; "),
    }
    return environment


def label_cells(rows: str, heads: str | Sequence[str]) -> Markup:
    """Name in each cell of a table's rows the column that it stands in, for narrow screens.

    There each row becomes a card, and what a cell says needs its head beside it.
    """
    named = [_TAG.sub("", each) for each in _HEAD.findall(heads)] if isinstance(heads, str) else [
        str(escape(each)) for each in heads
    ]  # fmt: skip
    column, held = 0, dict.fromkeys(range(len(named)), 0)

    def label(found: re.Match[str]) -> str:
        nonlocal column
        if found["row"]:
            column = 0
            return found[0]
        while held.get(column, 0):  # a cell of a row above reaches down here
            held[column] -= 1
            column += 1
        across, down = (
            int(span[1]) if (span := re.search(rf'{kind}="(\d+)"', found[0])) else 1
            for kind in ("colspan", "rowspan")
        )
        name = named[column] if column < len(named) else ""
        for each in range(column, column + across):
            held[each] = down - 1
        column += across
        said = f' data-label="{name}"' if name else ""
        return f"<{found['cell']}{found['more']}{said}>"

    return Markup(_CELL.sub(label, rows))


def load_template(name: str) -> Template:
    """Load one template of this folder."""
    return make_environment().get_template(name)


def break_words(page: str) -> Markup:
    """Let the words of a page break that are too long for a column of a table, or for paper.

    A name without a space would make its column as wide as it is, and a printed table has no bar
    to move it by. `<wbr>` shows nothing and is not copied. Figures and digests stay.
    """
    parts = _FIGURE.split(page)
    return Markup("".join(x if x.startswith("<svg") else _break_text(x) for x in parts))


def _break_text(part: str) -> str:
    return "".join(
        piece if _is_broken(piece) else _WORD.sub(_break_word, piece) for piece in _TAG.split(part)
    )


def _is_broken(piece: str) -> bool:
    """Tell a tag, and a text whose spaces alone leave no word too long."""
    is_short = len(piece) < _LONGEST_WORD or piece.startswith("<")
    return is_short or all(len(word) < _LONGEST_WORD for word in piece.split())


def quote_style(text: str) -> Markup:
    """Write a text as a string of a style sheet, each letter that is no plain one by its number."""
    plain = "".join(
        each if each.isascii() and (each.isalnum() or each == " ") else f"\\{ord(each):x} "
        for each in clean_text(text)
    )
    return Markup(f'"{plain}"')


def _break_word(found: re.Match[str]) -> str:
    word = found[0]
    if _DIGEST.fullmatch(word):
        return word
    letters = _LETTER.findall(word)
    pieces = ("".join(letters[row : row + _PIECE]) for row in range(0, len(letters), _PIECE))
    return "<wbr>".join(pieces)


def _read_template(name: str) -> str:
    return files("wbplan.report").joinpath(name).read_text(encoding="utf-8")


def _clean(value: object) -> object:
    """Clean each text on its way into the page; markup of our own passes."""
    return clean_text(value) if type(value) is str else value
