"""What a notebook shows of a spectrum, described lights, a plan: figures and words of the pages.

`core.display` says how a value gets here. The markup is a fragment that needs nothing else; its
figures are pictures of their own, so that neither their names nor their styles meet those of the
notebook. Text of files and scenarios is cleaned and escaped where it is put in.
"""

from __future__ import annotations

import base64
from collections.abc import Iterable

from markupsafe import Markup

from wbplan.core.names import clean_text
from wbplan.description.eye import pick_figures
from wbplan.description.lights import LightSet, describe_lights
from wbplan.exposure.equation import name_t_stop
from wbplan.light.spectrum import Reading, Spectrum
from wbplan.planning.decisions import Plan, SetupPlan
from wbplan.report.base import words
from wbplan.report.base.svg import make_standalone
from wbplan.report.light import words as lightwords
from wbplan.report.light.figures import draw_chromaticity, draw_overlay
from wbplan.report.plan.figures import draw_cast_map, is_on_map
from wbplan.report.plan.verdict import say_solved, say_verdict
from wbplan.scene.cautions import DEFERENCE, SUN, choose_reading_cautions

_MOST_DRAWN = 12  # lights; more lines than that cannot be told apart
_MOST_ROWS = 200


def render_html(value: object) -> str:
    """Render a value that shows itself as a fragment of HTML.

    Raises
    ------
    TypeError
        For a value that does not show itself.
    """
    if isinstance(value, Spectrum):
        return _render_spectrum(value)
    if isinstance(value, LightSet):
        return _render_lights(value)
    if isinstance(value, Plan):
        return _render_plan(value)
    raise TypeError(f"{type(value).__name__} does not show itself")


def render_svg(spectrum: Spectrum) -> str | None:
    """Render a spectrum's figure as an SVG of its own; None where it is zero throughout."""
    if spectrum.values.max() <= 0:
        return None
    reading = Reading(spectrum.name or "spectrum", spectrum)
    return make_standalone(_draw_spectra(describe_lights((reading,))))


def _draw_spectra(lights: LightSet) -> Markup:
    return draw_overlay(lights.lights[:_MOST_DRAWN], "overlay")


def _render_spectrum(spectrum: Spectrum) -> str:
    head = [clean_text(spectrum.name) or "a spectrum"]
    if spectrum.is_model:
        head.append("a model, which nobody measured")
    if spectrum.illuminance_lux == spectrum.illuminance_lux:
        head.append(words.say_lux(spectrum.illuminance_lux))
    parts = [_say(", ".join(head), "strong"), _say(spectrum.origin, "span")]
    picture = render_svg(spectrum)
    if picture is not None:
        parts.append(_frame(picture, f"Spectrum of {head[0]}"))
    parts += [_say(f"{note.weight}: {note}", "span") for note in spectrum.notes]
    return _join(parts)


def _render_lights(lights: LightSet) -> str:
    rows = [(each, pick_figures(lights.eye, each.row)) for each in lights.lights[:_MOST_ROWS]]
    head = ["light", "light level", "CCT", "Duv", "Ra", "Rf", "Rg", "SSI"]
    table = [
        [
            lightwords.say_name(light),
            lightwords.say_illuminance(light),
            words.say_kelvin(figures.cct_kelvin),
            lightwords.say_light_duv(figures),
            *(lightwords.say_whole(each) for each in (figures.ra, figures.rf, figures.rg)),
            lightwords.say_ssi(figures.ssi, light.ssi_reference),
        ]
        for light, figures in rows
    ]
    if lights.camera is not None:
        share = words.say_share(lights.band_share)
        head.append(f"{lights.camera.name} wants ({share} band)")
        for row, (light, _) in zip(table, rows, strict=True):
            view = light.camera
            said = "–" if view is None or view.trouble else words.say_wanted(view.wanted)
            span = "" if view is None or view.trouble else words.say_wanted_span(view.wanted)
            row.append(f"{said} ({span})" if span else said)
    parts = [_tabulate(head, table)]
    left = len(lights.lights) - len(rows)
    parts += [_say(f"and {left} more lights", "span")] if left else []
    parts.append(_frame(make_standalone(_draw_spectra(lights)), "Spectra over each other"))
    drawn = [figures for _, figures in rows[:_MOST_DRAWN]]
    diagram = make_standalone(draw_chromaticity(drawn, "uv-near", whole=False))
    parts.append(_frame(diagram, "The lights in the u′, v′ diagram"))
    warnings = [
        f"warning: {light.name}: {note.text}"
        for light, _ in rows
        for note in light.notes
        if note.weight == "warning"
    ]
    warnings += [f"{file}, not described: {reason}" for file, reason in lights.refused]
    parts += [_say(each, "span") for each in dict.fromkeys(warnings)]
    parts += [_say(each.text, "span") for each in choose_reading_cautions(lights.spectra)]
    return _join(parts)


def _render_plan(plan: Plan) -> str:
    invented = " (invented demonstration data)" if plan.invented else ""
    parts = [_say(f"{plan.title}{invented}", "strong")]
    for number, setup in enumerate(plan.setups, 1):
        parts += _render_setup(number, setup)
    if any(SUN in each.cautions for each in plan.setups):
        parts.append(_say(SUN.text, "span"))
    parts.append(_say(DEFERENCE, "span"))
    return _join(parts)


def _render_verdict(plan: SetupPlan) -> list[Markup]:
    if plan.verdict is None:
        return []
    said = (("span", say_solved(plan.verdict)), ("strong", say_verdict(plan.verdict)))
    return [_say(text, tag) for tag, text in said if text]


def _render_setup(number: int, plan: SetupPlan) -> list[Markup]:
    span = words.say_wanted_span(plan.exact)
    share = words.say_share(plan.setup.band_share)
    exact = f"exact {words.say_wanted(plan.exact)}" + (f"; {share} band {span}" if span else "")
    given = ", as it is shot" if plan.dial_is_given else ""
    key = plan.key
    expose = f"{name_t_stop(key.t_stop.value)} at {key.name}"
    parts = [
        _say(f"{number}  {plan.name}, camera {plan.setup.camera.name}", "strong"),
        _say(f"set {words.say_setting(plan.dial)}{given}", "strong"),
        _say(exact, "span"),
        *_render_verdict(plan),
        _say(f"expose {expose}, {words.say_shooting(plan.setup.shooting)}", "span"),
    ]
    head = ["position", "will look", "meant to", "light", "stop", "from key"]
    table = [
        [
            each.name,
            "no light" if each.lux.value <= 0 else words.say_cast(each.cast),
            each.intent_words,
            words.say_lux(each.lux.value),
            name_t_stop(each.t_stop.value),
            words.say_from_key(each.from_key_stops),
        ]
        for each in plan.positions
    ]
    parts.append(_tabulate(head, table))
    if any(is_on_map(each) for each in plan.positions):
        picture = make_standalone(draw_cast_map(plan.positions, "casts"))
        parts.append(_frame(picture, f"Casts of {plan.name}"))
    parts += [_say(f"warning: {each}", "span") for each in plan.notes if each.weight == "warning"]
    return parts


def _say(text: str, tag: str) -> Markup:
    """Set a line of text, cleaned and escaped."""
    return Markup("<div><{0}>{1}</{0}></div>").format(Markup(tag), clean_text(text))


def _tabulate(head: Iterable[str], rows: Iterable[Iterable[str]]) -> Markup:
    cell = Markup('<{0} style="text-align:left">{1}</{0}>')
    lines = [Markup("").join(cell.format(Markup("th"), clean_text(each)) for each in head)]
    lines += [
        Markup("").join(cell.format(Markup("td"), clean_text(each)) for each in row) for row in rows
    ]
    body = Markup("").join(Markup("<tr>{}</tr>").format(each) for each in lines)
    return Markup("<table>{}</table>").format(body)


def _frame(picture: str, said: str) -> Markup:
    """Frame a figure as a picture, with what it is in words for who does not see it."""
    data = base64.b64encode(picture.encode("utf-8")).decode("ascii")
    image = Markup('<div><img style="max-width:36em;width:100%" alt="{}" src="{}"></div>')
    return image.format(clean_text(said), f"data:image/svg+xml;base64,{data}")


def _join(parts: Iterable[Markup]) -> str:
    return str(Markup("<div>{}</div>").format(Markup("").join(parts)))
