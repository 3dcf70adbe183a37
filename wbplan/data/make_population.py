"""Make ``population.npz`` and the generic camera's curves from the measured camera profiles.

Run ``python -m wbplan.data.make_population FOLDER`` with the folder of the camera profiles, after
`wbplan.data.make_cameras`. All cameras in ``FOLDER/measured`` take part, each with the same
weight; nothing else does. The generic camera, ``cfa-mid.csv``, is the mean of
their levelled curves, its channels as high against each other as theirs.
"""

from __future__ import annotations

import sys
from importlib.resources import files
from pathlib import Path

import numpy as np

from wbplan.camera.population import LOG_FLOOR_SHARE, level_channels
from wbplan.core.tables import Array
from wbplan.data.make_cameras import write_curves

PATTERNS = 8


def gather_logs(curves: Array) -> Array:
    """Take levelled curves (n, 401, 3) in logs on the 5 nm grid, (n, 81, 3)."""
    return np.asarray(np.log(level_channels(curves)[:, ::5] + LOG_FLOOR_SHARE))


def find_statistics(logs: Array) -> dict[str, Array]:
    """Find the joint statistics of cameras (n, 81, 3) in logs.

    ``patterns`` (8, 81, 3), each one standard deviation long, and ``remainder`` (81, 3), the
    standard deviation of what the patterns leave.
    """
    mean = logs.mean(axis=0)
    miss = (logs - mean).reshape(len(logs), -1) / np.sqrt(len(logs) - 1)
    _, size, modes = np.linalg.svd(miss, full_matrices=False)
    patterns = modes[:PATTERNS] * size[:PATTERNS, None]
    left = np.maximum((miss**2).sum(axis=0) - (patterns**2).sum(axis=0), 0.0)
    shape = mean.shape
    return {
        "patterns": patterns.reshape(PATTERNS, *shape),
        "remainder": np.sqrt(left).reshape(shape),
    }


def read_measured(folder: Path) -> Array:
    """Read the curves of all measured cameras, (n, 401, 3), in the order of their names."""
    paths = sorted((folder / "measured").glob("*.csv"))
    return np.stack([np.loadtxt(path, delimiter=",", skiprows=1)[:, 1:] for path in paths])


def main(folder: Path) -> None:
    """Write the statistics into the package and the generic camera into the folder."""
    curves = read_measured(folder)
    found = find_statistics(gather_logs(curves))
    level = np.log(curves.sum(axis=1))
    middle = level_channels(curves).mean(axis=0) * np.exp((level - level[:, 1:2]).mean(axis=0))
    write_curves(folder / "cfa-mid.csv", middle / middle.max())
    patterns, remainder = (
        np.round(found[name], 5).astype(np.float32) for name in ("patterns", "remainder")
    )
    path = Path(str(files("wbplan.data") / "population.npz"))
    np.savez_compressed(path, patterns=patterns, remainder=remainder)


if __name__ == "__main__":
    main(Path(sys.argv[1]))
