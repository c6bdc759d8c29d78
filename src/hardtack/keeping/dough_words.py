"""The dough in sentences: what a person reads first."""

from __future__ import annotations

from hardtack.dough.fermentation import Fermented
from hardtack.dough.rising import bench_share, litres
from hardtack.keeping.dough_report import DoughSheet
from hardtack.units import degrees, wet_basis


def sentence(sheet: DoughSheet) -> str:
    """The dough in one sentence: its water, its leavening, its gas."""
    water = (
        f"The {sheet.name} is {100 * wet_basis(sheet.moisture):.1f} % water, water activity {sheet.activity:.2f} ± "
        f"{sheet.error:.2g}"
    )
    said = [part for part in (_balance(sheet), _gas(sheet), _yeast(sheet)) if part]
    if not said and sheet.proved is not None:
        return f"{water}; its yeast is not counted, for no time and temperature are given."
    if not said:
        return f"{water}; no leavener was found in it."
    return f"{water}; {'; '.join(said)}."


def _balance(sheet: DoughSheet) -> str:
    if sheet.leavening is None:
        return ""
    sums = sheet.leavening.balance
    if sums.soda == 0:
        return "acid without soda" if sums.acid > 0 else ""
    off = abs(sums.acid / sums.soda - 1.0)
    if sums.leaning == "balanced":
        exactly = "" if off < 0.005 else f" within {max(1, round(100 * off))} %"
        return f"the leavening is balanced{exactly}"
    if sums.leaning == "alkaline":
        return (
            f"the leavening is alkaline, {100 * sums.left_soda / sums.soda:.0f} % of the soda finds no acid"
        )
    return f"the leavening is sour, acid for {100 * off:.0f} % more soda than there is"


def _gas(sheet: DoughSheet) -> str:
    given = float(sheet.rise.carbon_dioxide[-1])
    if given <= 0:
        return ""
    bench = bench_share(sheet.rise)
    if sheet.leavening is not None and sheet.leavening.bench.unknown:
        when = "part of it of unknown timing"
    elif bench < 0.005:
        when = "all of it in the oven"
    elif bench > 0.995:
        when = "all of it before the oven"
    else:
        when = f"{100 * (1 - bench):.0f} % of it in the oven"
    said = f"the leaveners give {litres(given):.2g} L of CO₂ per kg (25 °C), {when}"
    spare = _unsplit(sheet)
    if litres(spare) >= 0.01 * litres(given):
        said += f" ({litres(spare):.2g} L more if the oven's heat split all the soda without acid)"
    return said


def _unsplit(sheet: DoughSheet) -> float:
    """Carbon dioxide [mol] that soda without acid would still give by heat, beyond what is counted."""
    if sheet.leavening is None:
        return 0.0
    return sheet.leavening.balance.by_heat - float(sheet.rise.by_heat[-1])


def _yeast(sheet: DoughSheet) -> str:
    proved = sheet.proved
    if proved is None or proved.made <= 0:
        return ""
    if proved.in_cells <= 0:
        return "yeast works in the pre-ferment only"
    return f"yeast leaves {proof_words(proved)} of CO₂ per kg in the cells at the end of proof"


def proof_words(proved: Fermented) -> str:
    """Gas in the cells at the end of proof, one volume or from the least to the most."""
    low, high = litres(proved.in_cells), litres(proved.at_most)
    return f"{low:.2g} L" if high < 1.05 * low else f"{low:.2g} to {high:.2g} L"


def baked_words(sheet: DoughSheet) -> str:
    """The baked piece in a sentence, "" without one."""
    if sheet.baked is None:
        return ""
    words = f"Baked to {100 * wet_basis(sheet.baked.moisture):.1f} % water, a loss of {100 * sheet.baked.loss:.1f} %"
    if sheet.baked_activity is not None:
        words += f", it stands at water activity {sheet.baked_activity:.2f} ± {sheet.baked_error:.2g} (25 °C)"
    return f"{words}."


def bench_words(sheet: DoughSheet) -> str:
    """How the leaveners' gas parts between bench and oven, "" without any."""
    given = float(sheet.rise.carbon_dioxide[-1])
    if sheet.leavening is None or given <= 0:
        return ""
    bench, unknown = bench_share(sheet.rise), sheet.leavening.bench.unknown
    if unknown:
        most = min(1.0, sheet.leavening.bench.bench_high / given)
        return (
            f"Between {100 * bench:.0f} and {100 * most:.0f} % of the gas comes on the bench: no dough rate is known for "
            f"{', '.join(unknown)}, here taken as late. Measure it in your own dough."
        )
    if bench < 0.5:
        return f"{100 * bench:.0f} % of the gas comes on the bench, the rest in the oven: the dough can wait.{_lost(sheet)}"
    return (
        f"{100 * bench:.0f} % of the gas comes before the oven, as soon as soda and dissolved acid meet: bake at once, or "
        f"take a slower acid.{_lost(sheet)}"
    )


def _lost(sheet: DoughSheet) -> str:
    """What a waiting dough loses of it."""
    lost = litres(sheet.rise.lost)
    if lost < 0.005:
        return ""
    minutes = sheet.rise.oven_at / 60.0
    return (
        f" In {minutes:.3g} min before the oven it is taken to lose {lost:.2g} L of CO₂ per kg: the cells of the table go "
        "without it. Give 'bench: {kept: 90 %}' where you measured it."
    )


def heat_words(sheet: DoughSheet) -> str:
    """How far left soda splits by heat, "" without left soda."""
    leavening = sheet.leavening
    if leavening is None or leavening.balance.by_heat <= 0:
        return ""
    whole, rise = leavening.balance.by_heat, sheet.rise
    least, most = sorted((float(rise.by_heat[-1]) / whole, rise.by_heat_open / whole))
    words = (
        f"All of the soda without acid would give {litres(whole):.2g} L of CO₂ per kg by heat. On this climb to "
        f"{degrees(float(rise.T[-1]))} {100 * least:.1g} to {100 * most:.2g} % of it splits: the laws for closed cells full of "
        f"carbon dioxide ({rise.law}) and for an open crumb that dries ({rise.open_law}); the sums above and below count the "
        "first."
    )
    if rise.outside > 0.1:
        words += " Much of that lies below the temperatures they were measured at, so it is a guess."
    return (
        words
        + " The trade counts on soda from about 93 °C (200 °F) on (common practice, no source): that is where it begins. "
        "By laws of the dry solid half of it takes two hours or more there and 5 to 25 minutes at 130 °C (266 °F), so it comes "
        "from rim and dry crumb of thin goods rather than from a wet middle. Dissolved soda goes another way, for which no law "
        "was found: it may give more."
    )


def oven_words(sheet: DoughSheet) -> str:
    """Where the lift itself is worked out."""
    if sheet.baked_in_oven:
        return "The file has an 'oven:': the bake (`hardtack oven`, on the page: Bake) follows lift, setting and leaks of this dough."
    return "Give the file an 'oven:' and the bake (`hardtack oven`, on the page: Bake) follows lift, setting and leaks."
