"""From the product file's legs to the frozen `Journey`: climates on one clock that starts at packing."""

from __future__ import annotations

import datetime
from dataclasses import replace

import numpy as np

from hardtack import reference
from hardtack.errors import HardtackError, NotOnShelf
from hardtack.pack.climate import YEAR, Course, Swing, climate_of_courses
from hardtack.pack.climate_year import year_by_hours, year_by_months
from hardtack.pack.load import indoors, lagged, over_ice
from hardtack.product import Product
from hardtack.product.journey_spec import HumidityCourse, LegSpec, MonthsSpec, OpenedSpec, TemperatureCourse
from hardtack.sourced import Sourced, Used
from hardtack.states import Climate, Journey, Leg, Opened
from hardtack.units import DAY

LONGEST = 3 * YEAR
"""A leg that runs until the product fails is followed for at most three years, and never extrapolated."""
AFTERNOON = 14 * 3600.0
"""Hottest time of day of a place when nothing says otherwise [s]; common practice, no source."""

Found = tuple[Climate, list[Used]]


def journey_of(product: Product) -> tuple[Journey, tuple[Used, ...]]:
    """Build the journey. Returns it with every number used."""
    used: list[Used] = []
    legs: list[Leg] = []
    start = 0.0
    packed = product.packed_on
    clock = _seconds_into_year(packed) if packed else 0.0
    for spec in product.journey:
        open_ended = spec.lasts == "until it fails"
        climate, numbers = _climate(product, spec, start, LONGEST - start if open_ended else None, clock)
        used.extend(numbers)
        climate, numbers = at_the_load(spec, climate, legs[-1] if legs else None)
        used.extend(numbers)
        coefficient = None
        if spec.unpacked:
            amount = spec.outside_film_coefficient
            given = amount is not None
            if not isinstance(amount, Sourced):
                amount = reference.film_coefficient(amount or "still air")
            coefficient = amount.value
            used.append(Used(f"outside film coefficient, {spec.leg}", amount, given))
        opened = None
        if spec.opened is not None:
            opened, numbers = _opened(spec.leg, spec.opened)
            used.extend(numbers)
        end = float(climate.times[-1])
        legs.append(
            Leg(spec.leg, start, end, climate, coefficient, open_ended, opened, _outer_left(product, spec))
        )
        start = end
    return Journey(tuple(legs), packed.isoformat() if packed else ""), tuple(used)


def _seconds_into_year(day: datetime.date) -> float:
    return (day - datetime.date(day.year, 1, 1)).days * DAY


def _outer_left(product: Product, spec: LegSpec) -> int:
    """How many of the outer packs, counted from the inside, are still around the pack in this leg."""
    outer = product.pack.outer_packs if product.pack else ()
    said = spec.outer_packs or ("none" if spec.unpacked or spec.opened is not None else "all")
    if said == "none":
        return 0
    if said == "all":
        return len(outer)
    return [pack.name for pack in outer].index(said) + 1


def _opened(leg: str, spec: OpenedSpec) -> tuple[Opened, list[Used]]:
    """A pack in use, what the file leaves out filled from the shelf."""
    used = [Used(f"open each day, {leg}", spec.each_day, True)]
    changes = spec.air_changes
    if not isinstance(changes, Sourced):
        changes = _reclosing(changes or "mouth of a bag", "air_changes")
    used.append(Used(f"air changes while open, {leg}", changes, isinstance(spec.air_changes, Sourced)))
    reclosed = spec.reclosed
    if reclosed is not None and not isinstance(reclosed, Sourced):
        reclosed = _reclosing(reclosed, "factor")
    if reclosed is not None:
        used.append(Used(f"closed again over flat film, {leg}", reclosed, True))
    left = 1.0
    if spec.pieces_left is not None:
        left = spec.pieces_left.value
        used.append(Used(f"pieces left, {leg}", spec.pieces_left, True))
    share = spec.each_day.value / DAY
    return Opened(share, changes.value, reclosed.value if reclosed else None, left), used


def _reclosing(name: str, symbol: str) -> Sourced:
    row = reference.reclosing(name)
    if symbol not in row.values:
        held = [other.name for other in reference.rows("reclosing") if symbol in other.values]
        raise NotOnShelf(f"'{name}' gives no {symbol} of a pack in use", f"there are: {', '.join(held)}")
    return row.values[symbol]


def at_the_load(spec: LegSpec, climate: Climate, before: Leg | None) -> Found:
    """The leg's air brought indoors, lagged by the load, and held to the ice line."""
    used = []
    if spec.indoors_at is not None:
        climate = indoors(climate, spec.indoors_at.value)
        used.append(Used(f"temperature indoors, {spec.leg}", spec.indoors_at, True))
    if spec.load_lag is not None:
        used.append(Used(f"lag of the load, {spec.leg}", spec.load_lag, True))
        start = float(climate.temperature[0] if before is None else before.climate.temperature[-1])
        if spec.load_starts_at is not None:
            start = spec.load_starts_at.value
            used.append(Used(f"temperature of the load at first, {spec.leg}", spec.load_starts_at, True))
        climate = lagged(climate, spec.load_lag.value, start)
    return over_ice(climate), used


def _climate(product: Product, spec: LegSpec, start: float, longest: float | None, clock: float) -> Found:
    if spec.logger is not None:
        return _logged(product, spec, start)
    duration = longest if longest is not None else spec.lasts.value  # type: ignore[union-attr]
    if spec.weather is not None:
        return _weather(product, spec, start, duration, clock)
    if spec.months is not None:
        return _months(spec, spec.months, start, duration, clock)
    if spec.climate is not None:
        return _named(product, spec, spec.climate, start, duration, clock)
    assert spec.temperature is not None  # the product file asks for both
    assert spec.humidity is not None
    temperature = _course(spec.temperature, spec.temperature)
    humidity = _course(spec.humidity, spec.temperature)
    used = [
        Used(f"mean temperature, {spec.leg}", spec.temperature.mean, True),
        Used(f"mean relative humidity, {spec.leg}", spec.humidity.mean, True),
    ]
    for what, course in (("temperature", spec.temperature), ("humidity", spec.humidity)):
        for period, size in (("daily", course.daily_swing), ("yearly", course.yearly_swing)):
            if size is not None:
                used.append(Used(f"{period} swing of {what}, {spec.leg}", size, True))
    return climate_of_courses(start, duration, clock, temperature, humidity), used


def _named(product: Product, spec: LegSpec, name: str, start: float, duration: float, clock: float) -> Found:
    """A climate of the shelf, constant; or a place of the shelf, by its months."""
    try:
        T, RH = reference.climate(name)
    except NotOnShelf as no_climate:
        try:
            reference.place(name)
        except NotOnShelf:
            held = ", ".join(row.name for row in reference.rows("places"))
            problem = replace(no_climate.problems[0], mend=f"{no_climate.problems[0].mend}; places: {held}")
            raise NotOnShelf(problem) from None
        if product.packed_on is None:
            raise HardtackError(
                f"the place {name} has seasons, and the file does not say when it was packed",
                "add 'packed on: 2026-06-01' at the top",
            ) from None
        return place_climate(name, spec.leg, start, duration, clock)
    climate = climate_of_courses(start, duration, clock, Course(T.value), Course(RH.value))
    used = [
        Used(f"temperature, {spec.leg} ({name})", T, True),
        Used(f"relative humidity, {spec.leg} ({name})", RH, True),
    ]
    return climate, used


def place_climate(name: str, leg: str, start: float, duration: float, clock: float) -> Found:
    """The climate of a place of the shelf along a leg; raises `NotOnShelf`."""
    row = reference.place(name)
    climate = year_by_months(
        start,
        duration,
        clock,
        np.array([row[f"T{m}"] for m in range(1, 13)]),
        np.array([row[f"RH{m}"] for m in range(1, 13)]),
        row["swing"],
        row["humidity_swing"],
        AFTERNOON,
    )
    month = int(((clock + start) / DAY % 365.25) / 30.45) % 12 + 1
    used = [
        Used(f"monthly temperatures, {leg} ({row.name}), month {month}", row.values[f"T{month}"], False),
        Used(f"monthly humidities, {leg} ({row.name}), month {month}", row.values[f"RH{month}"], False),
    ]
    return climate, used


def _months(spec: LegSpec, months: MonthsSpec, start: float, duration: float, clock: float) -> Found:
    peak = AFTERNOON
    if months.warmest_at is not None:
        peak = months.warmest_at.hour * 3600.0 + months.warmest_at.minute * 60.0
    climate = year_by_months(
        start,
        duration,
        clock,
        np.array([T.value for T in months.temperature]),
        np.array([RH.value for RH in months.humidity]),
        months.daily_swing.value if months.daily_swing else 0.0,
        months.humidity_swing.value if months.humidity_swing else 0.0,
        peak,
    )
    used = [
        Used(f"temperature of January, {spec.leg}", months.temperature[0], True),
        Used(f"humidity of January, {spec.leg}", months.humidity[0], True),
    ]
    return climate, used


def _weather(product: Product, spec: LegSpec, start: float, duration: float, clock: float) -> Found:
    record = product.weathers[spec.weather or ""]
    climate = year_by_hours(start, duration, clock, record)
    words = f"weather file {record.file}, {record.place}, {record.temperature.size} hours"
    if record.bridged:
        words += f", {record.bridged} of them bridged"
    mean = Sourced(float(record.temperature.mean()), "K", "seen", words)
    return climate, [Used(f"temperature and humidity, {spec.leg}", mean, True)]


def _course(course: TemperatureCourse | HumidityCourse, times: TemperatureCourse) -> Course:
    """A course of its own times, or else on the temperature's; the product file asks for one of the two."""
    swings: list[Swing] = []
    hour = course.highest_at or times.highest_at
    if course.daily_swing is not None and hour is not None:
        swings.append(Swing(course.daily_swing.value, hour.hour * 3600.0 + hour.minute * 60.0, DAY))
    day = course.highest_on or times.highest_on
    if course.yearly_swing is not None and day is not None:
        # counted in a leap year, so that 29 February has a place
        peak = _seconds_into_year(datetime.date(2024, *day))
        swings.append(Swing(course.yearly_swing.value, peak, YEAR))
    return Course(course.mean.value, tuple(swings))


def _logged(product: Product, spec: LegSpec, start: float) -> Found:
    record = product.loggers[spec.logger or ""]
    duration = spec.lasts.value if isinstance(spec.lasts, Sourced) else record.duration
    keep = record.seconds < duration
    times = np.append(record.seconds[keep], duration)
    climate = Climate(
        start + times,
        np.interp(times, record.seconds, record.temperature),
        np.interp(times, record.seconds, record.humidity),
    )
    mean = Sourced(
        float(record.temperature.mean()),
        "K",
        "measured here",
        f"logger {record.file}, {record.seconds.size} readings",
    )
    return climate, [Used(f"temperature and humidity, {spec.leg}", mean, True)]
