"""Illuminance against distance: integration, a disc in closed form, and the five-times rule."""

from __future__ import annotations

import numpy as np
import pytest

from wbplan.light.distance import find_moved_level, find_seen_part


@pytest.mark.parametrize("size", [(1.0, 1.0), (2.4, 0.3)])
@pytest.mark.parametrize("distance", [0.3, 1.0, 4.0])
def test_seen_part_is_the_integral_over_the_surface(
    size: tuple[float, float], distance: float
) -> None:
    """Lambert's law summed over 1000 x 1000 pieces: cos^2 / (pi r^2) each."""
    x, y = ((np.arange(1000) + 0.5) / 1000 * side - side / 2 for side in size)
    square = x[:, None] ** 2 + y**2 + distance**2
    piece = size[0] * size[1] / 1e6
    part = float((distance**2 / square**2).sum() * piece / np.pi)
    assert find_seen_part(size, distance) == pytest.approx(part, rel=1e-5)


def test_a_square_is_near_the_disc_of_its_area() -> None:
    """A disc of radius a fills a^2 / (a^2 + d^2): E = pi L sin^2, in any text on photometry."""
    radius = 1.0 / np.sqrt(np.pi)
    for distance in (1.0, 2.0, 5.0):
        disc = radius**2 / (radius**2 + distance**2)
        assert find_seen_part((1.0, 1.0), distance) == pytest.approx(disc, rel=0.011)


def test_five_times_the_size_is_far_enough_for_the_inverse_square() -> None:
    """The IES's five-times rule: under 1 % from five times the largest dimension on (from memory),
    which of a rectangle is its diagonal.
    """
    for side in ((1.0, 1.0), (1.0, 0.1)):
        distance = 5.0 * np.hypot(*side)
        far = side[0] * side[1] / (np.pi * distance**2)
        assert 0.99 <= find_seen_part(side, distance) / far <= 1.0


def test_a_light_that_is_moved() -> None:
    assert find_moved_level(None, 3.0, 1.5) == 4.0
    assert find_moved_level((0.01, 0.01), 3.0, 1.5) == pytest.approx(4.0, rel=1e-4)
    assert find_moved_level((2.0, 2.0), 3.0, 1.5) < 3.3  # a large one gains less
    np.testing.assert_allclose(find_moved_level((2.0, 2.0), [1.0, 2.0], [1.0, 2.0]), 1.0)
