"""How a measured waveform is said: how fast and deep, and at which shutters frames differ."""

from __future__ import annotations

import numpy as np

from wbplan.light.waveform import FlickerFigures, find_frame_ripple
from wbplan.report.base.words import say_significant

SHOT_FPS = (24.0, 25.0, 30.0, 48.0, 50.0, 60.0, 100.0, 120.0)
_ANGLE = 180.0
_SEEN_STOPS = 0.05  # as the plan has it: a shutter is safe up to here


def say_flicker(flicker: FlickerFigures) -> str:
    """Say a waveform in a few words: '100 Hz, 32 % deep, index 0.09'."""
    if flicker.light_hz <= 0:
        return "steady"
    depth = 100 * flicker.depth
    return f"{flicker.light_hz:.4g} Hz, {depth:.0f} % deep, index {flicker.flicker_index:.2f}"


def say_shutters(flicker: FlickerFigures) -> str:
    """Say what it does at a shutter of 180 degrees; empty for a steady light."""
    if flicker.light_hz <= 0:
        return ""
    ripples = list_ripples(flicker)
    bad = [f"{fps:g}" for fps, stops in ripples if stops > _SEEN_STOPS]
    if not bad:
        return "no frame rate up to 120 fps at 180° shows its flicker"
    safe = f"expose for whole multiples of 1/{flicker.light_hz:.4g} s"
    return f"at {', '.join(bad)} fps and 180° it flickers: {safe}"


def list_ripples(flicker: FlickerFigures) -> list[tuple[float, float]]:
    """List by how much frames differ [stops] at usual frame rates and 180 degrees."""
    times = _ANGLE / 360.0 / np.array(SHOT_FPS)
    return [*zip(SHOT_FPS, find_frame_ripple(flicker, times).tolist(), strict=True)]


def say_ripple(stops: float) -> str:
    """Say how far frames differ: '0.3 stops', 'under 0.01'."""
    return "under 0.01" if stops < 0.01 else say_significant(stops, 2)
