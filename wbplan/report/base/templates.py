"""Templates beside the code, loaded into the one environment that all pages share.

Text from scenarios and spectrum files is not trusted: what reaches a page is cleaned of control
characters and escaped here, whatever page it is.

Templates take longer to compile than pages to render. What they compile to is kept as Python keeps
that of modules: in a folder ``__pycache__`` beside them or where ``PYTHONPYCACHEPREFIX`` says, if
it can be written and Python keeps any.
"""

from __future__ import annotations

import contextlib
import os
import re
import sys
from functools import cache
from importlib.resources import files
from importlib.util import cache_from_source
from pathlib import Path

import jinja2
from jinja2 import BytecodeCache, Environment, FunctionLoader, StrictUndefined, Template
from jinja2.bccache import Bucket
from markupsafe import Markup

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
# A tag, or a word that offers no place to break.
_WORD = re.compile(f"<[^>]*>|(?:&[#\\w]+;|[^\\s<&-]){{{_LONGEST_WORD},}}")
_DIGEST = re.compile("[0-9a-f]{64}")


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
    environment.globals |= {
        "words": words,
        "name_t_stop": name_t_stop,
        "name_tint": name_tint,
        "deference": DEFERENCE,
    }
    return environment


def load_template(name: str) -> Template:
    """Load one template of this folder."""
    return make_environment().get_template(name)


def break_words(page: str) -> Markup:
    """Let the words of a page break that are too long for a column of a table, or for paper.

    A name without a space would make its column as wide as it is, and a printed table has no bar
    to move it by. `<wbr>` shows nothing and is not copied. Figures and digests stay.
    """
    return Markup("").join(
        Markup(part if part.startswith("<svg") else _WORD.sub(_break_word, part))
        for part in _FIGURE.split(page)
    )


def _break_word(found: re.Match[str]) -> str:
    tag, word = found[0].startswith("<"), found[0]
    if tag or _DIGEST.fullmatch(word):
        return word
    letters = _LETTER.findall(word)
    pieces = ("".join(letters[row : row + _PIECE]) for row in range(0, len(letters), _PIECE))
    return "<wbr>".join(pieces)


def _read_template(name: str) -> str:
    return files("wbplan.report").joinpath(name).read_text(encoding="utf-8")


def _clean(value: object) -> object:
    """Clean each text on its way into the page; markup of our own passes."""
    return clean_text(value) if type(value) is str else value
