"""What can be done to each light that may be changed: filters in stacks, a fixture's tunings, and
each of them while it is dimmed, moved or bounced; or off.

Idea
----
Every option is worked out once, as what the camera and the meter get of it per lux as read; what is
too dear, out of stock or the same as another is left out here, so that the search never meets it.
A fixture that may be tuned has no list: the search drives its channels as continuous numbers.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations_with_replacement
from math import inf, log2

import numpy as np
from numpy.typing import ArrayLike

from wbplan.camera.neutral_table import NeutralTable
from wbplan.camera.sensitivities import respond
from wbplan.camera.setting import CameraView
from wbplan.core.notes import Note, warn
from wbplan.core.tables import Array
from wbplan.light.filters import Filter, find_loss_stops, stack_filters
from wbplan.light.spectrum import (
    find_illuminance_lux,
    freeze,
    normalise_peak,
    rescale,
    scale_to_lux,
)
from wbplan.mixed.gel_packs import DriveRange, LightOptions, Problem, SettingMenu, make_menu
from wbplan.planning.limits import find_limits
from wbplan.scene.changes import (
    TUNED_LOSS_STOPS,
    ChangeableLight,
    LightChange,
    Wish,
    list_generic_filters,
)
from wbplan.scene.setup import Setup, Source, replace_lux

_DAYLIGHT_ORIGIN = "CIE 15:2018 daylight"
_MOST_LOSS_STOPS = 20.0
_MOST_OPTIONS = 2_000
_TIE = 1e-9
_RATIO_STOPS = 1e-6  # a ratio counts as kept up to this: larger than the arithmetic's error
_LEAST_LUX = 1e-6  # under which a level has no ratio


@dataclass(frozen=True, eq=False)
class Option:
    """One thing that can be done to a light: filters hung, or drives (n,), and a change of how it
    burns or stands; none of them is to leave it.

    ``power`` (401,) is the light then, for each lux that it gives without filters, ``lux`` (p,)
    what it gives each position so [lux, or lux seconds of a flash]; ``loss_stops`` is what is lost
    against leaving it, where it gives most.
    """

    filters: tuple[Filter, ...]
    drives: Array | None
    power: Array
    lux: Array
    loss_stops: float
    change: LightChange | None = None

    @property
    def changes(self) -> int:
        """How many things it changes."""
        return len(self.filters) + (self.drives is not None) + (self.change is not None)

    @property
    def is_off(self) -> bool:
        """Whether the light is put out."""
        return self.change is not None and self.change.kind == "off"


@dataclass(frozen=True, eq=False)
class OptionList:
    """All options of one light of a setup, the first of them to leave it as it is."""

    wish: ChangeableLight
    row: int
    options: tuple[Option, ...]
    notes: tuple[Note, ...]


def assume_wish(setup: Setup) -> Wish:
    """Assume what may be changed where nobody said it: a generic filter on each light, on daylight
    only where it comes through a window.
    """
    generic = list_generic_filters()
    lights = [
        ChangeableLight(each.name, generic)
        if each.fixture is None
        else ChangeableLight(each.name, tuned=True, max_loss_stops=TUNED_LOSS_STOPS)
        for each in setup.sources
        if each.on
        and (
            each.make == "window" or (each.sky is None and each.spectrum.origin != _DAYLIGHT_ORIGIN)
        )
    ]
    return Wish(tuple(lights), assumed=True)


def list_options(
    setup: Setup,
    wish: ChangeableLight,
    stock: dict[str, int],
) -> OptionList:
    """List what can be done to a light.

    Parameters
    ----------
    setup
        The scene.
    wish
        What is allowed.
    stock
        Pieces of the filters that are limited.
    """
    row = [each.name for each in setup.sources].index(wish.light)
    source = setup.sources[row]
    lux = np.stack([each.lux[row] for each in setup.positions])
    bare = scale_to_lux(source.spectrum.values, 1.0)
    leave = Option((), None, freeze(bare * source.filter.transmittance), freeze(lux), 0.0)
    if wish.tuned:
        return OptionList(wish, row, (leave,), ())
    groups, notes = _list_groups(wish, stock)
    bases = [leave, *(_change(source, leave, each) for each in wish.changes)]
    made = [
        _hang(base, group) for base in bases for group in (groups if base.lux.any() else groups[:1])
    ][1:]
    kept = [
        each
        for each in made
        if each.is_off or (each.power.any() and each.loss_stops <= wish.max_loss_stops)
    ]
    if made and not kept:
        least = min(each.loss_stops for each in made)
        text = (
            f"every change that is allowed costs more than "
            f"{wish.max_loss_stops:.2g} stops of this light; the least costs {least:.2f}"
        )
        notes = [*notes, warn("too-dear", text, wish.light)]
    return OptionList(wish, row, (leave, *kept), tuple(notes))


def _list_groups(
    wish: ChangeableLight, stock: dict[str, int]
) -> tuple[tuple[tuple[Filter, ...], ...], list[Note]]:
    """List the filters that may be hung together, none first; the same one may come again."""
    held = [each for each in wish.filters if stock.get(each.name, wish.pieces) >= wish.pieces]
    notes: list[Note] = []
    if len(held) < len(wish.filters):
        short = ", ".join(each.name for each in wish.filters if each not in held)
        text = f"the stock has fewer than the {wish.pieces} it takes of: {short}"
        notes.append(Note("out-of-stock", text, wish.light))
    groups = [
        group
        for size in range(wish.stack + 1)
        for group in combinations_with_replacement(held, size)
    ]
    most = _MOST_OPTIONS // (1 + len(wish.changes))
    if len(groups) > most + 1:
        text = (
            f"{len(groups) - 1} stacks are allowed and only the first {most} are tried: name fewer "
            "filters, or a lower stack"
        )
        notes.append(warn("too-many-stacks", text, wish.light))
    return tuple(groups[: most + 1]), notes


def _hang(option: Option, group: tuple[Filter, ...]) -> Option:
    """Hang filters before a light."""
    if not group:
        return option
    through = stack_filters(group).transmittance
    loss = option.loss_stops + float(find_loss_stops(through, option.power))
    return replace(option, filters=group, power=freeze(option.power * through), loss_stops=loss)


def _change(source: Source, leave: Option, change: LightChange) -> Option:
    """Let a light burn or stand otherwise."""
    power = scale_to_lux(_reshape(source, change), 1.0) * source.filter.transmittance
    most = int(leave.lux.argmax())
    left = change.lux[most] * find_illuminance_lux(power)
    loss = -log2(left / leave.lux[most] / find_illuminance_lux(leave.power)) if left else inf
    return Option((), None, freeze(power), change.lux, float(loss), change)


def _reshape(source: Source, change: LightChange) -> Array:
    values = source.spectrum.values
    return values if change.shape is None else values * change.shape


def drive(setup: Setup, each: OptionList, drives: ArrayLike) -> Option:
    """Make the option of a fixture whose channels are driven anew; a gain is a loss below 0."""
    source, leave = setup.sources[each.row], each.options[0]
    fixture = source.fixture
    if fixture is None:
        raise ValueError(f"'{source.name}' has no channels to drive")
    shares = np.asarray(drives, dtype=np.float64)
    read = find_illuminance_lux(fixture.drives @ fixture.power)
    power = shares @ fixture.power * source.filter.transmittance / read
    loss = np.log2(find_illuminance_lux(leave.power) / find_illuminance_lux(power))
    return Option((), freeze(shares), freeze(power), leave.lux, float(loss))


def weigh_drives(
    setup: Setup,
    each: OptionList,
    camera: CameraView,
    lux: Array,
    judged: Sequence[int],
    sums: LevelSums,
) -> DriveRange:
    """Turn a fixture into numbers for the search; ``lux`` (p,) as read, as steady light."""
    source = setup.sources[each.row]
    fixture = source.fixture
    if fixture is None:
        raise ValueError(f"'{source.name}' has no channels to drive")
    read = find_illuminance_lux(fixture.drives @ fixture.power)
    power = fixture.power * source.filter.transmittance / read
    luminous = find_illuminance_lux(power)
    response = respond(power, camera.profile.sensitivities)
    loss = min(each.wish.max_loss_stops, _MOST_LOSS_STOPS)
    return DriveRange(
        response=freeze(lux[list(judged), None] * response[:, None, :]),
        levels=freeze((luminous[:, None] * lux) @ sums.share[:, :, each.row].T),
        output=freeze(luminous / (fixture.drives @ luminous)),
        as_read=fixture.drives,
        least=2.0**-loss,
        most=2.0**each.wish.max_gain_stops * (1 + _TIE),
    )


@dataclass(frozen=True, eq=False)
class LevelSums:
    """Sums of lux that a pack has to keep up: at the key, and for the ratios that are wanted.

    ``share`` (c, p, n) is what each lux of each light at each position counts for in each sum,
    ``least`` (c,) what has to come of it.
    """

    share: Array
    least: Array


def sum_levels(setup: Setup, wish: Wish, lux: Array, power: Array) -> LevelSums:
    """Say what levels a pack has to keep up.

    ``lux`` (p, n) and ``power`` (n, 401) are of every source as it is. A ratio a : b of at least r
    is a - r b >= 0, so it is a sum as the light at the key is.
    """
    places = [each.name for each in setup.positions]
    lights = [each.name for each in setup.sources]
    luminous = find_illuminance_lux(power)
    key = np.zeros(lux.shape)
    key[setup.key_row] = 1.0
    kept = 2.0 ** -min(wish.key_loss_stops, 1000.0)
    shares = [key]
    least = [float(lux[setup.key_row] @ luminous) * kept * (1 - _TIE)]
    for each in wish.ratios:
        over, under = np.zeros(lux.shape), np.zeros(lux.shape)
        if each.at:
            over[places.index(each.at), lights.index(each.key)] = 1.0
            under[places.index(each.at), lights.index(each.fill)] = 1.0
        else:
            over[places.index(each.key)] = 1.0
            under[places.index(each.fill)] = 1.0
        span = 2.0 ** (each.within_stops + _RATIO_STOPS)
        shares += [over - each.ratio / span * under, each.ratio * span * under - over, under]
        least += [0.0, 0.0, _LEAST_LUX]
    return LevelSums(freeze(np.stack(shares)), freeze(least))


def weigh_options(
    each: OptionList,
    camera: CameraView,
    lux: Array,
    judged: Sequence[int],
    sums: LevelSums,
    limited: Sequence[str],
) -> LightOptions:
    """Turn options into numbers for the search.

    ``lux`` (m, p) is what each gives each position without filters, as steady light.
    """
    power = np.stack([option.power for option in each.options])
    response = respond(power, camera.profile.sensitivities)
    seen = lux * find_illuminance_lux(power)[:, None]
    use = [
        [each.wish.pieces * sum(f.name == name for f in option.filters) for name in limited]
        for option in each.options
    ]
    return LightOptions(
        response=freeze(lux[:, list(judged), None] * response[:, None, :]),
        levels=freeze(seen @ sums.share[:, :, each.row].T),
        changes=np.array([option.changes for option in each.options]),
        loss_stops=np.array([option.loss_stops for option in each.options]),  # of one off, infinite
        use=freeze(np.array(use, dtype=float).reshape(len(each.options), len(limited))),
    )


def pose_problem(
    setup: Setup,
    wish: Wish,
    lists: Sequence[OptionList],
    lights: Sequence[LightOptions],
    fixtures: Sequence[DriveRange],
    judged: Sequence[int],
    lux: Array,
    power: Array,
    sums: LevelSums,
    table: NeutralTable,
) -> Problem:
    """Pose the search for filters, fixture settings and a setting of the menu, in numbers.

    Parameters
    ----------
    lists, lights, fixtures
        The options of each light that may be changed, and those in numbers.
    judged
        (q,) rows of the positions that count.
    lux, power
        (p, n) and (n, 401) as they are, of every source.
    sums
        From `sum_levels`.
    table
        Of the camera's neutrals.
    """
    moved = [each.row for each in lists]
    still = np.array([row for row in range(len(setup.sources)) if row not in moved], dtype=np.intp)
    intents = [setup.positions[row].intent for row in judged]
    weight = np.array([each.weight for each in intents])
    weight = weight if weight.sum() > 0 else np.ones_like(weight)
    within = find_limits(intents, np.ones(len(intents)))
    seen = lux * find_illuminance_lux(power)
    return Problem(
        lights=tuple(lights),
        fixed=freeze(
            lux[np.ix_(np.array(judged, dtype=np.intp), still)]
            @ respond(power, setup.camera.sensitivities)[still]
        ),
        want_mired=freeze([each.mired for each in intents]),
        want_cc=freeze([each.green_cc for each in intents]),
        weight=freeze(weight / weight.sum()),
        within_mired=within[0],
        within_cc=within[1],
        menu=_list_menu(setup),
        table=table,
        stock=freeze([count for _, count in wish.stock]),
        fixed_levels=freeze(np.einsum("cpn,pn->c", sums.share[:, :, still], seen[:, still])),
        least_levels=sums.least,
        fixtures=tuple(fixtures),
    )


def _list_menu(setup: Setup) -> SettingMenu:
    """List the settings that a search may use: the one that is shot at, or the whole menu."""
    if setup.shot_at is not None:
        return make_menu((), (), np.array([[setup.shot_at.mired, setup.shot_at.tint_cc]]))
    menu = setup.camera.menu
    pairs = np.array([[1e6 / kelvin, tint] for _, kelvin, tint in menu.presets]).reshape(-1, 2)
    return make_menu(menu.kelvin, menu.tint_cc, pairs)


def apply_options(setup: Setup, chosen: Sequence[tuple[int, Option]]) -> Setup:
    """Change the lights of a setup: (row, option) of each."""
    sources = list(setup.sources)
    lux = np.stack([each.lux for each in setup.positions])
    for row, option in chosen:
        source = sources[row]
        if option.change is not None:
            shape = 1.0 if option.change.shape is None else option.change.shape
            shaped = rescale(source.spectrum, shape)
            spectrum = normalise_peak(shaped)
            source = replace(source, spectrum=spectrum, on=not option.is_off)
            lux[:, row] = lux[:, row] if option.is_off else option.lux
        if option.filters:
            worn = (source.filter,) if source.filter.name != "none" else ()
            source = replace(source, filter=stack_filters((*worn, *option.filters)))
        elif option.drives is not None and source.fixture is not None:
            fixture = replace(source.fixture, drives=option.drives)
            power = option.drives @ fixture.power
            read = find_illuminance_lux(source.fixture.drives @ fixture.power)
            lux[:, row] *= float(find_illuminance_lux(power) / read)
            driven = replace(source.spectrum, values=power, sampling=fixture.sampling)
            spectrum = normalise_peak(driven)
            source = replace(source, spectrum=spectrum, fixture=fixture)
        sources[row] = source
    return replace(replace_lux(setup, lux), sources=tuple(sources))
