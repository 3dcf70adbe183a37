"""A setup through a day: what its camera makes of every position at every time.

Lamps stay as they were read. A light of the sky follows its model: a level that the model gave goes
with it, and one that was read goes up and down from the reading as the model does from its own
time. Everything else is the arithmetic of `planning.response`, over one more axis.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from functools import partial

import numpy as np

from wbplan.camera.neutralisable import NO_LIGHT, find_trouble
from wbplan.camera.sensitivities import find_log2_response, respond
from wbplan.camera.setting import CameraView, solve_coordinates
from wbplan.core.intervals import find_ends
from wbplan.core.progress import Progress, tell
from wbplan.core.tables import Array
from wbplan.light.colorimetry import find_cct_duv
from wbplan.planning.best_setting import solve_within_limits
from wbplan.planning.limits import find_limits
from wbplan.planning.response import SceneDraws, find_luminous, respond_to_scene
from wbplan.scene.setup import Setup, Source, find_position_lux, find_source_power, replace_lux
from wbplan.scene.sky_draws import list_model_shares, pair_draws, respond_to_airs
from wbplan.sky.source import Skies, SkyShine, find_beam_lux, place_sky, shine

CHUNK = 48  # times at once, so that a day by the minute fits into memory
_CELLS = 20_000  # times by positions at once
_ENDS = ("value", "low", "high")


@dataclass(frozen=True, eq=False)
class Band:
    """A value through the day and the interval it lies in, arrays of one shape."""

    value: Array
    low: Array
    high: Array

    def __post_init__(self) -> None:
        for name in ("value", "low", "high"):
            array = np.array(getattr(self, name), dtype=np.float64)
            array.flags.writeable = False
            object.__setattr__(self, name, array)


@dataclass(frozen=True, eq=False)
class DayScene:
    """A setup at t times and p positions.

    Parameters
    ----------
    mired, tint_cc, lux
        (t, p) what each position wants, and its light behind the filters; NaN where the model
        refuses, and mired and tint also where there is no light.
    cct_kelvin
        (t, p) as a meter shows it, NaN where it has no meaning.
    exact_mired, exact_tint_cc
        (t,) the setting that serves the intents best.
    counts
        (t, p) of bool: positions that have an intent and can be neutralised then.
    beam_lux
        (t, p) the part of the lux that is the sun's beam; ``beam_share`` (t, n) of each source's.
    trouble
        (t)(p) why no setting neutralises a position, empty where one does.
    refused
        (t,) why there is nothing to be had at that time, empty where there is.
    elevation_deg, azimuth_deg
        (t,) of the sun.
    source_power
        (t, n, 401) of each source behind its filter, per lux read bare.
    source_lux
        (t, p, n) read or modelled, as a meter without the filter has it.
    """

    mired: Band
    tint_cc: Band
    lux: Band
    cct_kelvin: Array
    exact_mired: Band
    exact_tint_cc: Band
    counts: np.ndarray
    beam_lux: Array
    beam_share: Array
    trouble: tuple[tuple[str, ...], ...]
    refused: tuple[str, ...]
    elevation_deg: Array
    azimuth_deg: Array
    source_power: np.ndarray
    source_lux: Array

    @property
    def usable(self) -> np.ndarray:
        """The times at which there is a setting, (t,) of bool."""
        return np.isfinite(self.exact_mired.value)


def move_setup(setup: Setup, moment: datetime) -> Setup:
    """Move a setup to another time of the same place.

    Raises
    ------
    ValueError
        If a light of the sky is not to be trusted then.
    """
    second = np.array([moment.timestamp()])
    skies: Skies = {}
    sources: list[Source] = []
    lux = np.stack([each.lux for each in setup.positions])
    for row, source in enumerate(setup.sources):
        sky = source.sky
        if sky is None:
            sources.append(source)
            continue
        seen = shine(sky.light, sky.site, second, skies)
        if seen.refused[0]:
            raise ValueError(seen.refused[0])
        lux[:, row] *= float(seen.lux[0]) / sky.lux if sky.lux > 0 else 0.0
        shares = list_model_shares(setup)[:, row]
        lux[:, row] = np.where(np.isfinite(shares), shares * float(seen.lux[0]), lux[:, row])
        power, placed = seen.power[0], place_sky(sky.light, sky.site, moment, seen)
        spectrum = replace(source.spectrum, values=power / power.max())
        sources.append(replace(source, spectrum=spectrum, sky=placed))
    return replace(replace_lux(setup, lux), sources=tuple(sources), when=moment)


def respond_to_day(
    setup: Setup, camera: CameraView, seconds: Array, progress: Progress | None = None
) -> DayScene:
    """Work out a setup through a day.

    Parameters
    ----------
    setup
        At its own time, from which readings are carried on.
    camera
        From `view_camera`.
    seconds
        (t,) since 1970-01-01 00:00 UTC [s].
    progress
        Is told how far it is.
    """
    draws = respond_to_scene(setup, camera).draws
    parts = []
    step = max(1, min(CHUNK, _CELLS // len(setup.positions)))
    for begin in range(0, seconds.size, step):
        parts.append(_respond_to_part(setup, camera, draws, seconds[begin : begin + step]))
        tell(progress, min(begin + step, seconds.size) / seconds.size, "times of the day")
    return _join(parts)


def _join(parts: list[DayScene]) -> DayScene:
    def join(name: str) -> object:
        values = [getattr(each, name) for each in parts]
        if isinstance(values[0], Band):
            return Band(*(np.concatenate([getattr(x, end) for x in values]) for end in _ENDS))
        if isinstance(values[0], tuple):
            return tuple(each for value in values for each in value)
        return np.concatenate(values)

    return DayScene(**{name: join(name) for name in DayScene.__dataclass_fields__})  # type: ignore[arg-type]


def _respond_to_part(
    setup: Setup, camera: CameraView, draws: SceneDraws | None, seconds: Array
) -> DayScene:
    skies: Skies = {}
    shines = [
        None if each.sky is None else shine(each.sky.light, each.sky.site, seconds, skies)
        for each in setup.sources
    ]
    known = [each for each in shines if each is not None]
    if not known:
        raise ValueError(f"setup '{setup.name}' has no light of the sky: its day is one hour long")
    refused = tuple(
        next(filter(None, says), "") for says in zip(*(x.refused for x in known), strict=True)
    )
    fine = np.array([not each for each in refused])
    power = _follow_power(setup, shines, seconds.size)
    lux, factor = _follow_lux(setup, shines, seconds.size)
    raw = respond(power, setup.camera.sensitivities)
    place_raw = np.einsum("tpn,tnc->tpc", lux, raw)
    times, places = place_raw.shape[:2]
    log2_raw = find_log2_response(np.where(place_raw > 0, place_raw, 1e-30)).reshape(-1, 1, 3)
    own = solve_coordinates(camera.locus, log2_raw)
    light = np.einsum("tpn,tnw->tpw", lux, power)
    luminous = find_luminous(power)
    said = find_trouble(light.reshape(times * places, -1), log2_raw[:, 0], own, camera.locus)
    trouble = tuple(
        said[time * places : (time + 1) * places] if fine[time] else (NO_LIGHT,) * places
        for time in range(times)
    )
    lit = np.array([[said != NO_LIGHT for said in row] for row in trouble]) & fine[:, None]
    mired = np.where(lit, own.mired.reshape(times, places), np.nan)
    tint = np.where(lit, own.tint_cc.reshape(times, places), np.nan)
    dark = np.where(fine[:, None], 1.0, np.nan)
    level = np.einsum("tpn,tn->tp", lux, luminous) * dark
    share = setup.band_share
    judged = np.array([each.intent.counts for each in setup.positions])
    counts = lit & np.array([[not said for said in row] for row in trouble]) & judged
    bands = tuple(Band(each, each, each) for each in (mired, tint, level))
    kept = np.empty((2, times, np.count_nonzero(judged), 0))
    if draws is not None:
        airs = _respond_to_airs(setup, draws, shines)
        follow = partial(_draw, setup, draws, shines, airs, factor, luminous)
        parts = []
        for rows in draws.readings.list_blocks(times):
            drawn = follow(rows)
            values = (mired[:, rows], tint[:, rows], level[:, rows])
            found = [_band(x, y, share) for x, y in zip(values, drawn, strict=True)]
            parts.append((found, np.stack(drawn[:2])[:, :, judged[rows]]))
        bands = tuple(
            Band(*(np.concatenate([getattr(x, end) for x in each], axis=1) for end in _ENDS))
            for each in zip(*(found for found, _ in parts), strict=True)
        )
        kept = np.concatenate([each for _, each in parts], axis=2)
    exact = _solve_exact(setup, (mired, tint), kept, counts, judged)
    cct = find_cct_duv(np.where(lit[..., None], light, 1.0))[..., 0]
    share_of_beam = _find_beam_share(setup, shines, seconds)
    beam = np.einsum("tpn,tn->tp", lux, luminous * share_of_beam)
    return DayScene(
        mired=bands[0],
        tint_cc=bands[1],
        lux=bands[2],
        cct_kelvin=np.where(lit, cct, np.nan),
        exact_mired=_band(exact[0], exact[2], share),
        exact_tint_cc=_band(exact[1], exact[3], share),
        counts=counts,
        beam_lux=beam * dark,
        beam_share=share_of_beam,
        trouble=trouble,
        refused=refused,
        elevation_deg=known[0].elevation_deg,
        azimuth_deg=known[0].azimuth_deg,
        source_power=power.astype(np.float32),
        source_lux=lux,
    )


def _find_beam_share(setup: Setup, shines: list[SkyShine | None], seconds: Array) -> Array:
    """Find which share of each source is the sun's beam, (t, n)."""
    share = np.zeros((seconds.size, len(setup.sources)))
    for row, (source, seen) in enumerate(zip(setup.sources, shines, strict=True)):
        if seen is not None and source.sky is not None:
            beam = find_beam_lux(source.sky.light, source.sky.site, seconds)
            share[:, row] = beam / np.where(seen.lux > 0, seen.lux, np.inf)
    return share


def _follow_power(setup: Setup, shines: list[SkyShine | None], times: int) -> Array:
    """Follow each source's spectrum behind its filter, per lux read bare, (t, n, 401)."""
    power = np.repeat(find_source_power(setup)[None], times, axis=0)
    for row, seen in enumerate(shines):
        if seen is not None:
            power[:, row] = seen.power * setup.sources[row].filter.transmittance
    return power


def _follow_lux(
    setup: Setup, shines: list[SkyShine | None], times: int
) -> tuple[Array, list[tuple[Array, np.ndarray] | None]]:
    """Follow the lux read bare, (t, p, n); for each sky its shares (p,), and which are modelled."""
    read = find_position_lux(setup)
    shares = list_model_shares(setup)
    lux = np.repeat(read[None], times, axis=0)
    factor: list[tuple[Array, np.ndarray] | None] = []
    for row, seen in enumerate(shines):
        source = setup.sources[row]
        if seen is None or source.sky is None:
            factor.append(None)
            continue
        modelled = np.isfinite(shares[:, row])
        then = source.sky.lux
        own = read[:, row] / then if then > 0 else np.zeros(read.shape[0])
        share = np.where(modelled, np.nan_to_num(shares[:, row]), own) * source.on
        lux[:, :, row] = seen.lux[:, None] * share
        factor.append((share, modelled))
    return lux, factor


def _respond_to_airs(
    setup: Setup, draws: SceneDraws, shines: list[SkyShine | None]
) -> list[Array | None]:
    """Find what plausible cameras make of each light of the sky under its airs; None of a lamp."""
    return [
        None
        if seen is None
        else respond_to_airs(seen.draw_power, source.filter.transmittance, draws.curves)
        for seen, source in zip(shines, setup.sources, strict=True)
    ]


def _draw(
    setup: Setup,
    draws: SceneDraws,
    shines: list[SkyShine | None],
    airs: list[Array | None],
    factor: list[tuple[Array, np.ndarray] | None],
    luminous: Array,
    rows: slice,
) -> tuple[Array, Array, Array]:
    """Draw mired, tint and lux at some positions, (t, p, k) each, by plausible cameras and airs."""
    lux_drawn = draws.readings.draw(rows)
    places, _, count = lux_drawn.shape
    times = luminous.shape[0]
    raw = np.zeros((times, places, count, 3))
    level = np.zeros((times, places, count))
    for number, seen in enumerate(shines):
        source = setup.sources[number]
        part, response = factor[number], airs[number]
        if seen is None or part is None or response is None or source.sky is None:
            raw += lux_drawn[:, number, :, None] * draws.raw[number]
            level += lux_drawn[:, number] * luminous[:, number, None, None]
            continue
        meets = pair_draws(count, seen.draw_lux.shape[0])
        share, modelled = (each[rows] for each in part)
        now = seen.draw_lux[meets].T  # (t, k)
        then = source.sky.draw_lux[meets]
        carried = lux_drawn[:, number] / np.where(then > 0, then, np.inf)
        own = np.where(modelled[:, None], share[:, None], carried)
        reach = now[:, None, :] * own
        raw += reach[..., None] * response[:, None]
        level += reach * luminous[:, number, None, None]
    lit = raw.sum(-1) > 0
    flat = np.where(lit[..., None], raw, 1.0).reshape(-1, count, 3)
    found = solve_coordinates(draws.locus, find_log2_response(flat))
    shape = (times, places, count)
    mired = np.where(lit, found.mired.reshape(shape), np.nan)
    return mired, np.where(lit, found.tint_cc.reshape(shape), np.nan), level


def _solve_exact(
    setup: Setup, own: tuple[Array, Array], draws: Array, counts: np.ndarray, judged: np.ndarray
) -> tuple[Array, Array, Array, Array]:
    """Solve the best setting at each time, and its draws, by the positions that count then.

    ``draws`` (2, t, j, k) are mired and tint at the j positions that are ``judged`` (p,).
    """
    times, count = own[0].shape[0], draws.shape[3]
    result = [np.full(times, np.nan), np.full(times, np.nan)]
    spread = [np.full((times, count), np.nan), np.full((times, count), np.nan)]
    column = np.cumsum(judged) - 1
    for pattern in np.unique(counts, axis=0):
        if not pattern.any():
            continue
        rows = np.flatnonzero((counts == pattern).all(axis=1))
        places = np.flatnonzero(pattern)
        intents = [setup.positions[place].intent for place in places]
        weight = np.array([each.weight for each in intents])
        asked = (intents, weight, find_limits(intents, np.ones(len(intents))))
        pick = np.ix_(rows, places)
        mired, cc = own[0][pick].T, own[1][pick].T
        result[0][rows], result[1][rows], _ = solve_within_limits(mired, cc, *asked)
        if count:
            pick = np.ix_(rows, column[places])
            mired, cc = (np.swapaxes(each[pick], 0, 1) for each in draws)
            spread[0][rows], spread[1][rows], _ = solve_within_limits(mired, cc, *asked)
    return result[0], result[1], spread[0], spread[1]


def _band(value: Array, draws: Array, share: float) -> Band:
    """Make central intervals over the last axis of draws; closed where there are none."""
    if draws.shape[-1] == 0:
        return Band(value, value, value)
    fine = np.isfinite(value)
    low, high = np.full_like(value, np.nan), np.full_like(value, np.nan)
    ends = find_ends(draws[fine], share)
    low[fine], high[fine] = np.minimum(value[fine], ends[0]), np.maximum(value[fine], ends[1])
    return Band(value, low, high)
