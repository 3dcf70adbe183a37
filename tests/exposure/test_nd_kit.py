"""Packs of ND against brute force, and the order in which they are given."""

from __future__ import annotations

from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wbplan.exposure.nd_kit import (
    MARK_STOPS,
    Kit,
    Lens,
    Pack,
    Piece,
    find_fitting_lenses,
    find_packs,
)

STEP = 0.3 / 0.30103  # 0.3 of density in stops: 0.9966 (arithmetic)
KIT = Kit(
    (Piece("ND 0.3", STEP), Piece("ND 0.6", 2 * STEP, 2), Piece("ND 0.9", 3 * STEP)), (2.0, 4.0)
)


def first(wanted: float, kit: Kit = KIT) -> Pack:
    return find_packs(kit, wanted)[0]


def test_fewest_pieces_first() -> None:
    assert first(0.0).glass == ()
    assert first(0.0).camera_nd_stops == 0
    assert first(3.0).glass == ("ND 0.9",)  # not ND 0.3 + ND 0.6, nor ND 0.3 with the camera's
    assert first(4.0).glass == ()
    assert first(4.0).camera_nd_stops == 4
    assert sorted(first(9.0).glass) == ["ND 0.6", "ND 0.9"]
    assert all(each.reaches for each in (first(3.0), first(4.0), first(9.0)))


def test_out_of_reach_gives_the_nearest() -> None:
    far = first(30.0)
    assert not far.reaches
    assert far.stops == pytest.approx(4 + 7 * STEP)
    assert far.miss_stops < 0
    assert first(-2.0).glass == ()


def test_what_stays_on_is_in_every_pack() -> None:
    kit = Kit((Piece("polariser", 1.5, stays=True), Piece("ND 0.3", 1.0)), (), 2)
    assert first(2.5, kit).glass == ("polariser", "ND 0.3")
    assert first(0.0, kit).glass == ("polariser",)
    assert first(0.0, kit).miss_stops == 1.5
    full = Kit((Piece("polariser", 1.5, stays=True), Piece("ND 0.3", 1.0)), (), 1)
    assert first(2.5, full).glass == ("polariser",)


@given(
    stops=st.lists(st.sampled_from([0.33, 1.0, 2.0, 3.1]), min_size=0, max_size=4, unique=True),
    counts=st.lists(st.integers(1, 3), min_size=4, max_size=4),
    inside=st.lists(st.sampled_from([2.0, 4.0, 6.0]), max_size=2, unique=True),
    most=st.integers(0, 4),
    wanted=st.floats(0, 14),
)
def test_brute_force_finds_nothing_better(
    stops: list[float], counts: list[int], inside: list[float], most: int, wanted: float
) -> None:
    pieces = tuple(Piece(f"{s:g}", s, n) for s, n in zip(stops, counts, strict=False))
    kit = Kit(pieces, tuple(inside), most)
    best = first(wanted, kit)

    def cost(numbers: tuple[int, ...]) -> float:
        return sum(n * p.stops for n, p in zip(numbers, pieces, strict=True))

    ways = [
        (sum(numbers), abs(cost(numbers) + own - wanted))
        for numbers in product(*(range(p.count + 1) for p in pieces))
        if sum(numbers) <= most
        for own in (0.0, *inside)
    ]
    reach = [glass for glass, miss in ways if miss <= MARK_STOPS]
    if reach:
        assert best.reaches
        assert len(best.glass) == min(reach)
    else:
        assert abs(best.miss_stops) <= min(miss for _, miss in ways) + MARK_STOPS
    assert len(best.glass) <= most
    assert {best.camera_nd_stops} <= {0.0, *inside}
    spent = sum(next(p.stops for p in pieces if p.name == name) for name in best.glass)
    assert best.stops == pytest.approx(spent + best.camera_nd_stops)


def test_many_pieces_stay_quick_and_exact() -> None:
    kit = Kit(tuple(Piece(f"{n}", 0.1 * n + 0.05, 9) for n in range(24)), (2.0, 4.0, 6.0), 4)
    assert first(5.0, kit).reaches


def test_limits() -> None:
    with pytest.raises(ValueError, match="at most 4"):
        Kit(most_glass=5)


def test_lenses() -> None:
    kit = Kit(lenses=(Lens("fast", 1.4, 16), Lens("zoom", 2.8, 22)))
    assert find_fitting_lenses(kit, 1.4) == ("fast",)
    assert find_fitting_lenses(kit, 2.7) == ("fast", "zoom")  # within a sixth of a stop
    assert find_fitting_lenses(kit, 22) == ("zoom",)
    assert find_fitting_lenses(kit, 1.0) == ()
