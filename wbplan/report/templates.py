"""Templates beside the code, loaded into the one environment that all pages share.

Text from scenarios and spectrum files is not trusted: what reaches a page is cleaned of control
characters and escaped here, whatever page it is.
"""

from __future__ import annotations

from importlib.resources import files

from jinja2 import Environment, FunctionLoader, StrictUndefined, Template

from wbplan.report.words import clean_text


def make_environment() -> Environment:
    """Make the environment that loads templates of this folder by their file names.

    Pages that are rendered together share one, since a part that both take is compiled once in it.
    """
    return Environment(
        loader=FunctionLoader(_read_template),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=_clean,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )


def load_template(name: str) -> Template:
    """Load one template of this folder."""
    return make_environment().get_template(name)


def _read_template(name: str) -> str:
    return files("wbplan.report").joinpath(name).read_text(encoding="utf-8")


def _clean(value: object) -> object:
    """Clean each text on its way into the page; markup of our own passes."""
    return clean_text(value) if type(value) is str else value
