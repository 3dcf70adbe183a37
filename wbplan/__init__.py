"""Plan camera colour and exposure from measured light.

Values: a `Spectrum`, a `Camera`, a `Scene` (from a scenario file, a mapping in its format, or the
record of a plan: `read_scene`), a `Plan`. `plan` and `plan_day` decide a scene, `describe` says
everything about lights, `solve_settings` gives thousands of lights the Kelvin and tint that a
camera wants, `learn` makes a camera of chart frames, `verify` says what came out on a frame against
its plan, `make_lut` and `solve_exposure` answer without
a scene, `compare` says what changed between two plans. Whatever comes out, `make_files` gives it as
files and `write` writes them. A call that can take over two seconds tells its ``progress`` the
share that is done. In a notebook a spectrum, described lights and a plan show themselves.

``__all__`` is the whole of it; anything else may move. Names are brought in when they are first
used, so that the command line starts at once.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from wbplan.camera.sensitivities import Camera
    from wbplan.core.errors import InputError, OutputError, WbplanError
    from wbplan.front.cameras import find_camera, learn, solve_settings
    from wbplan.front.catalogue import list_known, read_schema
    from wbplan.front.comparisons import compare
    from wbplan.front.days import plan_day
    from wbplan.front.drafts import draft_scenario
    from wbplan.front.exposures import find_nd_packs, find_safe_shutters, solve_exposure
    from wbplan.front.files import make_files, write
    from wbplan.front.lights import describe, find_light, read_spectra
    from wbplan.front.luts import apply_lut, make_lut
    from wbplan.front.plans import plan
    from wbplan.front.scenes import read_scene
    from wbplan.front.verify import verify
    from wbplan.light.spectrum import Spectrum
    from wbplan.planning.decisions import Plan
    from wbplan.read.scenario.reader import Scene

__version__ = "0.1.0"

_HOMES = {
    "Camera": "camera.sensitivities",
    "InputError": "core.errors",
    "OutputError": "core.errors",
    "Plan": "planning.decisions",
    "Scene": "read.scenario.reader",
    "Spectrum": "light.spectrum",
    "WbplanError": "core.errors",
    "apply_lut": "front.luts",
    "compare": "front.comparisons",
    "deliver": "front.delivery",
    "describe": "front.lights",
    "draft_scenario": "front.drafts",
    "find_camera": "front.cameras",
    "find_light": "front.lights",
    "find_nd_packs": "front.exposures",
    "find_safe_shutters": "front.exposures",
    "learn": "front.cameras",
    "list_known": "front.catalogue",
    "make_files": "front.files",
    "make_lut": "front.luts",
    "plan": "front.plans",
    "plan_day": "front.days",
    "read_scene": "front.scenes",
    "read_schema": "front.catalogue",
    "read_spectra": "front.lights",
    "solve_exposure": "front.exposures",
    "solve_settings": "front.cameras",
    "verify": "front.verify",
    "write": "front.files",
}
__all__ = [
    "Camera",
    "InputError",
    "OutputError",
    "Plan",
    "Scene",
    "Spectrum",
    "WbplanError",
    "__version__",
    "apply_lut",
    "compare",
    "deliver",
    "describe",
    "draft_scenario",
    "find_camera",
    "find_light",
    "find_nd_packs",
    "find_safe_shutters",
    "learn",
    "list_known",
    "make_files",
    "make_lut",
    "plan",
    "plan_day",
    "read_scene",
    "read_schema",
    "read_spectra",
    "solve_exposure",
    "solve_settings",
    "verify",
    "write",
]


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module 'wbplan' has no attribute '{name}'")
    return getattr(import_module(f"wbplan.{_HOMES[name]}"), name)


def __dir__() -> list[str]:
    return sorted(__all__)


def _render_html(value: object) -> str:
    """Render a value for a notebook; how it gets here stands in `core.display`."""
    from wbplan.front.display import render_html

    return render_html(value)


def _render_svg(spectrum: Spectrum) -> str | None:
    """Draw a spectrum for a notebook, likewise."""
    from wbplan.front.display import render_svg

    return render_svg(spectrum)
