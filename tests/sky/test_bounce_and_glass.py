"""Walls opposite as sources, and glass, against closed forms and another library."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest

from wbplan.light.colorimetry import find_cct_duv
from wbplan.sky.dome import FREE_VIEW, Facing, Horizon
from wbplan.sky.glass import find_glass_transmittance, find_sky_transmittance
from wbplan.sky.site import Site
from wbplan.sky.source import SkyLight, shine

pvlib = pytest.importorskip("pvlib")

SITE = Site("", 50.0, 0.0, 0.0, "UTC")
NOON = datetime(2026, 6, 21, 12, tzinfo=UTC).timestamp()


def test_glass_against_pvlib_and_a_closed_form() -> None:
    """pvlib's `iam.physical` (Fresnel and Bouguer after De Soto 2006) has one face that light
    enters; the other face of a pane, and what goes to and fro, is 2 n / (n^2 + 1) straight on.
    """
    n, body = 1.52, 0.99
    straight = find_glass_transmittance(1.0, 1)
    face = ((n - 1) / (n + 1)) ** 2
    assert straight == pytest.approx((1 - face) ** 2 * body / (1 - (face * body) ** 2))
    assert straight == pytest.approx(2 * n / (n**2 + 1) * body, rel=2e-3)
    degrees = np.array([0.0, 30.0, 50.0, 60.0, 70.0, 80.0])
    entering = pvlib.iam.physical(degrees, n=n, K=0.0, L=0.0) * (1 - face)
    ours = find_glass_transmittance(np.cos(np.radians(degrees)), 1)
    # two faces: each polarisation squared; the mean of squares lies near the square of the mean
    assert ours[:3] == pytest.approx(entering[:3] ** 2 * body, rel=0.02)
    assert (ours >= entering**2 * body * 0.985).all()
    assert (np.diff(ours) < 0).all()


def test_panes_add_up() -> None:
    """Clear float glass in tables: one pane some 0.90, two 0.82, three 0.75 (from memory)."""
    for panes, told in ((0, 1.0), (1, 0.90), (2, 0.82), (3, 0.75)):
        assert find_glass_transmittance(1.0, panes) == pytest.approx(told, abs=0.025)
    assert find_sky_transmittance(0) == pytest.approx(1.0)
    # Half-space transmittance of one pane: 0.84 (Duffie and Beckman: as at 60 degrees).
    sky = find_sky_transmittance(1)
    assert sky == pytest.approx(float(find_glass_transmittance(0.5, 1)), abs=0.02)


def test_a_wall_sends_back_what_falls_on_it() -> None:
    """Lambert: albedo times the wall's light times its share; and 1 fills the view."""
    facing = Facing(90.0, 200.0)
    wall = SkyLight("bounce", facing=facing, albedo=0.5, share_of_view=0.2)
    lit = shine(SkyLight("sun", facing=facing, with_sky=True), SITE, [NOON])
    back = shine(wall, SITE, [NOON])
    assert back.lux == pytest.approx(0.1 * lit.lux)
    assert back.power == pytest.approx(lit.power)
    wide = replace(wall, albedo=0.9, share_of_view=1.0)
    assert (shine(wide, SITE, [NOON]).draw_lux <= lit.draw_lux * (1 + 1e-9)).all()


def test_a_wall_is_lit_by_the_suns_place() -> None:
    """Facing north at noon, or behind a roof, it is in shade: far darker, and bluer."""
    south = SkyLight("bounce", facing=Facing(90.0, 180.0), albedo=0.5, share_of_view=0.3)
    north = replace(south, facing=Facing(90.0, 0.0))
    roof = Horizon(((150.0, 0.0), (160.0, 70.0), (200.0, 70.0), (210.0, 0.0)))
    lit, turned, hidden = (
        shine(each, SITE, [NOON]) for each in (south, north, replace(south, horizon=roof))
    )
    assert south.horizon == FREE_VIEW
    for dark in (turned, hidden):
        assert dark.lux[0] < 0.45 * lit.lux[0]
        assert find_cct_duv(dark.power)[0, 0] > find_cct_duv(lit.power)[0, 0] + 500


def test_glass_stands_before_a_beam_that_rakes_it() -> None:
    """At noon in June the sun stands 63 degrees up: it meets an upright pane at 63 degrees."""
    south = SkyLight("sun", facing=Facing(90.0, 180.0))
    bare, glazed = (shine(replace(south, panes=n), SITE, [NOON]).lux[0] for n in (0, 1))
    assert glazed / bare == pytest.approx(0.80, abs=0.02)  # Fresnel at 63.4 degrees, by tables
    sky = SkyLight("sky", facing=Facing(90.0, 180.0))
    bare, glazed = (shine(replace(sky, panes=n), SITE, [NOON]).lux[0] for n in (0, 2))
    assert glazed / bare == pytest.approx(find_sky_transmittance(2))
