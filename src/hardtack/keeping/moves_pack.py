"""Moves on pack and journey: films, gauge, seals, size, desiccant; a cooler or drier store."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial

from hardtack import reference
from hardtack.errors import HardtackError, NotOnShelf
from hardtack.keeping.cases import Case
from hardtack.keeping.costs import film_price
from hardtack.keeping.inputs import with_amounts
from hardtack.keeping.moves import Move, Setting, grams_words, range_row, steps, tried, two_digits, within
from hardtack.pack.build import film_of
from hardtack.pack.film import permeance_at
from hardtack.product import FilmSpec, LegSpec, PackSpec, Product, TemperatureCourse
from hardtack.product.journey_spec import HumidityCourse
from hardtack.product.pack_spec import DesiccantSpec, PlyOfFilm, TestedAt
from hardtack.sourced import Sourced
from hardtack.states import Film
from hardtack.units import DAY, ZERO_CELSIUS, celsius
from hardtack.water.air import saturation_pressure

NO_WRAPS = ("corrugated board wall", "tinplate", "polycarbonate", "rigid PVC", "PS")
"""Rows of the shelf's films that no flow pack is made of: they are left out as another film."""
TEST = (ZERO_CELSIUS + 38.0, 0.90, 0.0)
"""The test a film's transmission is stated at where the file gives only a permeance: 38 degC, 90 % against 0 %."""
DAILY = 1e-3 / DAY
"""One g/m2/day in SI."""


def pack_moves(product: Product, case: Case, failing_leg: int) -> tuple[Move, ...]:
    """Every move on pack and journey that applies; `failing_leg` is where it first fails. Some may have no settings."""
    found: list[Move] = []
    spec = product.pack
    if spec is not None and case.pack is not None:
        film = case.pack.film
        found += _other_films(product, spec, film)
        found += _gauge(product, spec)
        found += _transmission(product, spec, film)
        found += _seals(product, case.pack.whole_pack_factor)
        found += _size(product, spec)
        found += _desiccants(product, case)
    for k in sorted({failing_leg, len(product.journey) - 1}):
        found += _climate(product, k, case)
    return tuple(found)


def _with_pack(product: Product, **update: object) -> Product:
    assert product.pack is not None
    return product.model_copy(update={"pack": product.pack.model_copy(update=update)})


def _room_permeance(name: str, spec: PackSpec) -> float | None:
    try:
        film, _ = film_of(spec.model_copy(update={"film": name, "laminate": ()}))
    except (NotOnShelf, HardtackError):
        return None
    return float(permeance_at(film, ZERO_CELSIUS + 25.0))


def _other_films(product: Product, spec: PackSpec, film: Film) -> Iterator[Move]:
    """Films of the shelf: tighter ones from the nearest on, then looser ones; those with a price also by price."""
    now = float(permeance_at(film, ZERO_CELSIUS + 25.0))
    known = {
        row.name: permeance
        for row in reference.rows("films")
        if row.name not in (film.name, *NO_WRAPS) and (permeance := _room_permeance(row.name, spec))
    }
    tighter = sorted((name for name in known if known[name] < now), key=lambda name: -known[name])
    looser = sorted((name for name in known if known[name] > now), key=lambda name: known[name])
    prices = {name: price.value for name in known if (price := film_price(product, name))}
    priced = sorted(prices, key=lambda name: prices[name])

    def setting(name: str) -> Setting:
        return Setting(
            known[name] / now,
            name,
            partial(_with_pack, product, film=name, laminate=()),
            f"film: {name}, or one that passes no {'more' if known[name] < now else 'less'}; by its supplier's own test",
            (f"the shelf's {name} is a kind of film ({_known(name)}), not a supplier's roll",),
        )

    for names, what in (
        (tighter, "a tighter film"),
        (looser, "a looser film"),
        (priced, "another film, by price"),
    ):
        said = f"{len(names)} films of the reference shelf"
        settings = tuple(setting(name) for name in names)
        yield Move("film", what, film.name, 1.0, "of today's permeance at 25 °C", settings, said)


def _known(name: str) -> str:
    return reference.lookup("films", name).provenance


def _gauge(product: Product, spec: PackSpec) -> Iterator[Move]:
    """The same film of the shelf, thicker or thinner; a laminate by its thickest stated ply."""
    plies = list(spec.laminate) or (
        [PlyOfFilm.model_construct(film=spec.film)] if isinstance(spec.film, str) else []
    )
    gauges = [_gauge_of(ply) for ply in plies]
    if not any(gauges):
        return
    k = max(range(len(plies)), key=lambda n: gauges[n])
    now, row = 1e6 * gauges[k], range_row("gauge")

    def change(um: float) -> Product:
        thicker = plies[k].model_copy(update={"thickness": tried(1e-6 * um, "m", f"{um:.3g} um")})
        return _with_pack(product, film=None, laminate=(*plies[:k], thicker, *plies[k + 1 :]))

    for end, word in ((row["factor_high"], "thicker"), (row["factor_low"], "thinner")):
        settings = tuple(
            Setting(
                um,
                f"{um:.0f} µm",
                partial(change, um),
                f"{plies[k].film}, {'at least' if word == 'thicker' else 'at most'} {um:.0f} µm thick",
            )
            for um in steps(now, now * end, 1.0 if now < 30 else 2.0)
        )
        said = within(row, f"to {end:.1f} times, in whole micrometres")
        yield Move("gauge", f"{plies[k].film} {word}", f"{now:.0f} µm", now, "µm", settings, said)


def _gauge_of(ply: PlyOfFilm) -> float:
    """Thickness of a ply [m], 0 where nobody knows it."""
    tested = reference.film(ply.film).values.get("thickness")
    if tested is None:
        return 0.0
    return ply.thickness.value if ply.thickness else tested.value


def _transmission(product: Product, spec: PackSpec, film: Film) -> Iterator[Move]:
    """Any film by its test: what transmission would do."""
    given = spec.film if isinstance(spec.film, FilmSpec) and not spec.laminate else None
    T, wet, dry = TEST
    if given is not None and given.transmission is not None:
        tested = given.tested_at
        T = tested.temperature.value
        wet = tested.humidity_outside.value if tested.humidity_outside else 0.0
        dry = tested.humidity_inside.value if tested.humidity_inside else 0.0
        now = given.transmission.value
    else:
        now = float(permeance_at(film, T) * saturation_pressure(T)) * abs(wet - dry)
    law = spec.film if isinstance(spec.film, str) and reference.film_humidity_law(spec.film) else None

    def change(grams: float) -> Product:
        rate = tried(grams * DAILY, "kg/m2/s", f"{grams:.3g} g/m2/day")
        if given is not None and given.transmission is not None:
            return _with_pack(product, film=given.model_copy(update={"transmission": rate}))
        at = TestedAt.model_construct(
            temperature=tried(T, "K", "38 degC"),
            humidity_outside=tried(wet, "", "90 %"),
            humidity_inside=tried(dry, "", "0 %"),
        )
        made = FilmSpec.model_construct(
            name=film.name,
            transmission=rate,
            tested_at=at,
            activation_energy=tried(film.E, "J/mol", f"{film.E / 1e3:.0f} kJ/mol"),
            humidity_law=law,
            oxygen=_gas(film.oxygen),
            carbon_dioxide=_gas(film.carbon_dioxide),
        )
        return _with_pack(product, film=made, laminate=())

    row = range_row("transmission")
    grams = now / DAILY
    conditions = f"at {celsius(T):.0f} °C, {100 * max(wet, dry):.0f} % against {100 * min(wet, dry):.0f} %"
    for end, word, most in (
        (row["factor_low"], "lower", "at most"),
        (row["factor_high"], "higher", "at least"),
    ):
        settings = tuple(
            Setting(
                value,
                f"{grams_words(value)} g/m2/day",
                partial(change, value),
                f"water vapour transmission of the flat film {most} {grams_words(value)} g/m2/day {conditions}",
            )
            for value in two_digits(grams, grams * end, row["factor_step"])
        )
        said = within(row, f"to {grams_words(end * grams)} g/m2/day")
        what = f"film of {word} transmission"
        yield Move("transmission", what, f"{grams_words(grams)} g/m2/day", grams, "g/m2/day", settings, said)


def _gas(permeance: float | None) -> Sourced | None:
    return None if permeance is None else tried(permeance, "m3/m2/s/Pa", "as it is")


def _seals(product: Product, now: float) -> Iterator[Move]:
    row = range_row("whole-pack factor")

    def change(factor: float) -> Product:
        return _with_pack(product, whole_pack_factor=tried(factor, "", f"{factor:.2f}"))

    settings = tuple(
        Setting(
            factor,
            f"{factor:.2f}",
            partial(change, factor),
            f"whole-pack factor at most {factor:.2f} (gain of whole packs over what the flat film passes)",
        )
        for factor in steps(now, row["factor_low"], row["factor_step"])
    )
    said = within(row, f"down to {row['factor_low']:.2f}")
    yield Move("whole-pack factor", "better seals and folds", f"{now:.2f}", now, "", settings, said)


def _size(product: Product, spec: PackSpec) -> Iterator[Move]:
    """More or fewer pieces of the same kind in a like pack: film grows as the power 2/3, headspace as itself."""
    if product.one_piece is None or product.one_piece.count is None:
        return
    piece, count = product.one_piece, product.one_piece.count.value
    row = range_row("pack size")

    def change(number: float) -> Product:
        ratio = number / count
        area = tried(spec.area.value * ratio ** (2 / 3), "m2", "as the power 2/3 of the count")
        room = tried(spec.headspace.value * ratio, "m3", "as the count")
        changed = product.model_copy(
            update={
                "one_piece": piece.model_copy(update={"count": tried(number, "", f"{number:.0f}")}),
            }
        )
        return _with_pack(changed, area=area, headspace=room)

    for end, word in ((row["factor_high"], "more"), (row["factor_low"], "fewer")):
        settings = tuple(
            Setting(
                number,
                f"{number:.0f} pieces",
                partial(change, number),
                f"{'at least' if word == 'more' else 'at most'} {number:.0f} pieces in a pack of "
                f"{1e4 * spec.area.value * (number / count) ** (2 / 3):.0f} cm2 of film",
                ("once opened, a larger pack stands open longer",) if word == "more" else (),
            )
            for number in steps(count, max(end * count, 1.0), 1.0)
        )
        said = within(row, f"to {end:.2g} times")
        yield Move("pack size", f"{word} pieces in a pack", f"{count:.0f}", count, "pieces", settings, said)


def _desiccants(product: Product, case: Case) -> Iterator[Move]:
    """Each desiccant of the shelf, from none or from what the file lays in."""
    row = range_row("desiccant")
    goods = sum(piece.mass * piece.count for piece in case.pieces)
    most = min(row["mass_high"], row["high"] * goods)
    held = product.pack.desiccant if product.pack else None
    for kind in reference.rows("desiccants"):
        if "X at 60" not in kind.values:
            continue
        same = held is not None and reference.lookup("desiccants", held.kind).name == kind.name
        start = held.mass.value if held is not None and same else 0.0

        def change(grams: float, name: str = kind.name) -> Product:
            return _with_pack(
                product,
                desiccant=DesiccantSpec.model_construct(
                    kind=name, mass=tried(1e-3 * grams, "kg", f"{grams:.0f} g")
                ),
            )

        settings = tuple(
            Setting(
                grams,
                f"{grams:.0f} g",
                partial(change, grams),
                f"{kind.name}, at least {grams:.0f} g in a pack, kept dry until it is sealed in",
                ("a sachet beside food: marked as not to be eaten, and allowed by the buyer",),
            )
            for grams in steps(1e3 * start, 1e3 * most, 1e3 * row["mass_step"])
        )
        said = within(row, f"up to {1e3 * most:.0f} g")
        yield Move("desiccant", kind.name, f"{1e3 * start:.0f} g", 1e3 * start, "g", settings, said)


def _climate(product: Product, k: int, case: Case) -> Iterator[Move]:
    """One leg cooler or drier. Where its climate is a place or a record, cooler means indoors at a temperature."""
    leg, built = product.journey[k], case.journey.legs[k]
    T_mean = float(built.climate.temperature.mean())
    RH_mean = float(built.climate.humidity.mean())
    cool, dry = range_row("store, cooler"), range_row("store, drier")
    coldest = max(celsius(T_mean - cool["kelvin"]), celsius(cool["floor"]))
    settings = tuple(
        Setting(
            T,
            f"{T:.0f} °C",
            partial(_cooler, product, k, T, RH_mean),
            f"{leg.leg} at {T:.0f} °C or below",
            ("colder crumb firms faster, and cold packs sweat when they come into warm damp air",)
            if T < 12
            else (),
        )
        for T in steps(celsius(T_mean), coldest, cool["kelvin_step"])
    )
    said = within(cool, f"down to {coldest:.0f} °C")
    yield Move(
        "climate", f"{leg.leg} cooler", f"{celsius(T_mean):.0f} °C", celsius(T_mean), "°C", settings, said
    )
    if leg.humidity is None and not (leg.climate and reference.on_shelf("climates", leg.climate)):
        return
    settings = tuple(
        Setting(
            100 * RH,
            f"{100 * RH:.3g} %",
            partial(_drier, product, k, RH, T_mean),
            f"{leg.leg} at {100 * RH:.3g} % relative humidity or below",
        )
        for RH in steps(RH_mean, dry["low"], dry["step"])
    )
    said = within(dry, f"down to {100 * dry['low']:.0f} %")
    now = f"{100 * RH_mean:.3g} %"
    yield Move("climate", f"{leg.leg} drier", now, 100 * RH_mean, "%", settings, said)


def _with_leg(product: Product, k: int, leg: LegSpec) -> Product:
    legs: Sequence[LegSpec] = product.journey
    return product.model_copy(update={"journey": (*legs[:k], leg, *legs[k + 1 :])})


def _cooler(product: Product, k: int, T: float, RH: float) -> Product:
    leg, mean = product.journey[k], tried(ZERO_CELSIUS + T, "K", f"{T:.0f} °C")
    if leg.temperature is not None:
        return with_amounts(product, {("journey", k, "temperature", "mean"): mean})
    if leg.climate and reference.on_shelf("climates", leg.climate):
        steady = {
            "climate": None,
            "temperature": TemperatureCourse.model_construct(mean=mean),
            "humidity": HumidityCourse.model_construct(mean=tried(RH, "", f"{100 * RH:.3g} %")),
        }
        return _with_leg(product, k, leg.model_copy(update=steady))
    return _with_leg(product, k, leg.model_copy(update={"indoors_at": mean}))


def _drier(product: Product, k: int, RH: float, T: float) -> Product:
    leg, mean = product.journey[k], tried(RH, "", f"{100 * RH:.3g} %")
    if leg.humidity is not None:
        return with_amounts(product, {("journey", k, "humidity", "mean"): mean})
    steady = {
        "climate": None,
        "humidity": HumidityCourse.model_construct(mean=mean),
        "temperature": TemperatureCourse.model_construct(mean=tried(T, "K", f"{celsius(T):.0f} °C")),
    }
    return _with_leg(product, k, leg.model_copy(update=steady))


def going_on(product: Product) -> tuple[Product, str]:
    """The product with its last leg open-ended, and what was done to it in words ("" when nothing).

    A logger's record is not carried on.
    """
    last = product.journey[-1]
    if last.lasts == "until it fails" or last.logger is not None:
        return product, ""
    longer = last.model_copy(update={"lasts": "until it fails"})
    words = f"The journey ends sooner in the file: its last leg, “{last.leg}”, was taken to go on."
    return _with_leg(product, len(product.journey) - 1, longer), words
