"""From a described scene to everything decided about it.

`plan_setup` takes a `Setup` and returns a `SetupPlan`: the setting, the casts that stay, the
exposure, the LUT, each with its interval and what has to be said about it. Values only: nothing is
read or written here.
"""

from __future__ import annotations

from functools import partial

import numpy as np

from wbplan.camera.setting import (
    CameraView,
    Coordinates,
    Setting,
    find_gains,
    find_setting_log2,
    round_setting,
)
from wbplan.core.intervals import Interval, make_interval
from wbplan.core.notes import Note, warn
from wbplan.core.progress import Progress
from wbplan.core.tables import Array
from wbplan.exposure.equation import solve_nd_stops, solve_t_stop
from wbplan.light.filters import find_loss_stops
from wbplan.light.illuminants import LOCUS_JOINTS_MIRED
from wbplan.planning.best_setting import SceneResponse, respond_to_scene, solve_balance
from wbplan.planning.decisions import (
    Cast,
    LightPlan,
    PositionPlan,
    SetupPlan,
    WantedSetting,
    name_tint,
)
from wbplan.planning.exposure import plan_exposure
from wbplan.planning.judging import NO_LIGHT, find_trouble, see_as_eye
from wbplan.planning.limits import SettingBox, find_box, find_limits, move_inside, round_inside
from wbplan.planning.looks import show_positions
from wbplan.planning.luts import SetupScene, plan_lut, plan_luts
from wbplan.planning.trade_off import note_limits, weigh_settings
from wbplan.scene.cautions import choose_cautions
from wbplan.scene.setup import Setup, Source, find_position_lux, find_source_power

_NOTABLE_MIRED, _NOTABLE_CC = 5.0, 2.0


def _want(own: Coordinates, draws: Coordinates | None, row: int, share: float) -> WantedSetting:
    none = np.empty(0)
    return WantedSetting(
        make_interval(float(own.mired[row, 0]), none if draws is None else draws.mired[row], share),
        make_interval(
            float(own.tint_cc[row, 0]), none if draws is None else draws.tint_cc[row], share
        ),
    )


def _less(wanted: WantedSetting, mired: float, cc: float) -> Cast:
    def shift(interval: Interval, by: float) -> Interval:
        return Interval(interval.value - by, interval.low - by, interval.high - by)

    return Cast(shift(wanted.mired, mired), shift(wanted.tint_cc, cc))


def plan_setup(
    setup: Setup,
    camera: CameraView,
    stem: str,
    digest: str = "",
    progress: Progress | None = None,
) -> SetupPlan:
    """Plan one setup.

    Parameters
    ----------
    setup
        The scene.
    camera
        The setup's camera, from `view_camera`.
    stem
        What the setup's file names begin with.
    digest
        Of the plan's inputs, for the LUT's header.
    progress
        Is told how far the further LUTs are.

    Returns
    -------
    SetupPlan
        With intervals from the profile's family and the meter's stated error.

    Raises
    ------
    ValueError
        If no position with light has an intent.
    """
    scene = respond_to_scene(setup, camera)
    power = find_source_power(setup)
    lux = find_position_lux(setup)
    at_positions = lux @ power
    judge = partial(find_trouble, locus=camera.locus)
    light_trouble = judge(power, scene.source_log2, scene.source)
    place_trouble = judge(at_positions, scene.position_log2, scene.position)

    exact, box, exact_notes = _solve_exact(setup, scene, place_trouble)
    menu = setup.camera.menu
    best = (exact.mired.value, exact.tint_cc.value)
    dial = setup.shot_at or round_inside(menu, *best, box) or round_setting(menu, *best)
    place = (scene.position.mired[:, 0], scene.position.tint_cc[:, 0])
    tradeoff = weigh_settings(setup.positions, *place, place_trouble, dial)
    gains = find_gains(
        find_setting_log2(camera.locus, np.array([dial.mired]), np.array([dial.tint_cc]))
    )[0]
    lights = _plan_lights(setup, scene, power, light_trouble)
    positions = _plan_positions(setup, scene, lux, at_positions, dial, place_trouble)
    lut, lut_notes = plan_lut(
        setup, camera, exact, dial, at_positions, place_trouble, (stem, digest)
    )
    at_each = tuple(each.wanted for each in positions)
    known = SetupScene(
        setup, camera, exact, dial, power, at_positions, at_each, tuple(place_trouble)
    )
    luts, luts_notes = plan_luts(known, stem, digest, lut.file_name if lut else "", progress)
    left_over = _less(exact, dial.mired, dial.tint_cc)
    exposure, exposure_notes = plan_exposure(setup, camera, scene, power, at_positions, dial)
    notes = (
        *exact_notes,
        *_note_setting(setup, exact, dial, left_over),
        *_note_places(positions),
        *exposure_notes,
        *note_limits(tradeoff, setup.positions, place_trouble, dial, setup.shot_at is not None),
        *lut_notes,
        *luts_notes,
    )
    return SetupPlan(
        setup=setup,
        exact=exact,
        dial=dial,
        dial_is_given=setup.shot_at is not None,
        left_over=left_over,
        gains=(float(gains[0]), float(gains[1]), float(gains[2])),
        lights=lights,
        positions=positions,
        lut=lut,
        cautions=choose_cautions(setup),
        notes=(*setup.notes, *setup.camera.notes, *notes),
        luts=luts,
        exposure=exposure,
        tradeoff=tradeoff,
        appearance=show_positions(
            setup, camera, exact, dial, at_positions, positions, lut is not None
        ),
        stem=stem,
    )


def _solve_exact(
    setup: Setup, scene: SceneResponse, trouble: list[str]
) -> tuple[WantedSetting, SettingBox, tuple[Note, ...]]:
    """Solve by the positions that can be neutralised, or by all that have light if none can.

    The hard limits hold where some setting keeps them all.
    """
    intents = [each.intent for each in setup.positions]
    weight = np.array([each.weight for each in intents])
    fine = weight * np.array([not said for said in trouble])
    weight = fine if fine.sum() > 0 else weight * np.array([said != NO_LIGHT for said in trouble])
    if weight.sum() <= 0:
        raise ValueError(
            f"setup '{setup.name}': no position that has light has an intent other than "
            "'leave', so there is nothing to set the camera by"
        )
    want_m = np.array([each.mired for each in intents])
    want_c = np.array([each.green_cc for each in intents])
    within = find_limits(intents, fine > 0)

    def solve(mired: Array, cc: Array) -> tuple[Array, Array, SettingBox]:
        best = solve_balance(mired, cc, want_m, want_c, weight)
        shape = (-1,) + (1,) * (mired.ndim - 1)
        box = find_box(mired - want_m.reshape(shape), cc - want_c.reshape(shape), *within)
        return *move_inside(*best, box), box

    mired, cc, box = solve(scene.position.mired[:, 0], scene.position.tint_cc[:, 0])
    draws = scene.position_draws
    none = (np.empty(0), np.empty(0))
    mired_draws, cc_draws = none if draws is None else solve(draws.mired, draws.tint_cc)[:2]
    ends = (LOCUS_JOINTS_MIRED[0], LOCUS_JOINTS_MIRED[-1])
    bounded = float(np.clip(mired, *ends))
    notes: tuple[Note, ...] = ()
    if bounded != float(mired):
        text = (
            f"the intents ask for a setting of {float(mired):.0f} mired, beyond any Kelvin from "
            f"{1e6 / ends[1]:.0f} to {1e6 / ends[0]:.0f}: the end of that range is taken, and "
            f"{abs(float(mired) - bounded):.0f} mired of the wish stays open"
        )
        notes = (warn("off-locus", text, "setting"),)
    wanted = WantedSetting(
        make_interval(bounded, np.clip(mired_draws, *ends), setup.band_share),
        make_interval(float(cc), cc_draws, setup.band_share),
    )
    return wanted, box, notes


def _plan_lights(
    setup: Setup, scene: SceneResponse, power: Array, trouble: list[str]
) -> tuple[LightPlan, ...]:
    eyes = see_as_eye(power)
    bare = np.stack([each.spectrum.values for each in setup.sources])
    through = np.stack([each.filter.transmittance for each in setup.sources])
    loss = find_loss_stops(through, bare)

    def plan_light(row: int, source: Source) -> LightPlan:
        return LightPlan(
            name=source.name,
            origin=source.spectrum.origin,
            is_model=source.spectrum.is_model or source.filter.is_model,
            on=source.on,
            filter_name=source.filter.name,
            loss_stops=float(loss[row]),
            eye=eyes[row],
            wanted=_want(scene.source, scene.source_draws, row, setup.band_share),
            trouble=trouble[row],
            power=power[row],
            notes=(*source.spectrum.notes, *source.filter.notes),
        )

    return tuple(plan_light(row, source) for row, source in enumerate(setup.sources))


def _plan_positions(
    setup: Setup,
    scene: SceneResponse,
    lux: Array,
    at_positions: Array,
    dial: Setting,
    trouble: list[str],
) -> tuple[PositionPlan, ...]:
    shooting = setup.shooting
    stop = partial(
        solve_t_stop,
        ei=shooting.ei,
        exposure_time_s=shooting.exposure_time_s,
        nd_stops=shooting.nd_stops,
        calibration_c=shooting.calibration_c,
    )
    level = scene.position_lux
    passed = lux * scene.source_lux
    shares = passed / np.where(level > 0, level, 1.0)[:, None]
    key = [each.name for each in setup.positions].index(setup.key)
    with np.errstate(divide="ignore", invalid="ignore"):
        from_key = np.log2(level / level[key])
    eyes = see_as_eye(at_positions)
    nd = None
    if shooting.t_stop is not None:
        nd = solve_nd_stops(
            level, shooting.ei, shooting.exposure_time_s, shooting.t_stop, shooting.calibration_c
        )
    result = []
    for row, position in enumerate(setup.positions):
        wanted = _want(scene.position, scene.position_draws, row, setup.band_share)
        intent = position.intent
        reading = make_interval(float(level[row]), scene.lux_draws[row], setup.band_share)
        stops = [float(stop(each)) for each in (reading.value, reading.low, reading.high)]
        cast = _less(wanted, dial.mired, dial.tint_cc)
        result.append(
            PositionPlan(
                name=position.name,
                intent_words=intent.words,
                weight=intent.weight,
                lux=reading,
                shares=tuple(float(each) for each in shares[row]),
                eye=eyes[row],
                wanted=wanted,
                cast=cast,
                off_intent=_less(wanted, dial.mired + intent.mired, dial.tint_cc + intent.green_cc),
                t_stop=Interval(*stops),
                nd_for_stop=None if nd is None else float(nd[row]),
                from_key_stops=float(from_key[row]),
                trouble=trouble[row],
            )
        )
    return tuple(result)


def _note_setting(
    setup: Setup, exact: WantedSetting, dial: Setting, left_over: Cast
) -> tuple[Note, ...]:
    menu = setup.camera.menu
    notes = []
    if menu.kelvin:
        low, high = menu.kelvin[0], menu.kelvin[-1]
        kelvin = exact.kelvin.value
        if not low <= kelvin <= high:
            notes.append(
                warn(
                    "off-menu-kelvin",
                    f"the camera wants {kelvin:.0f} K and its menu runs from "
                    f"{low:.0f} to {high:.0f} K: {left_over.words} stays",
                    "setting",
                )
            )
    if not menu.tint_cc[0] <= exact.tint_cc.value <= menu.tint_cc[-1]:
        notes.append(
            warn(
                "off-menu-tint",
                f"the camera wants {name_tint(exact.tint_cc.value)} and its menu "
                f"runs from {name_tint(menu.tint_cc[0])} to {name_tint(menu.tint_cc[-1])}: "
                f"{left_over.words} stays",
                "setting",
            )
        )
    far = abs(left_over.mired.value) > _NOTABLE_MIRED or abs(left_over.green_cc.value) > _NOTABLE_CC
    if far and not notes:
        why = "the setting that is shot at" if setup.shot_at else "the menu's nearest setting"
        notes.append(warn("setting-leaves", f"{why} leaves {left_over.words}", "setting"))
    return tuple(notes)


def _note_places(positions: tuple[PositionPlan, ...]) -> tuple[Note, ...]:
    return tuple(warn("trouble", each.trouble, each.name) for each in positions if each.trouble)
