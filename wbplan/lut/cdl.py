"""A correction as an ASC CDL: ten numbers that travel where tables do not.

The Color Decision List (American Society of Cinematographers, version 1.2) holds a slope, an offset
and a power for each channel, and a saturation. A slope is a gain. So a white balance is a
CDL only where it is a pure gain per channel, and only where the list is applied to scene-linear
values: on log codes the same gain is an offset, and that is right above the curve's knee alone.
A correction that mixes channels is refused here; a table carries it.

Three files hold the same thing: `.cc` one correction, `.ccc` a collection, `.cdl` a decision list.
"""

from __future__ import annotations

from html import escape
from typing import Literal

from wbplan.codes.cube_text import make_plain
from wbplan.core.errors import InputError
from wbplan.lut.bake import LinearCorrection
from wbplan.lut.table1d import find_channel_gains

CdlForm = Literal["cc", "ccc", "cdl"]
CDL_FORMS: tuple[CdlForm, ...] = ("cc", "ccc", "cdl")

_NAMESPACE = "urn:ASC:CDL:v1.2"
_CONDITION = (
    "Apply to scene-linear values, {gamut} primaries, before any log curve and any look. "
    "On log codes it is wrong. A reader that clamps to 0 to 1 cuts scene values over 1."
)


def format_cdl(
    correction: LinearCorrection, form: CdlForm, name: str, comments: tuple[str, ...] = ()
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

    Raises
    ------
    InputError
        When the correction mixes channels or goes into another gamut.
    """
    gains = find_channel_gains(correction)
    if gains is None or correction.into.gamut != correction.encoding.gamut or gains.min() < 0:
        raise InputError(
            "a correction that mixes the channels",
            f"a pure gain per channel in {correction.encoding.gamut}, which a CDL can hold; "
            "ask for kind 'gains', or for a .cube or .clf file",
        )
    condition = _CONDITION.format(gamut=correction.encoding.gamut)
    said = [escape(make_plain(each)) for each in (condition, *comments)]
    numbers = " ".join(f"{gain:.10g}" for gain in gains)
    described = "".join(f"  <Description>{each}</Description>\n" for each in said)
    body = (
        "  <SOPNode>\n"
        f"    <Slope>{numbers}</Slope>\n"
        "    <Offset>0 0 0</Offset>\n"
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
