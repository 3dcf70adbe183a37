"""The lux readings behind a band: each plausible one drawn when it is asked for.

Of 200 lights at 1000 positions the readings of 256 plausible meters are 400 MB, so they come by
blocks of positions. What is drawn belongs to the light and the position (`scene.marks`), so a block
holds the same however it is cut.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from wbplan.core.draws import draw_normals
from wbplan.core.tables import Array
from wbplan.scene.marks import mark_light
from wbplan.scene.predicted import has_predicted, vary_predicted
from wbplan.scene.setup import Setup
from wbplan.scene.sky_draws import has_sky, vary_sky_level

_SEED = 40711
_BLOCK = 2_000_000  # readings drawn at once, 16 MB
_NEUTRALS = 400_000  # responses solved at once, some 200 MB


@dataclass(frozen=True, eq=False)
class Readings:
    """Lux of ``setup``'s lights at its positions, ``lux`` (p, n), and ``count`` plausible ones."""

    setup: Setup
    lux: Array
    count: int

    def list_blocks(self, times: int = 1) -> list[slice]:
        """List blocks of positions, few enough that what is drawn of each takes little memory.

        ``times`` is at how many times what is drawn of a position is solved.
        """
        places, lights = self.lux.shape
        step = max(1, min(_BLOCK // lights, _NEUTRALS // times) // self.count)
        return [slice(at, at + step) for at in range(0, places, step)]

    def draw(self, rows: slice = slice(None)) -> Array:
        """Draw the readings at a block of positions, (p, n, k) [lux], 0 or more."""
        setup = replace(self.setup, positions=self.setup.positions[rows])
        lux, percent = self.lux[rows], setup.meter.illuminance_percent
        read = np.repeat(lux[..., None], self.count, axis=-1)
        if percent:
            places, lights = (
                [x.name for x in setup.positions],
                [mark_light(x) for x in setup.sources],
            )
            error = draw_normals(_SEED, self.count, places, lights)
            error *= percent / 100.0
            error += 1.0
            read *= np.maximum(error, 0.0, out=error)
        if has_predicted(setup):
            read = vary_predicted(setup, lux, read)
        return vary_sky_level(setup, read) if has_sky(setup) else read

    def sum_lights(self, each: Array) -> Array:
        """Sum what one lux of each light gives, (n, k, c), over the readings, (p, k, c)."""
        blocks = self.list_blocks()
        return np.concatenate([np.einsum("pnk,nkc->pkc", self.draw(x), each) for x in blocks])
