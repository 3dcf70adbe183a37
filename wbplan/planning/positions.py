"""Each place in the frame: its light, the cast that will be seen there, the stop it asks for."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wbplan.camera.setting import Setting
from wbplan.core.intervals import Interval, make_interval
from wbplan.planning.casts import Cast, WantedSetting, make_wanted
from wbplan.planning.eye_view import EyeView, see_as_eye
from wbplan.planning.response import SceneResponse
from wbplan.scene.predicted import list_predicted
from wbplan.scene.setup import Aim

DARK_STOPS = 4.0  # under the key; common practice, no source


@dataclass(frozen=True, eq=False)
class PositionPlan:
    """One place in the frame: its light, the cast that will be seen there, and its exposure.

    ``shares`` are each source's part of the lux, in the order of the lights. ``off_intent`` is
    the cast less the wanted one. ``t_stop`` is for the planned ND; ``nd_for_stop`` [stops] is what
    reaches the wanted T-stop (None where none is wanted). ``from_key_stops`` compares with
    the key position. ``weight`` and ``aim`` are those of `scene.setup.Intent`.
    ``predicted`` names the lights whose lux nobody has read here.
    """

    name: str
    intent_words: str
    weight: float
    lux: Interval
    shares: tuple[float, ...]
    eye: EyeView
    wanted: WantedSetting
    cast: Cast
    off_intent: Cast
    t_stop: Interval
    nd_for_stop: float | None
    from_key_stops: float
    trouble: str
    aim: Aim = "meant"
    predicted: tuple[str, ...] = ()

    @property
    def is_judged(self) -> bool:
        """Whether somebody said how it is meant to look."""
        return self.aim == "meant"

    @property
    def is_dark(self) -> bool:
        """Whether it lies so far under the key that it is not looked at for its colour."""
        return self.from_key_stops <= -DARK_STOPS


def plan_positions(scene: SceneResponse, dial: Setting) -> tuple[PositionPlan, ...]:
    """Tell every position of a scene under the setting that is shot at."""
    setup, level = scene.setup, scene.position_lux
    shooting = setup.shooting
    passed = scene.lux * scene.source_lux
    shares = passed / np.where(level > 0, level, 1.0)[:, None]
    with np.errstate(divide="ignore", invalid="ignore"):
        from_key = np.log2(level / level[setup.key_row])
    eyes = see_as_eye(scene.position_power)
    nd = None if shooting.t_stop is None else shooting.solve_nd_stops(level, shooting.t_stop)
    result = []
    for row, position in enumerate(setup.positions):
        wanted = make_wanted(scene.position, scene.position_draws, row, setup.band_share)
        intent = position.intent
        reading = make_interval(float(level[row]), scene.lux_draws[row], setup.band_share)
        ends = (reading.value, reading.low, reading.high)
        result.append(
            PositionPlan(
                name=position.name,
                intent_words=intent.words,
                weight=intent.weight,
                lux=reading,
                shares=tuple(float(each) for each in shares[row]),
                eye=eyes[row],
                wanted=wanted,
                cast=wanted.less(dial.mired, dial.tint_cc),
                off_intent=wanted.less(dial.mired + intent.mired, dial.tint_cc + intent.green_cc),
                t_stop=Interval(*(float(shooting.solve_t_stop(each)) for each in ends)),
                nd_for_stop=None if nd is None else float(nd[row]),
                from_key_stops=float(from_key[row]),
                trouble=scene.position_trouble[row],
                aim=intent.aim,
                predicted=list_predicted(setup, row),
            )
        )
    return tuple(result)
