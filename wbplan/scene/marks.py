"""What tells lights and lamps apart, so that errors are drawn for the thing and not for its number.

A meter errs by what it reads: its calibration and its mismatch to V(lambda) (ISO/CIE 19476, f1')
are the same for the same spectrum. So sources of one and the same spectrum share the error of
colour, and at one position that of lux; one light that is written as two of half the lux each is as
sure as before. Names do not count for lights. Readings at two positions are two readings, whatever
they say; positions go by name.
"""

from __future__ import annotations

from wbplan.core.digest import digest_values
from wbplan.core.tables import Array
from wbplan.scene.setup import Setup, Source


def mark_light(source: Source) -> str:
    """Mark a light by what was measured: its spectrum at any level, before the filter.

    That of a tuned fixture are its channels, whatever their drives; that of a modelled light of the
    sky is which part of the sky it is, at any time.
    """
    if source.sky is not None:
        return digest_values(source.sky.light)
    power = source.spectrum.values if source.fixture is None else source.fixture.power
    return digest_values(_level(power), source.flash)


def mark_lamps(setup: Setup) -> tuple[str, ...]:
    """Mark each source as the one lamp that stands where it stands in the layout."""
    places = {x.name: (x.plan_m, x.height_m) for x in setup.layout if x.kind == "light"}
    return tuple(digest_values(mark_light(x), places.get(x.name)) for x in setup.sources)


def _level(power: Array) -> Array:
    peak = power.max()
    return power / peak if peak > 0 else power
