"""The population without some of its cameras, so that these can judge it.

52 measured cameras: Academy Software Foundation, rawtoaces-data 1.1.0 (Apache-2.0), as shipped.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from wbplan.camera import population
from wbplan.camera.population import level_channels
from wbplan.camera.sensitivities import Camera, find_log2_response, respond
from wbplan.camera.setting import find_locus_response, solve_coordinates
from wbplan.data.make_population import find_statistics, gather_logs, read_measured
from wbplan.read.catalogue import find_camera, find_shipped_folder

FOLDER = find_shipped_folder("camera_profiles")
NAMES = tuple(path.stem for path in sorted((FOLDER / "measured").glob("*.csv")))
CURVES = read_measured(FOLDER)
MAKERS = np.array([name.split("-")[0] for name in NAMES])
_LOGS = gather_logs(CURVES)


@contextmanager
def leave_out(left: np.ndarray) -> Iterator[Camera]:
    """Give the generic camera made without those that ``left`` (52,) marks, and use its family."""
    found = find_statistics(_LOGS[~left])
    middle = level_channels(CURVES[~left]).mean(axis=0)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(population, "load_population_table", lambda name: found[name])
        yield replace(find_camera("cfa-mid", Path()), sensitivities=middle)


def find_settings(curves: np.ndarray, lights: np.ndarray) -> np.ndarray:
    """Mired and CC (n, k, 2) that cameras (k, 401, 3) want under lights (n, 401)."""
    found = solve_coordinates(
        find_locus_response(curves), find_log2_response(respond(lights, curves))
    )
    return np.stack([found.mired, found.tint_cc], axis=-1)


def check_joint(truth: np.ndarray, draws: np.ndarray, share: float) -> np.ndarray:
    """Whether truths (n, 2) lie in the ellipse about draws (n, k, 2) that holds a share of them."""
    miss = draws - draws.mean(axis=1, keepdims=True)
    weight = np.linalg.inv(np.einsum("nka,nkb->nab", miss, miss) / draws.shape[1])
    far = np.einsum("nka,nab,nkb->nk", miss, weight, miss)
    own = truth - draws.mean(axis=1)
    return (far < np.einsum("na,nab,nb->n", own, weight, own)[:, None]).mean(axis=1) <= share
