"""Fixtures tuned to what was asked for: another light, a setting, an intent at the plan's setting.

What is asked becomes coordinates (mired, CC) in the camera's own terms, `scene.fixtures` finds
the drives, and what a meter shows of the result is where a person begins to dial.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from wbplan.camera.setting import MIRED_PER_CC, CameraView
from wbplan.core.notes import Note, warn
from wbplan.core.tables import Array
from wbplan.light.filters import name_cast
from wbplan.light.spectrum import find_illuminance_lux, freeze
from wbplan.planning.advice import TunedFixture
from wbplan.planning.casts import name_setting, name_tint
from wbplan.planning.decisions import SetupPlan
from wbplan.planning.eye_view import see_as_eye
from wbplan.scene.changes import FixtureMatch
from wbplan.scene.dialling import read_panel, settle
from wbplan.scene.fixtures import Tuning, find_tuning_miss, solve_drives


def tune_fixtures(
    plan: SetupPlan, camera: CameraView, matches: Sequence[FixtureMatch]
) -> tuple[tuple[TunedFixture, ...], list[Note]]:
    """Tune each fixture of a setup to its wish, with notes on what cannot be had."""
    tuned, notes = [], []
    for each in matches:
        aim = _find_aim(plan, each)
        if isinstance(aim, Note):
            notes.append(aim)
            continue
        made = _tune(plan, camera, each, *aim)
        tuned.append(made)
        if not made.reached:
            off = name_cast(made.off_mired, made.off_green_cc)
            text = f"its channels cannot reach {made.wanted}: at the nearest it looks {off}"
            notes.append(warn("fixture-short", text, each.fixture))
    return tuple(tuned), notes


def _find_aim(plan: SetupPlan, match: FixtureMatch) -> tuple[str, float, float] | Note:
    """Find what is wanted, in words and as mired and CC."""
    if match.light:
        light = next(each for each in plan.lights if each.name == match.light)
        if light.trouble:
            text = f"'{match.light}' is nothing to match: {light.trouble}"
            return warn("match-trouble", text, match.fixture)
        wanted = light.wanted
        return f"the look of {match.light}", wanted.mired.value, wanted.tint_cc.value
    if match.kelvin:
        said = f"{match.kelvin:.0f} K, {name_tint(match.tint_cc)}"
        return said, 1e6 / match.kelvin, match.tint_cc
    dial = plan.dial
    look = name_cast(match.mired, match.green_cc).replace("none", "neutral")
    said = f"{look} at {name_setting(dial.kelvin, dial.tint_cc)}"
    return said, dial.mired + match.mired, dial.tint_cc + match.green_cc


def _tune(
    plan: SetupPlan, camera: CameraView, match: FixtureMatch, said: str, mired: float, cc: float
) -> TunedFixture:
    setup = plan.setup
    row = [each.name for each in setup.sources].index(match.fixture)
    source = setup.sources[row]
    fixture, names = source.fixture, [each.name for each in setup.positions]
    if fixture is None:
        raise ValueError(f"'{match.fixture}' has no channels to tune")
    through = fixture.power * source.filter.transmittance
    found = solve_drives(through, camera.profile.sensitivities, camera.locus, mired, cc)
    if fixture.has_steps:
        aim = (through, camera.profile.sensitivities, camera.locus, mired, cc)

        def weigh(drives: Array) -> Array:
            distance = np.hypot(*np.moveaxis(find_tuning_miss(*aim, drives), -1, 0))
            return np.stack([np.round(distance, 6), -find_illuminance_lux(drives @ through)], -1)

        drives = settle(fixture, found.drives, weigh)
        off = find_tuning_miss(*aim, drives)
        found = Tuning(freeze(drives), float(off[0]), float(off[1]) / MIRED_PER_CC)
    power = found.drives @ through
    lux = find_illuminance_lux(power)
    scale = float(lux / find_illuminance_lux(fixture.drives @ fixture.power))
    read = np.stack([each.lux for each in setup.positions])[:, row]
    eye = see_as_eye(power[None])[0]
    return TunedFixture(
        fixture=match.fixture,
        wanted=said,
        drives=tuple(zip(fixture.channels, (float(e) for e in found.drives), strict=True)),
        reached=found.reached,
        off_mired=found.off_mired,
        off_green_cc=found.off_green_cc,
        lux=tuple((name, float(each) * scale) for name, each in zip(names, read, strict=True)),
        loss_stops=float(np.log2(find_illuminance_lux(through.sum(axis=0)) / lux)),
        cct_kelvin=eye.cct_kelvin,
        duv=eye.duv,
        drive_steps=fixture.drive_steps,
        panel=read_panel(fixture, found.drives),
    )
