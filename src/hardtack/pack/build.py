"""From the product file's pack to the frozen `Pack`: film as tested, temperature law, seals, leaks, what is around it."""

from __future__ import annotations

from dataclasses import replace

from hardtack import reference
from hardtack.errors import NotOnShelf
from hardtack.pack.desiccant import desiccant_of
from hardtack.pack.film import laminate, permeance_from_rate
from hardtack.product import Product
from hardtack.product.pack_spec import FilmSpec, OuterPackSpec, PackSpec, PlyOfFilm
from hardtack.sourced import Sourced, Used
from hardtack.states import Film, Leak, OuterPack, Pack
from hardtack.units import celsius

CARBON_DIOXIDE_OVER_OXYGEN = 4.0
"""Carbon dioxide over oxygen permeance of polymer films when only oxygen is known (3 to 6 in the shelf's textbook table)."""


def pack_of(product: Product) -> tuple[Pack | None, tuple[Used, ...]]:
    """Build the pack, or None when the file has none. Returns it with every number used."""
    spec = product.pack
    if spec is None:
        return None, ()
    film, used = film_of(spec)
    used += [Used("film area of the pack", spec.area, True), Used("headspace", spec.headspace, True)]
    factor, numbers = _whole_pack_factor(spec)
    used += numbers
    leaks = []
    for number, leak in enumerate(spec.leaks, 1):
        count = 1.0 if leak.count is None else leak.count.value
        leaks.append(Leak(leak.diameter.value, leak.depth.value, count))
        used += [
            Used(f"diameter of leak {number}", leak.diameter, True),
            Used(f"depth of leak {number}", leak.depth, True),
        ]
    desiccant, numbers = desiccant_of(spec.desiccant)
    used += numbers
    gas = Pack(film, spec.area.value, spec.headspace.value, factor, tuple(leaks), desiccant)
    if spec.atmosphere is not None:
        oxygen, dioxide = spec.atmosphere.oxygen, spec.atmosphere.carbon_dioxide
        gas = replace(gas, oxygen=oxygen.value, carbon_dioxide=dioxide.value)
        used += [Used("oxygen packed", oxygen, True), Used("carbon dioxide packed", dioxide, True)]
    outer = []
    for item in spec.outer_packs:
        made, numbers = _outer(item)
        outer.append(made)
        used += numbers
    return replace(gas, outer=tuple(outer)), tuple(used)


def _whole_pack_factor(spec: PackSpec) -> tuple[float, list[Used]]:
    """The factor as given, else that of the style, else the default."""
    factor = spec.whole_pack_factor
    if isinstance(factor, Sourced):
        return factor.value, [Used("whole-pack factor", factor, True)]
    name = factor or spec.style
    amount = reference.whole_pack_factor(name or "default")
    return amount.value, [Used("whole-pack factor (seals and folds)", amount, name is not None)]


def film_of(spec: PackSpec) -> tuple[Film, list[Used]]:
    """The pack's film, or its laminate, with the numbers it leans on."""
    if not spec.laminate:
        assert spec.film is not None  # the product file has one of the two
        return _any_film(spec.film)
    used: list[Used] = []
    plies = []
    for ply in spec.laminate:
        film, numbers = _ply(ply)
        plies.append(film)
        used += numbers
    return laminate(" / ".join(film.name for film in plies), tuple(plies)), used


def _any_film(spec: FilmSpec | str) -> tuple[Film, list[Used]]:
    return _given_film(spec) if isinstance(spec, FilmSpec) else _shelf_film(spec)


def _ply(spec: PlyOfFilm) -> tuple[Film, list[Used]]:
    """A shelf film at its own thickness: permeance goes as one over thickness."""
    film, used = _shelf_film(spec.film)
    if spec.thickness is None:
        return film, used
    tested = reference.film(spec.film).values.get("thickness")
    if tested is None:
        raise NotOnShelf(
            f"the shelf does not know the thickness at which {film.name} was tested",
            "leave the thickness out, or give the film by its own test",
        )
    thinner = tested.value / spec.thickness.value
    film = replace(
        film,
        permeance=film.permeance * thinner,
        oxygen=None if film.oxygen is None else film.oxygen * thinner,
        carbon_dioxide=None if film.carbon_dioxide is None else film.carbon_dioxide * thinner,
    )
    return film, [*used, Used(f"thickness of {film.name}", spec.thickness, True)]


def _shelf_film(name: str) -> tuple[Film, list[Used]]:
    row = reference.film(name)
    permeance = permeance_from_rate(
        row["transmission"], row["temperature"], row["humidity_wet"], row["humidity_dry"]
    )
    used = [
        Used(f"transmission rate of {row.name} ({row.conditions})", row.values["transmission"], True),
        Used(f"activation energy of permeance of {row.name}", row.values["E"], False),
    ]
    oxygen, dioxide = row.values.get("oxygen"), row.values.get("carbon_dioxide")
    humidity, numbers = _humidity_law(reference.film_humidity_law(row.name))
    film = Film(
        row.name,
        permeance,
        row["temperature"],
        row["E"],
        humidity=humidity,
        oxygen=oxygen.value if oxygen else None,
        carbon_dioxide=_dioxide(dioxide.value if dioxide else None, oxygen.value if oxygen else None),
    )
    return _at_its_test(film, row["humidity_wet"], row["humidity_dry"]), used + numbers


def _given_film(spec: FilmSpec) -> tuple[Film, list[Used]]:
    tested, T = spec.tested_at, spec.tested_at.temperature.value
    name = spec.name or "film"
    wet = tested.humidity_outside.value if tested.humidity_outside else 0.0
    dry = tested.humidity_inside.value if tested.humidity_inside else 0.0
    if spec.transmission is not None:
        permeance = permeance_from_rate(spec.transmission.value, T, wet, dry)
        conditions = f"{celsius(T):.0f} °C, {wet:.0%} against {dry:.0%}"
        used = [Used(f"transmission rate of the {name} ({conditions})", spec.transmission, True)]
    else:
        assert spec.permeance is not None  # the product file has one of the two
        permeance = spec.permeance.value
        used = [Used(f"permeance of the {name} (at {celsius(T):.0f} °C)", spec.permeance, True)]
    if spec.activation_energy is not None:
        energy = spec.activation_energy
        used.append(Used(f"activation energy of permeance of the {name}", energy, True))
    else:
        row = _law(name)
        energy = row.values["E"]
        used.append(Used(f"activation energy of permeance of the {name} ({row.name})", energy, False))
    humidity, numbers = _humidity_law(
        reference.lookup("film humidity law", spec.humidity_law) if spec.humidity_law else None
    )
    if spec.oxygen is not None:
        used.append(Used(f"oxygen transmission of the {name}", spec.oxygen, True))
    oxygen = spec.oxygen.value if spec.oxygen else None
    dioxide = spec.carbon_dioxide.value if spec.carbon_dioxide else None
    film = Film(
        name,
        permeance,
        T,
        energy.value,
        humidity=humidity,
        oxygen=oxygen,
        carbon_dioxide=_dioxide(dioxide, oxygen),
    )
    return _at_its_test(film, wet, dry), used + numbers


def _dioxide(given: float | None, oxygen: float | None) -> float | None:
    if given is not None or oxygen is None:
        return given
    return CARBON_DIOXIDE_OVER_OXYGEN * oxygen


def _humidity_law(row: reference.Row | None) -> tuple[tuple[tuple[float, float], ...], list[Used]]:
    """Points (activity, factor) of a humidity law, and the numbers used."""
    if row is None:
        return (), []
    points = tuple(
        (float(symbol.removeprefix("factor at ")), amount.value) for symbol, amount in row.values.items()
    )
    steepest = max(row.values.values(), key=lambda amount: amount.value)
    return points, [Used(f"rise of permeance in damp air ({row.name}: {row.conditions})", steepest, False)]


def _at_its_test(film: Film, wet: float, dry: float) -> Film:
    """The film's law of humidity counted from its test, where the factor is one."""
    if not film.humidity:
        return film
    import numpy as np

    from hardtack.pack.film import humidity_factor

    there = float(humidity_factor(film, np.array((wet + dry) / 2)))
    return replace(film, humidity=tuple((a, factor / there) for a, factor in film.humidity))


def _law(name: str) -> reference.Row:
    """The temperature law of the first polymer named in the film's name, else that of any other film."""
    for word in name.replace("/", " ").split():
        row = reference.on_shelf("film temperature law", word)
        if row is not None:
            return row
    return reference.lookup("film temperature law", "any other film")


def _outer(spec: OuterPackSpec) -> tuple[OuterPack, list[Used]]:
    """One outer pack; its board takes the shelf's isotherm of board."""
    used = [
        Used(f"packs in one {spec.name}", spec.holds, True),
        Used(f"air in the {spec.name}", spec.air, True),
    ]
    film = None
    if spec.film is not None:
        film, numbers = _any_film(spec.film)
        used += numbers
    if spec.area is not None:
        used.append(Used(f"area of the {spec.name}", spec.area, True))
    if spec.air_changes is not None:
        used.append(Used(f"air changes of the {spec.name}", spec.air_changes, True))
    isotherm = None
    if spec.board is not None:
        isotherm = reference.isotherm("corrugated board")
        used.append(Used(f"board of the {spec.name}", spec.board, True))
        used.append(
            Used(
                "isotherm of board",
                reference.lookup("isotherms", "corrugated board").values["X at 0.50"],
                False,
            )
        )
    return (
        OuterPack(
            spec.name,
            spec.holds.value,
            spec.air.value,
            film,
            spec.area.value if spec.area else 0.0,
            spec.air_changes.value if spec.air_changes else 0.0,
            spec.board.value if spec.board else 0.0,
            isotherm,
        ),
        used,
    )
