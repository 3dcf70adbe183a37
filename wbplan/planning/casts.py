"""Settings and casts of a plan with their intervals, and how they are said."""

from __future__ import annotations

from dataclasses import dataclass

from wbplan.camera.setting import Coordinates
from wbplan.core.intervals import Interval, make_interval
from wbplan.core.rounding import settle
from wbplan.light.filters import name_cast


@dataclass(frozen=True)
class Cast:
    """How far a neutral is from balanced, with its interval: mired (+ warm) and CC (+ green)."""

    mired: Interval
    green_cc: Interval

    @property
    def point(self) -> tuple[float, float]:
        """Mired and CC without their intervals."""
        return self.mired.value, self.green_cc.value

    @property
    def words(self) -> str:
        """The cast as it is said: '12 mired warm, 2 CC green', or 'neutral'."""
        said = name_cast(self.mired.value, self.green_cc.value)
        return "neutral" if said == "none" else said


@dataclass(frozen=True)
class WantedSetting:
    """The setting that a neutral wants from this camera, exact, with its interval."""

    mired: Interval
    tint_cc: Interval

    @property
    def kelvin(self) -> Interval:
        """The same in kelvin; the interval's ends change places."""
        return Interval(1e6 / self.mired.value, 1e6 / self.mired.high, 1e6 / self.mired.low)

    @property
    def point(self) -> tuple[float, float]:
        """Mired and tint without their intervals."""
        return self.mired.value, self.tint_cc.value

    @property
    def words(self) -> str:
        """The setting shortly, see `name_setting`."""
        return name_setting(self.kelvin.value, self.tint_cc.value)

    def less(self, mired: float, tint_cc: float) -> Cast:
        """The cast that the neutral has under a setting."""
        return Cast(self.mired.moved(-mired), self.tint_cc.moved(-tint_cc))


def make_wanted(
    own: Coordinates, draws: Coordinates | None, row: int, share: float
) -> WantedSetting:
    """Make a wanted setting of one row of coordinates (n, 1), and of their draws (n, k)."""
    drawn = (None, None) if draws is None else (draws.mired[row], draws.tint_cc[row])
    return WantedSetting(
        make_interval(float(own.mired[row, 0]), drawn[0], share),
        make_interval(float(own.tint_cc[row, 0]), drawn[1], share),
    )


def name_setting(kelvin: float, tint_cc: float) -> str:
    """Write a setting shortly, for names: '4350K magenta2CC', '3200K'."""
    tint = f" {name_tint(tint_cc).replace(' ', '')}" if round(tint_cc, 1) else ""
    return f"{kelvin:.0f}K{tint}"


def name_tint(tint_cc: float) -> str:
    """Say a tint setting in words: 'magenta 3 CC' is added against a green light."""
    size = round(settle(abs(tint_cc)), 1)
    if size == 0:
        return "no tint"
    return f"{'magenta' if tint_cc > 0 else 'green'} {size:.12g} CC"
