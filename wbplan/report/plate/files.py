"""All files of the plate notes of a plan: per setup a page, a record, and the lights' spectra."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from wbplan.camera.sensitivities import CHANNELS
from wbplan.core.names import make_safe_name
from wbplan.planning.decisions import Plan, SetupPlan
from wbplan.planning.lights import LightPlan
from wbplan.record.numbers import make_channels, make_keys
from wbplan.record.plan import format_record
from wbplan.record.sheets import Cell, write_sheet
from wbplan.record.spectra import format_spectrum_csv, format_tm27
from wbplan.record.usd import format_stage
from wbplan.report.base.words import say_lux
from wbplan.report.plate.page import render_plate_pages
from wbplan.report.plate.record import PlateFile, build_plate_record
from wbplan.report.plate.sky import make_sky_files
from wbplan.report.plate.words import SCENE_FACTS, say_nm_range
from wbplan.scene.cautions import say_sun_caution


def make_plate_files(plan: Plan) -> dict[str, bytes]:
    """Make the files of every setup that has plate notes, by name; bytes are the same each time."""
    made: dict[str, bytes] = {}
    for number, setup in enumerate(plan.setups, 1):
        if setup.plate is None:
            continue
        spectra = tuple(_make_spectra(plan, setup, number))
        skies, left_out = make_sky_files(plan, setup)
        stage = setup.plate.stage
        if not skies:
            stage = stage.without_sky(left_out[0][1])
        seen = replace(setup.plate, stage=stage, sky_left_out=left_out)
        setup = replace(setup, plate=seen)
        sky_file = skies[0].name if skies else ""
        files = (
            *_make_stage(plan, setup, spectra, sky_file),
            *skies,
            *_make_level_sheet(setup, number),
            *spectra,
        )
        record = format_record(build_plate_record(plan, setup, number, files))
        page, sheet = render_plate_pages(plan, setup, number, files)
        made[f"{setup.stem}_plate.html"] = page.encode("utf-8")
        made[f"{setup.stem}_plate_sheet.html"] = sheet.encode("utf-8")
        made[f"{setup.stem}_plate.json"] = record.encode("utf-8")
        made |= {each.name: each.content for each in files}
    return made


def _make_stage(
    plan: Plan, setup: SetupPlan, spectra: tuple[PlateFile, ...], sky_file: str
) -> Iterator[PlateFile]:
    """Write the 3D scene."""
    assert setup.plate is not None
    stage = setup.plate.stage
    heading = [f"Plate of {setup.name}, {plan.title}, by wbplan {plan.version}."]
    if plan.invented:
        heading.append("Invented data: nobody measured these lights.")
    heading += SCENE_FACTS
    xml = {each.light: each.name for each in spectra if each.name.endswith(".xml")}
    text = format_stage(setup, stage, xml, sky_file, heading)
    name = f"{setup.stem}_plate.usda"
    yield PlateFile(name, "3D scene, OpenUSD", "", text.encode("utf-8"))


def _make_level_sheet(setup: SetupPlan, number: int) -> Iterator[PlateFile]:
    """Write what each light gives each position as a table, where there is anything."""
    assert setup.plate is not None
    levels = setup.plate.levels
    rows: list[dict[str, Cell]] = []
    dials = {each.light: each for each in levels.dials}
    for each in levels.at_places:
        dial = dials[each.light]
        row: dict[str, Cell] = {
            "setup_number": number,
            "setup": setup.name,
            "position": each.position,
            "light": each.light,
        }
        row |= make_keys(illuminance_lux=each.lux)
        for name, channels in (
            ("acescg_linear", each.acescg),
            ("raw_linear", each.raw),
            ("under_main_stops", each.under_main_stops),
        ):
            row |= make_channels(name, channels)
        for name, seen in (("camera", dial.camera), ("eye", dial.eye)):
            colour = (None, None, None) if seen is None else seen.colour
            keys = (f"{name}_dial_{channel}_ratio" for channel in CHANNELS)
            row |= make_keys(
                **{f"{name}_dial_exposure_stops": None if seen is None else seen.exposure_stops},
                **dict(zip(keys, colour, strict=True)),
            )
        rows.append(row)
    if rows:
        name = f"{setup.stem}_plate_levels.csv"
        yield PlateFile(name, "light by position, CSV", "", write_sheet(rows))


def _make_spectra(plan: Plan, setup: SetupPlan, number: int) -> Iterator[PlateFile]:
    """Write each light that gives anything behind its filter, as XML and as CSV."""
    for row, light in enumerate(setup.lights):
        if float(light.power.max()) <= 0:
            continue
        base = f"{setup.stem}_plate_light-{row + 1:02d}-{make_safe_name(light.name)}"
        xml = format_tm27(
            light.power,
            description=f"{light.name}, {setup.name}",
            creator=f"wbplan {plan.version}",
            identifier=f"{plan.digest}-{number}-{row + 1}",
            when=setup.setup.when,
            comments=_comment(plan, setup, light, row),
        )
        yield PlateFile(f"{base}.xml", "spectrum, IES TM-27 XML", light.name, xml)
        table = format_spectrum_csv(light.power)
        yield PlateFile(f"{base}.csv", "spectrum, CSV", light.name, table)


def _comment(plan: Plan, setup: SetupPlan, light: LightPlan, row: int) -> list[str]:
    assert setup.plate is not None
    view = setup.plate.lights[row]
    behind = "without a filter" if light.filter_name == "none" else f"behind {light.filter_name}"
    said = [f"Power per nm, relative, peak at 1, {behind}."]
    if plan.invented:
        said.append("Invented data: nobody measured this light.")
    origin = light.origin or "not stated"
    said.append(f"{'Modelled, not measured' if light.is_model else 'Origin'}: {origin}.")
    low, high = view.data_nm
    said.append(f"Data stand on {say_nm_range(low, high)}.")
    said += [f"{each.text}." for each in light.notes if each.code.startswith("range-")]
    read = [
        f"{say_lux(lux)} at {place.name}"
        for lux, place in zip(view.lux, setup.positions, strict=True)
        if lux > 0
    ]
    said.append(f"It gives {'; '.join(read)}." if read else "It gives no light in this setup.")
    return [*said, *say_sun_caution([setup.setup.sources[row].spectrum])]
