"""Which light to shoot next, to learn most about a camera.

The posterior is Gaussian, so what a further frame would leave unsure can be worked out before it is
shot. A setting moves with the curves through the neutral of a light and through that of its
reference light; to first order that is a row of slopes, and the width of its band follows.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wbplan.camera.learn.estimate import Learned, Prior, predict_posterior
from wbplan.camera.population import GRID_NM, TENTS, spread_to_grid
from wbplan.camera.sensitivities import STOPS_PER_CC, find_log2_response, respond
from wbplan.camera.setting import find_distance, find_locus_response, solve_coordinates
from wbplan.core.tables import Array
from wbplan.light.illuminants import radiate_locus

BAND_SIGMAS = 2 * 1.6449  # from end to end of a central 90 % interval of a normal distribution
_EXPECTED_NOISE = 0.005


@dataclass(frozen=True)
class Prospect:
    """What a chart frame under one light would leave: mean width of the 90 % bands.

    ``own`` marks a light of the scenario that the camera is wanted for.
    """

    light: str
    mired: float
    cc: float
    own: bool = False


def find_slopes(curves: Array, targets: Array) -> Array:
    """Find how settings move with the curves.

    Parameters
    ----------
    curves
        (81, 3) on the learning grid.
    targets
        (t, 401) lights whose settings count.

    Returns
    -------
    ndarray
        (t, 2, 243): mired and CC per unit of each curve value, to first order.
    """
    full = spread_to_grid(curves)
    locus = find_locus_response(full[None])
    raw = respond(targets, full)
    found = solve_coordinates(locus, find_log2_response(raw)[:, None])
    mired = np.clip(found.mired[:, 0], 41.0, 990.0)
    here, ahead = (radiate_locus(1e6 / (mired + step)) for step in (0.0, 1.0))
    reference, moved = respond(here, full), respond(ahead, full)
    along = np.log2(moved / reference)
    # d(log2 raw) / d(curve value) of each channel, light less its reference
    change = (targets @ TENTS)[:, :, None] / raw[:, None] - (here @ TENTS)[:, :, None] / reference[
        :, None
    ]
    change /= np.log(2.0)
    zeros = np.zeros_like(change)
    red, green, blue = (zeros.copy() for _ in range(3))
    red[..., 0], green[..., 1], blue[..., 2] = (change[..., each] for each in range(3))
    per_mired = (along[:, 0] - along[:, 2])[:, None, None]
    in_mired = (red - blue) / per_mired
    green_per_mired = (along[:, 1] - (along[:, 0] + along[:, 2]) / 2)[:, None, None]
    in_cc = (green - (red + blue) / 2 - in_mired * green_per_mired) / STOPS_PER_CC
    shape = (len(targets), GRID_NM.size * 3)
    return np.stack([in_mired.reshape(shape), in_cc.reshape(shape)], axis=1)


def find_band_widths(posterior: Prior, slopes: Array) -> Array:
    """Find the width of the 90 % bands of settings, (t, 2) [mired, CC], from `find_slopes`."""
    variance = np.einsum("tij,jk,tik->ti", slopes, posterior.covariance, slopes)
    return np.asarray(BAND_SIGMAS * np.sqrt(np.maximum(variance, 0.0)))


def rank_lights(
    learned: Learned, names: tuple[str, ...], lights: Array, targets: Array, reflectances: Array
) -> tuple[Prospect, ...]:
    """Rank lights by how much a chart frame under each would narrow the bands.

    Parameters
    ----------
    learned
        What is known of the camera.
    names, lights
        n names and (n, 401) lights to choose from.
    targets
        (t, 401) the lights whose settings are to be known.
    reflectances
        (m, 401) of the chart.

    Returns
    -------
    tuple
        Best first, by the distance that settings are weighed by everywhere (`find_distance`); each
        with the mean expected width over the targets, at 0.5 % noise.
    """
    slopes = find_slopes(learned.posterior.mean, targets)
    prospects = []
    for name, light in zip(names, lights, strict=True):
        left = predict_posterior(learned.posterior, light * reflectances, _EXPECTED_NOISE)
        mired, cc = find_band_widths(left, slopes).mean(axis=0)
        prospects.append(Prospect(name, float(mired), float(cc)))
    return tuple(
        sorted(prospects, key=lambda each: (float(find_distance(each.mired, each.cc)), each.light))
    )
