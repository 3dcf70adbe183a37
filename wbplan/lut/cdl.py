"""A correction as an ASC CDL: ten numbers that travel where tables do not.

The Color Decision List (American Society of Cinematographers, version 1.2) holds a slope, an offset
and a power for each channel, and a saturation. A slope is a gain. So a white balance is a
CDL only where it is a pure gain per channel, and exactly only where the list is applied to
scene-linear values. On log codes the same gain is an offset where the curve is a pure logarithm (of
ACEScct above its knee, 4.5 stops under grey); other curves have an offset inside the logarithm, and
there slope and offset are fitted and miss by some codes, which the file says. A correction that
mixes channels is refused here; a table carries it.

Three files hold the same thing: `.cc` one correction, `.ccc` a collection, `.cdl` a decision list.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from html import escape
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from wbplan.codes.cube_text import make_plain
from wbplan.codes.encodings import is_light
from wbplan.core.errors import InputError
from wbplan.core.tables import Array
from wbplan.lut.bake import LinearCorrection
from wbplan.lut.table1d import find_channel_gains

CdlForm = Literal["cc", "ccc", "cdl"]
CDL_FORMS: tuple[CdlForm, ...] = ("cc", "ccc", "cdl")

_NAMESPACE = "urn:ASC:CDL:v1.2"
FOR_LIGHT, FOR_CODES = "Apply to scene-linear values", "Apply to codes"
"""What a file made here says first of its numbers."""
_CONDITION = (
    FOR_LIGHT + ", {gamut} primaries, before any log curve and any look. "
    "On log codes it is wrong. A reader that clamps to 0 to 1 cuts scene values over 1."
)
_LOG_CONDITION = (
    FOR_CODES + ": {words}. On scene-linear values it is wrong. Worst miss in ten-bit codes: "
    "{above:.1f} from 4 stops under grey up, before and after; {below:.1f} under that."
)
_CODES = 1023.0
_GREY, _DARKEST_STOPS = 0.18, -4.0
_RAMP = 2048


@dataclass(frozen=True, eq=False)
class LogNumbers:
    """Slopes (3,) and offsets (3,) for log codes, and by how much they miss [code of 1023].

    ``above`` from 4 stops under grey up to code 1, before and after; ``below`` from black up to
    there.
    """

    slope: Array
    offset: Array
    above: float
    below: float

    def apply(self, codes: ArrayLike) -> Array:
        """Apply them to codes (..., 3)."""
        return np.asarray(codes, dtype=np.float64) * self.slope + self.offset


def fit_log_numbers(correction: LinearCorrection) -> LogNumbers:
    """Fit slope and offset of log codes to a pure gain per channel, for the least worst miss.

    Raises
    ------
    InputError
        When the correction mixes channels, changes the encoding, or the codes are light itself.
    """
    _take_gains(correction)
    encoding = correction.encoding
    if is_light(encoding) or correction.into.words != encoding.words:
        raise InputError(
            "scene-linear values or another encoding after",
            "log codes that stay in their encoding, for numbers on log codes",
        )
    start = float(encoding.encode(_GREY * 2.0**_DARKEST_STOPS))
    black = max(0.0, float(encoding.encode(0.0)))
    codes = np.linspace(start, 1.0, _RAMP)
    wanted = correction.apply(np.repeat(codes[:, None], 3, axis=1))
    inside = (wanted >= start) & (wanted <= 1.0)  # after the gain too
    slope, offset = np.array(
        [_fit_line(codes[held], y[held]) for y, held in zip(wanted.T, inside.T, strict=True)]
    ).T
    found = LogNumbers(slope, offset, 0.0, 0.0)

    def miss(first: float, last: float) -> float:
        x = np.repeat(np.linspace(first, last, _RAMP)[:, None], 3, axis=1)
        exact = correction.apply(x)
        off = np.abs(found.apply(x) - exact)[(exact <= 1.0) & (exact >= first)]
        return float(off.max(initial=0.0)) * _CODES

    return replace(found, above=miss(start, 1.0), below=miss(black, start))


def _fit_line(x: Array, y: Array) -> tuple[float, float]:
    """Fit the line of least worst miss to what bends one way: along its chord, half of the bow."""
    slope = (y[-1] - y[0]) / (x[-1] - x[0])
    rest = y - slope * x
    return float(slope), float(rest.max() + rest.min()) / 2.0


def format_cdl(
    correction: LinearCorrection,
    form: CdlForm,
    name: str,
    comments: tuple[str, ...] = (),
    log: LogNumbers | None = None,
) -> bytes:
    """Give the bytes of an ASC CDL file.

    Parameters
    ----------
    correction
        A pure gain per channel in the primaries of its encoding, before and after.
    form
        ``cc``, ``ccc`` or ``cdl``.
    name
        The correction's id.
    comments
        What is said in the file besides the condition; reduced to ASCII.
    log
        Numbers for log codes; None for scene-linear values, where the gain itself is exact.

    Raises
    ------
    InputError
        When the correction mixes channels or goes into another gamut.
    """
    slope, offset = _take_gains(correction), np.zeros(3)
    condition = _CONDITION.format(gamut=correction.encoding.gamut)
    if log is not None:
        slope, offset = log.slope, log.offset
        words = correction.encoding.words
        condition = _LOG_CONDITION.format(words=words, above=log.above, below=log.below)
    said = [escape(make_plain(each)) for each in (condition, *comments)]
    slopes, offsets = (" ".join(f"{x:.10g}" for x in row) for row in (slope, offset))
    described = "".join(f"  <Description>{each}</Description>\n" for each in said)
    body = (
        "  <SOPNode>\n"
        f"    <Slope>{slopes}</Slope>\n"
        f"    <Offset>{offsets}</Offset>\n"
        "    <Power>1 1 1</Power>\n"
        "  </SOPNode>\n"
        "  <SatNode>\n    <Saturation>1</Saturation>\n  </SatNode>\n"
    )
    space, ident = f' xmlns="{_NAMESPACE}"', f' id="{escape(make_plain(name))}"'
    own = space if form == "cc" else ""
    text = f"<ColorCorrection{ident}{own}>\n{described}{body}</ColorCorrection>\n"
    if form == "ccc":
        text = f"<ColorCorrectionCollection{space}>\n{text}</ColorCorrectionCollection>\n"
    elif form == "cdl":
        text = f"<ColorDecision>\n{text}</ColorDecision>\n"
        text = f"<ColorDecisionList{space}>\n{text}</ColorDecisionList>\n"
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{text}'.encode("ascii")


def _take_gains(correction: LinearCorrection) -> Array:
    gains = find_channel_gains(correction)
    if gains is None or correction.into.gamut != correction.encoding.gamut or gains.min() < 0:
        raise InputError(
            "a correction that mixes the channels",
            f"a pure gain per channel in {correction.encoding.gamut}, which a CDL can hold; "
            "ask for kind 'gains', or for a .cube or .clf file",
        )
    return gains
