"""What several test modules build and read with: plans to show, pages, records.

Fixtures made of it stand in `conftest`, so that each is made once in a run.
"""

from __future__ import annotations

import io
import subprocess
from collections.abc import Iterator
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import replace
from functools import cache
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import ArrayLike

from wbplan.camera.sensitivities import Camera, Family, Menu
from wbplan.camera.setting import view_camera
from wbplan.codes.encodings import find_encoding
from wbplan.core.notes import warn
from wbplan.core.tables import Array
from wbplan.exposure.equation import Shooting
from wbplan.front.cli.main import main
from wbplan.front.plans import plan as plan_scenario
from wbplan.light.filters import make_ideal_filter
from wbplan.light.illuminants import radiate_black_body, radiate_daylight
from wbplan.light.spectrum import WAVELENGTHS_NM, Spectrum
from wbplan.planning.decisions import Plan, SetupPlan
from wbplan.planning.setups import plan_setup
from wbplan.read.catalogue import find_camera, find_source
from wbplan.report.base.templates import make_environment
from wbplan.report.plan.page import render_pages
from wbplan.scene.setup import Intent, MeterError, Position, Setup, Source

# What a number may be, as the last word of its key, ends of an interval aside.
UNITS = {
    *("kelvin", "mired", "cc", "duv", "x", "y", "xy", "lux", "stops", "stop", "ei", "fps"),
    *("seconds", "degrees", "nm", "percent", "ratio", "relative", "codes", "points", "count"),
    *("number", "version", "hz", "prime", "ciede2000", "deg", "m", "m2"),
}
ENDS = r"_(low|high|step|choices)$|_per_step$"

HOSTILE = "<script>alert(\"x\")</script> & 'q' \u202egnp.exe\u2066 \x07"


def make_camera(family: Family = "population", **menu: object) -> Camera:
    # Peaks and widths: Jiang, Liu, Gu and Suesstrunk (2013), the means of 25 cameras.
    peak, width = np.array([597.0, 531.0, 470.0]), np.array([46.0, 40.0, 34.0])
    curves = np.exp(-0.5 * ((WAVELENGTHS_NM[:, None] - peak) / width) ** 2)
    choices = {
        "kelvin": tuple(float(k) for k in range(2500, 10001, 100)),
        "tint_cc": tuple(float(t) for t in range(-20, 21)),
        **menu,
    }
    return Camera(
        name="three-bells",
        sensitivities=curves,
        menu=Menu(**choices),  # type: ignore[arg-type]
        family=family,
        base_ei=800.0,
        curve="ACEScct",
        gamut="ACEScg",
        title="Three bell curves",
        provenance="Gaussians at the mean peaks of 25 measured cameras.",
    )


LEFT = Intent(weight=0.0, aim="left")


def make_kitchen(name: str = "kitchen", window: str = "window", **changes: object) -> Setup:
    """Five lights and five places, among them a line, one that is off, and the dark."""

    def light(values: np.ndarray, label: str, **more: object) -> Spectrum:
        return Spectrum(values, name=label, origin=f"{label}, a formula", **more)  # type: ignore[arg-type]

    green = 0.6 * np.exp(-0.5 * ((WAVELENGTHS_NM - 545) / 12) ** 2)
    line = np.exp(-0.5 * ((WAVELENGTHS_NM - 589) / 1.5) ** 2)
    filled = (warn("range-filled", "no data below 410 nm: the nearest value is held there"),)
    setup = Setup(
        name=name,
        camera=make_camera(),
        sources=(
            Source(window, light(radiate_daylight(6200.0), "CIE daylight", is_model=True)),
            Source(
                "lamp",
                light(radiate_black_body(2900.0), "black body"),
                filter=make_ideal_filter(-60),
            ),
            Source("tube", light(radiate_black_body(4000.0) + green, "tube", notes=filled)),
            Source("street", light(line, "line")),
            Source("spare", light(radiate_black_body(3200.0), "black body"), on=False),
        ),
        positions=(
            Position("face", np.array([400.0, 900.0, 20.0, 0, 50]), Intent(weight=2.0)),
            Position("wall", np.array([700.0, 60.0, 80.0, 0, 0]), Intent(-25.0, 0.0, 1.0)),
            Position(
                "corridor", np.array([0.0, 10.0, 300.0, 0, 0]), Intent(weight=0.0, aim="left")
            ),
            Position("alley", np.array([0.0, 0.0, 0.0, 45.0, 0]), LEFT),
            Position("cellar", np.zeros(5), LEFT),
        ),
        shooting=Shooting(800.0, 24.0, 1 / 48, nd_stops=0.6, t_stop=2.8),
        encoding=find_encoding("ACEScct", "ACEScg"),
        key="face",
        meter=MeterError(4.0, 0.0015),
    )
    return replace(setup, **changes)


def decide(setup: Setup, stem: str) -> SetupPlan:
    return plan_setup(setup, view_camera(setup.camera), stem)


def make_setup(
    lux: list[list[float]], lights: tuple[str, ...] = ("A", "LED-B3", "FL2"), **changes: object
) -> Setup:
    """A setup of lights by name and what each place gets of them, nothing else asked."""
    setup = Setup(
        name="test",
        camera=find_camera("cfa-mid", Path()),
        sources=tuple(Source(each, find_source(each)) for each in lights),
        positions=tuple(
            Position(f"place {n}", np.array(row, dtype=float), Intent())
            for n, row in enumerate(lux)
        ),
        shooting=Shooting(800, 24, 1 / 48),
        encoding=find_encoding("ACEScct", "ACEScct"),
        key="place 0",
    )
    return replace(setup, **changes)  # type: ignore[arg-type]


@cache
def plan_shipped(name: str, advise: bool = False, plate: bool = False) -> Plan:
    """A shipped scenario's plan; each is made once in a run, since nothing can change it."""
    return plan_scenario(name, advise=advise, plate=plate)


def call(
    *arguments: str, cwd: Path, monkeypatch: pytest.MonkeyPatch
) -> subprocess.CompletedProcess[str]:
    """Run the command line in this process: a tenth of what a process of its own takes."""
    out, err = io.StringIO(), io.StringIO()
    with monkeypatch.context() as patch, redirect_stdout(out), redirect_stderr(err):
        patch.chdir(cwd)
        try:
            code = main(list(arguments))
        except SystemExit as caught:  # of the parser
            code = caught.code if isinstance(caught.code, int) else 1
    return subprocess.CompletedProcess(arguments, code, out.getvalue(), err.getvalue())


def render_all(plan: Plan) -> str:
    """All pages of a plan one after the other, without places to break and their own script."""
    return "".join(map(drop_script, render_pages(plan).values())).replace("<wbr>", "")


def drop_script(page: str) -> str:
    """Take the one script that pages share out of a page, which is allowed by its digest alone."""
    script = make_environment().globals["page_script"]
    assert page.count("<script") <= 1
    return page.replace(f"<script>{script}</script>", "")


class Reader(HTMLParser):
    """Collects elements with their attributes and text, and checks that they nest."""

    VOID = frozenset({"meta", "br", "wbr", "input"})

    def __init__(self, page: str) -> None:
        super().__init__(convert_charrefs=True)
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.inside: list[str] = []
        self.text = ""
        self.words: dict[str, list[str]] = {}
        self.feed(page)
        self.close()
        assert self.inside == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))
        if tag not in self.VOID:
            self.inside.append(tag)
            self.words.setdefault(tag, []).append("")

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.inside.pop() == tag

    def handle_data(self, data: str) -> None:
        if "style" not in self.inside:
            self.text += data
        if self.inside:
            self.words[self.inside[-1]][-1] += data

    def count(self, tag: str) -> int:
        return sum(name == tag for name, _ in self.found)

    def attributes(self, tag: str) -> list[dict[str, str | None]]:
        return [attrs for name, attrs in self.found if name == tag]


def squeeze(text: str) -> str:
    return " ".join(text.split())


def walk(value: Any, key: str = "") -> Iterator[tuple[str, Any]]:
    if isinstance(value, dict):
        for name, each in value.items():
            yield from walk(each, name)
    elif isinstance(value, list):
        for each in value:
            yield from walk(each, key)
    else:
        yield key, value


def refuse(constant: str) -> Any:
    raise AssertionError(constant)


def find_centroid_width(sensitivities: ArrayLike) -> Array:
    """Find centroid and rms width of each channel, (..., 3, 2) [nm], from (..., 401, 3)."""
    curves = np.asarray(sensitivities, dtype=np.float64)
    total = curves.sum(-2)
    x = WAVELENGTHS_NM[:, None]
    centroid = (curves * x).sum(-2) / total
    spread = (curves * (x - centroid[..., None, :]) ** 2).sum(-2) / total
    return np.stack([centroid, np.sqrt(spread)], axis=-1)
