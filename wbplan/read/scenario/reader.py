"""A scenario file becomes setups, or a refusal that says which line is wrong.

The fields are told by `wbplan guide scenario`. Readings are taken as they stand: nothing
is guessed, and what is left out has one stated meaning.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import cast

import numpy as np

from wbplan.camera.sensitivities import Camera
from wbplan.camera.setting import Setting, round_setting
from wbplan.codes.encodings import find_encoding, note_ei
from wbplan.core.digest import digest_values
from wbplan.core.errors import InputError, Place
from wbplan.core.ledger import Asked, PlanInputs, digest_asked, join_path
from wbplan.core.notes import Note
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
from wbplan.light.spectrum import Spectrum
from wbplan.read.catalogue import find_camera, find_given_camera
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
from wbplan.read.scenario.lights import SOURCE_KINDS, LightReader
from wbplan.read.scenario.luts import (
    read_encoding,
    read_lut_requests,
    read_lut_size,
    read_up_stops,
)
from wbplan.read.scenario.plate import read_layout, read_plate_lens, read_slate
from wbplan.read.scenario.predicted import list_lamps, predict_levels
from wbplan.read.scenario.site import note_site, read_site, read_when
from wbplan.read.scenario.sky import SkyReader, note_beams, note_two_skies, read_model_shares
from wbplan.read.yaml.fields import Fields, read_yaml
from wbplan.scene.setup import Intent, Keep, MeterError, Position, Setup, Source
from wbplan.sky.site import Site
from wbplan.sky.source import SKY_KINDS

FORMAT_VERSION = 1
_SPREADING_KINDS = ("diffusion_stops", "transmittance_file", "two_readings")
_FILTER_KINDS = ("shift", "nd_stops", "generic", *_SPREADING_KINDS)


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

    @property
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


def read_scenario(path: Path, camera: str | None = None, for_day: bool = False) -> Scene:
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

    Raises
    ------
    InputError
        With file, line, column and field.
    """
    fields = read_yaml(path)
    version = fields.whole("wbplan")
    if version != FORMAT_VERSION:
        raise fields.refuse("wbplan", str(version), f"the scenario format {FORMAT_VERSION}")
    title = fields.text("title")
    invented = fields.flag("invented", False)
    given = None if camera is None else find_given_camera(camera)
    reader = _Reader(path.parent, fields, given, for_day)
    setups = [reader.read_setup(each) for each in fields.mappings("setups")]
    seen: set[str] = set()
    for number, setup in enumerate(setups):
        if setup.name.casefold() in seen:
            place = Place(str(path), fields.place_of("setups").line, 0, f"setups[{number}].name")
            raise InputError(f"a second setup named '{setup.name}'", "a name of its own", place)
        seen.add(setup.name.casefold())
    order = read_shooting_order(fields, setups)
    day = read_day(fields) if "day" in fields else None
    fields.finish()
    return Scene(title, tuple(setups), invented, order, day, path.name)


def read_shift(fields: Fields, name: str) -> tuple[float, float]:
    """Read a shift said in words: warm_mired or cool_mired, green_cc or magenta_cc.

    Returns
    -------
    tuple
        (mired, + warm; CC, + green).
    """
    shift = fields.mapping(name)
    mired = _read_pair(shift, "warm_mired", "cool_mired", 500.0)
    green = _read_pair(shift, "green_cc", "magenta_cc", 200.0)
    return mired, green


def _read_pair(fields: Fields, plus: str, minus: str, most: float) -> float:
    if plus in fields and minus in fields:
        raise fields.refuse(minus, f"{plus} and {minus} together", "only one of them")
    up = fields.number(plus, 0.0, low=0.0, high=most)
    return up - fields.number(minus, 0.0, low=0.0, high=most)


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
        self._site = read_site(fields)
        self._sky = SkyReader(fields, self._site, for_day)
        self._sources = {
            name: self._read_source(name, each)
            for name, each in fields.named_mappings("sources", required=False).items()
        }
        self._meter = self._read_meter(fields) if "meter" in fields else MeterError()
        self._mains_hz, self._kit = read_mains(fields), read_kit(fields)
        self._lut_size = read_lut_size(fields, "lut_size")
        self._filters = read_named_filters(fields, self._read_filters)

    def read_setup(self, fields: Fields) -> Setup:
        name = fields.text("name", max_length=80)
        camera = self._read_camera(fields)
        own = {
            each: self._read_source(each, spec)
            for each, spec in fields.named_mappings("sources", required=False).items()
        }
        known = {**self._sources, **own}
        places = fields.named_mappings("positions")
        key = fields.choice("key", list(places), next(iter(places)))
        when = read_when(fields, self._site)
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
                self._read_intent(position, place == key),
                read_model_shares(position, known, used),
            )
            for place, position in places.items()
        )
        sources = tuple(known[each] for each in used)
        lens, layout = read_plate_lens(fields), read_layout(fields, used, places, self._folder)
        camera_m = None if lens is None else lens.camera_height_m
        predicted = predict_levels(fields, positions, sources, layout, camera_m, readings)
        positions, notes = predicted[0], notes + predicted[1]
        notes += note_site(self._site)
        notes += note_two_skies(sources) + note_beams(sources, positions)
        if not (self._for_day and any(each.sky for each in sources)):
            self._check_light(fields, sources, positions, key)
        shooting = self._read_shooting(fields.mapping("shooting"), camera)
        check_flash(fields, sources, shooting)
        if "encoding" in fields:
            named, said = read_encoding(fields, "encoding", shooting.ei)
        else:
            named = find_encoding(camera.curve, camera.gamut, ei=shooting.ei)
            said = note_ei(named, shooting.ei)
        notes += said
        keep = fields.choice("lut_keeps", ("green", "no_clip"), "green")
        return Setup(
            name=name,
            camera=camera,
            sources=sources,
            positions=positions,
            shooting=shooting,
            encoding=named,
            key=key,
            meter=self._read_meter(fields) if "meter" in fields else self._meter,
            shot_at=self._read_shot_at(fields, camera),
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
            kit=read_kit(fields) or self._kit,
            mains_hz=read_mains(fields, self._mains_hz),
            wish=read_wish(
                fields,
                Room(positions, sources, layout, self._lights.read_curve),
                self._filters,
                _read_pair,
                read_shift,
            ),
            beside=read_beside(fields, camera, self._folder),
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
            meter.number("illuminance_percent", 0.0, low=0.0, high=50.0),
            meter.number("chromaticity_xy", 0.0, low=0.0, high=0.02),
        )

    def _read_source(self, name: str, fields: Fields) -> Source:
        if len(name) > 80:
            raise InputError(f"a name of {len(name)} characters", "at most 80", fields.place)
        on = fields.flag("on", True)
        worn = self._read_filters(fields, "filter") if "filter" in fields else CLEAR
        flicker = read_flicker(fields, read_shift)
        flash, burst = read_flash(fields)
        kind = fields.kind((*SOURCE_KINDS, *SKY_KINDS, "channels"))
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
        spectrum = Spectrum(power / power.max(), said, said, is_model)
        return Source(name, spectrum, on, worn, flicker, flash, fixture, burst=burst, make=make)

    def _read_filters(self, fields: Fields, name: str) -> Filter:
        if fields.is_list(name):
            return stack_filters(tuple(self._read_filter(each) for each in fields.mappings(name)))
        return self._read_filter(fields.mapping(name))

    def _read_filter(self, fields: Fields) -> Filter:
        kind = fields.kind(_FILTER_KINDS)
        if "spread_deg" not in fields:
            return self._read_clear(fields, kind)
        if kind not in _SPREADING_KINDS:
            allowed = "a spread beside " + ", ".join(_SPREADING_KINDS)
            raise fields.refuse("spread_deg", f"a spread beside {kind}", allowed)
        spread = fields.number("spread_deg", above=0.0, high=180.0)
        return replace(self._read_clear(fields, kind), spread_deg=spread)

    def _read_clear(self, fields: Fields, kind: str) -> Filter:
        if kind == "nd_stops":
            return make_neutral_density(fields.number(kind, low=0.0, high=20.0))
        if kind == "diffusion_stops":
            return make_diffusion(fields.number(kind, low=0.0, high=20.0))
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
        weight = fields.number("weight", 1.0 if is_key else 0.0, low=0.0, high=1000.0)
        if fields.is_mapping("intent"):
            mired, green = read_shift(fields, "intent")
            return Intent(mired, green, weight, *read_limits(fields, True))
        if fields.choice("intent", ("neutral", "leave"), "neutral") == "leave":
            if "weight" in fields:
                raise fields.refuse("weight", "a weight beside intent 'leave'", "no weight")
            return Intent(0.0, 0.0, 0.0, *read_limits(fields, False), aim="left")
        asked = weight > 0 or any(each in fields for each in ("intent", "within"))
        limits = read_limits(fields, True)
        return Intent(0.0, 0.0, weight, *limits, aim="meant" if asked else "watched")

    def _read_shooting(self, fields: Fields, camera: Camera) -> Shooting:
        fps = fields.number("fps", above=0.0, high=100000.0)
        longest = 1.0 / fps
        if fields.kind(("shutter_angle_deg", "shutter_time_s")) == "shutter_angle_deg":
            angle = fields.number("shutter_angle_deg", above=0.0, high=360.0)
            time = float(find_exposure_time_s(angle, fps))
        else:
            time = fields.number("shutter_time_s", above=0.0)
            if time > longest * (1 + 1e-9):
                raise fields.refuse(
                    "shutter_time_s",
                    f"{time:g}",
                    f"at most one frame, {longest:.6g} s at {fps:g} fps",
                )
        wanted = fields.number("t_stop", None, low=0.1, high=1000.0)
        return Shooting(
            ei=fields.number("ei", camera.base_ei, above=0.0, high=1e12),
            fps=fps,
            exposure_time_s=time,
            nd_stops=fields.number("nd_stops", 0.0, low=0.0, high=20.0),
            t_stop=None if wanted is None else find_engraved_stop(wanted),
            calibration_c=read_calibration_c(fields),
            readout_s=read_readout_s(fields),
        )

    def _read_shot_at(self, fields: Fields, camera: Camera) -> Setting | None:
        if "shot_at" not in fields:
            return None
        shot = fields.mapping("shot_at")
        kelvin = shot.number("kelvin", low=1000.0, high=25000.0)
        tint = _read_pair(shot, "magenta_cc", "green_cc", 200.0)
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
