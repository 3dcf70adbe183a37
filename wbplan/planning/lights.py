"""Each source of a setup as the eye and as the camera see it, behind its filter."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wbplan.core.notes import Note
from wbplan.core.tables import Array
from wbplan.light.filters import find_loss_stops
from wbplan.planning.casts import WantedSetting, make_wanted
from wbplan.planning.eye_view import EyeView, see_as_eye
from wbplan.planning.response import SceneResponse
from wbplan.scene.setup import Source


@dataclass(frozen=True, eq=False)
class LightPlan:
    """One source as the eye and as the camera see it, behind its filter."""

    name: str
    origin: str
    is_model: bool
    on: bool
    filter_name: str
    loss_stops: float
    eye: EyeView
    wanted: WantedSetting
    trouble: str
    power: Array
    notes: tuple[Note, ...]


def plan_lights(scene: SceneResponse) -> tuple[LightPlan, ...]:
    """Tell every source of a scene, whether it burns or not."""
    sources = scene.setup.sources
    eyes = see_as_eye(scene.power)
    bare = np.stack([each.spectrum.values for each in sources])
    through = np.stack([each.filter.transmittance for each in sources])
    loss = find_loss_stops(through, bare)
    return tuple(
        LightPlan(
            name=source.name,
            origin=source.spectrum.origin,
            is_model=source.spectrum.is_model or source.filter.is_model,
            on=source.on,
            filter_name=source.filter.name,
            loss_stops=float(loss[row]),
            eye=eyes[row],
            wanted=make_wanted(scene.source, scene.source_draws, row, scene.setup.band_share),
            trouble=scene.source_trouble[row],
            power=scene.power[row],
            notes=(*source.spectrum.notes, *_note_steps(source), *source.filter.notes),
        )
        for row, source in enumerate(sources)
    )


def _note_steps(light: Source) -> tuple[Note, ...]:
    sampling = light.spectrum.sampling
    if sampling is None:
        return ()
    step = f"{sampling.step_nm:g} nm"
    text = f"read by steps of {step}: its band holds what a bandwidth nobody stated may hide"
    return (Note("coarse", text, light.name),)
