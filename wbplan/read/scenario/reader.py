"""A scenario file becomes setups, or a refusal that says which line is wrong.

The fields are told by `wbplan guide scenario`. Readings are taken as they stand: nothing
is guessed, and what is left out has one stated meaning.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property, partial
from pathlib import Path
from typing import cast

import numpy as np

from wbplan.camera.sensitivities import Camera
from wbplan.camera.setting import Setting, round_setting
from wbplan.codes.encodings import find_encoding, note_ei
from wbplan.core.digest import digest_values
from wbplan.core.errors import InputError
from wbplan.core.ledger import Asked, PlanInputs, digest_asked, join_path
from wbplan.core.notes import Note, warn
from wbplan.day.times import DayWish
from wbplan.exposure.equation import Shooting, find_engraved_stop, find_exposure_time_s
from wbplan.light.filters import (
    CLEAR,
    Filter,
    make_diffusion,
    make_ideal_filter,
    make_measured_filter,
    make_neutral_density,
    stack_filters,
)
from wbplan.light.spectrum import WAVELENGTHS_NM, Spectrum, normalise_peak
from wbplan.read.catalogue import STAND_IN, find_camera, find_given_camera
from wbplan.read.mistakes import read_file
from wbplan.read.model.scenario import FORMAT_VERSION, LEAST_TIME_S, SCENARIO
from wbplan.read.profiles import check_on_menu, explain_menu
from wbplan.read.scenario.changes import (
    read_beside,
    read_fixture,
    read_generic,
    read_limits,
    read_named_filters,
    read_two_readings,
    read_wish,
)
from wbplan.read.scenario.day import read_day
from wbplan.read.scenario.exposure import (
    check_flash,
    read_calibration_c,
    read_flash,
    read_flicker,
    read_kit,
    read_mains,
    read_readings,
    read_readout_s,
    read_shooting_order,
)
from wbplan.read.scenario.light_changes import Room, read_make
from wbplan.read.scenario.lights import LightReader
from wbplan.read.scenario.luts import (
    read_encoding,
    read_lut_requests,
    read_lut_size,
    read_up_stops,
)
from wbplan.read.scenario.plate import read_layout, read_plate_lens, read_slate
from wbplan.read.scenario.predicted import list_lamps, predict_levels
from wbplan.read.scenario.sheet import open_positions
from wbplan.read.scenario.shifts import read_pair, read_shift
from wbplan.read.scenario.site import note_site, read_site, read_when
from wbplan.read.scenario.sky import SkyReader, note_beams, note_two_skies, read_model_shares
from wbplan.read.yaml.fields import Fields
from wbplan.read.yaml.tree import Parse, build_tree
from wbplan.scene.setup import Intent, Keep, MeterError, Position, Setup, Source
from wbplan.sky.site import Site
from wbplan.sky.source import SKY_KINDS

_STAND_INS = {
    "camera": "nobody chose the camera: {camera} stands in",
    "key": "nobody chose the key: '{key}' stands in",
    "shooting": "nobody stated EI, frame rate and shutter: what is planned with stands in",
    "lux": "lux stand in where a reading states none: stops and mixes rest on a guess",
}
# What stands for a thing that cannot be read, while mistakes are collected.
_STAND_IN_SITE = Site("", 0.0, 0.0, 0.0, "UTC")
_FLAT = np.ones(WAVELENGTHS_NM.size)
_SPREADING_KINDS = ("diffusion_stops", "transmittance_file", "two_readings")


@dataclass(frozen=True, eq=False)
class Scene:
    """A location and what is shot there: all that a plan, or a day, is made from.

    Parameters
    ----------
    title
        What it is called.
    setups
        One or more, each with its camera, sources, positions and exposure.
    invented
        Whether it is demonstration data that nobody measured.
    shooting_order
        Numbers of the setups, from 0, as they will be shot; empty for the order they stand in.
    day
        What is asked of `wbplan.plan_day`; None for its defaults.
    file
        Name of the scenario file, empty for none.
    inputs
        The files that it was read from, with what a record says was asked for; None for none.
    notes
        What may be different about it, where it comes from a record.
    read_as
        `identity` when it was read. A scene that was changed since has another, and its files are
        no longer what a plan of it is made from.

    Examples
    --------
    >>> import dataclasses
    >>> import wbplan
    >>> scene = wbplan.read_scene("dusk_workshop")
    >>> [setup.name for setup in scene.setups]
    ['Wide of the room', 'Close on the wheel']
    >>> scene.site is None, scene.invented
    (True, True)
    >>> close = dataclasses.replace(scene, setups=scene.setups[1:])
    >>> [setup.dial.kelvin for setup in wbplan.plan(close).setups]
    [3300.0]
    """

    title: str
    setups: tuple[Setup, ...]
    invented: bool = False
    shooting_order: tuple[int, ...] = ()
    day: DayWish | None = None
    file: str = ""
    inputs: PlanInputs | None = None
    notes: tuple[Note, ...] = ()
    read_as: str = ""

    def __post_init__(self) -> None:
        object.__setattr__(self, "setups", tuple(self.setups))
        names = [each.name.casefold() for each in self.setups]
        if not names or len(set(names)) != len(names):
            raise InputError(
                "setups " + ", ".join(names), "one or more, each with a name of its own"
            )

    @property
    def site(self) -> Site | None:
        """Where it takes place, None where nothing is said."""
        return self.setups[0].site

    @cached_property
    def identity(self) -> str:
        """SHA-256 of every value in it, where it was read from aside."""
        return digest_values(self.file, *self._list_values())

    def find_digest(self, asked: Asked) -> str:
        """Find the SHA-256 of all that decides what comes of it, `core.ledger.digest_asked`.

        That of its files while it is as they have it, else that of its values.
        """
        if self.inputs is not None and self.read_as == self.identity:
            return replace(self.inputs, asked=asked).digest
        return digest_asked(asked, *self._list_values())

    def _list_values(self) -> tuple[object, ...]:
        return self.title, self.invented, self.setups, self.shooting_order, self.day


def read_scenario(
    path: Path,
    camera: str | None = None,
    for_day: bool = False,
    tried: Sequence[str] = (),
    parse: Parse = build_tree,
) -> Scene:
    """Read a scenario file and all that it names.

    Parameters
    ----------
    path
        The YAML file; relative paths inside it start from its folder.
    camera
        A profile's name or path that takes the place of every camera in the file; a relative
        path starts from the working directory.
    for_day
        Its setups are moved through a day: only the date of their own time has to be usable.
    tried
        Values in place of the file's own, "positions.Anna.lux.window=120"; every setup warns of
        them. See `read.tried`.
    parse
        Gives the tree of its text.

    Raises
    ------
    InputError
        With file, line, column and field; `MistakesError` where there are several mistakes.
    """
    scene = read_file(
        path, SCENARIO, lambda fields: _read_scene(fields, path, camera, for_day), tried, parse
    )
    said = tuple(
        warn("tried", f"{each} is tried here; the scenario says otherwise", "what if")
        for each in tried
    )
    return replace(
        scene, setups=tuple(replace(each, notes=(*said, *each.notes)) for each in scene.setups)
    )


def _read_scene(fields: Fields, path: Path, camera: str | None, for_day: bool) -> Scene:
    version = fields.whole("wbplan")
    if version != FORMAT_VERSION:
        raise fields.refuse("wbplan", str(version), f"the scenario format {FORMAT_VERSION}")
    title = fields.text("title")
    invented = fields.flag("invented")
    given = None if camera is None else find_given_camera(camera)
    reader = _Reader(path.parent, fields, given, for_day)
    parts = fields.mappings("setups")
    seen: set[str] = set()
    for each in parts:
        name = each.text("name").casefold()
        if name in seen:
            found = f"a second setup named '{each.text('name')}'"
            fields.keep(each.refuse("name", found, "a name of its own"))
        seen.add(name)
    read = [fields.attempt(partial(reader.read_setup, each), None) for each in parts]
    setups = [
        replace(each, notes=(*each.notes, *reader.note_assumed(each)))
        for each in read
        if each is not None
    ]
    names = [each.text("name") for each in parts]
    order = fields.attempt(lambda: read_shooting_order(fields, names), ())
    day = fields.attempt(lambda: read_day(fields), None) if "day" in fields else None
    fields.finish()
    return Scene(title, tuple(setups), invented, order, day, path.name)


class _Reader:
    """Reads the setups of one scenario, with what they share."""

    def __init__(self, folder: Path, fields: Fields, camera: Camera | None, for_day: bool) -> None:
        self._folder = folder
        self._for_day = for_day
        self._lights = LightReader(folder)
        self._camera = camera
        self._common_camera = fields.text("camera", "")
        self._common_camera_place = fields.place_of("camera")
        self._cameras: dict[str, Camera] = {}
        self._site = fields.attempt(lambda: read_site(fields), _STAND_IN_SITE)
        self._sky = SkyReader(fields, self._site, for_day)
        self._sources = {
            name: self._try_source(name, each)
            for name, each in fields.named_mappings("sources", required=False).items()
        }
        self._meter = self._read_meter(fields) if "meter" in fields else MeterError()
        self._mains_hz = read_mains(fields)
        self._kit = fields.attempt(lambda: read_kit(fields), None)
        self._lut_size = read_lut_size(fields, "lut_size")
        self._filters = read_named_filters(fields, self._read_filters)
        self._assumed = tuple(dict.fromkeys(fields.texts("assumed", required=False)))

    def note_assumed(self, setup: Setup) -> tuple[Note, ...]:
        """Warn of what nobody said yet; a camera that is given beside the file is said."""
        words = {"camera": setup.camera.name, "key": setup.key}
        return tuple(
            warn("assumed", _STAND_INS[each].format(**words), each)
            for each in self._assumed
            if not (each == "camera" and self._camera is not None)
        )

    def read_setup(self, fields: Fields) -> Setup:
        name = fields.text("name")
        fields.text("like", "")  # what it stands for is filled in already
        camera = fields.attempt(lambda: self._read_camera(fields), None)
        camera = camera or find_camera(STAND_IN, self._folder)
        own = {
            each: self._try_source(each, spec)
            for each, spec in fields.named_mappings("sources", required=False).items()
        }
        known = {**self._sources, **own}
        places = open_positions(fields, known, self._folder)
        first = next(iter(places))
        key = fields.attempt(lambda: fields.choice("key", list(places), first), first)
        when = fields.attempt(lambda: read_when(fields, self._site), None)
        known = self._sky.place_all(known, places, fields, when)
        lamps = list_lamps(fields, known)
        readings: dict[str, dict[str, float]] = {}
        for place, position in places.items():
            readings[place] = read_readings(position, known, bool(lamps))
        used = [
            each
            for each in known
            if each in lamps or any(each in reading for reading in readings.values())
        ]
        notes = tuple(
            Note("unused-source", "is read at no position and does not count", each)
            for each in own
            if each not in used
        )
        positions = tuple(
            Position(
                place,
                np.array([readings[place].get(each, 0.0) for each in used]),
                fields.attempt(partial(self._read_intent, position, place == key), Intent()),
                read_model_shares(position, known, used),
            )
            for place, position in places.items()
        )
        sources = tuple(known[each] for each in used)
        lens = fields.attempt(lambda: read_plate_lens(fields), None)
        layout = fields.attempt(lambda: read_layout(fields, used, places, self._folder), ())
        camera_m = None if lens is None else lens.camera_height_m
        predicted = predict_levels(fields, positions, sources, layout, camera_m, readings)
        positions, notes = predicted[0], notes + predicted[1]
        notes += note_site(self._site)
        notes += note_two_skies(sources) + note_beams(sources, positions)
        if fields.is_sound and not (self._for_day and any(each.sky for each in sources)):
            fields.attempt(lambda: self._check_light(fields, sources, positions, key), None)
        shooting = self._read_shooting(fields.mapping("shooting"), camera)
        fields.attempt(lambda: check_flash(fields, sources, shooting), None)
        named = find_encoding(camera.curve, camera.gamut, ei=shooting.ei)
        said = note_ei(named, shooting.ei)
        if "encoding" in fields:
            read = partial(read_encoding, fields, "encoding", shooting.ei)
            named, said = fields.attempt(read, (named, said))
        notes += said
        keep = fields.choice("lut_keeps")
        room = Room(positions, sources, layout, self._lights.read_curve)
        return Setup(
            name=name,
            camera=camera,
            sources=sources,
            positions=positions,
            shooting=shooting,
            encoding=named,
            key=key,
            meter=self._read_meter(fields) if "meter" in fields else self._meter,
            shot_at=fields.attempt(lambda: self._read_shot_at(fields, camera), None),
            keep=cast(Keep, keep),
            notes=notes,
            luts=read_lut_requests(
                fields,
                list(places),
                used,
                lambda name, place: find_camera(name, self._folder, place),
                shooting.ei,
            ),
            lut_size=self._lut_size,
            lut_up_stops=read_up_stops(fields, "lut_up_stops") or 0.0,
            kit=fields.attempt(lambda: read_kit(fields), None) or self._kit,
            mains_hz=read_mains(fields, self._mains_hz),
            wish=fields.attempt(lambda: read_wish(fields, room, self._filters), None),
            beside=fields.attempt(lambda: read_beside(fields, camera, self._folder), ()),
            site=self._site,
            when=when,
            lens=lens,
            layout=layout,
            slate=read_slate(fields, places),
        )

    def _check_light(
        self,
        fields: Fields,
        sources: tuple[Source, ...],
        positions: tuple[Position, ...],
        key: str,
    ) -> None:
        burning = np.array([each.on for each in sources])
        judged = [
            each for each in positions if each.intent.weight > 0 and (each.lux * burning).sum() > 0
        ]
        if not judged:
            raise fields.refuse(
                "positions",
                f"no light that counts: the key '{key}' is dark or left as it falls, and no "
                "other position has a weight",
                "a burning source at the key, or a weight at a position that has light",
            )

    def _read_camera(self, fields: Fields) -> Camera:
        own = fields.text("camera", "")
        if self._camera is not None:
            for each in filter(None, (own, self._common_camera)):
                join_path(self._folder, each)  # not read, still no path for a record to show
            return self._camera
        name = own or self._common_camera
        place = fields.place_of("camera") if own else self._common_camera_place
        if not name:
            raise InputError(
                "no camera", "a camera, here or for the whole scenario", fields.place_of("camera")
            )
        if name not in self._cameras:
            self._cameras[name] = find_camera(name, self._folder, place)
        return self._cameras[name]

    def _read_meter(self, fields: Fields) -> MeterError:
        meter = fields.mapping("meter")
        return MeterError(
            meter.number("illuminance_percent"),
            meter.number("chromaticity_xy"),
        )

    def _try_source(self, name: str, fields: Fields) -> Source:
        read = partial(self._read_source, name, fields)
        is_flash = fields.is_mapping("flash") or (fields.is_text("flash") and fields.flag("flash"))
        return fields.attempt(read, Source(name, Spectrum(_FLAT, name), flash=is_flash))

    def _read_source(self, name: str, fields: Fields) -> Source:
        if len(name) > 80:
            raise InputError(f"a name of {len(name)} characters", "at most 80", fields.place)
        on = fields.flag("on")
        worn = self._read_filters(fields, "filter") if "filter" in fields else CLEAR
        flicker = read_flicker(fields)
        flash, burst = read_flash(fields)
        kind = fields.kind()
        if kind in SKY_KINDS:
            if flash or flicker:
                found = "a flash or flicker beside a light of the sky"
                raise fields.refuse("flash" if flash else "flicker", found, "neither")
            make = read_make(fields, kind)
            return replace(self._sky.read(name, fields, kind), on=on, filter=worn, make=make)
        make = read_make(fields, kind)
        if kind != "channels":
            spectrum = self._lights.read(name, fields)
            return Source(name, spectrum, on, worn, flicker, flash, burst=burst, make=make)
        fixture, is_model = read_fixture(fields, self._lights.read)
        power = fixture.drives @ fixture.power
        said = "fixture of " + ", ".join(fixture.channels)
        spectrum = Spectrum(power, said, said, is_model, sampling=fixture.sampling)
        spectrum = normalise_peak(spectrum)
        return Source(name, spectrum, on, worn, flicker, flash, fixture, burst=burst, make=make)

    def _read_filters(self, fields: Fields, name: str) -> Filter:
        if fields.is_list(name):
            return stack_filters(tuple(self._read_filter(each) for each in fields.mappings(name)))
        return self._read_filter(fields.mapping(name))

    def _read_filter(self, fields: Fields) -> Filter:
        kind = fields.kind()
        if "spread_deg" not in fields:
            return self._read_clear(fields, kind)
        if kind not in _SPREADING_KINDS:
            allowed = "a spread beside " + ", ".join(_SPREADING_KINDS)
            raise fields.refuse("spread_deg", f"a spread beside {kind}", allowed)
        spread = fields.number("spread_deg")
        return replace(self._read_clear(fields, kind), spread_deg=spread)

    def _read_clear(self, fields: Fields, kind: str) -> Filter:
        if kind == "nd_stops":
            return make_neutral_density(fields.number(kind))
        if kind == "diffusion_stops":
            return make_diffusion(fields.number(kind))
        if kind == "shift":
            return make_ideal_filter(*read_shift(fields, kind))
        if kind == "generic":
            return read_generic(fields, kind)
        if kind == "two_readings":
            return read_two_readings(fields, kind, self._lights.read_curve)
        curve = self._lights.read_curve(fields, kind)
        peak = float(curve.values.max())
        if peak > 1.0:
            raise fields.refuse(
                kind,
                f"a transmittance of up to {peak:.3g}",
                "values from 0 to 1, or percent marked %",
            )
        return make_measured_filter(curve)

    def _read_intent(self, fields: Fields, is_key: bool) -> Intent:
        """Read what a position is meant to look like; the key pulls, others if they are asked."""
        weight = fields.number("weight", 1.0 if is_key else 0.0)
        if fields.is_mapping("intent"):
            mired, green = read_shift(fields, "intent")
            return Intent(mired, green, weight, *read_limits(fields, True))
        if fields.choice("intent") == "leave":
            if "weight" in fields:
                raise fields.refuse("weight", "a weight beside intent 'leave'", "no weight")
            return Intent(0.0, 0.0, 0.0, *read_limits(fields, False), aim="left")
        asked = weight > 0 or any(each in fields for each in ("intent", "within"))
        limits = read_limits(fields, True)
        return Intent(0.0, 0.0, weight, *limits, aim="meant" if asked else "watched")

    def _read_shooting(self, fields: Fields, camera: Camera) -> Shooting:
        fps = fields.number("fps")
        longest = 1.0 / fps
        if fields.kind(("shutter_angle_deg", "shutter_time_s")) == "shutter_angle_deg":
            angle = fields.number("shutter_angle_deg")
            time = float(find_exposure_time_s(angle, fps))
            if time < LEAST_TIME_S:
                raise fields.refuse(
                    "shutter_angle_deg",
                    f"{angle:g}, which is {time:.3g} s at {fps:g} fps",
                    f"an angle that is open for at least {LEAST_TIME_S:g} s",
                )
        else:
            time = fields.number("shutter_time_s")
            if time > longest * (1 + 1e-9):
                raise fields.refuse(
                    "shutter_time_s",
                    f"{time:g}",
                    f"at most one frame, {longest:.6g} s at {fps:g} fps",
                )
        wanted = fields.number("t_stop", None)
        return Shooting(
            ei=fields.number("ei", camera.base_ei),
            fps=fps,
            exposure_time_s=time,
            nd_stops=fields.number("nd_stops"),
            t_stop=None if wanted is None else find_engraved_stop(wanted),
            calibration_c=read_calibration_c(fields),
            readout_s=read_readout_s(fields),
        )

    def _read_shot_at(self, fields: Fields, camera: Camera) -> Setting | None:
        if "shot_at" not in fields:
            return None
        shot = fields.mapping("shot_at")
        kelvin = shot.number("kelvin")
        tint = read_pair(shot, "magenta_cc", "green_cc")
        if not check_on_menu(camera.menu, kelvin, tint):
            near = round_setting(camera.menu, 1e6 / kelvin, tint)
            raise fields.refuse(
                "shot_at",
                f"{kelvin:g} K with {abs(tint):g} CC {'magenta' if tint >= 0 else 'green'}",
                f"what {camera.name} offers ({explain_menu(camera.menu)}); the nearest is "
                f"{near.kelvin:.0f} K with {abs(near.tint_cc):g} CC "
                f"{'magenta' if near.tint_cc >= 0 else 'green'}",
            )
        return Setting(kelvin, tint)
