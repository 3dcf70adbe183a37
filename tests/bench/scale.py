"""What a plan costs by its size.

``python -m tests.bench.scale [--work WORK] [LIGHTSxPOSITIONSxSETUPS ...]`` makes scenarios of so
many lights, positions and setups, plans each in a process of its own, and prints a table: processor
time, the most memory, and how large the record and all pages are. A plan that is refused says why.

WORK is what is made of them: a plan, a plan with advice or plate notes, or a day of 16 hours by ten
minutes in which every second light is the sky's.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np

SIZES = ("5x10x1", "5x100x1", "5x1000x1", "50x100x1", "200x100x1", "200x1000x1", "5x5x100")
WORKS = {
    "plan": ("plan",),
    "advise": ("plan", "--advise"),
    "plate": ("plan", "--plate"),
    "day": ("day",),
}
_SITE = "site: {latitude_deg: 49.8, longitude_deg: -0.8, time_zone: Europe/Paris}"
_DAY = 'day: {from: "05:00", to: "21:00", step_minutes: 10, within: {mired: 10, cc: 2, stops: 0.5}}'


def make_scenario(folder: Path, size: tuple[int, int, int], work: str) -> Path:
    """Write a scenario: smooth spectra with a phosphor's hump, and a sheet of readings a setup."""
    lights, positions, setups = size
    generator = np.random.default_rng(lights * positions * setups)
    wavelength = np.arange(380.0, 781.0, 5.0)
    lines = ["wbplan: 1", "title: Scale", "invented: true", "camera: cfa-mid"]
    lines += ["meter: {illuminance_percent: 4, chromaticity_xy: 0.0015}"]
    lines += [_SITE, _DAY] if work == "day" else []
    lines.append("sources:")
    for light in range(lights):
        if work == "day" and light % 2:
            facing = f"{{azimuth_deg: {generator.integers(360)}}}"
            lines.append(f"  light {light}: {{sky: {{facing: {facing}}}}}")
            continue
        centre, width, blue = generator.uniform((540, 40, 0.1), (640, 90, 1.0))
        power = np.exp(-0.5 * ((wavelength - centre) / width) ** 2)
        power += blue * np.exp(-0.5 * ((wavelength - 450) / 12) ** 2)
        rows = [f"{x:g},{y:.5f}" for x, y in zip(wavelength, power, strict=True)]
        (folder / f"light {light}.csv").write_text("\n".join(["nm,power", *rows, ""]))
        lines.append(f"  light {light}: {{spectrum_file: light {light}.csv}}")
    lines.append("setups:")
    for number in range(setups):
        level = generator.uniform(1, 500, (positions, lights)).round(0).astype(int)
        names = [f"place {place}" for place in range(positions)]
        sheet = [",".join(["position", *(f"light {light}" for light in range(lights))])]
        sheet += [",".join([name, *map(str, row)]) for name, row in zip(names, level, strict=True)]
        (folder / f"readings {number}.csv").write_text("\n".join([*sheet, ""]))
        lines += [f"  - name: Setup {number}", "    key: place 0"]
        lines += ["    shooting: {ei: 800, fps: 24, shutter_angle_deg: 180, t_stop: 2.8}"]
        lines += [f"    readings: readings {number}.csv", "    positions:"]
        lines += ["      place 0: {intent: neutral}"]
        if work == "advise":
            each = [f"light {light}: {{filters: generic}}" for light in range(min(lights, 6))]
            lines.append(f"    advise: {{lights: {{{', '.join(each)}}}}}")
        if work == "day":
            lines.append("    when: 2026-06-20 14:00")
    path = folder / "scale.yaml"
    path.write_text("\n".join([*lines, ""]))
    return path


def measure(size: str, work: str) -> str:
    """Plan one size; a row of the table."""
    lights, positions, setups = map(int, size.split("x"))
    with tempfile.TemporaryDirectory() as made:
        scenario = make_scenario(Path(made), (lights, positions, setups), work)
        run = subprocess.Popen(
            [sys.executable, "-m", "wbplan", *WORKS[work], scenario, "--out", f"{made}/out"],
            env={**os.environ, "PYTHONPATH": str(Path.cwd())},
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            text=True,
        )
        assert run.stderr is not None
        said = run.stderr.read()
        _, status, usage = os.wait4(run.pid, 0)
        run.returncode = os.waitstatus_to_exitcode(status)
        seconds = usage.ru_utime + usage.ru_stime
        row = f"{size:>14} {seconds:8.1f} s {usage.ru_maxrss / 1024:7.0f} MiB"
        if run.returncode:
            return f"{row}  {said.strip().splitlines()[-1]}"
        files = list(Path(made, "out").iterdir())
        record = Path(made, "out", "plan.json").stat().st_size / 1e6
        pages = [each.stat().st_size / 1e6 for each in files if each.suffix == ".html"]
        return f"{row} {record:7.1f} MB record {sum(pages):7.1f} MB pages, largest {max(pages):.1f}"


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.scale", description=__doc__)
    parser.add_argument("sizes", nargs="*", default=SIZES, metavar="LIGHTSxPOSITIONSxSETUPS")
    parser.add_argument("--work", choices=WORKS, default="plan")
    options = parser.parse_args()
    print("lights x positions x setups")
    for size in options.sizes:
        print(measure(size, options.work), flush=True)


if __name__ == "__main__":
    main()
