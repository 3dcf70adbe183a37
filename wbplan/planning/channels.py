"""Exposure as the sensor's channels get it, beside what a lux meter says.

Idea
----
Lux weigh a spectrum by the eye. A channel weighs it by its own curve, so the same lux of another
light can give a channel stops more or less: a blue LED reads little and floods the blue channel.
The measure of "what lux promise" is 5500 K daylight, for which exposure indices are stated
(ISO 12232:2019): 0 stops is what the same lux of it would give the channel.

Clip. All channels clip at the same raw value. Under daylight at the base EI the channel that reads
most clips ``headroom_stops`` over middle grey; every other channel, light and level follows. A
neutral that is balanced keeps these figures: a gain lifts a channel and its clip together. An
EI other than the base one re-rates the same sensor: twice the EI, one stop more to clip.

Gain. A setting amplifies each channel; what it lifts in stops, it lifts of the noise as well
(photon noise by half of that, since the light that is missing is its cause).

How the channels compare in raw is as good as the heights of the profile's curves: a profile of
shapes alone, all peaks equal, says so in a remark.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wbplan.camera.colour_error import find_daylight_log2
from wbplan.camera.sensitivities import CHANNELS, find_log2_response, respond
from wbplan.camera.setting import (
    CameraView,
    Setting,
    find_distance,
    find_setting_log2,
    solve_coordinates,
)
from wbplan.core.intervals import Interval, make_interval
from wbplan.core.notes import Note, warn
from wbplan.core.tables import Array
from wbplan.exposure.equation import GREY_TO_CLIP_STOPS, MIDDLE_GREY, WHITE
from wbplan.light.filters import find_loss_stops, make_ideal_filter
from wbplan.light.generic_filters import FULL_CC, FULL_MIRED
from wbplan.light.illuminants import RATED_UNDER_KELVIN
from wbplan.light.spectrum import WAVELENGTHS_NM
from wbplan.planning.response import SceneDraws, SceneResponse
from wbplan.scene.setup import Setup

_SAME_SIZE = 1e-3  # of 49 measured cameras none comes this near but those that are normalised
_WORTHWHILE_STOPS = 0.1  # relief below this is not worth a filter
_WANTED_RELIEF_STOPS = 0.5
_MOST_COST_STOPS = 1.0
# Strengths of the generic corrections down to a quarter, in the whole mired that they are told in;
# an eighth spares a channel nothing.
_LENS_SHARES = (-1.0, -1 / 2, -1 / 4, 1 / 4, 1 / 2, 1.0)
_LENS_MIRED = tuple(float(round(FULL_MIRED * share)) for share in _LENS_SHARES)
_LENS_CC = tuple(FULL_CC * share for share in _LENS_SHARES)


Channels = tuple[Interval, Interval, Interval]


@dataclass(frozen=True)
class LightChannels:
    """What each channel gets of a light, in stops against what its lux promise.

    0 is what the same lux of 5500 K daylight give that channel.
    """

    name: str
    stops: Channels


@dataclass(frozen=True)
class Relief:
    """A way to have the worst channel amplified less, and what it costs.

    ``kind`` is ``setting`` (another entry of the menu: the sensor gets the same, a cast stays)
    or ``filter`` (at the lens: the sensor gets more in that channel, light is lost).
    ``relief_stops`` less gain over the best-lit channel; ``cost_stops`` of light;
    ``left_mired`` and ``left_cc`` the cast at the key position (+ warm, + green).
    """

    kind: str
    name: str
    relief_stops: Interval
    cost_stops: float
    left_mired: float
    left_cc: float


@dataclass(frozen=True)
class ChannelGains:
    """What the dialled setting amplifies.

    ``stops`` with green at 0; ``against_daylight_stops`` less the same camera's at 5500 K.
    ``worst`` is the channel that is amplified most, by ``worst_lift_stops`` over the least.
    """

    stops: Channels
    against_daylight_stops: Channels
    worst: str
    worst_lift_stops: Interval
    reliefs: tuple[Relief, ...]


def make_channels(values: ArrayLike, draws: ArrayLike | None, share: float) -> Channels:
    """Make three intervals that hold a share of draws (k, 3), None for nothing unsure."""
    own = np.asarray(values, dtype=np.float64)
    sample = np.empty((0, 3)) if draws is None else np.asarray(draws)
    red, green, blue = (make_interval(float(own[c]), sample[:, c], share) for c in range(3))
    return red, green, blue


def find_clip_stops(setup: Setup) -> float:
    """Find how far middle grey is from clip at the setup's EI, in the first channel [stops]."""
    camera = setup.camera
    stated = GREY_TO_CLIP_STOPS if camera.headroom_stops is None else camera.headroom_stops
    return stated + float(np.log2(setup.shooting.ei / camera.base_ei))


def view_lights(scene: SceneResponse) -> tuple[LightChannels, ...]:
    """Compare each light, behind its filter, with daylight of the same lux."""
    setup, luminous = scene.setup, scene.source_lux
    level = np.log2(np.where(luminous > 0, luminous, np.nan))  # nothing to compare in the dark
    own = scene.source_log2 - level[:, None] - find_daylight_log2(setup.camera.sensitivities)
    spread = None
    if scene.draws is not None:
        drawn = find_log2_response(scene.draws.raw) - level[:, None, None]
        spread = drawn - find_daylight_log2(scene.draws.curves)
    lights = []
    for row, each in enumerate(setup.sources):
        draws = None if spread is None or luminous[row] <= 0 else spread[row]
        lights.append(LightChannels(each.name, make_channels(own[row], draws, setup.band_share)))
    return tuple(lights)


def find_headroom(scene: SceneResponse, needed_lux: float) -> tuple[Array, Array | None]:
    """Find what a grey at each position has left before each channel clips.

    Parameters
    ----------
    needed_lux
        The illuminance that puts a grey in the middle at the exposure that is shot [lux].

    Returns
    -------
    tuple
        (p, 3) [stops] and the draws (p, k, 3), None where nothing is unsure. Infinite in the dark.
    """

    def measure(position_log2: Array, daylight_log2: Array) -> Array:
        level = position_log2 - daylight_log2.max(-1, keepdims=True) - np.log2(needed_lux)
        return np.asarray(find_clip_stops(scene.setup) - level)

    own = measure(scene.position_log2, find_daylight_log2(scene.setup.camera.sensitivities))
    dark = scene.position_lux <= 0
    own[dark] = np.inf
    if scene.draws is None:
        return own, None
    place_log2 = find_log2_response(scene.draws.place_raw)
    draws = measure(place_log2, find_daylight_log2(scene.draws.curves))
    draws[dark] = np.inf
    return own, draws


def note_equal_heights(setup: Setup) -> tuple[Note, ...]:
    """Warn of a profile that states shapes only: all its curves have one height, or one area.

    Tables per quantum are looked at as such, since they are normalised before they are turned.
    """
    curves = setup.camera.sensitivities
    quantum = curves / WAVELENGTHS_NM[:, None]
    sizes = np.stack([each for c in (curves, quantum) for each in (c.max(axis=0), c.sum(axis=0))])
    if (np.ptp(sizes, axis=1) > _SAME_SIZE * sizes.max(axis=1)).all():
        return ()
    text = (
        "the profile's curves are normalised, each channel by itself, so that what one channel "
        "gets against another is not known: which clips first, headroom, gains and the level of "
        "each channel hold only if the real ones are alike; Kelvin, tint and casts do not need it"
    )
    return (warn("equal-heights", text, "camera"),)


def view_gains(scene: SceneResponse, dial: Setting) -> ChannelGains:
    """Find what the dialled setting amplifies, and how the worst channel could be spared.

    No relief is looked for where the key position is dark.
    """
    setup, camera = scene.setup, scene.camera
    own = _find_gain_stops(camera, None, dial.mired, dial.tint_cc)
    plain = own - _find_gain_stops(camera, None, 1e6 / RATED_UNDER_KELVIN, 0.0)
    drawn = against = lift_draws = None
    if scene.draws is not None:
        drawn = _find_gain_stops(camera, scene.draws, dial.mired, dial.tint_cc)
        against = drawn - _find_gain_stops(camera, scene.draws, 1e6 / RATED_UNDER_KELVIN, 0.0)
        lift_draws = np.ptp(drawn, axis=-1)
    lift = make_interval(float(np.ptp(own)), lift_draws, setup.band_share)
    key_power = scene.position_power[setup.key_row]
    reliefs: tuple[Relief, ...] = ()
    if lift.value >= _WANTED_RELIEF_STOPS / 2 and key_power.sum() > 0:
        reliefs = (*_try_settings(scene, dial), *_try_filters(scene, key_power))
    return ChannelGains(
        make_channels(own, drawn, setup.band_share),
        make_channels(plain, against, setup.band_share),
        CHANNELS[int(np.argmax(own))],
        lift,
        reliefs,
    )


def _find_gain_stops(
    camera: CameraView, draws: SceneDraws | None, mired: float, tint_cc: float
) -> Array:
    """Find the gains of a setting, (3,) or (k, 3) for draws, in stops with green at 0."""
    locus = camera.locus if draws is None else draws.locus
    count = locus.coefficients.shape[2]
    balanced = find_setting_log2(locus, np.full(count, mired), np.full(count, tint_cc))
    stops = balanced[:, 1:2] - balanced
    return np.asarray(stops[0] if draws is None else stops)


def _try_settings(scene: SceneResponse, dial: Setting) -> tuple[Relief, ...]:
    """Find the menu's entry that spares the worst channel half a stop for the smallest cast."""
    setup, camera, key = scene.setup, scene.camera, scene.setup.key_row
    intent = setup.positions[key].intent
    menu = setup.camera.menu
    entries = [
        *((kelvin, dial.tint_cc) for kelvin in menu.kelvin),
        *((dial.kelvin, tint) for tint in menu.tint_cc if menu.kelvin),
        *((kelvin, tint) for _, kelvin, tint in menu.presets),
    ]
    mired = np.array([1e6 / kelvin for kelvin, _ in entries])
    tint = np.array([cc for _, cc in entries])
    balanced = find_setting_log2(camera.locus, mired[:, None], tint[:, None])[:, 0]
    lift = np.ptp(balanced, axis=-1)
    now = float(np.ptp(_find_gain_stops(camera, None, dial.mired, dial.tint_cc)))
    left_mired = float(scene.position.mired[key, 0]) - mired - intent.mired
    left_cc = float(scene.position.tint_cc[key, 0]) - tint - intent.green_cc
    distance = np.where(
        now - lift >= _WANTED_RELIEF_STOPS, find_distance(left_mired, left_cc), np.inf
    )
    pick = int(np.argmin(distance))
    if not np.isfinite(distance[pick]):
        return ()
    spared = None
    if scene.draws is not None:
        before = np.ptp(_find_gain_stops(camera, scene.draws, dial.mired, dial.tint_cc), axis=-1)
        after = _find_gain_stops(camera, scene.draws, float(mired[pick]), float(tint[pick]))
        spared = before - np.ptp(after, axis=-1)
    kelvin, cc = entries[pick]
    side = f", {'magenta' if cc > 0 else 'green'} {abs(round(cc, 1)):g} CC" if round(cc, 1) else ""
    relief = make_interval(now - float(lift[pick]), spared, setup.band_share)
    return (
        Relief(
            "setting", f"{kelvin:.0f} K{side}", relief, 0.0,
            float(left_mired[pick]) + intent.mired, float(left_cc[pick]) + intent.green_cc,
        ),
    )  # fmt: skip


def _try_filters(scene: SceneResponse, key_power: Array) -> tuple[Relief, ...]:
    """Find the lens filter that spares the worst channel most, at up to a stop and at any cost.

    The camera is set anew for the light through the filter, so no cast stays; a light that then
    lies beyond the locus is left out, since no setting would neutralise it.
    """
    glass = [make_ideal_filter(mired=each) for each in _LENS_MIRED]
    glass += [make_ideal_filter(green_cc=each) for each in _LENS_CC]
    through = np.stack([each.transmittance for each in glass])
    behind = np.concatenate([key_power[None], key_power * through])
    raw = find_log2_response(respond(behind, scene.setup.camera.sensitivities))
    lift = np.ptp(raw, axis=-1)
    beyond = solve_coordinates(scene.camera.locus, raw[:, None, :]).beyond[1:, 0]
    relief = np.where(beyond, -np.inf, lift[0] - lift[1:])
    cost = find_loss_stops(through, np.broadcast_to(key_power, through.shape))
    spared = None
    if scene.draws is not None:
        drawn = np.ptp(find_log2_response(respond(behind, scene.draws.curves)), axis=-1)
        spared = drawn[0] - drawn[1:]
    result = []
    for allowed in (cost <= _MOST_COST_STOPS, np.ones(cost.size, dtype=bool)):
        pick = int(np.argmax(np.where(allowed, relief, -np.inf)))
        if not allowed[pick] or relief[pick] < _WORTHWHILE_STOPS:
            continue
        draws = None if spared is None else spared[pick]
        span = make_interval(float(relief[pick]), draws, scene.setup.band_share)
        made = Relief("filter", glass[pick].name, span, float(cost[pick]), 0.0, 0.0)
        if made not in result:
            result.append(made)
    return tuple(result)


def find_white_over(own: Array, draws: Array | None, share: float) -> Interval:
    """Find how far a white lies over the first clip, from a grey's headroom (3,), (k, 3)."""
    over = float(np.log2(WHITE / MIDDLE_GREY))
    value = over - float(own.min())
    sample = None if draws is None or not np.isfinite(value) else over - draws.min(-1)
    return make_interval(value, sample, share)
