"""The bake in titled sections: every face shows the same."""

from __future__ import annotations

from collections.abc import Sequence

from hardtack.oven import words
from hardtack.oven.awaited import computed_layers
from hardtack.oven.baking import Baked
from hardtack.oven.calibration import NAMES, Fit, beside, coefficients
from hardtack.oven.handover import layers_of
from hardtack.oven.solving import SHIFTS, TIMES, Across, ToMoisture, range_words
from hardtack.states import Section
from hardtack.units import wet_basis


def bake_sections(
    baked: Baked, places: Sequence[Across] = (), wanted: ToMoisture | None = None, fit: Fit | None = None
) -> tuple[Section, ...]:
    """All that is said of a bake beside its sentence and its cautions. What has nothing to say is left out."""
    made = {
        "The bake": words.bake_lines(baked),
        "Lift against setting": words.lift_lines(baked),
        "Colour": words.colour_lines(baked),
        "Cooling and packing": words.cooling_lines(baked),
        "Handed to storage": _layers(baked),
        "Measured in the plant": _beside(baked) if fit is None else (),
        "Across the band": (range_words(baked, tuple(places)),) if places else (),
        "How long, how hot": _wanted(wanted) if wanted is not None else (),
        "Fitted to the plant": _fit(fit) if fit is not None else (),
        "Kill step": words.kill_lines(baked),
    }
    return tuple(Section(title, tuple(lines)) for title, lines in made.items() if lines)


def _layers(baked: Baked) -> list[str]:
    if not computed_layers(baked.product):
        return ["No layer of the file waits for the bake: each has a moisture or an activity of its own."]
    return [
        f"{layer.name}: {100 * wet_basis(layer.moisture):.2f} % moisture (wet basis), water activity {layer.activity:.2f} (25 °C), {1e3 * layer.dry_mass:.3g} g dry, "
        f"{1e3 * layer.thickness:.1f} mm, {layer.density:.0f} kg/m³, on the desorption branch unless the formula says "
        "otherwise."
        for layer in layers_of(baked)
    ]


def _beside(baked: Baked) -> list[str]:
    """What the file says was measured, beside what is computed without a fit."""
    return [
        f"{row.what}: measured {row.measured:.4g} ± {row.sd:.2g} {row.unit}".rstrip()
        + f", computed {row.after:.4g}{'' if abs(row.after - row.measured) <= 2 * row.sd else ': apart, fit the oven to it'}."
        for row in beside(baked)
    ]


def _wanted(wanted: ToMoisture) -> list[str]:
    what = f"{100 * wet_basis(wanted.moisture):.2f} % (wet basis) at the exit"
    lines = []
    if wanted.time is None or wanted.time_factor is None or wanted.longer is None:
        lines.append(
            f"{what}: no time from {TIMES[0]:g} to {TIMES[1]:g} of the file's does it at these temperatures."
        )
    else:
        lines.append(
            f"{what}: {wanted.time / 60:.2f} min in all, {wanted.time_factor:.2f} of the file's times; lightness then "
            f"{wanted.longer.colour.lightness[-1]:.0f}."
        )
    if wanted.shift is None or wanted.hotter is None:
        lines.append(
            f"{what}: no shift from {SHIFTS[0]:g} to {SHIFTS[1]:g} K of all zones does it in this time."
        )
    else:
        lines.append(
            f"{what}: all zones {wanted.shift:+.1f} K in the file's time; lightness then "
            f"{wanted.hotter.colour.lightness[-1]:.0f}."
        )
    return lines


def _fit(fit: Fit) -> list[str]:
    values = (fit.factors.heat, fit.factors.dry_path, fit.factors.wet_path)
    lines = [
        f"{name}: {value:.3g} of the shelf's, ± {100 * sd:.0f} % (shelf and plant together)"
        for name, value, sd in zip(NAMES, values, fit.sd, strict=True)
    ]
    lines += [
        f"{row.what}: {row.value:.3g} ± {row.sd:.1g} {row.unit}".rstrip()
        + f" (on the shelf {row.shelf:.3g})."
        for row in coefficients(fit)
    ]
    lines.append(
        f"For the file: factors: {{heat: {values[0]:.4g}, dry path: {values[1]:.4g}, wet path: {values[2]:.4g}}}"
    )
    c = fit.correlation
    lines.append(
        f"Correlations: heat and dry path {c[0, 1]:+.2f}, heat and wet path {c[0, 2]:+.2f}, dry and wet path {c[1, 2]:+.2f}."
    )
    for row in fit.readings:
        lines.append(
            f"{row.what}: measured {row.measured:.4g} ± {row.sd:.2g} {row.unit}, before {row.before:.4g}, fitted {row.after:.4g}."
        )
    return lines
