"""What is in the case, neutral glass, the camera's ND, lenses, and the pack that reaches a stop.

Idea
----
A wanted loss of light is put together from pieces that are there, each as often as it is there.
Every pack up to a few pieces is tried, so the answer is exact. A pack that comes within a sixth of
a stop reaches the mark (the lens's thirds take up the rest); among those the one with the least
glass comes first, since every piece adds reflections and dirt. The camera's own ND adds none, so
it does not count as a piece. Filters that stay on for other reasons are in every pack and cost what
they cost.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil

MARK_STOPS = 1.0 / 6.0  # half of the third that lenses and cameras are set by
MOST_GLASS = 4
MOST_PIECES_IN_KIT = 24


@dataclass(frozen=True)
class Piece:
    """A filter for the lens: what it costs [stops], how many there are, whether it stays on."""

    name: str
    stops: float
    count: int = 1
    stays: bool = False


@dataclass(frozen=True)
class Lens:
    """A lens by its widest and smallest T-stop."""

    name: str
    widest_t_stop: float
    smallest_t_stop: float


@dataclass(frozen=True)
class Kit:
    """What the crew has with it.

    ``camera_nd_stops`` are the steps of the ND inside the camera besides clear; ``most_glass``
    is how many pieces may stand before the lens, those that stay on included.
    """

    pieces: tuple[Piece, ...] = ()
    camera_nd_stops: tuple[float, ...] = ()
    most_glass: int = 3
    lenses: tuple[Lens, ...] = ()

    def __post_init__(self) -> None:
        if not 0 <= self.most_glass <= MOST_GLASS or len(self.pieces) > MOST_PIECES_IN_KIT:
            raise ValueError(f"at most {MOST_GLASS} pieces at once, of {MOST_PIECES_IN_KIT} kinds")


@dataclass(frozen=True)
class Pack:
    """Glass before the lens, by name, the camera's ND [stops], and what both cost.

    ``miss_stops`` is the cost less what was wanted: + leaves the picture too dark.
    """

    glass: tuple[str, ...]
    camera_nd_stops: float
    stops: float
    miss_stops: float

    @property
    def reaches(self) -> bool:
        """Whether the pack comes within a sixth of a stop of what was wanted."""
        return abs(self.miss_stops) <= MARK_STOPS + 1e-9


def find_packs(kit: Kit, wanted_stops: float, count: int = 3) -> tuple[Pack, ...]:
    """Find the packs that reach a wanted loss of light.

    Parameters
    ----------
    kit
        What there is.
    wanted_stops
        The loss [stops]; 0 or less asks for nothing but what stays on.
    count
        How many packs to give at most.

    Returns
    -------
    tuple of Pack
        First those within a sixth of a stop, then those within two sixths and so on; within each
        the least glass first, then without the camera's ND, then the nearest. Of packs with the
        same cost the one with the least glass counts.
    """
    best: dict[float, Pack] = {}
    for glass, cost in _list_stacks(kit):
        for inside in (0.0, *kit.camera_nd_stops):
            total = cost + inside
            pack = Pack(glass, inside, total, total - wanted_stops)
            held = best.get(round(total, 6))
            if held is None or len(glass) < len(held.glass):
                best[round(total, 6)] = pack
    return tuple(sorted(best.values(), key=_rank)[:count])


def _rank(pack: Pack) -> tuple[int, int, bool, float, float]:
    """Rank by sixths of a stop that are missed, glass, whether the camera's is used, and miss."""
    miss = round(abs(pack.miss_stops), 6)
    missed = max(ceil(miss / MARK_STOPS - 1e-6), 1)
    return missed, len(pack.glass), pack.camera_nd_stops > 0, miss, pack.stops


def _list_stacks(kit: Kit) -> Iterator[tuple[tuple[str, ...], float]]:
    stays = [each for each in kit.pieces if each.stays]
    free = [each for each in kit.pieces if not each.stays]
    names = tuple(each.name for each in stays)
    room = max(kit.most_glass - len(stays), 0)

    def add(
        index: int, room: int, held: tuple[str, ...], cost: float
    ) -> Iterator[tuple[tuple[str, ...], float]]:
        if index == len(free):
            yield held, cost
            return
        piece = free[index]
        for number in range(min(piece.count, room) + 1):
            more = held + (piece.name,) * number
            yield from add(index + 1, room - number, more, cost + number * piece.stops)

    yield from add(0, room, names, sum(each.stops for each in stays))


def find_fitting_lenses(kit: Kit, t_stop: float) -> tuple[str, ...]:
    """Name the lenses that can be set to a T-stop, to within a sixth of a stop."""
    slack = 2.0 ** (MARK_STOPS / 2.0)
    return tuple(
        each.name
        for each in kit.lenses
        if each.widest_t_stop / slack <= t_stop <= each.smallest_t_stop * slack
    )
