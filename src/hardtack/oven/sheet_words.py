"""The lift of a folded dough in sentences: its sheets, when they part, what lifts them, what to change."""

from __future__ import annotations

from hardtack.oven.sheets import Parted

FALLS = 0.1
"""Share of its height that a piece may lose before it is said to fall; assumed."""
_ADVICE = {
    "the rim": "Most of the steam that is lost leaves at the rim, where fat sheets are broken: firmer fat or more of it, a cut "
    "that does not crush the edge, larger pieces, or a hotter start.",
    "holes": "Most of the steam leaves through holes and cracks: dock less, rest the dough, keep its surface from drying.",
    "the sheets": "The sheets are as far apart as sheets of that thickness go: thicker dough or fewer turns.",
    "the steam": "The sheets give off too little steam: a wetter dough, or a hotter start.",
    "no boiling": "No gap comes to boil before its sheets are dry: the steam leaves without lifting. A hotter start.",
}


def sheet_lines(parted: Parted) -> tuple[str, ...]:
    """Number, thickness and fat of the sheets; when they part, against what, and what is lost."""
    sheets = parted.sheets
    fat = f" with {1e6 * sheets.fat:.0f} µm of fat between" if sheets.fat > 0 else ", fat between not stated"
    lines = [
        f"{sheets.count} sheets of dough, each {1e6 * sheets.dough:.0f} µm{fat}: {sheets.fat_words}, and "
        f"{sheets.whole:.0%} of the fat sheets are whole."
    ]
    if sheets.merged:
        return (
            *lines,
            "The sheets are too thin to stay apart and do not lift: fewer turns, or a thicker sheet.",
        )
    if parted.lifted_at is None or parted.height.max() < 1.005:
        return (*lines, "The sheets do not part.")
    boils = f"half of them boil after {parted.boils_at / 60:.1f} min" if parted.boils_at is not None else (
        "at no time half of them boil at once"
    )  # fmt: skip
    lost = ", ".join(f"{share:.0%} {_where(name)}" for name, share in parted.lost.items())
    lines.append(
        f"Steam parts them: {boils}, nine tenths of the lift are there after {parted.lifted_at / 60:.1f} min, at most "
        f"{parted.height.max():.1f} times the dough's height and {parted.height[-1]:.1f} at the exit. It lifts the weight "
        f"above, {parted.pressure.min():.0f} to {parted.pressure.max():.0f} Pa; of all steam of the sheets there is lost by "
        f"then {lost}."
    )
    return tuple(lines)


def sheet_advice(parted: Parted) -> tuple[str, ...]:
    """What keeps the sheets from parting further, and whether the piece falls."""
    if parted.sheets.merged:
        return ()
    said = [_ADVICE[parted.limit]]
    fallen = 1.0 - (parted.height[-1] - 1.0) / max(float(parted.height.max()) - 1.0, 1e-9)
    if fallen > FALLS and parted.height.max() > 1.1:
        said.append(
            f"It loses {100 * fallen:.0f} % of its lift again before its sheets have set and dried: keep it boiling longer, and dry "
            "it before the oven gets cooler."
        )
    return tuple(said)


def _where(name: str) -> str:
    return {"the rim": "at the rim", "holes": "through holes and cracks", "the sheets": "through the sheets"}[
        name
    ]
