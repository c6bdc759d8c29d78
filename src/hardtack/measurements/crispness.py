"""The crispness limit of a product: force, sound or panel score against water activity, a falling sigmoid.

Y(a) = Y_wet + (Y_dry - Y_wet) / (1 + exp((a - midpoint) / steepness)), the Fermi form used for the texture of
crackers and cookies (Peleg 1994; described in Arimi et al. 2010, Food Res. Int. 43:1650). The share of the
loss at which the product fails is the user's choice: the midpoint is half-way, and people notice earlier.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from hardtack.errors import HardtackError
from hardtack.failures.texture import Softening
from hardtack.measurements.fitting import Fit, Sought, least_squares
from hardtack.measurements.table import SetAside, Table
from hardtack.measurements.words import MEANINGS
from hardtack.sourced import Provenance
from hardtack.states import Floats

MEASURES = ("force", "sound", "score")


@dataclass(frozen=True, slots=True, eq=False)
class CrispnessLimit:
    """The sigmoid's fit, and the activity at which `failing_loss` of the crispness is gone, with its sd.

    `low` and `high` bound that activity with 90 % confidence. It holds at the temperature of the test.
    """

    fit: Fit
    softening: Softening
    activity: float
    sd: float
    low: float
    high: float
    range: tuple[float, float]
    told: tuple[str, ...]
    provenance: Provenance = "measured here"


def crispness_from(table: Table, failing_loss: float) -> tuple[CrispnessLimit, tuple[SetAside, ...]]:
    """The limit from a table of activity with force, sound or score; and the values left out.

    Raises `HardtackError` when it holds none of the three, or several.
    """
    there = [measure for measure in MEASURES if table.keys(measure)]
    if len(there) != 1:
        held = " and ".join(there) or "none"
        raise HardtackError(
            f"{table.file}: a column of force, sound or score is needed, found {held}",
            "name the column that counts, such as --answer 'column Peak: force N'; the others: not used",
        )
    taken = table.take("activity", there[0], replicated=there[0])
    a, Y = taken.columns
    unit = MEANINGS[there[0]].unit
    return crispness_limit(a, Y, failing_loss, rows=taken.rows, unit=unit), taken.aside


def crispness_limit(
    activity: Floats,
    measure: Floats,
    failing_loss: float,
    *,
    rows: tuple[int, ...] = (),
    profiles: bool = True,
    unit: str = "",
) -> CrispnessLimit:
    """Fit the sigmoid to activity and any measure, in `unit`, that falls as the product softens.

    A residue Y_wet is fitted when AICc asks for it. `profiles` as in `least_squares`. Raises `HardtackError` when the measure does not fall, the
    points are too few, or `failing_loss` is no share.
    """
    if not 0 < failing_loss < 1:
        raise HardtackError(
            f"a failing loss of {failing_loss:g}", "give the share of crispness lost, such as 0.3"
        )
    a, Y = np.asarray(activity, dtype=float), np.asarray(measure, dtype=float)
    top, bottom = float(np.max(Y)), float(np.min(Y))
    dry = Sought("Y_dry", unit=unit, meaning="measure of the dry, crisp product")
    middle = Sought("midpoint", -0.5, 1.5, "", "activity at which half is lost")
    steep = Sought("steepness", 1e-4, 1.0, "", "width of the fall")
    wet = Sought("Y_wet", unit=unit, meaning="what the soft product still measures")
    begin = [
        {"Y_dry": top, "midpoint": float(np.quantile(a, q)), "steepness": s, "Y_wet": bottom}
        for q in (0.3, 0.5, 0.7)
        for s in (0.02, 0.06)
    ]
    plain = least_squares(lambda p: sigmoid(a, p), Y, (dry, middle, steep), begin, profiles=False)
    names: tuple[Sought, ...] = (dry, middle, steep)
    fit = plain
    if a.size > 5:
        residue = least_squares(lambda p: sigmoid(a, p), Y, (*names, wet), begin, profiles=False)
        if residue.aicc < plain.aicc and residue["Y_dry"].value > residue["Y_wet"].value:
            fit, names = residue, (*names, wet)
    fit = least_squares(lambda p: sigmoid(a, p), Y, names, [fit.values], profiles=profiles)
    values = fit.values
    if values["Y_dry"] <= values.get("Y_wet", 0.0) or not a.min() - 0.2 < values["midpoint"] < a.max() + 0.2:
        raise HardtackError(
            "the measure does not fall with activity within these points",
            "measure from crisp to soft, about activity 0.2 to 0.7; or use the measure that falls",
        )
    softening = Softening(values["midpoint"], values["steepness"], failing_loss)
    logit = math.log(failing_loss / (1 - failing_loss))
    limit, sd = fit.spread(lambda p: p["midpoint"] + p["steepness"] * logit)
    half = _half_width(sd, fit.dof)
    span = (float(a.min()), float(a.max()))
    told = _told(fit, softening, limit, sd, span, a, rows)
    return CrispnessLimit(fit, softening, limit, sd, limit - half, limit + half, span, told)


def sigmoid(a: Floats, p: dict[str, float]) -> Floats:
    """The measure at activities `a` by fitted constants; without `Y_wet` it falls to zero."""
    wet = p.get("Y_wet", 0.0)
    return wet + (p["Y_dry"] - wet) / (1.0 + np.exp((a - p["midpoint"]) / p["steepness"]))


def _half_width(sd: float, dof: int) -> float:
    from scipy.special import stdtrit

    from hardtack.measurements.fitting import CONFIDENCE

    return float(stdtrit(dof, 0.5 + CONFIDENCE / 2)) * sd


def _told(
    fit: Fit,
    softening: Softening,
    limit: float,
    sd: float,
    span: tuple[float, float],
    a: Floats,
    rows: tuple[int, ...],
) -> tuple[str, ...]:
    said = [
        f"Half of the crispness is gone at activity {softening.midpoint:.3f}; "
        f"{softening.failing_loss:.0%} at {limit:.3f} ± {sd:.3f}, at the temperature of the test.",
        *(str(estimate) for estimate in fit.estimates),
        f"Measured from activity {span[0]:.2f} to {span[1]:.2f}.",
    ]
    if not span[0] <= limit <= span[1]:
        said.append("The limit lies outside the measured activities: an extrapolation. Measure there.")
    # three widths below the midpoint 95 % of the crispness is still there
    if not np.any(a < softening.midpoint - 3 * softening.steepness):
        said.append(
            "No piece was tested on the dry plateau, so the full crispness rests on the form of the curve."
        )
    said += [f"{doubt}." for doubt in fit.weak]
    for place in fit.outliers:
        where = f"row {rows[place]}" if rows else f"point {place + 1}"
        said.append(
            f"{where} stands apart from the curve (a piece broken before the test?); it is still in the fit."
        )
    return tuple(said)
