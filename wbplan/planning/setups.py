"""From a described scene to everything decided about it, in order.

`plan_setup` takes a `Setup` and returns a `SetupPlan`: the setting, the casts that stay, the
exposure, the LUT, each with its interval and what has to be said about it. Values only: nothing is
read or written here.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from wbplan.camera.setting import CameraView, Setting, find_setting_gains
from wbplan.core.notes import Note, warn
from wbplan.core.progress import Progress
from wbplan.lut.file import LutFile
from wbplan.planning.best_setting import choose_dial, solve_exact
from wbplan.planning.casts import Cast, WantedSetting, name_tint
from wbplan.planning.decisions import SetupPlan
from wbplan.planning.doubts import note_doubts
from wbplan.planning.exposure import plan_exposure
from wbplan.planning.lights import plan_lights
from wbplan.planning.limits import Limits
from wbplan.planning.looks import show_positions
from wbplan.planning.luts import find_lut_trouble, plan_lut, plan_luts
from wbplan.planning.positions import PositionPlan, plan_positions
from wbplan.planning.response import SceneResponse, respond_to_scene
from wbplan.planning.trade_off import note_limits, weigh_settings
from wbplan.planning.verdict import is_told, reach_verdict
from wbplan.scene.cautions import choose_cautions
from wbplan.scene.setup import Setup

if TYPE_CHECKING:
    from wbplan.planning.sun import SunAndMoon


@dataclass(frozen=True, eq=False)
class _Decided:
    """What is decided before a LUT is made, with what its LUTs are made from."""

    scene: SceneResponse
    limits: Limits
    plan: SetupPlan


def plan_setup(
    setup: Setup,
    camera: CameraView,
    stem: str,
    progress: Progress | None = None,
    least_lut_size: int = 0,
) -> SetupPlan:
    """Plan one setup.

    Parameters
    ----------
    camera
        The setup's camera, from `view_camera`.
    stem
        What the setup's file names begin with.
    progress
        Is told how far the further LUTs are.
    least_lut_size
        Points of the main LUT's table at the least, for another setup has such a one.

    Returns
    -------
    SetupPlan
        With intervals from the profile's family and the meter's stated error.

    Raises
    ------
    ValueError
        If no position with light has a weight.
    """
    decided = _decide(setup, camera, stem)
    scene, exact, dial = decided.scene, decided.plan.exact, decided.plan.dial
    lut, lut_notes = plan_lut(scene, exact, dial, stem, least_size=least_lut_size)
    taken = lut.file_name if lut else ""
    luts, luts_notes = plan_luts(scene, exact, dial, stem, taken, progress)
    notes = (*decided.plan.notes, *lut_notes, *luts_notes)
    return replace(
        _judge(decided, lut is not None, lut.file if lut else None), lut=lut, luts=luts, notes=notes
    )


def decide_setup(setup: Setup, camera: CameraView, stem: str) -> SetupPlan:
    """Plan one setup without its LUTs: the same decisions, many times sooner; see `plan_setup`."""
    decided = _decide(setup, camera, stem)
    return _judge(decided, not find_lut_trouble(decided.scene))


def _decide(setup: Setup, camera: CameraView, stem: str) -> _Decided:
    scene = respond_to_scene(setup, camera)
    exact, limits, exact_notes = solve_exact(scene)
    dial = choose_dial(setup, *exact.point, limits)
    left_over = exact.less(dial.mired, dial.tint_cc)
    tradeoff = weigh_settings(scene, dial)
    positions = plan_positions(scene, dial)
    exposure, exposure_notes = plan_exposure(scene, dial)
    red, green, blue = find_setting_gains(camera.locus, dial.mired, dial.tint_cc)[0]
    bodies, sun_notes = _view_bodies(setup)
    notes = (
        *exact_notes,
        *_note_setting(setup, exact, dial, left_over),
        *_note_places(positions),
        *exposure_notes,
        *note_doubts(scene, exposure),
        *note_limits(scene, tradeoff, dial),
        *sun_notes,
    )
    plan = SetupPlan(
        setup=setup,
        exact=exact,
        dial=dial,
        dial_is_given=setup.shot_at is not None,
        left_over=left_over,
        gains=(float(red), float(green), float(blue)),
        lights=plan_lights(scene),
        positions=positions,
        lut=None,
        cautions=choose_cautions(setup),
        notes=(*setup.notes, *setup.camera.notes, *notes),
        exposure=exposure,
        tradeoff=tradeoff,
        stem=stem,
        bodies=bodies,
    )
    return _Decided(scene, limits, plan)


def _view_bodies(setup: Setup) -> tuple[SunAndMoon | None, tuple[Note, ...]]:
    """Find where sun and moon stand, and what is to be said of it; None without place and time."""
    if setup.site is None or setup.when is None:
        return None, ()
    from wbplan.planning.sun import note_sun_in_lens, view_sun_and_moon  # most need no sky

    bodies = view_sun_and_moon(setup)
    return bodies, note_sun_in_lens(setup, bodies)


def _judge(decided: _Decided, has_lut: bool, lut: LutFile | None = None) -> SetupPlan:
    """Add how positions look, and the verdict, to what is decided."""
    scene, plan = decided.scene, decided.plan
    exact, dial, positions = plan.exact, plan.dial, plan.positions
    return replace(
        plan,
        appearance=show_positions(scene, exact, dial, positions, has_lut, lut),
        verdict=reach_verdict(scene, exact.point, dial, decided.limits, positions, has_lut),
    )


def _note_setting(
    setup: Setup, exact: WantedSetting, dial: Setting, left_over: Cast
) -> tuple[Note, ...]:
    menu = setup.camera.menu
    notes = []
    if menu.kelvin:
        low, high = menu.kelvin[0], menu.kelvin[-1]
        kelvin = exact.kelvin.value
        if not low - 0.5 < kelvin < high + 0.5:  # the words say whole Kelvin
            notes.append(
                warn(
                    "off-menu-kelvin",
                    f"the camera wants {kelvin:.0f} K and its menu runs from "
                    f"{low:.0f} to {high:.0f} K: {left_over.words} stays",
                    "setting",
                )
            )
    low_cc, high_cc = menu.tint_cc[0], menu.tint_cc[-1]
    if not low_cc - 0.05 < exact.tint_cc.value < high_cc + 0.05:  # and tenths of a CC
        notes.append(
            warn(
                "off-menu-tint",
                f"the camera wants {name_tint(exact.tint_cc.value)} and its menu "
                f"runs from {name_tint(menu.tint_cc[0])} to {name_tint(menu.tint_cc[-1])}: "
                f"{left_over.words} stays",
                "setting",
            )
        )
    far = is_told(*left_over.point)
    if far and not notes:
        why = "the setting that is shot at" if setup.shot_at else "the menu's nearest setting"
        notes.append(warn("setting-leaves", f"{why} leaves {left_over.words}", "setting"))
    return tuple(notes)


def _note_places(positions: tuple[PositionPlan, ...]) -> tuple[Note, ...]:
    return tuple(warn("trouble", each.trouble, each.name) for each in positions if each.trouble)
