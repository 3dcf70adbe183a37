"""What one setup's page shows besides the plan's own values: figures, notes by weight, rows."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from markupsafe import Markup

from wbplan.core.names import make_safe_name
from wbplan.core.notes import Note
from wbplan.light.surfaces import GREY_ROW, SKIN_ROWS
from wbplan.planning.casts import name_tint
from wbplan.planning.decisions import SetupPlan
from wbplan.planning.eye_view import EyeView
from wbplan.planning.lights import LightPlan
from wbplan.planning.looks import Appearance, Look
from wbplan.planning.positions import PositionPlan
from wbplan.report.base.words import say_difference, say_duv, say_kelvin, say_shown
from wbplan.report.exposure.bars import Row, draw_bars
from wbplan.report.lut.words import LutRow, list_luts
from wbplan.report.mixed.trade_off import draw_tradeoff
from wbplan.report.plan.figures import (
    draw_cast_map,
    draw_spectrum,
    find_peak_words,
    is_on_map,
    list_outside_map,
)
from wbplan.report.plan.long import FILES, choose_drawn, cut_positions, say_drawn
from wbplan.report.plan.swatches import draw_look, write_colour
from wbplan.report.plan.uv_figure import draw_lights, find_uv, find_uv_of
from wbplan.report.plan.verdict import say_lut_at_key, say_solved, say_verdict

_LOOK_TITLES = {
    "meter": "Meter’s Kelvin",
    "dialled": "Dialled",
    "corrected": "With the LUT",
    "meant": "As meant",
    "greenest": "Green end of the band",
    "magentamost": "Magenta end of the band",
}
_KEY_LOOKS = ("dialled", "greenest", "magentamost", "corrected")


@dataclass(frozen=True, eq=False)
class LookPicture:
    """One look: its picture, what it is called, and its differences as they are said."""

    code: str
    svg: Markup
    title: str
    setting: str
    grey: str
    skin: str
    worst: str
    outside: str


@dataclass(frozen=True, eq=False)
class PlaceLooks:
    """All looks of one position."""

    number: int
    name: str
    trouble: str
    pictures: tuple[LookPicture, ...]


@dataclass(frozen=True)
class KeyRow:
    """The key's grey and skins as one look shows them: its title, and colours as hexadecimals."""

    title: str
    colours: tuple[str, ...]


@dataclass(frozen=True)
class LightPlace:
    """Where a light lies, as it is said: before its filter and behind it."""

    name: str
    bare_uv: str
    bare_said: str
    filtered: bool
    uv: str
    said: str


@dataclass(frozen=True, eq=False)
class SetupPage:
    """One setup's plan with what the template cannot work out.

    ``file`` and ``sheet`` are the names of its page and of its call sheet. Of many positions
    ``plan`` holds those that are shown (`long`); ``shown`` says so, ``hidden`` counts the others.
    """

    file: str
    sheet: str
    plan: SetupPlan
    shown: str
    hidden: int
    drawn: str
    key_rows: tuple[KeyRow, ...]
    lut_at_key: str
    solved: str
    verdict: str
    warnings: tuple[Note, ...]
    remarks: tuple[Note, ...]
    cast_map: Markup | None
    not_on_map: tuple[tuple[int, PositionPlan], ...]
    outside_map: tuple[int, ...]
    spectra: tuple[tuple[int, LightPlan, Markup, str], ...]
    tradeoff: Markup | None
    diagram: Markup | None
    places: tuple[LightPlace, ...]
    neutral_uv: str
    exact_uv: str
    looks: tuple[PlaceLooks, ...]
    headroom_bars: tuple[Markup, ...]
    channel_bars: tuple[Markup, ...]
    luts: tuple[LutRow, ...]

    def list_figures(self) -> Iterator[tuple[str, Markup]]:
        """List every figure of the page with a short name."""
        single = (("casts", self.cast_map), ("kelvin", self.tradeoff), ("lights", self.diagram))
        for code, picture in single:
            if picture is not None:
                yield code, picture
        for code, several in (("headroom", self.headroom_bars), ("channels", self.channel_bars)):
            for part, picture in enumerate(several, 1):
                yield code if len(several) == 1 else f"{code}-{part}", picture
        for number, light, picture, _ in self.spectra:
            yield f"spectrum-{number:02d}-{make_safe_name(light.name)}", picture
        for place in self.looks:
            for look in place.pictures:
                name = f"look-{place.number:02d}-{make_safe_name(place.name)}-{look.code}"
                yield name, look.svg


def prepare_setup(plan: SetupPlan, file: str, sheet: str) -> SetupPage:
    """Draw and word what one setup's page needs."""
    there = len(plan.positions)
    plan = cut_positions(plan)
    shown = len(plan.positions)
    lights = choose_drawn(plan)
    notes = collect_notes(plan)
    drawn = any(is_on_map(each) for each in plan.positions)
    seen = plan.appearance
    return SetupPage(
        file=file,
        sheet=sheet,
        plan=plan,
        shown=say_shown(shown, there, FILES),
        hidden=there - shown,
        drawn=say_drawn(len(lights), len(plan.lights)),
        key_rows=() if seen is None else _list_key_rows(plan, seen),
        lut_at_key=say_lut_at_key(plan),
        solved=say_solved(plan.verdict) if plan.verdict else "",
        verdict=say_verdict(plan.verdict) if plan.verdict else "",
        warnings=tuple(each for each in notes if each.weight == "warning"),
        remarks=tuple(each for each in notes if each.weight == "remark"),
        cast_map=draw_cast_map(plan.positions, "casts") if drawn else None,
        not_on_map=tuple(
            (row + 1, each) for row, each in enumerate(plan.positions) if not is_on_map(each)
        ),
        outside_map=list_outside_map(plan.positions) if drawn else (),
        spectra=tuple(
            (row + 1, light, draw_spectrum(light, f"spectrum-{row + 1}"), find_peak_words(light))
            for row, light in ((row, plan.lights[row]) for row in lights)
        ),
        tradeoff=_draw_tradeoff(plan),
        diagram=None if seen is None else draw_lights(plan.lights, seen, "diagram", lights),
        places=() if seen is None else _list_places(plan, seen),
        neutral_uv="" if seen is None else _say_uv(find_uv_of(seen.neutral_xy)),
        exact_uv="" if seen is None else _say_uv(find_uv_of(seen.exact_neutral_xy)),
        looks=() if seen is None else _draw_looks(plan, seen),
        headroom_bars=_draw_headroom(plan),
        channel_bars=_draw_channels(plan, lights),
        luts=list_luts(plan.lut_files),
    )


def collect_notes(plan: SetupPlan) -> tuple[Note, ...]:
    """Collect the notes on a setup and on its lights, each once, a light's under its name."""
    own = [
        Note(note.code, note.text, note.about or light.name, note.weight)
        for light in plan.lights
        for note in light.notes
    ]
    return tuple(dict.fromkeys([*plan.notes, *own]))


def _draw_tradeoff(plan: SetupPlan) -> Markup | None:
    """Draw the trade-off where there is one: two positions, or a limit."""
    tradeoff = plan.tradeoff
    if tradeoff is None or (len(tradeoff.names) < 2 and not tradeoff.ranges):
        return None
    numbers = {each.name: row + 1 for row, each in enumerate(plan.positions)}
    return draw_tradeoff(tradeoff, numbers, plan.dial, "tradeoff")


def _draw_headroom(plan: SetupPlan) -> tuple[Markup, ...]:
    if plan.exposure is None:
        return ()
    rows: list[Row] = [
        (f"{row} {each.name}", each.headroom_stops)
        for row, each in enumerate(plan.exposure.positions, 1)
        if math.isfinite(each.headroom_stops[1].value)
    ]
    if not rows:
        return ()
    title = "Headroom of each channel over a grey, by position"
    return draw_bars(rows, title, "stops left before a grey clips", "headroom")


def _draw_channels(plan: SetupPlan, lights: tuple[int, ...]) -> tuple[Markup, ...]:
    if plan.exposure is None:
        return ()
    chosen = (plan.exposure.lights[row] for row in lights)
    rows: list[Row] = [(each.name, each.stops) for each in chosen]
    rows.append(("Gain of the dialled setting", plan.exposure.gains.stops))
    title = "What each channel gets of each light, and the gain of the setting"
    return draw_bars(rows, title, "stops against what the lux promise", "channels")


def _say_uv(uv: tuple[float, float]) -> str:
    return f"{uv[0]:.4f}, {uv[1]:.4f}" if math.isfinite(uv[0]) else "none"


def _say_eye(eye: EyeView) -> str:
    return ", ".join(each for each in (say_kelvin(eye.cct_kelvin), say_duv(eye.duv)) if each)


def _list_places(plan: SetupPlan, seen: Appearance) -> tuple[LightPlace, ...]:
    return tuple(
        LightPlace(
            name=light.name,
            bare_uv=_say_uv(find_uv(bare)),
            bare_said=_say_eye(bare),
            filtered=light.filter_name != "none",
            uv=_say_uv(find_uv(light.eye)),
            said=_say_eye(light.eye),
        )
        for light, bare in zip(plan.lights, seen.bare, strict=True)
    )


def _draw_looks(plan: SetupPlan, seen: Appearance) -> tuple[PlaceLooks, ...]:
    places = []
    for number, (place, position) in enumerate(zip(seen.positions, plan.positions, strict=True), 1):
        looks = (*place.looks, place.meant) if place.meant is not None else place.looks
        pictures = tuple(_draw_look(each, position.name, number) for each in looks)
        if pictures:
            places.append(PlaceLooks(number, position.name, position.trouble, pictures))
    return tuple(places)


def _list_key_rows(plan: SetupPlan, seen: Appearance) -> tuple[KeyRow, ...]:
    place = seen.positions[plan.setup.key_row]
    looks = [each for each in (*place.looks, *seen.key_ends) if each.code in _KEY_LOOKS]
    looks.sort(key=lambda each: _KEY_LOOKS.index(each.code))
    rows = (GREY_ROW, *SKIN_ROWS)
    return tuple(
        KeyRow(_LOOK_TITLES[each.code], tuple(write_colour(each, row) for row in rows))
        for each in (*looks, *([place.meant] if place.meant else []))
    )


def _draw_look(look: Look, position: str, number: int) -> LookPicture:
    title = _LOOK_TITLES[look.code]
    setting = f"{say_kelvin(look.kelvin)}, {name_tint(look.tint_cc)}"
    said = [""] * 3
    if look.ciede2000 is not None:
        differs = look.ciede2000
        skin = differs[SKIN_ROWS.start : SKIN_ROWS.stop].max()
        figures = (differs[GREY_ROW], skin, differs.max())
        said = [say_difference(float(each)) for each in figures]
    return LookPicture(
        code=look.code,
        svg=draw_look(look, position, f"{title}, {setting}", f"look-{number}-{look.code}"),
        title=title,
        setting=setting,
        grey=said[0],
        skin=said[1],
        worst=said[2],
        outside=f"{look.outside} of {len(look.screen_rgb)}" if look.outside else "none",
    )
