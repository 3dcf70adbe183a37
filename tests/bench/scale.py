"""What a plan costs by its size.

``python -m tests.bench.scale [LIGHTSxPOSITIONSxSETUPS ...]`` makes scenarios of so many lights,
positions and setups, plans each in a process of its own, and prints a table: processor time, the
most memory, and how large the record and all pages are. A plan that is refused says why.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np

SIZES = ("5x10x1", "5x100x1", "5x1000x1", "50x100x1", "200x100x1", "200x1000x1", "5x5x100")


def make_scenario(folder: Path, lights: int, positions: int, setups: int) -> Path:
    """Write a scenario: smooth spectra with a phosphor's hump, and a sheet of readings a setup."""
    generator = np.random.default_rng(lights * positions * setups)
    wavelength = np.arange(380.0, 781.0, 5.0)
    lines = ["wbplan: 1", "title: Scale", "invented: true", "camera: cfa-mid"]
    lines += ["meter: {illuminance_percent: 4, chromaticity_xy: 0.0015}", "sources:"]
    for light in range(lights):
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
    path = folder / "scale.yaml"
    path.write_text("\n".join([*lines, ""]))
    return path


def measure(size: str) -> str:
    """Plan one size; a row of the table."""
    lights, positions, setups = map(int, size.split("x"))
    with tempfile.TemporaryDirectory() as made:
        scenario = make_scenario(Path(made), lights, positions, setups)
        run = subprocess.Popen(
            [sys.executable, "-m", "wbplan", "plan", scenario, "--out", f"{made}/out"],
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


def main(sizes: list[str]) -> None:
    """Print the table."""
    print("lights x positions x setups")
    for size in sizes or SIZES:
        print(measure(size), flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
