"""Weak-acid preservatives: what share works, and the caution that goes with them."""

from __future__ import annotations

from dataclasses import dataclass

from hardtack.errors import HardtackError
from hardtack.reference import lookup
from hardtack.sourced import Provenance
from hardtack.states import Gate

CONFIRM = (
    "the person responsible for the label and the food law of the market: which acids the category of food "
    "allows, up to "
    "what dose as free acid in the finished food, and whether only above a stated activity; sums count for "
    "mixtures"
)
_STOPPING = {"sorbic acid": "sorbic acid, Penicillium brevicompactum"}


@dataclass(frozen=True, slots=True)
class Acid:
    """A preservative: `dose` [kg/kg product] as free acid, `MIC` [kg/kg product] as undissociated acid."""

    name: str
    dose: float
    pKa: float  # noqa: N815 -- the symbol is spelled so
    MIC: float
    provenance: Provenance
    source: str


def undissociated_share(pH: float, pKa: float) -> float:
    """Share of a weak acid that is not dissociated: 1 / (1 + 10^(pH - pKa)), Henderson and Hasselbalch."""
    return float(1.0 / (1.0 + 10.0 ** (pH - pKa)))


def acid(name: str, dose: float, as_salt: bool) -> Acid:
    """A preservative of the shelf at `dose` [kg/kg product], weighed as the salt most used or as free acid.

    Raises `NotOnShelf`, and `HardtackError` for a dose outside 0..1 %: that is a slip of percent.
    """
    if not 0.0 <= dose <= 0.01:
        raise HardtackError(
            f"{name}: {100 * dose:g} % of the product", "a dose is some tenths of a percent of the product"
        )
    row = lookup("preservatives", name)
    stopping = lookup("preservatives", _STOPPING.get(row.name, row.name))
    return Acid(
        name=row.name,
        dose=dose * row["salt"] if as_salt else dose,
        pKa=row["pKa"],
        MIC=stopping["MIC"],
        provenance=stopping.provenance,
        source=stopping.source.citation,
    )


def gate(acids: tuple[Acid, ...], pH: float | None) -> Gate:
    """What the preservatives come to as free acid, what share works at this pH, and who decides on them."""
    lines = []
    for held in acids:
        line = f"{held.name}: {1e6 * held.dose:.0f} mg per kg of the finished food as free acid"
        if pH is not None:
            working = undissociated_share(pH, held.pKa)
            line += f", of which {working:.0%} is undissociated and works at pH {pH:.1f}"
            if working < 0.10:
                line += (
                    "; near neutral it does next to nothing, and small doses of sorbate have even sped mould"
                )
        lines.append(line)
    finding = (
        "; ".join(lines) + ". Category limit seen: none here. Category chosen by: ____ ."
        if lines
        else ("No preservative is declared.")
    )
    return Gate(
        "preservatives", finding, CONFIRM, "undissociated share by Henderson and Hasselbalch", "assumed"
    )
