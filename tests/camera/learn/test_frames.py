"""A chart found in a still by its corners, and the patches that cannot be used."""

from __future__ import annotations

import numpy as np
import pytest

from wbplan.camera.learn.frames import (
    COLUMNS,
    ROWS,
    TURNS,
    find_homography,
    pick_turn,
    read_patches,
    turn_corners,
    turn_patches,
)

CORNERS = np.array([[60.0, 40.0], [520.0, 70.0], [500.0, 380.0], [80.0, 350.0]])
VALUES = np.random.default_rng(4).uniform(0.02, 0.8, (ROWS * COLUMNS, 3))


def draw_chart(
    values: np.ndarray = VALUES, corners: np.ndarray = CORNERS, gap: float = 0.0
) -> np.ndarray:
    """A chart in a picture, its patches apart by a share of a patch on a dark board."""
    height, width = 420, 600
    y, x = np.mgrid[0:height, 0:width].astype(float)
    back = np.linalg.inv(find_homography(corners))
    mapped = np.stack([x, y, np.ones_like(x)], axis=-1) @ back.T
    u, v = mapped[..., 0] / mapped[..., 2], mapped[..., 1] / mapped[..., 2]
    inside = (u >= 0) & (u < 1) & (v >= 0) & (v < 1)
    number = (v * ROWS).astype(int) * COLUMNS + (u * COLUMNS).astype(int)
    image = np.full((height, width, 3), 0.05)
    if gap:
        image[(u > -0.1) & (u < 1.1) & (v > -0.1) & (v < 1.1)] = 0.01
        edge = [np.abs(each % 1 - 0.5) < 0.5 - gap / 2 for each in (u * COLUMNS, v * ROWS)]
        inside &= edge[0] & edge[1]
    image[inside] = values[number[inside]]
    return image


def test_homography_maps_the_corners() -> None:
    square = np.array([[0, 0, 1], [1, 0, 1], [1, 1, 1], [0, 1, 1]])
    mapped = square @ find_homography(CORNERS).T
    assert mapped[:, :2] / mapped[:, 2:] == pytest.approx(CORNERS)


def test_patches_are_read_through_perspective() -> None:
    found = read_patches(draw_chart(), CORNERS)
    assert found.mean == pytest.approx(VALUES, abs=1e-9)
    assert not any(found.faults)


def test_clipped_dark_and_noisy_patches_are_named() -> None:
    values = VALUES.copy()
    values[3] = 1.0
    values[7, 2] = 0.0
    image = draw_chart(values)
    noise = np.random.default_rng(1).normal(1.0, 0.4, image.shape)
    image[300:, 400:] *= np.maximum(noise[300:, 400:], 0)
    faults = read_patches(np.minimum(image, 1.0), CORNERS).faults
    assert "clips in 100 %" in faults[3]
    assert "nearly black" in faults[7]
    assert faults[23]
    assert not faults[0]


def test_what_makes_a_patch_useless_from_both_sides() -> None:
    """98 % of white, half a thousandth of it, 15 % between pixels.

    Figures of our own; the chart lies square, 100 pixels a patch, and the middle half is read.
    """
    corners = np.array([[0.0, 0.0], [599.0, 0.0], [599.0, 399.0], [0.0, 399.0]])

    def find_fault(patch: np.ndarray) -> str:
        image = np.full((400, 600, 3), 0.4)
        image[:100, :100] = patch
        return read_patches(image, corners).faults[0]

    flat = np.ones((100, 100, 3))
    assert find_fault(0.979 * flat) == ""
    assert "clips" in find_fault(0.981 * flat)
    assert find_fault(0.00052 * flat) == ""
    assert "nearly black" in find_fault(0.00048 * flat)
    checks = np.indices((100, 100)).sum(axis=0) % 2 * 2.0 - 1.0
    for size, said in ((0.14, ""), (0.16, "noisy")):
        assert said in find_fault(0.4 * (1.0 + size * checks[..., None]) * flat)
        assert bool(find_fault(0.4 * (1.0 + size * checks[..., None]) * flat)) == bool(said)
    border = 0.4 * flat
    border[:24], border[76:], border[:, :24], border[:, 76:] = 1.0, 1.0, 1.0, 1.0
    assert find_fault(border) == ""  # outside the middle half nothing counts
    inner = 0.4 * flat
    inner[49:52, 25:75] = 1.0  # three rows of 50
    assert "clips" in find_fault(inner)


@pytest.mark.parametrize(
    "corners",
    [
        [[0, 0], [10, 10], [10, 0], [0, 10]],
        [[0, 0], [10, 0], [20, 0], [0, 10]],
        [[5, 5], [5, 5], [5, 5], [5, 5]],
    ],
)
def test_corners_out_of_order_are_refused(corners: list[list[float]]) -> None:
    with pytest.raises(ValueError, match="four corners"):
        find_homography(corners)


def test_corners_outside_the_image_are_refused() -> None:
    with pytest.raises(ValueError, match="600 by 420"):
        read_patches(draw_chart(), CORNERS + 200)
    edge = CORNERS.copy()
    for last, is_inside in ((599.0, True), (599.5, False)):  # the last column, and beyond
        edge[1, 0] = last
        if is_inside:
            read_patches(draw_chart(), edge)
        else:
            with pytest.raises(ValueError, match="600 by 420"):
                read_patches(draw_chart(), edge)


@pytest.mark.parametrize("turn", range(len(TURNS)))
def test_each_way_to_lay_a_chart_is_noticed(turn: int) -> None:
    # Every way of naming the four corners, from any of them and either way round.
    image = draw_chart()
    wrong = turn_corners(CORNERS, turn)
    ways = [read_patches(image, turn_corners(wrong, k)).mean for k in range(len(TURNS))]
    picked = pick_turn(ways, VALUES * 3.0)
    assert ways[picked] == pytest.approx(VALUES, abs=1e-9)


@pytest.mark.parametrize("turn", range(len(TURNS)))
def test_each_way_to_list_a_table_is_noticed(turn: int) -> None:
    ways = [turn_patches(VALUES, k) for k in range(len(TURNS))]
    assert pick_turn(ways, 0.2 * ways[turn]) == turn
    assert np.sort(ways[turn], axis=0) == pytest.approx(np.sort(VALUES, axis=0))


def test_a_chart_that_fits_no_way_is_left_as_stated() -> None:
    other = np.random.default_rng(8).uniform(0.02, 0.8, VALUES.shape)
    assert pick_turn([turn_patches(VALUES, k) for k in range(len(TURNS))], other) == 0
