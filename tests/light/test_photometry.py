"""Lux from intensities, against figures worked out by hand.

E = I cos(i) / d^2 and its cos^3 form: inverse square and cosine laws (any handbook of lighting).
A source of I0 cos(gamma) gives pi I0 lumens and, on a parallel plane, I0 cos^4 / h^2.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from wbplan.light.photometry import (
    Photometry,
    find_flux_lm,
    find_intensity_cd,
    find_lamp_axes,
    find_tilt_share,
    predict_lux,
)

GAMMA = np.arange(0.0, 181.0)
ROUND = np.array([0.0, 360.0])
DOWN = find_lamp_axes(0.0, -90.0)
UP = np.array([0.0, 0.0, 1.0])
TOWARDS = np.full((1, 3), np.nan)


def make_round(candela: np.ndarray) -> Photometry:
    return Photometry(ROUND, GAMMA, np.stack([candela, candela]))


EVEN = make_round(np.full(GAMMA.size, 100.0))
COSINE = make_round(1000.0 * np.maximum(np.cos(np.radians(GAMMA)), 0.0))


def test_an_even_source_is_inverse_square_alone() -> None:
    places = np.array([[3.0, 0.0, 0.0], [0.0, -2.0, 0.0], [0.0, 0.0, 0.5]])
    lux = predict_lux(EVEN, np.zeros(3), DOWN, places, np.full((3, 3), np.nan))
    assert lux == pytest.approx([100 / 9, 25.0, 400.0], rel=1e-12)
    assert find_flux_lm(EVEN) == pytest.approx(400 * math.pi, rel=1e-12)


def test_a_lamp_over_a_table() -> None:
    """100 cd, even, 2.5 m over the middle of a table 3 m square: a textbook's exercise.

    Its corners, by I h / d^3 on paper: 100 x 2.5 / (2.5^2 + 2 x 1.5^2)^1.5 = 7.093 lux. The
    problem is no. 2 of "Point by Point Calculation" (scribd.com/document/655165001).
    """
    corners = np.array([[x, y, 0.0] for x in (-1.5, 1.5) for y in (-1.5, 1.5)])
    lux = predict_lux(EVEN, [0.0, 0.0, 2.5], DOWN, corners, np.tile(UP, (4, 1)))
    assert lux == pytest.approx([7.093] * 4, abs=5e-4)


def test_a_cosine_source_goes_by_the_fourth_power() -> None:
    side = np.linspace(0.0, 5.0, 11)
    places = np.stack([side, np.zeros(11), np.zeros(11)], -1)
    lux = predict_lux(COSINE, [0.0, 0.0, 2.0], DOWN, places, np.tile(UP, (11, 1)))
    cosine = 2.0 / np.hypot(2.0, side)
    assert lux == pytest.approx(1000.0 * cosine**4 / 4.0, rel=2e-4)  # 1 degree apart, linear
    assert find_flux_lm(COSINE) == pytest.approx(1000.0 * math.pi, rel=1e-4)


def test_a_plane_that_faces_away_gets_nothing() -> None:
    away = np.array([[0.0, 0.0, -1.0]])
    assert predict_lux(EVEN, [0.0, 0.0, 2.0], DOWN, np.zeros((1, 3)), away) == [0.0]


@pytest.mark.parametrize(
    ("turn", "lit"), [(0.0, "ahead"), (90.0, "left"), (180.0, "behind"), (-90.0, "right")]
)
def test_planes_turn_counterclockwise_seen_from_above(turn: float, lit: str) -> None:
    """C angles of type C go counterclockwise in a horizontal plane (LM-63-2002, definitions)."""
    c = np.array([0.0, 90.0, 180.0, 270.0, 360.0])
    one = Photometry(c, GAMMA, np.outer([1.0, 0, 0, 0, 1.0], np.full(GAMMA.size, 100.0)))
    places = {"ahead": (0, 1), "left": (-1, 0), "behind": (0, -1), "right": (1, 0)}
    for name, (x, y) in places.items():
        axes = find_lamp_axes(0.0, -90.0, turn)
        lux = predict_lux(one, [0, 0, 1.0], axes, np.array([[x, y, 0.0]]), TOWARDS)
        assert lux[0] == pytest.approx(50.0 if name == lit else 0.0, abs=1e-9)


def test_axes_are_right_angled_and_aim_where_they_should() -> None:
    for facing in (-135.0, 0.0, 30.0, 180.0):
        for tilt in (-90.0, -20.0, 0.0, 75.0):
            axes = find_lamp_axes(facing, tilt, 33.0)
            assert axes @ axes.T == pytest.approx(np.eye(3), abs=1e-12)
            level = math.cos(math.radians(tilt))
            assert axes[2] == pytest.approx(
                [
                    level * math.sin(math.radians(facing)),
                    level * math.cos(math.radians(facing)),
                    math.sin(math.radians(tilt)),
                ]
            )
    assert find_lamp_axes(0.0, 0.0)[0] == pytest.approx(UP)  # C0 comes to be the top


def test_only_the_angle_counts_however_the_lamp_is_turned() -> None:
    """A lamp and a place carried along by one rotation: the same lux (property of the law)."""
    generator = np.random.default_rng(3)
    candela = generator.uniform(50, 900, (25, GAMMA.size))
    candela[-1] = candela[0]
    lamp = Photometry(np.linspace(0, 360, 25), GAMMA, candela)
    for facing, tilt, c, gamma in generator.uniform(
        [-180, -90, 0, 1], [180, 90, 360, 179], (40, 4)
    ):
        axes = find_lamp_axes(facing, tilt)
        turn, out = np.radians([c, gamma])
        ray = np.array([np.sin(out) * np.cos(turn), np.sin(out) * np.sin(turn), np.cos(out)])
        lux = predict_lux(lamp, np.zeros(3), axes, 2.0 * (ray @ axes)[None], TOWARDS)
        assert lux[0] == pytest.approx(float(find_intensity_cd(lamp, c, gamma)) / 4.0)


def test_a_tilt_table_is_read_from_hanging_and_not_beyond() -> None:
    lamp = Photometry(ROUND, GAMMA, np.ones((2, 181)), 0.0, None, (0.0, 90.0), (1.0, 0.8))
    assert find_tilt_share(lamp, -90.0) == 1.0
    assert find_tilt_share(lamp, -45.0) == pytest.approx(0.9)
    with pytest.raises(ValueError, match="expected 0 to 90"):
        find_tilt_share(lamp, 10.0)
    assert find_tilt_share(EVEN, 80.0) == 1.0
