"""From camera RGB to an encoding's gamut, and what a change of setting does there.

Idea
----
A recorded picture is f(M(K) diag(g) raw): raw values times the setting's gains, through the matrix
that the camera uses at that Kelvin, into the encoding. Going back and forth again gives the
picture that another setting would have given, so a correction is one matrix in linear light:
M(K2) diag(g2 / g1) M(K1)^-1. M(K) is fitted on published reflectances under the reference light
of K and keeps white; makers' own matrices differ, which moves saturated colours, not greys.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from wbplan.camera.colour_matrix import fit_colour_matrix
from wbplan.camera.sensitivities import respond
from wbplan.camera.setting import CameraView, find_setting_gains
from wbplan.codes.encodings import Encoding
from wbplan.core.tables import Array
from wbplan.light.colorimetry import find_tristimulus, find_white_xyz
from wbplan.light.illuminants import LOCUS_RANGE_KELVIN, radiate_locus
from wbplan.lut.bake import normalise_gains
from wbplan.scene.setup import Keep

# Lam (1985), as in ICC.1:2022 annex E: cone-like primaries for chromatic adaptation
_BRADFORD = np.array(
    [[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]]
)


def adapt_white(from_xyz: ArrayLike, to_xyz: ArrayLike) -> Array:
    """Build the matrix (3, 3) that adapts XYZ from one white (3,) to another (Bradford)."""
    ratio = (_BRADFORD @ np.asarray(to_xyz)) / (_BRADFORD @ np.asarray(from_xyz))
    return np.asarray(np.linalg.inv(_BRADFORD) @ np.diag(ratio) @ _BRADFORD)


def find_gamut_change(source: Encoding, target: Encoding) -> Array:
    """Find the matrix (3, 3) between two gamuts' linear RGB, white to white (Bradford)."""
    adapted = adapt_white(find_white_xyz(source.white_xy), find_white_xyz(target.white_xy))
    change = np.linalg.inv(target.rgb_to_xyz) @ adapted @ source.rgb_to_xyz
    return np.asarray(change / change.sum(axis=1, keepdims=True))


def find_setting_white(kelvin: float) -> Array:
    """Find XYZ (3,), Y = 1, of the reference light that a Kelvin stands for."""
    xyz = find_tristimulus(radiate_locus(np.clip(kelvin, *LOCUS_RANGE_KELVIN)))
    return np.asarray(xyz / xyz[1])


def adapt_to_encoding(encoding: Encoding, kelvin: float) -> Array:
    """Build the matrix (3, 3) from XYZ to an encoding's linear RGB, adapted from a Kelvin's white.

    The reference light of the Kelvin comes out with three equal values (Bradford).
    """
    adapted = adapt_white(find_setting_white(kelvin), find_white_xyz(encoding.white_xy))
    return np.asarray(np.linalg.inv(encoding.rgb_to_xyz) @ adapted)


def find_camera_matrix(
    sensitivities: ArrayLike,
    encoding: Encoding,
    kelvin: float,
    matrix_kelvin: tuple[float, ...] = (),
) -> Array:
    """Find the matrix from balanced camera RGB to the encoding's linear RGB at a Kelvin.

    Parameters
    ----------
    sensitivities
        (k, 401, 3) for k cameras, or (401, 3) for one.
    matrix_kelvin
        Of the matrix that is kept, or of the two that are mixed by weights linear in mired, the
        nearer one beyond them (as the DNG specification 1.7, chapter 6, interpolates matrices);
        fitted at the Kelvin where empty.

    Returns
    -------
    ndarray
        (k, 3, 3) or (3, 3), rows sum to 1: white stays white.
    """
    if matrix_kelvin:
        kept = [find_camera_matrix(sensitivities, encoding, each) for each in matrix_kelvin]
        first, last = 1e6 / matrix_kelvin[0], 1e6 / matrix_kelvin[-1]
        share = (1e6 / kelvin - first) / (last - first) if len(kept) == 2 else 0.0
        share = min(max(share, 0.0), 1.0)
        return np.asarray((1.0 - share) * kept[0] + share * kept[-1])
    light = radiate_locus(np.clip(kelvin, *LOCUS_RANGE_KELVIN))
    matrix = adapt_to_encoding(encoding, kelvin) @ fit_colour_matrix(sensitivities, light)
    # The published matrices are rounded, so white is off by 1e-5 or so: take that out.
    return np.asarray(matrix / matrix.sum(axis=-1, keepdims=True))


@dataclass(frozen=True, eq=False)
class Shot:
    """A picture as it was shot: by which camera, in which encoding, at which setting.

    ``setting`` is (mired, tint CC). ``keep`` says what a correction leaves as it is: ``green`` the
    green channel's level of a white; ``no_clip`` makes the largest gain 1.
    """

    camera: CameraView
    encoding: Encoding
    setting: tuple[float, float]
    keep: Keep = "green"

    @cached_property
    def gains(self) -> Array:
        """The setting's channel gains (3,), green = 1."""
        return np.asarray(find_setting_gains(self.camera.locus, *self.setting)[0])

    @cached_property
    def matrix(self) -> Array:
        """From balanced camera RGB to the encoding's linear RGB; see `find_camera_matrix`."""
        profile, kelvin = self.camera.profile, 1e6 / self.setting[0]
        return find_camera_matrix(
            profile.sensitivities, self.encoding, kelvin, profile.matrix_kelvin
        )


def find_correction_matrix(shot: Shot, wanted: tuple[float, float]) -> tuple[Array, float]:
    """Find what turns a picture shot at one setting into that of another, (mired, tint CC).

    Returns
    -------
    tuple
        (3, 3) matrix in the encoding's scene-linear RGB, and what it costs in stops.
    """
    after = replace(shot, setting=wanted)
    ratio, cost = normalise_gains(after.gains / shot.gains, shot.keep)
    return after.matrix @ np.diag(ratio) @ np.linalg.inv(shot.matrix), cost


def find_surface_rgb(shot: Shot, lights: ArrayLike, reflectances: ArrayLike) -> Array:
    """Compute how surfaces come out in a picture's linear RGB.

    Parameters
    ----------
    lights
        (p, 401) relative spectral power.
    reflectances
        (m, 401).

    Returns
    -------
    ndarray
        (p, m, 3) scene-linear; under each light a perfect white has 1 in the camera's green.
    """
    power, curves = np.asarray(lights, dtype=np.float64), shot.camera.profile.sensitivities
    surfaces = np.asarray(reflectances, dtype=np.float64)
    raw = np.stack([(power * curve) @ surfaces.T for curve in curves.T], axis=-1)
    white = respond(power, curves)
    return np.asarray((raw / white[:, None, 1:2] * shot.gains) @ shot.matrix.T)
