"""Where the sun may shine in and nobody said so.

A position that reads only the sky's light of a surface gets none of the beam, even when the sun
stands before that surface. That is right for a spot that the beam never reaches, and wrong by stops
for all others, so it is said.
"""

from __future__ import annotations

from collections.abc import Sequence

from wbplan.core.notes import Note, warn
from wbplan.scene.setup import Position, Source

BEAM_CODE = "sun-unnamed"
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
        f"and no light of kind sun is named for it at {', '.join(positions)}: name one, or give "
        "the horizon that hides it"
    )
    return warn(BEAM_CODE, text, name)


def _reads(position: Position, row: int) -> bool:
    shared = bool(position.model_share) and position.model_share[row] is not None
    return shared or bool(position.lux[row] > 0)
