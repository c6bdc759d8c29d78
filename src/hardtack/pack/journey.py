"""From the product file's legs to the frozen `Journey`: climates on one clock that starts at packing."""

from __future__ import annotations

import datetime

import numpy as np

from hardtack import reference
from hardtack.pack.climate import YEAR, Course, Swing, climate_of_courses
from hardtack.product import Product
from hardtack.product.journey_spec import HumidityCourse, LegSpec, TemperatureCourse
from hardtack.sourced import Sourced, Used
from hardtack.states import Climate, Journey, Leg
from hardtack.units import DAY

LONGEST = 3 * YEAR
"""A leg that runs until the product fails is followed for at most three years, and never extrapolated."""


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
        coefficient = None
        if spec.unpacked:
            amount = spec.outside_film_coefficient
            given = amount is not None
            if not isinstance(amount, Sourced):
                amount = reference.film_coefficient(amount or "still air")
            coefficient = amount.value
            used.append(Used(f"outside film coefficient, {spec.leg}", amount, given))
        end = float(climate.times[-1])
        legs.append(Leg(spec.leg, start, end, climate, coefficient, open_ended))
        start = end
    return Journey(tuple(legs), packed.isoformat() if packed else ""), tuple(used)


def _seconds_into_year(day: datetime.date) -> float:
    return (day - datetime.date(day.year, 1, 1)).days * DAY


def _climate(
    product: Product, spec: LegSpec, start: float, longest: float | None, clock: float
) -> tuple[Climate, list[Used]]:
    if spec.logger is not None:
        return _logged(product, spec, start)
    duration = longest if longest is not None else spec.lasts.value  # type: ignore[union-attr]
    if spec.climate is not None:
        T, RH = reference.climate(spec.climate)
        climate = climate_of_courses(start, duration, clock, Course(T.value), Course(RH.value))
        used = [
            Used(f"temperature, {spec.leg} ({spec.climate})", T, True),
            Used(f"relative humidity, {spec.leg} ({spec.climate})", RH, True),
        ]
        return climate, used
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


def _logged(product: Product, spec: LegSpec, start: float) -> tuple[Climate, list[Used]]:
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
