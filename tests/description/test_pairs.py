"""Lights side by side: distances by another library, casts by the way of one gap at a time."""

from __future__ import annotations

from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from wbplan.camera.setting import CameraView, view_camera
from wbplan.description.gaps import list_gaps
from wbplan.description.lights import describe_lights
from wbplan.description.pairs import MOST_PAIRED
from wbplan.light.filters import make_ideal_filter
from wbplan.light.spectrum import Reading
from wbplan.light.ssi import find_similarity
from wbplan.read.catalogue import find_camera, find_source

NAMES = ("LED-B3", "FL11", "FL8", "D50", "sodium-low-pressure-1700k")


@pytest.fixture(scope="module")
def camera() -> CameraView:
    return view_camera(find_camera("cfa-mid", Path()))


def read(*names: str) -> tuple[Reading, ...]:
    return tuple(Reading(name, find_source(name)) for name in names)


@pytest.mark.filterwarnings("ignore:Aligning")
def test_steps_against_the_library(colour: ModuleType) -> None:
    """A circle of n steps has the radius 0.0011 n in u', v' (CIE TN 001:2014)."""
    lights = describe_lights(read(*NAMES))
    assert len(lights.pairs) == 10

    def place(name: str) -> np.ndarray:
        values = find_source(name).values
        sd = colour.SpectralDistribution(dict(zip(range(380, 781), values, strict=True)))
        xyz = colour.sd_to_XYZ(sd, method="Integration")
        return colour.Luv_to_uv(colour.XYZ_to_Luv(xyz / xyz[1]))

    for pair in lights.pairs:
        one, two = NAMES[pair.first], NAMES[pair.second]
        wanted = np.linalg.norm(place(one) - place(two)) / 0.0011
        assert pair.steps == pytest.approx(wanted, abs=0.05)
        assert pair.matches_eye == (wanted <= 3)
        similar = [
            float(find_similarity(find_source(x).values, find_source(y).values))
            for x, y in ((one, two), (two, one))
        ]
        assert pair.ssi == pytest.approx(min(similar))


def test_the_camera_sees_each_pair_as_it_sees_one_gap(camera: CameraView) -> None:
    lights = describe_lights(read(*NAMES), camera)
    for pair in lights.pairs:
        one, two = (find_source(NAMES[row]).values for row in (pair.first, pair.second))
        (gap,) = list_gaps(one[None], two, "", camera)
        if gap.camera is None:
            assert pair.cast is None
            assert not pair.matches_camera
            continue
        assert pair.cast is not None
        for mine, theirs in (
            (pair.cast.mired, gap.camera.mired),
            (pair.cast.green_cc, gap.camera.green_cc),
        ):
            np.testing.assert_allclose(
                (mine.value, mine.low, mine.high), (theirs.value, theirs.low, theirs.high)
            )
    seen = {(NAMES[x.first], NAMES[x.second]): x for x in lights.pairs}
    # a tube and an LED that the eye tells apart by 2.9 steps are within 5 mired for the camera
    assert seen["LED-B3", "FL11"].matches_camera


def test_filtered_lights_and_crowds_are_not_paired() -> None:
    lights = describe_lights(read("FL2", "A"), behind=make_ideal_filter(30))
    ((first, second),) = [(x.first, x.second) for x in lights.pairs]
    assert (first, second) == (0, 2)
    many = tuple(Reading(f"{n}", find_source("A")) for n in range(MOST_PAIRED + 1))
    assert describe_lights(many).pairs == ()
    assert describe_lights(many[:1]).pairs == ()
