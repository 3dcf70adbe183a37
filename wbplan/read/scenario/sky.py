"""Lights of the sun and sky in a scenario; fields: `wbplan guide scenario`.

What a source says is read once, as a `SkyLight`. Its spectrum depends on the time, so it is made
for each setup that uses it, at the source's own time or the setup's.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime

import numpy as np

from wbplan.core.errors import InputError, Place
from wbplan.core.notes import Note, warn
from wbplan.light.spectrum import WAVELENGTHS_NM, Spectrum
from wbplan.read.scenario.site import read_horizon, read_when
from wbplan.read.yaml.fields import Fields
from wbplan.scene.beams import LEAST_STOPS, list_unnamed_beams, warn_of_beam, warn_of_cloud
from wbplan.scene.setup import Position, Source
from wbplan.sky.broken import HIDDEN
from wbplan.sky.clear import AIR_FIGURES, USUAL_AIR, Air
from wbplan.sky.dome import FLAT, FREE_VIEW, Facing
from wbplan.sky.site import FIRST_YEAR, LAST_YEAR, Site, say_moment
from wbplan.sky.source import (
    SKY_KINDS,
    PlacedSky,
    Skies,
    SkyLight,
    explain_refusal,
    find_beam_stops,
    find_other_state,
    is_sun_hidden,
    place_sky,
    shine,
)

_NOT_YET = np.ones(WAVELENGTHS_NM.size)  # holds a source's place until a setup gives it a time


def read_air(fields: Fields, default: tuple[Air, frozenset[str]]) -> tuple[Air, frozenset[str]]:
    """Read the air, and which of its figures are stated; ``default`` where nothing is said."""
    if "atmosphere" not in fields:
        return default
    said = fields.mapping("atmosphere")
    stated = frozenset(name for name in AIR_FIGURES if name in said)
    return Air(**{name: said.number(name) for name in AIR_FIGURES}), stated


class SkyReader:
    """Reads lights of the sky for one scenario, with the place and the air that they share."""

    def __init__(self, fields: Fields, site: Site | None, for_day: bool) -> None:
        self._site = site
        self._for_day = for_day
        self._air = read_air(fields, (USUAL_AIR, frozenset()))
        self._skies: Skies = {}
        self._places: dict[SkyLight, Place] = {}  # where each light stands in the file

    def read(self, name: str, fields: Fields, kind: str) -> Source:
        """Read a source of one of `SKY_KINDS`; it has no time yet."""
        if self._site is None:
            found = f"a light of the {'sun' if kind == 'sun' else 'sky'} without a place"
            raise fields.refuse(kind, found, "a site for the whole scenario")
        own = fields.mapping(kind)
        air, stated = read_air(own, self._air)
        horizon = read_horizon(own) if "horizon" in own else self._site.horizon
        light = SkyLight(
            kind,
            air=air,
            stated=stated,
            horizon=horizon,
            when=read_when(own, self._site),
        )
        if kind == "shade":
            share = own.number("share_of_sky")
            light = replace(light, share_of_sky=share, horizon=FREE_VIEW)
        else:
            light = replace(light, facing=_read_facing(own))
        if kind in ("sun", "sky", "overcast"):
            light = replace(light, panes=own.whole("panes"))
        if kind == "bounce":
            light = replace(
                light,
                albedo=own.number("albedo"),
                share_of_view=own.number("share_of_view"),
            )
        if kind == "sun":
            light = replace(light, with_sky=own.flag("with_sky"))
        if kind == "broken_cloud":
            light = replace(light, sun=own.choice("sun"))
        if kind == "overcast" or light.sun == HIDDEN:
            light = replace(light, kelvin=own.number("kelvin", None))
        spectrum = Spectrum(_NOT_YET, light.words, light.origin, is_model=True)
        when = light.when or datetime.min
        nothing = np.zeros((0, WAVELENGTHS_NM.size))
        placed = PlacedSky(light, self._site, when, 0.0, nothing, np.zeros(0), 0.0, 0.0)
        self._places.setdefault(light, fields.place_of(kind))
        return Source(name, spectrum, sky=placed)

    def place_all(
        self,
        known: Mapping[str, Source],
        positions: Mapping[str, Fields],
        setup: Fields,
        when: datetime | None,
    ) -> dict[str, Source]:
        """Give each light of the sky that a position reads its spectrum at the setup's time."""
        wanted = {
            name
            for each in positions.values()
            if "lux" in each
            for name in each.mapping("lux").keys()  # noqa: SIM118
        }
        return {
            name: self.place(each, setup, when) if name in wanted else each
            for name, each in known.items()
        }

    def place(self, source: Source, setup: Fields, when: datetime | None) -> Source:
        """Give a source its spectrum at its own time, or at that of a setup.

        For a day a time is fine for which the model is not to be trusted: it is the date that
        counts, and the light has no level then.

        Raises
        ------
        InputError
            Without a time, or at one for which the model is not to be trusted.
        """
        if source.sky is None:
            return source
        light, site = source.sky.light, source.sky.site
        at = light.when or when
        place = setup.place_of("when")
        if light.when is not None:
            place = self._places.get(light, setup.place)
        if at is None:
            found = f"the light '{source.name}' of the sky, and no time"
            allowed = "`when` in this setup, or in the source"
            raise InputError(found, allowed, place)
        if not FIRST_YEAR <= at.year <= LAST_YEAR:
            allowed = f"a year from {FIRST_YEAR} to {LAST_YEAR}"
            raise InputError(say_moment(at), allowed, place)
        seen = shine(light, site, [at.timestamp()], self._skies)
        if seen.refused[0] and self._for_day:
            flat = replace(seen, draw_power=np.ones_like(seen.draw_power))  # of no level
            return replace(source, sky=place_sky(light, site, at, flat))
        if seen.refused[0]:
            found = f"'{source.name}' at {say_moment(at)}: {seen.refused[0]}"
            allowed = f"a time with the sun at {light.lowest_sun_deg:g}° or more"
            raise InputError(found, allowed, place)
        placed, power = place_sky(light, site, at, seen), seen.power[0]
        height, azimuth = placed.elevation_deg, placed.azimuth_deg
        where = f"sun at {height:.1f}° elevation, azimuth {azimuth:.0f}°, {say_moment(at)}"
        text = f"{light.words}; {where}; modelled, not read; {light.spread_words}"
        notes = [Note("sky-model", text, source.name)]
        hidden = is_sun_hidden(light, height, azimuth) if light.kind == "sun" else ""
        if light.kind == "bounce":
            why = is_sun_hidden(light, height, azimuth)
            text = f"{why} keeps the sun from it then" if why else "the sun falls on it then"
            notes.append(Note("bounce-lit", text, source.name))
        if light.sun:
            stops, mired = (float(x[0]) for x in find_other_state(light, site, [at.timestamp()]))
            notes.append(warn_of_cloud(source.name, (stops, stops), (mired, mired)))
        if hidden:
            notes.append(Note("sun-hidden", f"{hidden} hides the sun then", source.name))
        spectrum = replace(source.spectrum, values=power / power.max(), notes=tuple(notes))
        return replace(source, spectrum=spectrum, sky=placed)


def note_beams(sources: Sequence[Source], positions: Sequence[Position]) -> tuple[Note, ...]:
    """Warn where the sun's beam reaches what reads only the sky, at the setup's own time."""
    notes = []
    for row, names in list_unnamed_beams(sources, positions):
        sky = sources[row].sky
        if sky is None:
            continue
        stops = float(find_beam_stops(sky.light, sky.site, [sky.when.timestamp()])[0])
        if stops > LEAST_STOPS:
            notes.append(warn_of_beam(sources[row].name, names, f"at {sky.when:%H:%M}", stops))
    return tuple(notes)


def note_two_skies(sources: Iterable[Source]) -> tuple[Note, ...]:
    """Warn where skies of two kinds light one setup: there is but one sky."""
    lights = [each.sky.light for each in sources if each.sky is not None]
    kinds = {each.kind for each in lights}
    states = {each.sun for each in lights if each.sun}
    if len(states) > 1:
        text = (
            "the sun out and the sun hidden in one setup: it is one or the other, and their mean "
            "is a light that never is; make a setup of each"
        )
        return (warn("two-skies", text, "sky"),)
    for kind in ("overcast", "broken_cloud"):
        if kind in kinds and len(kinds) > 1:
            others = ", ".join(sorted(kinds - {kind}))
            text = f"{kind.replace('_', ' ')} and {others} in one setup: there is but one sky"
            return (warn("two-skies", text.replace("_", " "), "sky"),)
    return ()


def refuse_inside(fields: Fields) -> None:
    """Refuse a light of the sky where no time is known: in a mix, a fixture or a lesson."""
    for kind in SKY_KINDS:
        if kind in fields:
            found = f"a light of kind {kind} inside another light, or in a lesson"
            raise fields.refuse(kind, found, "a source of its own in a scenario")


def read_sky_lux(places: Fields, name: str, source: Source) -> float:
    """Read a position's lux of a light of the sky: a reading, `model`, or a share of the model."""
    sky = source.sky
    if sky is None:
        return places.number(name)
    share = _read_share(places, name)
    if share is not None:
        return share * sky.lux
    reading = places.number(name)
    refused = explain_refusal(sky.light, sky.elevation_deg)
    if reading > 0 and refused:
        found = f"{reading:g} lux of '{name}' at {say_moment(sky.when)}: {refused}"
        allowed = "a reading of a time with the sun higher, or `model`"
        raise InputError(found, allowed, places.place_of(name))
    if reading > 0 and sky.lux <= 0:
        hidden = is_sun_hidden(sky.light, sky.elevation_deg, sky.azimuth_deg)
        found = f"{reading:g} lux of the sun at {say_moment(sky.when)}, when {hidden} hides it"
        allowed = "another time, facing or horizon, or `model`"
        raise InputError(found, allowed, places.place_of(name))
    return reading


def read_model_shares(
    position: Fields, known: Mapping[str, Source], used: list[str]
) -> tuple[float | None, ...]:
    """Read which levels at a position are the model's; empty where all are read."""
    if "lux" not in position:
        return ()
    places = position.mapping("lux")
    shares = tuple(
        _read_share(places, each) if known[each].sky is not None and each in places else None
        for each in used
    )
    return shares if any(each is not None for each in shares) else ()


def _read_share(places: Fields, name: str) -> float | None:
    if places.is_mapping(name):
        return places.mapping(name).number("share")
    if not places.is_text(name):
        return None
    try:
        places.choice(name)
    except InputError as error:
        allowed = f"lux as read, or {error.allowed} or {{share: 0.4}}"
        raise places.refuse(name, error.found, allowed) from None
    return 1.0


def _read_facing(fields: Fields) -> Facing:
    if not fields.is_mapping("facing"):
        fields.choice("facing")
        return FLAT
    said = fields.mapping("facing")
    tilt = said.number("tilt_deg")
    return Facing(tilt, said.number("azimuth_deg") % 360.0)
