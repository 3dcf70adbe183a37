"""Flash mixed with ambient light: how the shutter parts them, and what colour the mix has.

Idea
----
A flash gives its lux seconds whatever the shutter, steady light gives illuminance times time. So
the shutter moves one against the other, and with it the colour of the mix, at each position
by its own shares. Light adds in native RGB: the mix is the sum, and its coordinates follow.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wbplan.camera.sensitivities import find_log2_response, respond
from wbplan.camera.setting import LocusResponse, Setting, solve_coordinates
from wbplan.core.intervals import Interval, make_interval
from wbplan.core.notes import Note, warn
from wbplan.core.tables import Array
from wbplan.exposure.burst import Burst, find_caught_share
from wbplan.exposure.equation import Shooting, find_ratio_stops
from wbplan.planning.response import SceneResponse
from wbplan.scene.setup import Setup

_NOTABLE_LOSS_STOPS, _NOTABLE_SPILL = 0.1, 0.03
_SHUTTERS_STOPS = (-3, -2, -1, 0, 1, 2)  # of exposure time, against the planned one


@dataclass(frozen=True)
class FlashMix:
    """Flash and ambient at one position and shutter.

    ``over_ambient_stops`` is minus infinity without flash and infinity without ambient;
    mired (+ warm) and CC (+ green) of the cast at the dialled setting.
    """

    name: str
    over_ambient_stops: Interval
    mired: Interval
    green_cc: Interval


@dataclass(frozen=True)
class FlashShutter:
    """The mix at every position for one exposure time."""

    exposure_time_s: float
    is_planned: bool
    positions: tuple[FlashMix, ...]


def mix_flash(scene: SceneResponse, dial: Setting) -> tuple[FlashShutter, ...]:
    """Work out ratio and colour at every position for shutters around the planned one.

    Returns
    -------
    tuple of FlashShutter
        Whole stops of exposure time around the planned one, as far as a frame goes; empty where
        no flash burns.
    """
    setup, draws = scene.setup, scene.draws
    is_flash = np.array([float(each.flash and each.on) for each in setup.sources])
    if not is_flash.any():
        return ()
    shooting = setup.shooting
    times = shooting.exposure_time_s * np.exp2(np.array(_SHUTTERS_STOPS, dtype=np.float64))
    times = times[times <= (1 + 1e-9) / shooting.fps]
    # Readings count a flash as steady light at the planned time; at another it is as much weaker,
    # and more or less of it falls in.
    fires = [
        find_caught_share(each.burst or Burst(), [*times, shooting.exposure_time_s])
        for each in setup.sources
    ]
    caught = np.stack(fires, axis=1)
    shorter = shooting.exposure_time_s / times[:, None] * caught[:-1] / caught[-1]
    weaker = np.where(is_flash > 0, shorter, 1.0)
    lux, luminous = scene.lux[..., None], scene.source_lux
    raw = respond(scene.power, setup.camera.sensitivities)[:, None, :]
    own = _mix(raw, lux, weaker, scene.camera.locus)
    over = _compare(lux, weaker, luminous, is_flash)
    drawn = over_drawn = None
    if draws is not None:
        mixes, overs = [], []
        for rows in draws.readings.list_blocks():
            lux = draws.readings.draw(rows)
            mixes.append(_mix(draws.raw, lux, weaker, draws.locus))
            overs.append(_compare(lux, weaker, luminous, is_flash))
        mired, cc = zip(*mixes, strict=True)
        drawn = np.concatenate(mired, axis=1), np.concatenate(cc, axis=1)
        over_drawn = np.concatenate(overs, axis=1)

    def say(q: int, p: int) -> FlashMix:
        ratio = float(over[q, p, 0])
        ratios = None if over_drawn is None else over_drawn[q, p]
        if ratios is not None and not np.isfinite([ratio, *ratios]).all():
            ratios = None
        spread = (None, None) if drawn is None else (drawn[0][q, p], drawn[1][q, p])
        return FlashMix(
            setup.positions[p].name,
            make_interval(ratio, ratios, setup.band_share),
            _less(float(own[0][q, p, 0]), spread[0], dial.mired, setup.band_share),
            _less(float(own[1][q, p, 0]), spread[1], dial.tint_cc, setup.band_share),
        )

    return tuple(
        FlashShutter(
            float(time),
            bool(np.isclose(time, shooting.exposure_time_s)),
            tuple(say(q, p) for p in range(len(setup.positions))),
        )
        for q, time in enumerate(times)
    )


def _less(value: float, draws: Array | None, by: float, share: float) -> Interval:
    return make_interval(value - by, None if draws is None else draws - by, share)


def _mix(raw: Array, lux: Array, weaker: Array, locus: LocusResponse) -> tuple[Array, Array]:
    """Solve coordinates of the mixes, (q, p, k) mired and CC."""
    mixed = np.einsum("qn,pnk,nkc->qpkc", weaker, lux, raw, optimize=True)
    found = solve_coordinates(locus, find_log2_response(mixed))
    return found.mired, found.tint_cc


def _compare(lux: Array, weaker: Array, luminous: Array, is_flash: Array) -> Array:
    """Compare flash with ambient, (q, p, k) [stops]."""
    flash = np.einsum("qn,pnk,n->qpk", weaker, lux, luminous * is_flash, optimize=True)
    steady = np.einsum("qn,pnk,n->qpk", weaker, lux, luminous * (1.0 - is_flash), optimize=True)
    return find_ratio_stops(flash, steady)


def note_flash(setup: Setup) -> tuple[Note, ...]:
    """Say what a plan with flash takes for granted, and whether the shutter can hold it."""
    if not any(each.flash and each.on for each in setup.sources):
        return ()
    text = (
        "a flash is counted within every exposure, whole or what the shutter leaves of it where it "
        "is said how long it lasts; its lux are what it adds at this shutter"
    )
    notes = [Note("flash", text, "flash")]
    shooting = setup.shooting
    bursts = [(each.name, each.burst) for each in setup.sources if each.burst and each.on]
    for name, burst in bursts:
        notes += _note_burst(name, burst, shooting)
    span = max((burst.span_s for _, burst in bursts), default=0.0)
    and_flash = f" and the flash's {1000 * span:.3g} ms" if span else ""
    if shooting.readout_s is None:
        text = (
            "the camera's readout time is not stated: a rolling shutter may catch a flash in a "
            "part of the frame only"
        )
        notes.append(warn("flash-readout", text, "flash"))
    elif shooting.exposure_time_s < shooting.readout_s + span:
        text = (
            f"the exposure of {1000 * shooting.exposure_time_s:.3g} ms is shorter than the readout "
            f"of {1000 * shooting.readout_s:.3g} ms{and_flash}: a flash lights only a part of the "
            "rows"
        )
        notes.append(warn("flash-readout", text, "flash"))
    return tuple(notes)


def _note_burst(name: str, burst: Burst, shooting: Shooting) -> list[Note]:
    """Say where one whole flash in every exposure is false: cut, spilt over, or not in step."""
    notes = []
    time, frame = shooting.exposure_time_s, 1.0 / shooting.fps
    lost = -float(np.log2(find_caught_share(burst, time)))
    if lost > _NOTABLE_LOSS_STOPS:
        text = (
            f"the exposure of {1000 * time:.3g} ms cuts the flash, which lasts "
            f"{1000 * burst.span_s:.3g} ms: {lost:.1f} stops of it are lost, and the plan counts "
            "what is left"
        )
        notes.append(warn("flash-cut", text, name))
    spilt = 1.0 - float(find_caught_share(burst, frame))
    if spilt > _NOTABLE_SPILL:
        text = f"{spilt:.0%} of the flash falls into the next frame, {1000 * frame:.3g} ms later"
        notes.append(warn("flash-spills", text, name))
    if not burst.is_synced:
        missed = 1.0 - time / frame
        text = (
            "the flash is not fired by the shutter: it is counted in every exposure, and at "
            f"{360 * time / frame:.4g}° {missed:.0%} of single flashes fall between exposures"
        )
        notes.append(warn("flash-free", text, name))
    return notes
