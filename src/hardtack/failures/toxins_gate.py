"""Gates for the two makers of toxin that matter in moist filled goods: staphylococci and Clostridium
botulinum."""

from __future__ import annotations

from hardtack.reference import lookup
from hardtack.states import Gate, History
from hardtack.units import celsius

CONFIRM = (
    "the person responsible for food safety, by the local code; with a moist filling or a pack low in "
    "oxygen, a process "
    "authority and a challenge study"
)
LOW_OXYGEN = 0.01
"""Share of oxygen in the headspace below which a pack is called low in oxygen here."""
ACID_ENOUGH = 4.6
"""pH at and below which rules of law take Clostridium botulinum as held (21 CFR 113 and 114)."""


def gates(history: History, pH: float | None, oxygen: float) -> tuple[Gate, ...]:
    """Both gates. `pH` of the moistest part (None: not known, taken as the worst); `oxygen` share of the
    headspace."""
    return staphylococci(history, pH), botulinum(history, pH, oxygen)


def staphylococci(history: History, pH: float | None) -> Gate:
    """Whether Staphylococcus aureus could grow, by more than one published limit side by side."""
    law = lookup("growth limits", "Staphylococcus aureus, US factors table")
    practical = lookup("growth limits", "Staphylococcus aureus, practical")
    wide = lookup("growth limits", "Staphylococcus aureus")
    a, layer = _wettest(history)
    limits = (
        f"published limits for growth are {wide['a_min']:.2f} (lowest seen), {practical['a_min']:.2f} "
        "(practical) and above "
        f"{law['a_min']:.2f} (US factors table); its toxin, with air, from about 0.87"
    )
    warm = float(history.temperature.max())
    if a <= wide["a_min"]:
        finding = (
            f"The highest water activity is {a:.2f} (the {layer}), at or below the lowest limit seen; "
            f"{limits}."
        )
    elif warm < law["T_low"]:
        finding = (
            f"The {layer} reaches activity {a:.2f}, where Staphylococcus aureus can grow, but the journey "
            "stays below "
            f"{celsius(law['T_low']):.0f} °C; {limits}. It rests on the cold being kept."
        )
    else:
        finding = (
            f"The {layer} reaches water activity {a:.2f}: Staphylococcus aureus from hands may grow and "
            "leave a toxin that "
            f"reheating does not destroy; {limits}."
        )
        if pH is not None and pH < law["pH_low"]:
            finding += f" The pH of {pH:.1f} lies below its published limit of {law['pH_low']:.1f}."
    return Gate("Staphylococcus aureus", finding, CONFIRM, law.source.citation, law.provenance)


def botulinum(history: History, pH: float | None, oxygen: float) -> Gate:
    """Whether Clostridium botulinum could grow: activity, pH and temperature; a pack low in oxygen makes it
    worse.

    Spores survive baking: a loaf that peaks at 97 degC sees next to no lethality (F0 about 0.03 min), and
    toxin formed in crumpets at activity 0.990, pH 6.5, 25 degC within days, under air as well.
    """
    row = lookup("growth limits", "Clostridium botulinum types A and B, US factors table")
    a, layer = _wettest(history)
    warm = float(history.temperature.max())
    cold_kind = lookup("growth limits", "Clostridium botulinum type E, US factors table")
    if a < row["a_min"]:
        finding = (
            f"The highest water activity is {a:.2f} (the {layer}), below the published limit of "
            f"{row['a_min']:.2f}."
        )
    elif pH is not None and pH <= ACID_ENOUGH:
        finding = (
            f"The {layer} reaches activity {a:.2f}; its pH of {pH:.1f} holds Clostridium botulinum as long "
            "as every part has it."
        )
    elif warm < cold_kind["T_low"]:
        finding = (
            f"The {layer} reaches activity {a:.2f}; below {celsius(cold_kind['T_low']):.1f} °C none is "
            "known to grow. It rests on the cold."
        )
    else:
        finding = (
            f"The {layer} reaches water activity {a:.2f}, "
            f"{'pH not known' if pH is None else f'pH {pH:.1f}'}: spores survive "
            "baking and may grow and form toxin, in air too (seen in crumpets within days at 25 °C)."
        )
        if oxygen < LOW_OXYGEN:
            finding += " A pack low in oxygen takes away the mould that would warn."
    return Gate("Clostridium botulinum", finding, CONFIRM, row.source.citation, row.provenance)


def _wettest(history: History) -> tuple[float, str]:
    flat = int(history.activity.argmax())
    return float(history.activity.max()), history.layers[flat % history.activity.shape[1]]
