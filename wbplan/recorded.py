"""What a plan's record says of it, as values: as much as two plans are compared by.

A recorded plan is not a `decisions.Plan`: it may be of another version, and nothing behind its
figures is known but what it states. Figures without a meaning are NaN.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Shade:
    """A setting or a cast as two coordinates: mired (+ warm) and CC.

    Of a setting CC + adds magenta, of a cast CC + is green; either way + is for a greener light.
    """

    mired: float
    cc: float


@dataclass(frozen=True)
class Span:
    """The interval of a setting, by its ends."""

    low: Shade
    high: Shade


@dataclass(frozen=True, eq=False)
class RecordedLight:
    """A light: what it wants from the camera, behind its filter, and its spectrum by its peak."""

    name: str
    on: bool
    filter_name: str
    wanted: Shade
    spectrum: tuple[float, ...]


@dataclass(frozen=True, eq=False)
class RecordedPosition:
    """A position; ``lux_of`` is what each burning light gives there [lux]."""

    name: str
    lux_of: dict[str, float]
    cast: Shade
    from_key_stops: float
    trouble: str


@dataclass(frozen=True, eq=False)
class RecordedLut:
    """A LUT by what it does: a file of other bytes with the same matrix differs in its comments."""

    file_name: str
    sha256: str
    encoding: str
    size: float
    matrix: tuple[float, ...]


@dataclass(frozen=True, eq=False)
class RecordedSetup:
    """One setup; ``luts`` begins with the main correction where there is one."""

    name: str
    camera: str
    encoding: str
    shooting: str
    key: str
    dial: Shade
    preset: str
    exact: Shade
    band: Span
    t_stop: float
    nd_stops: float
    lights: dict[str, RecordedLight]
    positions: dict[str, RecordedPosition]
    main_lut: RecordedLut | None
    luts: dict[str, RecordedLut]
    warnings: tuple[str, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class RecordedPlan:
    """A plan as its record has it; ``file`` is where the record was read."""

    file: str
    title: str
    version: str
    digest: str
    band_percent: float
    setups: dict[str, RecordedSetup]
    invented: bool
