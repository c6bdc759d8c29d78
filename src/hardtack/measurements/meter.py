"""What a water-activity meter is off, from readings on saturated salts of known activity."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hardtack.errors import HardtackError
from hardtack.measurements.fitting import Fit, Sought, least_squares
from hardtack.measurements.table import SetAside, Table
from hardtack.states import Floats
from hardtack.units import celsius
from hardtack.water.salts import salt_activity

TYPED_WRONG = 0.005
"""Difference between a typed expectation and the tables that is worth a word; common practice, no source."""
LARGE_OFFSET = 0.02
"""A meter that is off by more wants cleaning and calibration, not correction; common practice, no source."""


@dataclass(frozen=True, slots=True, eq=False)
class MeterCorrection:
    """True activity = offset + slope x reading, over `range` of the standards; `sd` is that of one reading.

    With one standard the slope is 1; with two the line goes through both and `sd` is None.
    """

    offset: float
    slope: float
    sd: float | None
    range: tuple[float, float]
    fit: Fit | None
    told: tuple[str, ...]

    def corrected(self, reading: Floats) -> Floats:
        """Corrected activities. A correction is applied once: not to readings the meter corrected itself."""
        return self.offset + self.slope * np.asarray(reading, dtype=float)


def meter_from(table: Table) -> tuple[MeterCorrection, tuple[SetAside, ...]]:
    """The correction from a log of salts: columns salt, activity read, temperature; and what was left out.

    Raises `HardtackError` when a column is lacking or no salt can be used.
    """
    table.need("salt", "activity", "temperature")
    salts, reads, temperatures, notes = [], [], [], []
    aside: list[SetAside] = []
    for row in table.rows:
        salt, read, T = (row.values.get(key) for key in ("salt", "activity", "temperature"))
        if not (isinstance(salt, str) and isinstance(read, float) and isinstance(T, float)):
            aside.append(
                SetAside(
                    table.file, row.number, "salt", str(salt or ""), "salt, reading or temperature lacks"
                )
            )
            continue
        try:
            true = salt_activity(salt, T).value
        except HardtackError as error:
            aside.append(SetAside(table.file, row.number, "salt", salt, error.problems[0].what))
            continue
        expected = row.values.get("expected activity")
        if isinstance(expected, float) and abs(expected - true) > TYPED_WRONG:
            notes.append(
                f"row {row.number}: {salt} stands at {true:.3f} at {celsius(T):.1f} °C, typed as {expected:.3f}; "
                "the table's value is used."
            )
        salts.append(salt)
        reads.append(read)
        temperatures.append(T)
    if not reads:
        raise HardtackError(
            f"{table.file}: no salt standard can be used", "name salts as NaCl, MgCl2, K2SO4 ..."
        )
    made = meter_correction(salts, np.array(reads), np.array(temperatures))
    return MeterCorrection(
        made.offset, made.slope, made.sd, made.range, made.fit, (*made.told, *notes)
    ), tuple(aside)


def meter_correction(salts: Sequence[str], readings: Floats, temperatures: Floats) -> MeterCorrection:
    """The correction from readings over saturated `salts` at `temperatures` [K].

    Raises `HardtackError` for salts or temperatures that the tables do not hold.
    """
    standards = [salt_activity(salt, float(T)) for salt, T in zip(salts, temperatures, strict=True)]
    true = np.array([standard.value for standard in standards])
    read = np.asarray(readings, dtype=float)
    off = read - true
    span = (float(true.min()), float(true.max()))
    fit: Fit | None = None
    if np.ptp(true) < 0.02:
        offset, slope = -float(off.mean()), 1.0
        sd = float(off.std(ddof=1)) if off.size > 1 else None
        how = "one standard: an offset, taken as equal everywhere"
    elif read.size < 3:
        slope, offset = (float(v) for v in np.polyfit(read, true, 1))
        sd, how = None, "two standards: a line through both, without a check"
    else:
        fit = least_squares(
            lambda p: p["offset"] + p["slope"] * read,
            true,
            (Sought("offset"), Sought("slope")),
            [{"offset": 0.0, "slope": 1.0}],
        )
        offset, slope, sd = fit["offset"].value, fit["slope"].value, fit.sigma
        how = f"{read.size} standards: a line by least squares, residual {fit.sigma:.4f}"
    told = [
        f"Meter on salts from {span[0]:.3f} to {span[1]:.3f}: reads {off.mean():+.4f} on average ({how}).",
        f"Corrected activity = {offset:+.4f} + {slope:.4f} x reading.",
    ]
    if np.max(np.abs(off)) > LARGE_OFFSET:
        worst = int(np.argmax(np.abs(off)))
        told.append(
            f"{salts[worst]} reads {off[worst]:+.3f}: clean and calibrate the meter, or renew the salt; "
            "a correction is no cure."
        )
    return MeterCorrection(offset, slope, sd, span, fit, tuple(told))
