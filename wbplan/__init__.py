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
    from wbplan.api import plan, write_plan
    from wbplan.catalogue import find_camera, find_source
    from wbplan.comparing import compare
    from wbplan.dayapi import plan_day, write_day
    from wbplan.errors import InputError, OutputError, WbplanError
    from wbplan.lightapi import describe, write_lights
    from wbplan.rebuilding import rebuild_plan

__version__ = "0.1.0"

_HOMES = {
    "plan": "wbplan.api",
    "write_plan": "wbplan.api",
    "compare": "wbplan.comparing",
    "plan_day": "wbplan.dayapi",
    "write_day": "wbplan.dayapi",
    "describe": "wbplan.lightapi",
    "write_lights": "wbplan.lightapi",
    "rebuild_plan": "wbplan.rebuilding",
    "find_camera": "wbplan.catalogue",
    "find_source": "wbplan.catalogue",
    "InputError": "wbplan.errors",
    "OutputError": "wbplan.errors",
    "WbplanError": "wbplan.errors",
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
