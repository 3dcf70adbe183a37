"""Where the sun may shine in and nobody said so, and where it comes and goes.

A position that reads only the sky's light of a surface gets none of the beam, even when the sun
stands before that surface. That is right for a spot that the beam never reaches, and wrong by stops
for all others, so it is said.
"""

from __future__ import annotations

from collections.abc import Sequence

from wbplan.core.names import say_few
from wbplan.core.notes import Note, warn
from wbplan.scene.setup import Position, Source
from wbplan.sky.broken import say_changes

BEAM_CODE, CLOUD_CODE = "sun-unnamed", "sun-comes-and-goes"
LEAST_STOPS = 0.1  # what no eye sees is not warned of


def list_unnamed_beams(
    sources: Sequence[Source], positions: Sequence[Position]
) -> tuple[tuple[int, tuple[str, ...]], ...]:
    """List sources that are only sky on a surface, by number, and the positions that read them so.

    A position that also reads a light of kind sun on a surface that faces the same way is none.
    """
    found = []
    for row, source in enumerate(sources):
        if source.sky is None or source.sky.light.kind != "sky":
            continue
        facing = source.sky.light.facing
        suns = [
            number
            for number, each in enumerate(sources)
            if each.sky and each.sky.light.kind == "sun" and each.sky.light.facing == facing
        ]
        names = tuple(
            each.name
            for each in positions
            if _reads(each, row) and not any(_reads(each, sun) for sun in suns)
        )
        if names:
            found.append((row, names))
    return tuple(found)


def warn_of_beam(name: str, positions: Sequence[str], when: str, stops: float) -> Note:
    """Warn that the beam reaches what a source lights, at times that are said."""
    text = (
        f"the sun itself reaches this surface {when}, up to {stops:.1f} stops more and far warmer, "
        f"and no light of kind sun is named for it at {say_few(positions)}: name one, or give "
        "the horizon that hides it"
    )
    return warn(BEAM_CODE, text, name)


def warn_of_cloud(name: str, stops: tuple[float, float], mired: tuple[float, float]) -> Note:
    """Warn of how far and how fast light goes under broken cloud.

    Parameters
    ----------
    stops, mired
        The least and the most over the times, of the sun out against the sun hidden; + is
        brighter and warmer.
    """

    def say(ends: tuple[float, float], digits: int, plus: str, minus: str) -> str:
        told = [f"{abs(round(x, digits)):g} {plus if x >= 0 else minus}" for x in ends]
        return " to ".join(dict.fromkeys(told))

    text = (
        "when the sun comes out from behind a cloud this surface gets "
        f"{say(stops, 1, 'stops brighter', 'stops darker')} and "
        f"{say(mired, 0, 'mired warmer', 'mired cooler')}; {say_changes()}. A take matches only "
        "while the sun stays as it was"
    )
    return warn(CLOUD_CODE, text, name)


def _reads(position: Position, row: int) -> bool:
    shared = bool(position.model_share) and position.model_share[row] is not None
    return shared or bool(position.lux[row] > 0)
