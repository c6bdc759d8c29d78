"""The bake in sentences: what happened, what the trade's rules say to it, what to change, what to be careful with."""

from __future__ import annotations

import numpy as np

from hardtack.errors import NotOnShelf
from hardtack.oven.baking import Baked, oven_of
from hardtack.oven.colour import LEVERS, benchmark
from hardtack.oven.handover import CRUST_ABOVE, AtPacking, at_packing, crust
from hardtack.oven.kill_step import CAUTION, Lethality
from hardtack.oven.lift import Lift
from hardtack.oven.properties import Factors
from hardtack.oven.resting import rest_words
from hardtack.oven.sheet_words import sheet_advice, sheet_lines
from hardtack.reference import lookup
from hardtack.transport.bake_march import boiling_point
from hardtack.units import celsius, degrees, wet_basis

WIDE = 0.25
"""Share by which the computed rise may miss the file's sizes before it is called different; assumed."""
DRIER = 0.03
"""By how much a place may be drier, in activity, than the dough of a test before that is said; assumed."""
STEAM_MATTERS = 0.5
"""Share of steam in the bubbles at setting from which a piece counts as lifted by steam; assumed."""


def headline(baked: Baked) -> str:
    """The bake in one sentence."""
    end = at_packing(baked)
    minutes = float(baked.times[baked.out]) / 60.0
    packed = "" if baked.times.size == baked.out + 1 else (
        f", is packed at {100 * end.mean:.1f} % and {degrees(end.centre)}"
    )  # fmt: skip
    return (
        f"{baked.product.name}: loses {100 * baked.loss:.1f} % of the dough in {minutes:.1f} min, leaves the oven at "
        f"{100 * wet_basis(baked.exit_moisture):.1f} % moisture (wet basis) with its centre at "
        f"{degrees(float(baked.core[baked.out]))}{packed}."
    )


def bake_lines(baked: Baked) -> tuple[str, ...]:
    """Heat, water, starch and crust."""
    march, out = baked.march, baked.out
    centre = baked.core_cell
    gained = march.moisture[: out + 1, centre]
    lines = []
    plateau = boiling_point(float(np.clip(march.activity[out, centre], 0.3, 1.0)))
    if march.temperature[out, centre] < CRUST_ABOVE and march.moisture[out, centre] > 0.25:
        lines.append(
            f"The centre ends at {degrees(float(march.temperature[out, centre]))}; wet crumb does not pass its "
            f"boiling point, here {degrees(plateau, 1)}."
        )
    if gained.max() > gained[0] + 0.005:
        lines.append(
            f"Steam condenses in the centre before it boils: it goes from {100 * wet_basis(gained[0]):.1f} to "
            f"{100 * wet_basis(float(gained.max())):.1f} % moisture."
        )
    weights = march.dry_mass / march.dry_mass.sum()
    alpha = baked.gelatinised[out]
    lines.append(
        f"Starch: {alpha @ weights:.0%} gelatinised in the mean, {alpha[centre]:.0%} at the coldest place"
        f"{_reported(baked.product.kind)}."
    )
    thick = crust(baked)
    if thick is not None:
        lines.append(f"Crust (hotter than {degrees(CRUST_ABOVE)} at the exit): {1e3 * thick:.1f} mm.")
    return tuple(lines)


def lift_lines(baked: Baked) -> tuple[str, ...]:
    """Lift against setting, and the file's sizes beside it."""
    lift = baked.lift
    lines = []
    if lift.set_at is None:
        lines.append("Less than half of the piece sets in this oven: it will fall or stay raw.")
    else:
        at = f"Half of the piece has set after {lift.set_at / 60:.1f} min"
        lines.append(
            f"{at}, at {lift.rise:.1f} times the dough's volume."
            if lift.parted is None
            else f"{at}; sheets that have set still part, for they bend until they are dry."
        )
    lines.append(timing_words(lift))
    if lift.sugar_out_at is not None:
        lines.append(
            "The yeast's sugar is used up before the oven: no gas of yeast comes in it."
            if lift.sugar_out_at == 0
            else f"The yeast's sugar is used up after {lift.sugar_out_at / 60:.1f} min in the oven: its gas stops there."
        )
    if lift.parted is not None:
        lines.extend(sheet_lines(lift.parted))
    ratio = baked.baked_volume / baked.dough_volume
    apart = abs(lift.final / ratio - 1.0)
    lines.append(
        f"Computed rise {lift.final:.1f} times, the file's sizes say {ratio:.1f}"
        f"{'' if apart <= WIDE else ': they differ, take the measured one (gas lost from open pores, and spread, are only roughly known)'}."
        f" What the walls can hold: {baked.hold}."
    )
    return (*lines, *advice(baked))


def timing_words(lift: Lift) -> str:
    """Whether the leavening's gas comes too early, in time or too late for the walls."""
    if lift.timing == "no gas":
        does = (
            "steam between the sheets does" if lift.parted is not None else "air, steam and the structure do"
        )
        return f"No leavening gives gas; {does} what lift there is."
    return (
        f"The leavening's gas comes {lift.timing}: {lift.early:.0%} is lost before the oven, {lift.useful:.0%} comes while "
        f"the piece can follow, {lift.late:.0%} after half of it has set."
    )


def advice(baked: Baked) -> tuple[str, ...]:
    """What to change, in words; from the timing of gas and setting, and the trade's rules on steam and soda."""
    lift, oven = baked.lift, oven_of(baked.product)
    said = []
    if lift.timing == "too late":
        said.append(
            "Gas comes late: set the walls later (moister air at the start, more sugar raises the setting temperature, a "
            "wetter dough), or bring the gas forward (a faster acid, more heat from below at the start)."
        )
    if lift.timing == "too early":
        said.append(
            "Gas comes early: take a slower acid, bake sooner after mixing, or start hotter so that walls set in time."
        )
    if lift.leaked > 0.3 and lift.timing != "no gas":
        said.append(
            f"At its most, {lift.leaked:.0%} of the bubbles' free volume is more than the walls hold: stronger walls or less gas."
        )
    if lift.parted is not None:
        said.extend(sheet_advice(lift.parted))
    if lift.sugar_out_at == 0:
        said.append(
            "More sugar, or a shorter or cooler proof, leaves the yeast something to eat in the oven."
        )
    hottest = max(zone.temperature.value for zone in oven.zones)
    steam = lookup("lift", "steam lift")["T"]
    at_set = lift.steam[int(np.argmax(lift.setting >= 0.5))] if lift.set_at is not None else lift.steam[-1]
    by_steam = lift.parted is not None or at_set > STEAM_MATTERS
    if lift.timing == "no gas" and by_steam and hottest < steam:
        said.append(
            f"Steam must lift this piece, and the oven reaches {degrees(hottest)}: steam lift wants a wet dough and "
            f"{celsius(steam):.0f} °C / 450 °F or more; cooler, the steam leaves without lifting (common practice, no source)."
        )
    if lift.soda_split > 0.02:
        said.append(
            f"Of the soda without acid {lift.soda_split:.0%} split by heat (law for closed cells; the trade's rule: from "
            "about 93 °C / 200 °F, common practice, no source); the rest stays alkaline."
        )
    return tuple(said)


def colour_lines(baked: Baked) -> tuple[str, ...]:
    """Both laws of colour and the trade's rule, where they disagree."""
    colour = baked.colour
    L, dE = float(colour.lightness[-1]), float(colour.difference[-1])
    rule = "has passed" if colour.browned else "has not passed"
    return (
        f"Upper surface at most {degrees(colour.hottest)}: it {rule} the {celsius(colour.rule):.0f} °C / 300 °F that a "
        "well-browned bread crust has passed; thin crackers colour lower (common practice, no source).",
        f"By published kinetics: lightness L* {L:.0f} of 85 (Purlis and Salvadori 2009), colour difference {dE:.0f} of 52 at "
        f"the most (Zanoni et al. 1995, dry crumb at 140 to 250 °C, 284 to 482 °F; by it 20 min at 140 °C, 284 °F, already give 17). The two and the "
        "rule need not agree: calibrate with your own colour.",
    )


def cooling_lines(baked: Baked) -> tuple[str, ...]:
    """Cooling, when to pack, checking."""
    if baked.times.size == baked.out + 1:
        return ("The file gives no cooling: the piece is handed on as it leaves the oven.",)
    end: AtPacking = at_packing(baked)
    to = degrees(end.packed_at)
    when = (
        f"The piece is below {to} everywhere after {end.cool_after / 60:.0f} min of cooling: pack from then on"
        if end.cool_after is not None
        else f"The piece is not below {to} at the end of the cooling ({degrees(end.centre)}): packed now it sweats; cool longer"
    )
    lines = [f"{when} ({end.rule.source.citation})."]
    change = f"{100 * abs(baked.cooling_loss):.1f} % of the dough's weight"
    lines.append(f"While cooling it {'loses' if baked.cooling_loss > 0 else 'takes up'} {change}.")
    lines.append(rest_words(baked))
    if end.checking is not None:
        lines.append(f"Checking: {end.checking}. A rule of thumb, no calculation of strength.")
    return tuple(lines)


def kill_lines(baked: Baked) -> tuple[str, ...]:
    """Lethality at the coldest place, with its caution."""
    return (*(_killed(found) for found in baked.lethality), CAUTION)


def caution_lines(baked: Baked) -> tuple[str, ...]:
    """Acrylamide, and what the numbers lean on."""
    row = benchmark(baked.product.kind)
    lines = [
        f"Acrylamide: the benchmark level of Regulation (EU) 2017/2158 for {row.name} is {row['level']:.0f} µg/kg. No value "
        f"is predicted here: have it measured. For orientation, {LEVERS}."
    ]
    if baked.heat_law_to < 373.15:
        lines.append(
            f"The isotherm's heat law reaches {degrees(baked.heat_law_to)}; hotter, activities are read as there: the "
            "driest rim is uncertain, the crumb is not."
        )
    if baked.factors == Factors():
        lines.append(
            "Heat transfer and the paths of vapour are the shelf's until the plant's own loss, core log and colour are given "
            "under 'measured'."
        )
    return tuple(lines)


def _killed(found: Lethality) -> str:
    row = found.row
    low, high = found.activity
    return (
        f"{row.name}: {min(found.held, 99.0):.1f} tenfold reductions at the coldest place, by D {row['D'] / 60:.3g} min at "
        f"{degrees(row['T'])} and z {row['z']:.3g} K, counting what is hotter as {degrees(row['hottest'])}, the hottest tested. "
        f"{_at_activity(found)} In all it went through {low:.2f} to {high:.2f}. ({row.source.citation}.)"
    )


def _at_activity(found: Lethality) -> str:
    """The activity of the test beside that of the place while the kill was counted."""
    row, here = found.row, found.counted_at
    if "a" not in row.values:
        return f"The place was at activity {here:.2f} while that was counted; what was seen of the source gives none for its dough."
    if here < row["a"] - DRIER:
        return (
            f"The place was at activity {here:.2f} while that was counted, drier than the {row['a']:.2f} of the test: in truth "
            "it kills less."
        )
    return f"The place was at activity {here:.2f} while that was counted, the test at {row['a']:.2f}."


def _reported(kind: str | None) -> str:
    try:
        row = lookup("gelatinisation", f"{kind}, reported")
    except NotOnShelf:
        return ""
    span = row.values["published"]
    if span.low is None or span.high is None:
        return ""
    return f" (for {kind}, {span.low:.0%} to {span.high:.0%} is reported, {row.provenance})"
