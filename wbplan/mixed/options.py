"""What can be done to each light that may be changed: filters in stacks, or a fixture's tunings.

Idea
----
Every option is worked out once, as what the camera and the meter get of it per lux as read; what is
too dear, out of stock or the same as another is left out here, so that the search never meets it.
A fixture gets a ladder of tunings, 10 mired apart on the reference light, and one to match each
other light as this camera sees it; it keeps its lux as far as its channels reach.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from wbplan.camera.neutral_table import NeutralTable
from wbplan.camera.sensitivities import respond
from wbplan.camera.setting import CameraView
from wbplan.core.notes import Note, warn
from wbplan.core.tables import Array
from wbplan.light.filters import Filter, find_loss_stops, stack_filters
from wbplan.light.spectrum import Spectrum, find_illuminance_lux, freeze, scale_to_lux
from wbplan.mixed.gel_packs import LightOptions, Problem, SettingMenu, make_menu
from wbplan.planning.limits import find_limits
from wbplan.scene.changes import ChangeableLight, Wish, list_generic_filters
from wbplan.scene.fixtures import Fixture, solve_drives
from wbplan.scene.setup import Setup, Source, replace_lux

_DAYLIGHT_ORIGIN = "CIE 15:2018 daylight"
_LADDER_MIRED = np.arange(100.0, 501.0, 10.0)
_SAME_DRIVE = 0.005
_MOST_OPTIONS = 2_000


@dataclass(frozen=True, eq=False)
class Option:
    """One thing that can be done to a light: filters hung, or drives (n,); neither is to leave it.

    ``power`` (401,) is the light then, per lux as read; ``loss_stops`` against leaving it.
    """

    filters: tuple[Filter, ...]
    drives: Array | None
    power: Array
    loss_stops: float

    @property
    def changes(self) -> int:
        """How many things it changes."""
        return len(self.filters) + (self.drives is not None)


@dataclass(frozen=True, eq=False)
class OptionList:
    """All options of one light of a setup, the first of them to leave it as it is."""

    wish: ChangeableLight
    row: int
    options: tuple[Option, ...]
    notes: tuple[Note, ...]


def assume_wish(setup: Setup) -> Wish:
    """Assume what may be changed where nobody said it: all but daylight, a generic filter each."""
    generic = list_generic_filters()
    lights = [
        ChangeableLight(each.name, () if each.fixture else generic, tuned=each.fixture is not None)
        for each in setup.sources
        if each.on and each.sky is None and each.spectrum.origin != _DAYLIGHT_ORIGIN
    ]
    return Wish(tuple(lights), assumed=True)


def list_options(
    setup: Setup,
    camera: CameraView,
    wish: ChangeableLight,
    stock: dict[str, int],
    others: Sequence[tuple[float, float]],
) -> OptionList:
    """List what can be done to a light.

    Parameters
    ----------
    setup, camera
        The scene and its camera.
    wish
        What is allowed.
    stock
        Pieces of the filters that are limited.
    others
        (mired, CC) of the other lights, for a fixture to match.
    """
    row = [each.name for each in setup.sources].index(wish.light)
    source = setup.sources[row]
    bare = scale_to_lux(source.spectrum.values, 1.0)
    leave = Option((), None, freeze(bare * source.filter.transmittance), 0.0)
    notes: list[Note] = []
    if wish.tuned:
        made = _list_tunings(source, camera, others)
        dear = [each for each in made if each.loss_stops > wish.max_loss_stops]
        made = [each for each in made if each.loss_stops <= wish.max_loss_stops]
        what = "tuning"
    else:
        made, notes, dear = _list_filters(wish, leave.power, stock)
        what = "filter"
    if dear and not made:
        least = min(each.loss_stops for each in dear)
        text = (
            f"every {what} that is allowed costs more than {wish.max_loss_stops:.2g} stops of this "
            f"light; the least costs {least:.2f}"
        )
        notes = [*notes, warn("too-dear", text, wish.light)]
    return OptionList(wish, row, (leave, *made), tuple(notes))


def _list_filters(
    wish: ChangeableLight, power: Array, stock: dict[str, int]
) -> tuple[list[Option], list[Note], list[Option]]:
    held = [each for each in wish.filters if stock.get(each.name, wish.pieces) >= wish.pieces]
    notes: list[Note] = []
    if len(held) < len(wish.filters):
        short = ", ".join(each.name for each in wish.filters if each not in held)
        text = f"the stock has fewer than the {wish.pieces} it takes of: {short}"
        notes.append(Note("out-of-stock", text, wish.light))
    made: list[Option] = []
    dear: list[Option] = []
    groups = [group for size in range(1, wish.stack + 1) for group in combinations(held, size)]
    if len(groups) > _MOST_OPTIONS:
        text = (
            f"{len(groups)} stacks are allowed and only the first {_MOST_OPTIONS} are tried: name "
            "fewer filters, or a lower stack"
        )
        notes.append(warn("too-many-stacks", text, wish.light))
    for group in groups[:_MOST_OPTIONS]:
        through = stack_filters(group).transmittance
        loss = float(find_loss_stops(through, power))
        option = Option(group, None, freeze(power * through), loss)
        fits = np.isfinite(loss) and loss <= wish.max_loss_stops
        (made if fits else dear).append(option)
    return made, notes, dear


def _list_tunings(
    source: Source, camera: CameraView, others: Sequence[tuple[float, float]]
) -> list[Option]:
    fixture = source.fixture
    if fixture is None:
        return []
    through = fixture.power * source.filter.transmittance
    curves = camera.profile.sensitivities
    seen: list[Array] = [fixture.drives / fixture.drives.max()]
    made = []
    for mired, tint in [*((float(each), 0.0) for each in _LADDER_MIRED), *others]:
        drives = solve_drives(through, curves, camera.locus, mired, tint).drives
        if any(np.abs(drives - each).max() < _SAME_DRIVE for each in seen):
            continue
        seen.append(drives)
        made.append(_tune(fixture, source.filter, drives))
    return made


def _tune(fixture: Fixture, worn: Filter, drives: Array) -> Option:
    """Tune a fixture, its lux kept where its channels reach."""
    now = find_illuminance_lux(fixture.drives @ fixture.power * worn.transmittance)
    full = find_illuminance_lux(drives @ fixture.power * worn.transmittance)
    level = min(1.0, float(now / full))
    power = level * drives @ fixture.power
    read = find_illuminance_lux(fixture.drives @ fixture.power)
    loss = max(0.0, float(np.log2(now / (level * full))))
    return Option((), freeze(level * drives), freeze(power * worn.transmittance / read), loss)


def weigh_options(
    each: OptionList, camera: CameraView, lux: Array, key_lux: float, limited: Sequence[str]
) -> LightOptions:
    """Turn options into numbers for the search; ``lux`` (q,) as read at the judged positions."""
    power = np.stack([option.power for option in each.options])
    use = [
        [each.wish.pieces * sum(f.name == name for f in option.filters) for name in limited]
        for option in each.options
    ]
    return LightOptions(
        response=freeze(respond(power, camera.profile.sensitivities)),
        luminous=freeze(find_illuminance_lux(power)),
        changes=np.array([option.changes for option in each.options]),
        loss_stops=freeze([option.loss_stops for option in each.options]),
        use=freeze(np.array(use, dtype=float).reshape(len(each.options), len(limited))),
        lux=freeze(lux),
        key_lux=key_lux,
    )


def pose_problem(
    setup: Setup,
    wish: Wish,
    lists: Sequence[OptionList],
    lights: Sequence[LightOptions],
    judged: Sequence[int],
    lux: Array,
    power: Array,
    table: NeutralTable,
) -> Problem:
    """Pose the search for filters, fixture settings and a setting of the menu, in numbers.

    Parameters
    ----------
    lists, lights
        The options of each light that may be changed, and those in numbers.
    judged
        (q,) rows of the positions that count.
    lux, power
        (p, n) and (n, 401) as they are, of every source.
    table
        Of the camera's neutrals.
    """
    moved = [each.row for each in lists]
    still = np.array([row for row in range(len(setup.sources)) if row not in moved], dtype=np.intp)
    intents = [setup.positions[row].intent for row in judged]
    weight = np.array([each.weight for each in intents])
    weight = weight if weight.sum() > 0 else np.ones_like(weight)
    within = find_limits(intents, np.ones(len(intents)))
    luminous, key, curves = find_illuminance_lux(power), setup.key_row, setup.camera.sensitivities
    kept = 2.0 ** -min(wish.key_loss_stops, 1000.0)
    return Problem(
        lights=tuple(lights),
        fixed=freeze(
            lux[np.ix_(np.array(judged, dtype=np.intp), still)] @ respond(power, curves)[still]
        ),
        want_mired=freeze([each.mired for each in intents]),
        want_cc=freeze([each.green_cc for each in intents]),
        weight=freeze(weight / weight.sum()),
        within_mired=within[0],
        within_cc=within[1],
        menu=_list_menu(setup),
        table=table,
        stock=freeze([count for _, count in wish.stock]),
        key_fixed_lux=float(lux[key, still] @ luminous[still]),
        key_least_lux=float(lux[key] @ luminous) * kept * (1 - 1e-9),
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
        if option.filters:
            worn = (source.filter,) if source.filter.name != "none" else ()
            sources[row] = replace(source, filter=stack_filters((*worn, *option.filters)))
        elif option.drives is not None and source.fixture is not None:
            fixture = replace(source.fixture, drives=option.drives)
            power = option.drives @ fixture.power
            read = find_illuminance_lux(source.fixture.drives @ fixture.power)
            lux[:, row] *= float(find_illuminance_lux(power) / read)
            spectrum: Spectrum = replace(source.spectrum, values=power / power.max())
            sources[row] = replace(source, spectrum=spectrum, fixture=fixture)
    return replace(replace_lux(setup, lux), sources=tuple(sources))
