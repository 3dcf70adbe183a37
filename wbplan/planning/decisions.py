"""What a plan decides, as values: settings, casts, exposures, LUTs, and what is said of them.

Immutable, complete and unrounded. The report, the record and the terminal only say what stands
here.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from wbplan.camera.setting import Setting
from wbplan.core.band import BAND_SHARE
from wbplan.core.display import Displayed
from wbplan.core.ledger import PlanInputs
from wbplan.core.notes import Note
from wbplan.lut.file import LutFile
from wbplan.planning.casts import Cast, WantedSetting
from wbplan.planning.exposure import ExposurePlan
from wbplan.planning.lights import LightPlan
from wbplan.planning.looks import Appearance
from wbplan.planning.luts import LutPlan
from wbplan.planning.positions import PositionPlan
from wbplan.planning.trade_off import TradeOff
from wbplan.planning.verdict import Verdict
from wbplan.scene.cautions import Caution
from wbplan.scene.setup import Setup

if TYPE_CHECKING:
    from wbplan.planning.advice import Advice, Agreement
    from wbplan.planning.plate.values import PlateView
    from wbplan.planning.sun import SunAndMoon


@dataclass(frozen=True, eq=False)
class SetupPlan:
    """Everything decided about one setup.

    ``luts`` are those asked for besides the main ``lut``, and those of further cameras.

    ``stem`` is what its files' names begin with. ``bodies`` is where sun and moon stand, None
    without a place and a time.
    """

    setup: Setup
    exact: WantedSetting
    dial: Setting
    dial_is_given: bool
    left_over: Cast
    gains: tuple[float, float, float]
    lights: tuple[LightPlan, ...]
    positions: tuple[PositionPlan, ...]
    lut: LutPlan | None
    cautions: tuple[Caution, ...]
    notes: tuple[Note, ...]
    luts: tuple[LutFile, ...] = ()
    exposure: ExposurePlan | None = None
    tradeoff: TradeOff | None = None
    advice: Advice | None = None
    agreement: Agreement | None = None
    appearance: Appearance | None = None
    stem: str = ""
    plate: PlateView | None = None
    verdict: Verdict | None = None
    bodies: SunAndMoon | None = None

    @property
    def name(self) -> str:
        """The setup's name."""
        return self.setup.name

    @property
    def lut_files(self) -> tuple[LutFile, ...]:
        """Every LUT of the setup, the main one first."""
        main = () if self.lut is None else (self.lut.file,)
        return (*main, *self.luts)

    def exchange_luts(self, others: Mapping[str, LutFile]) -> SetupPlan:
        """Put other LUTs in the place of some, by file name."""
        main = self.lut
        if main is not None:
            main = replace(main, file=others.get(main.file_name, main.file))
        luts = tuple(others.get(each.file_name, each) for each in self.luts)
        return replace(self, lut=main, luts=luts)

    @property
    def key(self) -> PositionPlan:
        """The position that the exposure is set for."""
        return self.positions[self.setup.key_row]


@dataclass(frozen=True, eq=False)
class Plan(Displayed):
    """The plans of all setups of one scenario, in its order.

    ``digest`` identifies what went in: SHA-256 over the bytes of the scenario and of every file it
    names, what was asked for and the version of wbplan (`core.ledger.digest_asked`). ``invented``
    marks demonstration data that nobody measured. ``shooting_order`` numbers the setups, from 0, as
    they will be shot; empty for the file's order. ``inputs`` is what the plan can be made from
    again.

    Examples
    --------
    >>> import wbplan
    >>> decided = wbplan.plan("harbour_noon", camera="cfa-presets")
    >>> [(setup.dial.preset, setup.dial.kelvin) for setup in decided.setups]
    [('overcast', 6500.0)]
    >>> sorted(name.rpartition(".")[2] for name in wbplan.make_files(decided))
    ['csv', 'csv', 'csv', 'cube', 'html', 'html', 'html', 'json']
    """

    title: str
    scenario_file: str
    digest: str
    version: str
    invented: bool
    setups: tuple[SetupPlan, ...]
    band_share: float = BAND_SHARE
    shooting_order: tuple[int, ...] = ()
    inputs: PlanInputs | None = None

    @property
    def in_shooting_order(self) -> tuple[SetupPlan, ...]:
        """The setups as they will be shot; as they stand in the file where no order is given."""
        order = self.shooting_order or range(len(self.setups))
        return tuple(self.setups[each] for each in order)
