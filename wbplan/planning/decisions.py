"""What a plan decides, as values: settings, casts, exposures, LUTs, and what is said of them.

Immutable, complete and unrounded. The report, the record and the terminal only say what stands
here.
"""

from __future__ import annotations

from dataclasses import dataclass

from wbplan.camera.setting import Setting
from wbplan.core.band import BAND_SHARE
from wbplan.core.display import Displayed
from wbplan.core.intervals import Interval
from wbplan.core.ledger import PlanInputs
from wbplan.core.notes import Note
from wbplan.core.tables import Array
from wbplan.light.filters import name_cast
from wbplan.lut.bake import BakedLut
from wbplan.lut.file import LutFile
from wbplan.planning.advice import Advice, Agreement
from wbplan.planning.exposure_values import ExposurePlan
from wbplan.planning.plate.values import PlateView
from wbplan.planning.trade_off import TradeOff
from wbplan.scene.cautions import Caution
from wbplan.scene.setup import Setup


@dataclass(frozen=True)
class EyeView:
    """What a meter with a standard eye shows: CCT [K] (NaN where it has no meaning), Duv, x, y."""

    cct_kelvin: float
    duv: float
    x: float
    y: float


@dataclass(frozen=True)
class Cast:
    """How far a neutral is from balanced, with its interval: mired (+ warm) and CC (+ green)."""

    mired: Interval
    green_cc: Interval

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


@dataclass(frozen=True, eq=False)
class LightPlan:
    """One source as the eye and as the camera see it, behind its filter."""

    name: str
    origin: str
    is_model: bool
    on: bool
    filter_name: str
    loss_stops: float
    eye: EyeView
    wanted: WantedSetting
    trouble: str
    power: Array
    notes: tuple[Note, ...]


@dataclass(frozen=True, eq=False)
class PositionPlan:
    """One place in the frame: its light, the cast that will be seen there, and its exposure.

    ``shares`` are each source's part of the lux, in the order of the lights. ``off_intent`` is
    the cast less the wanted one. ``t_stop`` is for the planned ND; ``nd_for_stop`` [stops] is what
    reaches the wanted T-stop (None where none is wanted). ``from_key_stops`` compares with
    the key position.
    """

    name: str
    intent_words: str
    weight: float
    lux: Interval
    shares: tuple[float, ...]
    eye: EyeView
    wanted: WantedSetting
    cast: Cast
    off_intent: Cast
    t_stop: Interval
    nd_for_stop: float | None
    from_key_stops: float
    trouble: str


@dataclass(frozen=True, eq=False)
class LutPlan:
    """The LUT of a setup: what it goes from and to, what it costs, and the file with its error."""

    file_name: str
    shot_at: Setting
    wanted: WantedSetting
    matrix: Array
    keep: str
    cost_stops: float
    baked: BakedLut


@dataclass(frozen=True, eq=False)
class Look:
    """The chart at a position, as one setting shows it on a BT.709 screen.

    ``code`` is ``meter`` (the Kelvin that a meter shows at the key, no tint), ``dialled``,
    ``corrected`` (dialled, and the LUT) or ``meant``. ``screen_rgb`` (24, 3) are sRGB codes from 0
    to 1, held at the screen's ends; ``outside`` counts the patches that were. ``ciede2000`` (24,)
    is against what is meant, None where nothing is.
    """

    code: str
    kelvin: float
    tint_cc: float
    screen_rgb: Array
    outside: int
    ciede2000: Array | None


@dataclass(frozen=True, eq=False)
class PositionLooks:
    """How one position looks: before and after the correction, and as it is meant to.

    ``looks`` is empty where there is no light; ``meant`` is None where nothing is wanted or no
    setting neutralises the light.
    """

    name: str
    looks: tuple[Look, ...]
    meant: Look | None


@dataclass(frozen=True, eq=False)
class Appearance:
    """Positions as they will look, and where lights and the camera's neutral lie.

    ``bare`` are the lights as a meter sees them without their filters, in the order of the
    lights. ``neutral_xy`` and ``exact_neutral_xy`` are what the dialled and the exact setting
    show as neutral. ``patches`` names the rows of every look.
    """

    positions: tuple[PositionLooks, ...]
    bare: tuple[EyeView, ...]
    neutral_xy: tuple[float, float]
    exact_neutral_xy: tuple[float, float]
    patches: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class SetupPlan:
    """Everything decided about one setup; ``luts`` are those asked for besides the main ``lut``.

    ``stem`` is what its files' names begin with.
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

    @property
    def name(self) -> str:
        """The setup's name."""
        return self.setup.name

    @property
    def key(self) -> PositionPlan:
        """The position that the exposure is set for."""
        return next(each for each in self.positions if each.name == self.setup.key)


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
    ['csv', 'csv', 'cube', 'html', 'html', 'json']
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


def name_setting(kelvin: float, tint_cc: float) -> str:
    """Write a setting shortly, for names: '4350K magenta2CC', '3200K'."""
    tint = f" {name_tint(tint_cc).replace(' ', '')}" if round(tint_cc, 1) else ""
    return f"{kelvin:.0f}K{tint}"


def name_tint(tint_cc: float) -> str:
    """Say a tint setting in words: 'magenta 3 CC' is added against a green light."""
    size = round(abs(tint_cc), 1)
    if size == 0:
        return "no tint"
    return f"{'magenta' if tint_cc > 0 else 'green'} {size:.12g} CC"
