"""The frozen types handed from stage to stage. SI and kelvin inside; activity and humidity are fractions;
moisture X is kg water per kg dry solid.

product file -> piece -> pack and journey -> history (transport) -> failures -> keeping statement
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from hardtack.sourced import Provenance

Floats = NDArray[np.float64]
Shape = Literal["slab", "cylinder", "sphere"]
Branch = Literal["adsorption", "desorption"]
_NOTHING: Mapping[str, float] = MappingProxyType({})


@dataclass(frozen=True, slots=True)
class IsostericHeat:
    """Net isosteric heat q(X) = q0 exp(-X / X0) [J/mol]; X0 = inf keeps it constant."""

    q0: float
    X0: float = float("inf")


@dataclass(frozen=True, slots=True)
class Isotherm:
    """Moisture against water activity of one material: a form, its constants, its temperature law.

    `form` names a module of `hardtack.water.isotherms`. `parameters` are the constants at
    `reference_temperature` [K], moistures in kg/kg dry. A measured `table` carries `points`
    (activity, moisture) instead. Temperature acts either by `heat` (Clausius-Clapeyron) or by
    `enthalpies` [J/mol] on the form's own constants (Arrhenius), never both. `scale` multiplies every
    moisture: it is how an isotherm is moved through a measured pair.
    """

    name: str
    form: str
    parameters: Mapping[str, float] = field(default_factory=lambda: _NOTHING)
    points: tuple[tuple[float, float], ...] = ()
    reference_temperature: float = 298.15
    heat: IsostericHeat | None = None
    enthalpies: Mapping[str, float] = field(default_factory=lambda: _NOTHING)
    activity_range: tuple[float, float] = (0.05, 0.90)
    branch: Branch = "adsorption"
    scale: float = 1.0
    provenance: Provenance = "assumed"
    source: str = ""
    activity_sd: float | None = None
    """One standard deviation of an activity read from it, where that is known."""


@dataclass(frozen=True, slots=True)
class Diffusivity:
    """D(X, T) = D_ref exp(slope (X - X_ref)) exp(-E/R (1/T - 1/T_ref)) [m2/s]."""

    D_ref: float
    slope: float = 0.0
    X_ref: float = 0.0
    T_ref: float = 298.15
    E: float = 0.0


@dataclass(frozen=True, slots=True)
class Layer:
    """One layer of one piece as baked: `thickness` [m] (radial for cylinder and sphere), `dry_mass` [kg]."""

    name: str
    thickness: float
    dry_mass: float
    moisture: float
    isotherm: Isotherm
    diffusivity: Diffusivity
    vapour_permeability: float = 0.0
    """Extra vapour path delta [kg/m/s/Pa], driven by vapour pressure; 0 when D already holds it."""
    rim: float = 0.0
    """Share of the layer's edge that lies open to the headspace; of a cylinder, of its two cut ends."""
    pH: float | None = None  # noqa: N815 -- the symbol is spelled so


@dataclass(frozen=True, slots=True)
class Openings:
    """Where a barrier lies open: holes or cracks, `share` of its face (0 to 1), `width` [m] across one of them."""

    kind: Literal["holes", "cracks"]
    share: float
    width: float


@dataclass(frozen=True, slots=True)
class Barrier:
    """A thin film inside the piece that holds no water worth counting: `permeance` [kg/m2/s/Pa] at T_ref."""

    name: str
    thickness: float
    permeance: float
    T_ref: float = 298.15
    E: float = 0.0
    openings: Openings | None = None


@dataclass(frozen=True, slots=True)
class Piece:
    """A row of layers and barriers from the first end to the last (centre to surface when round).

    `area` [m2] is the face of one slab piece; for cylinder and sphere it is the outer surface.
    `open_ends` says which ends see the headspace; the centre of a round piece is never open. `to_rim` [m2] is how far
    the middle of its layers lies from their rim (`hardtack.transport.side_links`); 0 where there is none.
    """

    shape: Shape
    parts: tuple[Layer | Barrier, ...]
    area: float
    open_ends: tuple[bool, bool]
    count: int = 1
    mass: float = 0.0
    name: str = ""
    to_rim: float = 0.0

    @property
    def layers(self) -> tuple[Layer, ...]:
        """The layers that hold water, in order."""
        return tuple(part for part in self.parts if isinstance(part, Layer))

    @property
    def thickness(self) -> float:
        """Thickness through all parts [m]."""
        return sum(part.thickness for part in self.parts)


@dataclass(frozen=True, slots=True)
class Film:
    """A packaging film: permeance [kg/m2/s/Pa] at T_ref [K], activation energy E [J/mol].

    `humidity` holds, for a film that opens in damp air, points (mean activity across it, factor on the permeance),
    straight in the logarithm between; none for a film that does not mind. `plies` are the films of a laminate,
    from the inside to the outside; its own permeance then is that of the dry laminate. `oxygen` and
    `carbon_dioxide` [m3(STP)/m2/s/Pa] are its permeances to gases near room temperature, None when not known.
    """

    name: str
    permeance: float
    T_ref: float
    E: float = 0.0
    humidity: tuple[tuple[float, float], ...] = ()
    plies: tuple[Film, ...] = ()
    oxygen: float | None = None
    carbon_dioxide: float | None = None


@dataclass(frozen=True, slots=True)
class Leak:
    """Holes of one size: `diameter` and `depth` [m] of one, and their `count`."""

    diameter: float
    depth: float
    count: float = 1.0


@dataclass(frozen=True, slots=True)
class Desiccant:
    """A desiccant in the headspace: `dry_mass` [kg], moisture as laid in [kg/kg dry], its isotherm."""

    name: str
    dry_mass: float
    moisture: float
    isotherm: Isotherm


@dataclass(frozen=True, slots=True)
class OuterPack:
    """A pack around `holds` of the packs inside it, with its own air [m3].

    Water passes its `film` over `area` [m2] (None: no film) and with `air_changes` [1/s] of its air. `board` [kg,
    dry] stores water on `isotherm`.
    """

    name: str
    holds: float
    air: float
    film: Film | None = None
    area: float = 0.0
    air_changes: float = 0.0
    board: float = 0.0
    isotherm: Isotherm | None = None


@dataclass(frozen=True, slots=True)
class Pack:
    """A sealed pack: film of `area` [m2], gas space [m3], and the factor from film to whole pack.

    `leaks` pass beside the film. `oxygen` and `carbon_dioxide` are the shares of the gas packed; `outer` are the
    packs around it, from the inside to the outside.
    """

    film: Film
    area: float
    headspace: float
    whole_pack_factor: float = 1.0
    leaks: tuple[Leak, ...] = ()
    desiccant: Desiccant | None = None
    oxygen: float = 0.2095
    carbon_dioxide: float = 0.0004
    outer: tuple[OuterPack, ...] = ()


@dataclass(frozen=True, slots=True)
class Opened:
    """A pack in use: open for `share` of the time with `air_changes` [1/s] then, closed again with the factor
    `reclosed` (None: as packed) over its film, and with `left` of its pieces."""

    share: float
    air_changes: float
    reclosed: float | None = None
    left: float = 1.0


@dataclass(frozen=True, slots=True)
class Climate:
    """Outside air at `times` [s, n]: `temperature` [K, n] and relative `humidity` [n], straight between."""

    times: Floats
    temperature: Floats
    humidity: Floats


@dataclass(frozen=True, slots=True)
class Leg:
    """A stretch of the journey. `start` and `end` [s] from packing; `climate` runs on the same clock.

    `film_coefficient` [m/s] is set when the pieces lie unpacked in this leg, None when sealed.
    `open_ended` marks the last leg that runs until the product fails (at most three years). `climate` is that of
    the load, which may lag the air. `opened` is set for a pack in use; `outer` counts the outer packs still around.
    """

    name: str
    start: float
    end: float
    climate: Climate
    film_coefficient: float | None = None
    open_ended: bool = False
    opened: Opened | None = None
    outer: int = 0


@dataclass(frozen=True, slots=True)
class Journey:
    """Legs in order, without gaps, from packing at 0 s."""

    legs: tuple[Leg, ...]
    packed_on: str = ""


Regime = Literal["film-limited", "inside-limited", "both"]


@dataclass(frozen=True, slots=True)
class Crossing:
    """A watched layer reached `moisture` [kg/kg dry] at `time` [s]; None when it never did."""

    layer: str
    moisture: float
    rising: bool
    time: float | None


@dataclass(frozen=True, slots=True)
class History:
    """What happened to the water: times [n, s] and, over them, every layer and the air.

    `layers` are those of all kinds of piece, in order, each of its own name. `moisture` and `activity` are
    [n, layers]: the layer's mean moisture, and that moisture shown as
    activity through its isotherm at the day's temperature. `method` says how it was computed.
    `resistance_ratio` is film over inside resistance to water; `imbalance` is the audited water balance
    error, relative to the piece's water at the start, with outer packs that of all airs, boards and packs as one.
    """

    layers: tuple[str, ...]
    times: Floats
    moisture: Floats
    activity: Floats
    headspace: Floats
    temperature: Floats
    humidity: Floats
    leg: NDArray[np.int64]
    crossings: tuple[Crossing, ...]
    method: Literal["lumped", "transport"]
    resistance_ratio: float
    imbalance: float
    water_gained: Floats
    """Water that came in through the film since packing [n, kg per pack]."""
    profile_positions: Floats = field(default_factory=lambda: np.zeros(0))
    """Distance of each cell from the first end [cells, m]; empty for the lumped method."""
    profile: Floats = field(default_factory=lambda: np.zeros((0, 0)))
    """Activity of each cell [n, cells]; no cells for the lumped method."""
    profile_layer: NDArray[np.int64] = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    """Which of `layers` each cell lies in [cells]; positions begin anew with every kind of piece."""
    desiccant: Floats = field(default_factory=lambda: np.zeros((0, 0)))
    """Moisture of the desiccant [n, 1, kg/kg dry]; no column without one."""
    held: Floats = field(default_factory=lambda: np.zeros(0))
    """Water in pieces, headspace and desiccant together [n, kg per pack], as it stands."""
    last_water: Floats = field(default_factory=lambda: np.zeros(0))
    """Water in every cell, then in the headspace, at the last time [cells+1, kg]; none for the lumped method."""


@dataclass(frozen=True, slots=True)
class FailureCourse:
    """One way of failing over one history.

    `share` [n] is the share of life used at each of the history's times: 0 fresh, 1 failed. `time` [s] is
    the moment of failure, None when it does not fail within the journey.
    """

    name: str
    layer: str
    share: Floats
    time: float | None
    limit: str
    meaning: str
    valid: str
    source: str
    provenance: Provenance
    sharpen: str
    """What measurement would make this sharper."""
    told: tuple[str, ...] = ()
    """What the reader must be told with it: limits of the answer met on this history."""


def of_layer(failure: str, layer: str) -> str:
    """A failure and its layer: ``crispness of the cracker``; a layer's own failure is not said twice."""
    return failure if failure == layer else f"{failure} of the {layer}"


@dataclass(frozen=True, slots=True)
class Gate:
    """A safety threshold that is no failure: what it says here, and who must confirm."""

    name: str
    finding: str
    confirm: str
    source: str
    provenance: Provenance


@dataclass(frozen=True, slots=True)
class Section:
    """One titled part of an answer for people: sentences, perhaps a table of texts, and notes below it."""

    title: str
    lines: tuple[str, ...] = ()
    columns: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    below: tuple[str, ...] = ()
