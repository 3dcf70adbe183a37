"""Plan camera colour and exposure from measured light.

``wbplan.plan(scenario)`` returns a `Plan` that holds every decision; ``wbplan.write_plan(plan,
folder)`` writes the report, the record and the LUTs. ``wbplan.describe(files)`` says everything
about the lights in files of spectra, ``wbplan.plan_day(scenario)`` plans a day under sun and sky,
``wbplan.compare(first, second)`` says what changed between two plans, or two days. Names are
brought in when they are first used, so that the command line starts at once.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from wbplan.core.errors import InputError, OutputError, WbplanError
    from wbplan.front.days import plan_day, write_day
    from wbplan.front.lights import describe, write_lights
    from wbplan.front.plans import plan, write_plan
    from wbplan.front.rebuilding import rebuild_plan
    from wbplan.read.catalogue import find_camera, find_source
    from wbplan.record.compare import compare

__version__ = "0.1.0"

_HOMES = {
    "plan": "wbplan.front.plans",
    "write_plan": "wbplan.front.plans",
    "compare": "wbplan.record.compare",
    "plan_day": "wbplan.front.days",
    "write_day": "wbplan.front.days",
    "describe": "wbplan.front.lights",
    "write_lights": "wbplan.front.lights",
    "rebuild_plan": "wbplan.front.rebuilding",
    "find_camera": "wbplan.read.catalogue",
    "find_source": "wbplan.read.catalogue",
    "InputError": "wbplan.core.errors",
    "OutputError": "wbplan.core.errors",
    "WbplanError": "wbplan.core.errors",
}
__all__ = [
    "InputError",
    "OutputError",
    "WbplanError",
    "__version__",
    "compare",
    "describe",
    "find_camera",
    "find_source",
    "plan",
    "plan_day",
    "rebuild_plan",
    "write_day",
    "write_lights",
    "write_plan",
]


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module 'wbplan' has no attribute '{name}'")
    return getattr(import_module(_HOMES[name]), name)
