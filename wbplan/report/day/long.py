"""A day of more positions than its hours can be told of, cut down to those that decide."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np

from wbplan.camera.setting import find_distance
from wbplan.core.tables import Array
from wbplan.day.scene import Band, DayScene
from wbplan.day.setups import DaySetup

MOST_SHOWN = 12


def choose_shown(day: DaySetup) -> tuple[int, ...]:
    """Choose which positions are shown, by row: all of up to 12.

    Of more the key, then those that pull on the setting, then those that get farthest from their
    intents, in the scenario's order.
    """
    rows = range(len(day.setup.positions))
    if len(rows) <= MOST_SHOWN:
        return tuple(rows)
    far = _find_farthest(day)

    def order(row: int) -> tuple[bool, bool, float, int]:
        counts = day.setup.positions[row].intent.counts
        return row != day.key, not counts, -round(float(far[row]), 9), row

    return tuple(sorted(sorted(rows, key=order)[:MOST_SHOWN]))


def _find_farthest(day: DaySetup) -> Array:
    """Find how far each position gets off its intent under the day's setting, (p,); -1 unknown."""
    if day.whole is None:
        return np.full(len(day.setup.positions), -1.0)
    want = np.array([[each.intent.mired, each.intent.green_cc] for each in day.setup.positions])
    setting, fine = day.whole.setting, [[not said for said in row] for row in day.scene.trouble]
    off = find_distance(
        day.scene.mired.value - want[:, 0] - setting.mired,
        day.scene.tint_cc.value - want[:, 1] - setting.tint_cc,
    )
    return np.asarray(np.where(np.isfinite(off) & np.array(fine), off, -1.0).max(axis=0))


def cut_positions(day: DaySetup) -> DaySetup:
    """Cut a setup's day down to the positions that are shown; the same where all are."""
    rows = choose_shown(day)
    if len(rows) == len(day.setup.positions):
        return day
    at = list(rows)
    names = {day.setup.positions[row].name for row in rows}
    hidden = {each.name for each in day.setup.positions} - names
    return replace(
        day,
        setup=replace(day.setup, positions=tuple(day.setup.positions[row] for row in rows)),
        scene=_cut_scene(day.scene, at),
        t_stop=_cut_band(day.t_stop, at),
        nd_stops=None if day.nd_stops is None else _cut_band(day.nd_stops, at),
        from_key_stops=day.from_key_stops[:, at],
        sun_over_shade_stops=day.sun_over_shade_stops[:, at],
        notes=tuple(each for each in day.notes if each.about not in hidden),
    )


def _cut_band(band: Band, rows: list[int]) -> Band:
    return Band(*(getattr(band, each.name)[:, rows] for each in fields(band)))


def _cut_scene(scene: DayScene, rows: list[int]) -> DayScene:
    return replace(
        scene,
        mired=_cut_band(scene.mired, rows),
        tint_cc=_cut_band(scene.tint_cc, rows),
        lux=_cut_band(scene.lux, rows),
        cct_kelvin=scene.cct_kelvin[:, rows],
        counts=scene.counts[:, rows],
        beam_lux=scene.beam_lux[:, rows],
        source_lux=scene.source_lux[:, rows],
        trouble=tuple(tuple(said[row] for row in rows) for said in scene.trouble),
    )
