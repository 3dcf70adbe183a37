"""A setup's lights and places as its camera sees them at the dialled setting, with its family."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from wbplan.camera.sensitivities import respond
from wbplan.camera.setting import Setting, find_setting_gains
from wbplan.core.tables import Array
from wbplan.lut.correction import find_camera_matrix
from wbplan.planning.channels import Channels, make_channels
from wbplan.planning.plate.aces import AP0_TO_AP1, find_ap0
from wbplan.planning.response import SceneResponse


@dataclass(frozen=True, eq=False)
class Seen:
    """A scene as k cameras see it at the dialled setting.

    ``lights`` (n, k, 3) native RGB of each light per lux read bare, ``lux`` (p, n, k) what is read
    of each at each position, ``places`` (p, k, 3) native RGB of the light there, ``key`` the row of
    the key; ``gains`` (k, 3) and ``matrix`` (k, 3, 3) to AP0.
    """

    lights: Array
    lux: Array
    places: Array
    key: int
    gains: Array
    matrix: Array

    def scale_by_key(self, raw: Array) -> Array:
        """Bring native RGB (k, 3) to the scale on which the key's green is 1."""
        key = self.places[self.key, :, 1:2]
        return np.asarray(raw / np.where(key > 0, key, np.nan))

    def find_ap0(self, raw: Array) -> Array:
        """Bring native RGB (k, 3) to AP0, on the scale on which the key's green is 1."""
        level = self.scale_by_key(raw) * self.gains
        return np.asarray(np.einsum("kij,kj->ki", self.matrix, level))

    def find_acescg(self, raw: Array) -> Array:
        """Bring native RGB (k, 3) to ACEScg on the same scale."""
        return np.asarray(self.find_ap0(raw) @ AP0_TO_AP1.T)


@dataclass(frozen=True, eq=False)
class SeenScene:
    """What the profile's own curves see, and the draws behind its bands, if anything is unsure."""

    own: Seen
    drawn: Seen | None
    share: float

    def band(self, find: Callable[[Seen], Array]) -> Channels:
        """Make three intervals of what ``find`` gives, (k, 3), for each camera."""
        sample = None
        if self.drawn is not None:
            sample = find(self.drawn)
            sample = sample[np.isfinite(sample).all(-1)]
        return make_channels(find(self.own)[0], sample, self.share)


def see_scene(response: SceneResponse, dial: Setting) -> SeenScene:
    """See a scene at a setting, the profile's own curves and the draws behind its bands."""
    setup, camera = response.setup, response.camera
    ap0, key, kept = find_ap0(), setup.key_row, setup.camera.matrix_kelvin
    lights = respond(response.power, setup.camera.sensitivities)[:, None, :]
    own = Seen(
        lights,
        response.lux[..., None],
        np.einsum("pn,nkc->pkc", response.lux, lights),
        key,
        find_setting_gains(camera.locus, dial.mired, dial.tint_cc),
        find_camera_matrix(setup.camera.sensitivities[None], ap0, dial.kelvin, kept),
    )
    draws = response.draws
    if draws is None:
        return SeenScene(own, None, setup.band_share)
    lux, places = draws.readings.draw(), draws.place_raw
    # A meter drawn so far out that it reads nothing at the key gives no figure and does not count.
    fine = places[key, :, 1] > 0
    if not fine.any():  # the key is dark: nothing is scaled by it
        fine[:] = True
    gains = find_setting_gains(draws.locus, dial.mired, dial.tint_cc)
    matrix = find_camera_matrix(draws.curves, ap0, dial.kelvin, kept)
    drawn = Seen(
        draws.raw[:, fine], lux[..., fine], places[:, fine], key, gains[fine], matrix[fine]
    )
    return SeenScene(own, drawn, setup.band_share)
