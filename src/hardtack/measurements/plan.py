"""What to measure next so that the date narrows most: a pull schedule for a storage trial, jars, and bench tests.

Every measurement is weighed by what it tells of the day of first failure through the whole model (linear about the
product file as it is). The spreads before the plan are the file's own ±, else the reference shelf's by how a number
is known; what a measurement is good to stands on the shelf too. So a plan says where to look, not how sure the date
will be to the day.
"""

from __future__ import annotations

import datetime
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from hardtack.errors import HardtackError
from hardtack.measurements.design import Candidate, Knowledge, choose
from hardtack.measurements.fit_answer import layer_named
from hardtack.measurements.model import Air, model_of
from hardtack.measurements.unknowns import Unknown, Unknowns, trial_slopes, unknowns_of
from hardtack.pack.film import permeance_at
from hardtack.product import Product
from hardtack.reference import lookup
from hardtack.states import Floats
from hardtack.units import DAY, ZERO_CELSIUS, celsius
from hardtack.water.air import GAS_CONSTANT
from hardtack.water.isotherm import activity
from hardtack.water.salts import salt_activity

HOT = Air(ZERO_CELSIUS + 38.0, 0.75)
"""The accelerated climate offered beside the store's own; common practice, no source."""
SALTS = ("LiCl", "CH3COOK", "MgCl2", "K2CO3", "Mg(NO3)2", "NaBr", "NaCl", "KCl")
LOOKS = 12
"""Days among which a trial's pulls are chosen, evenly spread."""
PACKS, JARS = 18, 5
LONGEST = 180.0
WETTEST_STEP = 0.98
"""No sorption step is offered beyond this activity."""
SPREADS = "measurement spreads"
Progress = Callable[[float], None]


@dataclass(frozen=True, slots=True)
class Pull:
    """Packs to open on one day from one place: `sd` [days] is how sure the date is once this is measured, too."""

    day: float
    date: str
    place: str
    temperature: float
    humidity: float
    layer: str
    packs: int
    sd: float


@dataclass(frozen=True, slots=True)
class Bench:
    """A bench measurement: how sure the date is with it alone, and on top of the trial [days, sd]."""

    what: str
    how: str
    alone: float
    with_trial: float


@dataclass(frozen=True, slots=True)
class Part:
    """One unknown and its share of the date's variance before the plan."""

    what: str
    sd: str
    why: str
    share: float


@dataclass(frozen=True, slots=True)
class Plan:
    """A plan: the date with its sd before and after the trial [days], the pulls in order of days, jars in order of
    choice, bench measurements by what they give, and what the date leans on."""

    product: str
    failure: str
    day: float
    before: float
    after: float
    pulls: tuple[Pull, ...]
    jars: tuple[Bench, ...]
    bench: tuple[Bench, ...]
    parts: tuple[Part, ...]
    told: tuple[str, ...]

    @property
    def sentence(self) -> str:
        """The plan in one sentence."""
        packs = sum(pull.packs for pull in self.pulls)
        best = min(self.bench, key=lambda bench: bench.alone)
        return (
            f"{self.product} first fails ({self.failure}) on day {_days(self.day)} ± {_days(self.before)}; {packs} packs pulled "
            f"by this schedule bring that to ± {_days(self.after)} days, and the bench measurement that narrows it most is "
            f"{best.what} (± {_days(best.alone)} by itself)."
        )


def _days(days: float) -> str:
    """Days as they are told: to two figures where there are few."""
    return f"{days:.0f}" if days >= 10 else f"{days:.2g}"


def plan_measurements(
    product: Product,
    *,
    layer: str = "",
    airs: Sequence[Air] = (),
    days: float | None = None,
    packs: int = PACKS,
    jars: int = JARS,
    start: datetime.date | None = None,
    progress: Progress = lambda _: None,
) -> Plan:
    """Choose pull days and places for `packs` packs, `jars` salts, and rank bench measurements.

    `airs` are the places packs can stand in: without them the store (the mean of the last leg) and an accelerated
    one. `days` is the length of the trial: without it half of the forecast life, half a year at most. `start` is
    the day of packing. Every layer counts as unsure unless one `layer` is named. Raises `HardtackError` when the
    product has no pack, or no date to narrow.
    """
    if packs < 1 or jars < 1:
        raise HardtackError("a plan without packs or jars", "give at least one of each")
    if days is not None and not 1 <= days <= 1096:
        raise HardtackError(f"a trial of {days:g} days", "give one day to three years")
    only = layer_named(product, layer) if layer else ""
    model = model_of(product, only or next(part.name for part in product.layers))
    unknowns = unknowns_of(model, lambda share: progress(0.4 * share), only)
    before = unknowns.knowledge()
    places = tuple(airs) or tuple(dict.fromkeys((_store(unknowns), HOT)))
    length = days or max(7.0, min(0.5 * unknowns.days, LONGEST))
    pulls, after = _pulls(unknowns, before, places, length, packs, start or product.packed_on, progress)
    ranked = sorted(_bench(unknowns, before, after), key=lambda bench: bench.alone)
    plan = Plan(
        product.name, unknowns.failure.name, unknowns.days, before.sd(), after.sd(), pulls,
        _jars(unknowns, before, after, jars), tuple(ranked), _parts(unknowns, before), (),
    )  # fmt: skip
    progress(1.0)
    return Plan(
        **{
            **{name: getattr(plan, name) for name in Plan.__slots__},
            "told": _told(plan, unknowns, length, places),
        }
    )


def _store(unknowns: Unknowns) -> Air:
    climate = unknowns.model.journey.legs[-1].climate
    T, RH = (float(np.mean(values)) for values in (climate.temperature, climate.humidity))
    return Air(round(T, 1), round(RH, 2))


def _pulls(
    unknowns: Unknowns,
    before: Knowledge,
    places: Sequence[Air],
    length: float,
    packs: int,
    start: datetime.date | None,
    progress: Progress,
) -> tuple[tuple[Pull, ...], Knowledge]:
    looks = np.unique(np.maximum(1.0, np.round(np.linspace(length / LOOKS, length, LOOKS))))
    s = lookup(SPREADS, "pulled pack")["relative"]
    names = [part.name for part in unknowns.model.piece.layers]
    where: list[tuple[float, Air, int]] = []
    candidates: list[Candidate] = []
    for n, air in enumerate(places):
        slopes = trial_slopes(unknowns, air, looks * DAY)
        for i, day in enumerate(looks):
            for k in range(len(names)):
                where.append((float(day), air, k))
                candidates.append(Candidate(slopes[i, k], s))
        progress(0.4 + 0.4 * (n + 1) / len(places))
    taken = choose(before, candidates, packs, lambda share: progress(0.8 + 0.2 * share))
    known = before
    pulls = []
    for place in sorted(set(taken), key=lambda place: (where[place][0], str(where[place][1]))):
        day, air, k = where[place]
        count = taken.count(place)
        known = known.with_seen(candidates[place].h, s, count)
        date = (start + datetime.timedelta(days=day)).isoformat() if start is not None else ""
        pulls.append(Pull(day, date, str(air), air.temperature, air.humidity, names[k], count, known.sd()))
    return tuple(pulls), known


def _salts(T: float) -> list[tuple[str, float]]:
    """Salts with their activities at T [K]: those whose tables reach it."""
    held = []
    for salt in SALTS:
        try:
            held.append((salt, salt_activity(salt, T).value))
        except HardtackError:
            continue
    return held


def _jars(unknowns: Unknowns, before: Knowledge, after: Knowledge, count: int) -> tuple[Bench, ...]:
    """Salts in the order in which each narrows the date most, given those before it."""
    s = lookup(SPREADS, "jar over a salt")["relative"]
    where = []
    for kind in unknowns.kinds:
        T = unknowns.model.piece.layers[kind[0]].isotherm.reference_temperature
        where += [(kind, T, salt, a) for salt, a in _salts(T)]
    candidates = [Candidate(unknowns.at_activity(kind, a), s) for kind, _, _, a in where]
    found = []
    known, trial = before, after
    for place in choose(before, candidates, count, once=True):
        kind, T, salt, a = where[place]
        known, trial = (k.with_seen(candidates[place].h, s) for k in (known, trial))
        what = f"{salt}, {label}" if (label := unknowns.label(kind)) else salt
        found.append(Bench(what, f"activity {a:.3f} at {celsius(T):.0f} °C", known.sd(), trial.sd()))
    return tuple(found)


_Tests = list[tuple[str, str, list[tuple[Floats, float]]]]


def _bench(unknowns: Unknowns, before: Knowledge, after: Knowledge) -> list[Bench]:
    tests = _of_pack(unknowns)
    for kind in unknowns.kinds:
        tests += _of_layers(unknowns, kind)
    found = []
    for what, how, seen in tests:
        alone, both = before, after
        for h, s in seen:
            alone, both = alone.with_seen(h, s), both.with_seen(h, s)
        found.append(Bench(what, how, alone.sd(), both.sd()))
    return found


def _of_pack(unknowns: Unknowns) -> _Tests:
    """Bench tests of the film, and of the limit."""
    film, store = unknowns.model.pack.film, _store(unknowns)
    pouch, texture = (lookup(SPREADS, name) for name in ("weighed pouch", "series of texture"))

    def tilt(air: Air) -> float:
        return -(1 / air.temperature - 1 / film.T_ref) / GAS_CONSTANT

    failure, layer = unknowns.failure.name, unknowns.failure.layer
    of = f" of the {layer}" if len(unknowns.model.piece.layers) > 1 else ""
    return [
        ("six pouches weighed in the store's climate", f"{store}; hardtack fit film --pouch",
         [(unknowns.seen(permeance=1.0, film_energy=tilt(store)), pouch["relative"])] * 6),
        ("six pouches weighed in an accelerated climate", f"{HOT}; hardtack fit film --pouch",
         [(unknowns.seen(permeance=1.0, film_energy=tilt(HOT)), pouch["relative"])] * 6),
        (f"the limit of {failure}{of} by texture", "eight activities, six pieces each; hardtack fit crispness",
         [(unknowns.seen(limit=1.0), texture["activity"])]),
    ]  # fmt: skip


def _of_layers(unknowns: Unknowns, kind: tuple[int, ...]) -> _Tests:
    """Bench tests of one layer, or of several alike."""
    T = unknowns.model.piece.layers[kind[0]].isotherm.reference_temperature
    a = [value for _, value in _salts(T)]
    jar, step, pan = (
        lookup(SPREADS, name) for name in ("jar over a salt", "sorption step", "moisture as packed")
    )
    low, high = _way(unknowns, kind[0])
    of = f" of {label}" if (label := unknowns.label(kind)) else ""
    return [
        (f"a whole isotherm{of} in jars", f"{len(a)} salts; hardtack fit isotherm",
         [(unknowns.at_activity(kind, value), jar["relative"]) for value in a]),
        (f"the moisture{of} as packed", "three pans",
         [(unknowns.seen(kind, moisture_packed=1.0), pan["relative"])] * 3),
        (f"the diffusivity{of} by sorption steps",
         f"two steps from activity {low:.2f} to {high:.2f}; hardtack fit diffusion",
         [(unknowns.seen(kind, diffusivity=1.0), step["relative"])] * 2),
    ]  # fmt: skip


def _way(unknowns: Unknowns, place: int) -> tuple[float, float]:
    """Activities between which a layer moves until the product fails: there its diffusivity counts."""
    layer = unknowns.model.piece.layers[place]
    start = float(activity(layer.isotherm, layer.moisture, layer.isotherm.reference_temperature))
    limit = unknowns.failure.limit
    decides = limit is not None and limit.layer == layer.name
    end = limit.activity_for(layer.isotherm) if decides and limit else min(start + 0.1, WETTEST_STEP)
    return min(start, end), max(start, end)


def _parts(unknowns: Unknowns, before: Knowledge) -> tuple[Part, ...]:
    """Shares of the date's variance; the knots of an isotherm count as one."""
    total = before.sd() ** 2 or 1.0
    weight = unknowns.slope * (unknowns.covariance @ unknowns.slope) / total
    found: dict[str, Part] = {}
    for unknown, share in zip(unknowns.listed, weight, strict=True):
        what = _words(unknown, unknowns)
        so_far = found[what].share if what in found else 0.0
        found[what] = Part(what, _spread(unknown), unknown.why, so_far + float(share))
    return tuple(sorted(found.values(), key=lambda part: -part.share))


def _words(unknown: Unknown, unknowns: Unknowns) -> str:
    word = _WORDS["isotherm" if unknown.name.startswith("isotherm") else unknown.name]
    label = unknowns.label(unknown.layers) if unknown.layers else ""
    return f"{word}, {label}" if label else word


def _spread(unknown: Unknown) -> str:
    if unknown.name == "limit":
        return f"± {unknown.sd:.3f} in activity"
    if unknown.name == "film energy":
        return f"± {unknown.sd / 1e3:.1f} kJ/mol"
    return f"± {100 * unknown.sd:.0f} %"


_WORDS = {
    "permeance": "permeance of the whole pack",
    "film energy": "activation energy of the film's permeance",
    "limit": "limit",
    "moisture packed": "moisture when packed",
    "diffusivity": "diffusivity",
    "isotherm": "isotherm",
}


def _told(plan: Plan, unknowns: Unknowns, length: float, places: Sequence[Air]) -> tuple[str, ...]:
    said = [
        f"Trial of {length:.0f} days; packs may stand at {' or '.join(map(str, places))}.",
        "Errors are one standard deviation and count what is not known, not the scatter from pack to pack.",
        "Weighed through the whole model, linear about the product file as it is: fit the first pulls (hardtack fit trial) "
        "and plan again.",
    ]
    if len(unknowns.model.piece.layers) > 1:
        counted = ", ".join(unknowns.label(kind) for kind in unknowns.kinds)
        said.append(
            f"Layers that count as unsure: {counted}. Barriers between them and the piece's shape count as known."
        )
    bend = float(np.max(np.abs(unknowns.bend)))
    worst = unknowns.listed[int(np.argmax(np.abs(unknowns.bend)))]
    if bend > 0.25 * unknowns.days:
        said.append(
            f"The date does not go straight with the {_words(worst, unknowns)}: moved by its error up and down, it changes by "
            f"{bend:.2g} days in sum; there the weighing is rough."
        )
    store = _store(unknowns)
    far = [air for air in places if abs(air.temperature - store.temperature) > 5]
    if far and any(pull.place == str(far[0]) for pull in plan.pulls):
        ratio = float(
            permeance_at(unknowns.model.pack.film, far[0].temperature)
            / permeance_at(unknowns.model.pack.film, store.temperature)
        )
        said.append(
            f"At {far[0]} the film lets through {ratio:.1f} times the permeance of the store by its temperature law, which is "
            "an input itself: keep pulls in the store's climate."
        )
    if plan.before > 0.4 * plan.day:
        said.append(
            "The date is so unsure that this linear weighing is rough: measure what is at the top, then plan again."
        )
    return tuple(said)


def plan_json(plan: Plan) -> dict[str, object]:
    """The plan as plain data (docs/json.md)."""
    from hardtack.version import VERSION

    def bench(item: Bench) -> dict[str, object]:
        return {
            "what": item.what,
            "how": item.how,
            "sd_days_alone": item.alone,
            "sd_days_with_trial": item.with_trial,
        }

    return {
        "schema": "hardtack plan 1",
        "version": VERSION,
        "product": plan.product,
        "sentence": plan.sentence,
        "failure": plan.failure,
        "day": plan.day,
        "sd_days_before": plan.before,
        "sd_days_after_trial": plan.after,
        "pulls": [
            {
                "day": pull.day, "date": pull.date or None, "temperature_degC": celsius(pull.temperature),
                "humidity": pull.humidity, "layer": pull.layer, "packs": pull.packs, "sd_days": pull.sd,
            }
            for pull in plan.pulls
        ],
        "jars": [bench(item) for item in plan.jars],
        "bench": [bench(item) for item in plan.bench],
        "leans_on": [
            {"what": part.what, "sd": part.sd, "why": part.why, "share_of_variance": part.share} for part in plan.parts
        ],
        "told": list(plan.told),
    }  # fmt: skip
