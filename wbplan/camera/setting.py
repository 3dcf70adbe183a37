"""Settings and casts: Kelvin and tint as a camera's menu means them.

Idea
----
Let n be log2 of the camera's raw response to a neutral surface, and r(K) the same for the reference
light of K. The Kelvin of a neutral is where red against blue agree, r_R - r_B = n_R - n_B; what is
left over in green is the tint. So every neutral has coordinates (mired, CC) in this camera's own
terms. A setting is such a pair too, and the cast of a neutral under a setting is the
difference of the two: mired, + is warm, and CC, + is green.

r(K) is kept as a piecewise cubic in mired, exact in value and slope at nodes at most 10 mired apart
and at every joint of the locus; between nodes it is within 1e-6 stop of the integral.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wbplan.camera.sensitivities import (
    STOPS_PER_CC,
    Camera,
    Menu,
    draw_ensemble,
    find_log2_response,
    respond,
)
from wbplan.camera.tint_duv import DuvTint, find_duv_offset, find_tint_shift, tabulate_duv_tint
from wbplan.core.band import BAND_SHARE
from wbplan.core.tables import Array
from wbplan.light.illuminants import LOCUS_JOINTS_MIRED, radiate_locus_piece
from wbplan.light.spectrum import freeze

NODE_STEP_MIRED = 10.0
MIRED_PER_CC = 7.0  # how many mired weigh as much as one CC; see `find_distance`
_EMBER_MIRED = 500.0
_EXACT_DRAWS = 256
_SLOPE_STEP_MIRED = 1e-3
_REFINEMENTS = 30
_CLOSE = 1e-12  # stops, or 1960 u, v


@dataclass(frozen=True, eq=False)
class LocusResponse:
    """log2 response of k cameras along the reference locus.

    ``edges`` (n + 1,) [mired] bound n intervals; ``coefficients`` (4, n, k, 3) are those of the
    cubic in mired from each interval's lower edge [stops]. ``duv`` is the tint's direction where it
    works along Duv, None where it moves green alone.
    """

    edges: Array
    coefficients: Array
    duv: DuvTint | None = None


@dataclass(frozen=True, eq=False)
class Coordinates:
    """Where neutrals, or settings, lie in the cameras' own terms.

    ``mired`` and ``tint_cc`` are (..., k). ``beyond`` marks a neutral redder or bluer than any
    light of the reference locus (1000 to 25 000 K): its mired is then the locus's end and
    ``shortfall_stops`` says how far red against blue still is from it (+ = redder).
    """

    mired: Array
    tint_cc: Array
    beyond: np.ndarray
    shortfall_stops: Array


@cache
def _list_nodes() -> tuple[Array, Array, Array]:
    """List the nodes of the locus: mired (n,), lights (n, 401), and their slope per mired.

    Each smooth piece of the locus has its own, both ends included.
    """
    nodes, lights, slopes = [], [], []
    for piece, (low, high) in enumerate(pairwise(LOCUS_JOINTS_MIRED)):
        x = np.linspace(low, high, int(np.ceil((high - low) / NODE_STEP_MIRED)) + 1)
        ahead, behind = (
            radiate_locus_piece(x + step, piece) for step in (_SLOPE_STEP_MIRED, -_SLOPE_STEP_MIRED)
        )
        nodes.append(x)
        lights.append(radiate_locus_piece(x, piece))
        slopes.append((ahead - behind) / (2 * _SLOPE_STEP_MIRED))
    mired, light, slope = (freeze(np.concatenate(each)) for each in (nodes, lights, slopes))
    return mired, light, slope


def find_locus_response(sensitivities: ArrayLike, duv: DuvTint | None = None) -> LocusResponse:
    """Tabulate what cameras read along the reference locus.

    Parameters
    ----------
    sensitivities
        (k, 401, 3).
    duv
        The cameras' tint along Duv, if that is how their tint works.
    """
    curves = np.asarray(sensitivities, dtype=np.float64)
    mired, lights, change = _list_nodes()
    raw = respond(lights, curves)
    level = find_log2_response(raw)
    slope = respond(change, curves) / np.exp2(level) / np.log(2.0)
    # Every pair of neighbours is an interval, but for those that straddle two pieces.
    lower = np.flatnonzero(np.diff(mired) > 0)
    width = np.diff(mired)[lower, None, None]
    start, end = slope[lower], slope[lower + 1]
    rise = (level[lower + 1] - level[lower]) / width
    coefficients = np.stack(
        [
            level[lower],
            start,
            (3 * rise - 2 * start - end) / width,
            (start + end - 2 * rise) / width**2,
        ]
    )
    edges = np.append(mired[lower], mired[-1])
    return LocusResponse(edges, coefficients, duv)


def _split(stops: Array) -> tuple[Array, Array]:
    """Split (..., 3) log2 RGB into red against blue, and green against both, in stops."""
    red, green, blue = stops[..., 0], stops[..., 1], stops[..., 2]
    return red - blue, green - (red + blue) / 2


def _interval(locus: LocusResponse, mired: Array) -> tuple[np.ndarray, Array]:
    number = np.clip(np.searchsorted(locus.edges, mired, side="right") - 1, 0, locus.edges.size - 2)
    return number, mired - locus.edges[number]


def find_locus_log2(locus: LocusResponse, mired: ArrayLike) -> Array:
    """Read log2 responses off the locus table, (..., k, 3) [stops] at mired (..., k)."""
    place = np.asarray(mired, dtype=np.float64)
    number, t = _interval(locus, place)
    return _evaluate(_pick_cubics(locus, number), t)


def _pick_cubics(locus: LocusResponse, number: NDArray[np.intp]) -> Array:
    """Pick each camera's cubics (4, ..., k, 3) of intervals (..., k)."""
    cameras = locus.coefficients.shape[2]
    rows = number * cameras + np.arange(cameras)
    return np.asarray(locus.coefficients.reshape(4, -1, 3).take(rows, axis=1))


def _evaluate(cubic: Array, t: Array) -> Array:
    s = np.repeat(t[..., None], 3, axis=-1)
    return np.asarray(cubic[0] + s * (cubic[1] + s * (cubic[2] + s * cubic[3])))


def find_setting_log2(locus: LocusResponse, mired: ArrayLike, tint_cc: ArrayLike) -> Array:
    """Find the neutral that a setting balances, (..., k, 3) log2 [stops].

    The inverse of `solve_coordinates`: green lies ``tint_cc`` above the locus, or the white lies
    that far across it where the camera's tint works along Duv.
    """
    place, tint = np.broadcast_arrays(
        np.asarray(mired, dtype=np.float64), np.asarray(tint_cc, dtype=np.float64)
    )
    base = find_locus_log2(locus, place)
    if locus.duv is not None:
        return np.asarray(base + find_tint_shift(locus.duv, place, tint))
    zero = np.zeros_like(tint)
    return np.asarray(base + np.stack([zero, tint * STOPS_PER_CC, zero], axis=-1))


def _compare(locus: LocusResponse, mired: Array, here: Array, neutral: Array) -> list[Array]:
    """Find how far the locus at mired is warmer than neutrals, and the tint that is left [CC].

    ``here`` is what the locus gives at mired. The first result is in stops of red against blue, or
    in u, v where tint works along Duv; only its sign and its zero count.
    """
    if locus.duv is not None:
        along, tint = find_duv_offset(locus.duv, mired, neutral - here)
        return [-along, tint]
    red_blue, green = _split(here - neutral)
    return [red_blue, -green / STOPS_PER_CC]


def solve_coordinates(locus: LocusResponse, log2_neutral: ArrayLike) -> Coordinates:
    """Solve the Kelvin and tint at which neutrals are balanced.

    Parameters
    ----------
    locus
        Of k cameras; red against blue rises with mired (see `check_unique`). Where it falls again
        below 2000 K, either of two answers there may come out.
    log2_neutral
        (..., k, 3) log2 raw responses to a neutral [stops]; the overall level does not count.

    Returns
    -------
    Coordinates
        Exact on the locus table, to about 1e-9 mired: bisection on its edges, then bracketed
        secant steps inside one interval.
    """
    neutral = np.asarray(log2_neutral, dtype=np.float64)
    edges = locus.edges
    camera = np.arange(neutral.shape[-2])
    at_edges = find_locus_log2(locus, np.repeat(edges[:, None], camera.size, axis=1))

    def miss_at_edge(number: NDArray[np.intp]) -> Array:
        return _compare(locus, edges[number], at_edges[number, camera], neutral)[0]

    shape = neutral.shape[:-1]
    low = np.zeros(shape, dtype=np.intp)
    high = np.full(shape, edges.size - 1, dtype=np.intp)
    for _ in range(int(np.ceil(np.log2(edges.size)))):
        middle = (low + high) // 2
        under = miss_at_edge(middle) <= 0
        low = np.where(under, middle, low)
        high = np.where(under, high, np.maximum(middle, low + 1))
    low = np.minimum(low, edges.size - 2)
    left, right = edges[low], edges[low + 1]
    f_left, f_right = miss_at_edge(low), miss_at_edge(low + 1)
    bluer, redder = f_left > 0, f_right < 0
    cubic = _pick_cubics(locus, low)

    def follow(mired: Array) -> Array:
        return _evaluate(cubic, mired - edges[low])

    last = np.zeros(shape, dtype=np.int8)  # which end moved last: -1 left, 1 right
    for _ in range(_REFINEMENTS):
        gap = f_right - f_left
        at = np.where(gap > 0, left - f_left * (right - left) / np.where(gap > 0, gap, 1), left)
        at = np.clip(at, left, right)
        f = _compare(locus, at, follow(at), neutral)[0]
        under = f <= 0
        # The Illinois rule: an end that stays twice counts half, so that both ends close in.
        f_left = np.where(under, f, np.where(last == 1, f_left / 2, f_left))
        f_right = np.where(under, np.where(last == -1, f_right / 2, f_right), f)
        left, right = np.where(under, at, left), np.where(under, right, at)
        last = np.where(under, -1, 1).astype(np.int8)
        if np.abs(np.where(bluer | redder, 0.0, f)).max(initial=0.0) < _CLOSE:
            break
    mired = np.where(bluer, edges[0], np.where(redder, edges[-1], at))
    beyond = bluer | redder
    here = follow(mired)
    short, _ = _split(neutral - here)
    tint = _compare(locus, mired, here, neutral)[1]
    return Coordinates(mired, tint, beyond, np.where(beyond, short, 0.0))


def find_gains(log2_setting: ArrayLike) -> Array:
    """Turn the neutral that a setting balances into channel gains, (..., 3), green = 1."""
    stops = np.asarray(log2_setting, dtype=np.float64)
    return np.asarray(np.exp2(stops[..., 1:2] - stops))


def find_setting_gains(locus: LocusResponse, mired: float, tint_cc: float) -> Array:
    """Find the channel gains of one setting for k cameras, (k, 3), green = 1."""
    count = locus.coefficients.shape[2]
    return find_gains(find_setting_log2(locus, np.full(count, mired), np.full(count, tint_cc)))


def check_unique(locus: LocusResponse, menu: Menu) -> bool:
    """Tell whether every Kelvin and every tint on a menu is found again from its own neutral.

    Red against blue has to rise down to 2000 K and to stay above that from there on: under the
    glow of embers, what leaks through a blue filter in the red can outgrow the blue.
    """
    rising, _ = _split(find_locus_log2(locus, locus.edges[:, None]))
    ember = int(np.searchsorted(locus.edges, _EMBER_MIRED))
    if not (np.diff(rising[: ember + 1], axis=0) > 0).all():
        return False
    if not (rising[ember + 1 :] > rising[ember]).all():
        return False
    figures = [*menu.kelvin, *(kelvin for _, kelvin, _ in menu.presets)]
    mired = np.linspace(1e6 / max(figures), 1e6 / min(figures), 50)[:, None, None]
    tint = np.array([menu.tint_cc[0], 0.0, menu.tint_cc[-1]])[:, None]
    found = solve_coordinates(locus, find_setting_log2(locus, mired, tint))
    return bool(np.allclose(found.mired, mired, atol=1e-3))


def find_distance(mired: ArrayLike, cc: ArrayLike) -> Array:
    """Weigh a cast, in mired, so that mired and CC can be compared.

    sqrt(mired^2 + (7 cc)^2): one mired moves 1960 u, v by 0.00034 to 0.00037 along the daylight and
    black-body locus. A green that a filter-array camera reads as one CC moves it by as much as 5.5
    mired do under tungsten and 8 under daylight, so equal steps of this distance are about equally
    visible.
    """
    return np.asarray(np.hypot(np.asarray(mired), MIRED_PER_CC * np.asarray(cc)))


@dataclass(frozen=True, eq=False)
class CameraView:
    """A camera with what every solve needs of it, worked out once.

    ``locus`` is that of the profile's own curves (k = 1). ``members`` (k, 401, 3) are the plausible
    cameras, ``member_locus`` theirs; k is 0 and the locus None for a profile taken as exact.
    ``band_share`` is the share of them that an interval is to hold.
    """

    profile: Camera
    locus: LocusResponse
    members: Array
    member_locus: LocusResponse | None
    band_share: float = BAND_SHARE


def list_plausible(camera: CameraView) -> tuple[Array, LocusResponse]:
    """List plausible cameras, (k, 401, 3), with their locus: a camera's members.

    One that is taken as exact stands for itself in each of 256 draws of what else is unsure.
    """
    if camera.member_locus is not None:
        return camera.members, camera.member_locus
    curves = np.repeat(camera.profile.sensitivities[None], _EXACT_DRAWS, axis=0)
    return curves, find_locus_response(curves, camera.locus.duv)


def find_own_locus(profile: Camera) -> LocusResponse:
    """Tabulate the locus for a profile's own curves (k = 1), with the direction of its tint."""
    locus = find_locus_response(profile.sensitivities[None])
    if profile.menu.tint_axis == "green":
        return locus
    return replace(locus, duv=tabulate_duv_tint(profile.sensitivities, locus.edges))


def view_camera(profile: Camera) -> CameraView:
    """Work out what solves need of a camera: its locus, its plausible neighbours and theirs.

    The direction of the tint control belongs to the profile's matrices, so members share it.
    """
    locus = find_own_locus(profile)
    by_wavelength = np.ascontiguousarray(np.moveaxis(draw_ensemble(profile), 0, 1))
    members = np.moveaxis(by_wavelength, 1, 0)  # so that `respond` need not move them each time
    theirs = find_locus_response(members, locus.duv) if members.size else None
    return CameraView(profile, locus, members, theirs)


@dataclass(frozen=True)
class Setting:
    """A Kelvin and a tint to dial in; ``preset`` names it where the camera has presets only."""

    kelvin: float
    tint_cc: float
    preset: str = ""

    @property
    def mired(self) -> float:
        """1e6 / K."""
        return 1e6 / self.kelvin


def round_setting(menu: Menu, mired: float, tint_cc: float) -> Setting:
    """Find the setting on the menu that comes nearest.

    Parameters
    ----------
    menu
        What the camera allows.
    mired, tint_cc
        The wanted coordinates [mired, CC].

    Returns
    -------
    Setting
        The entry with the smallest `find_distance` to the wanted one. What it leaves is a cast,
        which the caller shows; a wanted setting off the end of the menu gives the end.
    """
    scale = []
    if menu.kelvin:  # the two controls are apart, so the nearest entry is nearest on each
        along = np.abs(1e6 / np.array(menu.kelvin) - mired).argmin()
        across = np.abs(np.array(menu.tint_cc) - tint_cc).argmin()
        scale = [("", menu.kelvin[int(along)], menu.tint_cc[int(across)])]
    choices = [*scale, *menu.presets]
    distances = find_distance(
        np.array([1e6 / k - mired for _, k, _ in choices]),
        np.array([t - tint_cc for _, _, t in choices]),
    )
    name, kelvin, tint = choices[int(np.argmin(distances))]
    return Setting(kelvin, tint, name)
