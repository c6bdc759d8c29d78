"""`hardtack oven`: the bake in sentences, as JSON, as a picture."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from cyclopts import Parameter
from rich.text import Text

if TYPE_CHECKING:
    from hardtack.oven.baking import Baked
    from hardtack.oven.calibration import Fit
    from hardtack.oven.solving import Across, ToMoisture

AsJson = Annotated[bool, Parameter(name="--json", negative="")]


def oven(
    file: Path,
    /,
    *,
    as_json: AsJson = False,
    picture: Path | None = None,
    moisture: str | None = None,
    calibrate: Annotated[bool, Parameter(negative="")] = False,
) -> None:
    """Bake the dough piece: heat and water, lift against setting, crust and crumb, colour, kill step, cooling.

    Example: hardtack oven examples/bake-cracker.yaml --picture bake.svg

    Parameters
    ----------
    file
        A product file with an oven (docs/oven.md).
    as_json
        Print the bake as JSON (docs/oven.md tells the keys).
    picture
        Also draw the bake to this file; .svg or .png.
    moisture
        Also say how long, or how hot, for this moisture at the oven's exit, such as "2.5 %wb".
    calibrate
        Fit the oven's factors to what the file says was measured, and bake with them.
    """
    from hardtack.oven.baking import bake
    from hardtack.oven.calibration import calibrate as fit_oven
    from hardtack.oven.solving import across_the_band, to_moisture
    from hardtack.product import load
    from hardtack.units import parse_quantity

    product = load(file)
    fit = fit_oven(product) if calibrate else None
    baked = fit.baked if fit is not None else bake(product)
    places = across_the_band(product)
    wanted = (
        to_moisture(product, parse_quantity(moisture, "moisture").value) if moisture is not None else None
    )
    if picture is not None:
        from hardtack.pictures.oven import oven_picture
        from hardtack.pictures.render import write_picture

        write_picture(oven_picture(baked), picture)
    if as_json:
        import json

        from hardtack.oven.as_json import bake_json

        answer: dict[str, Any] = bake_json(baked, places, wanted, fit)
        print(json.dumps(answer, indent=2, ensure_ascii=False, allow_nan=False))
        return
    show_bake(baked, places, wanted, fit)
    if picture is not None:
        print(f"\nPicture written to {picture}")


def show_bake(baked: Baked, places: tuple[Across, ...], wanted: ToMoisture | None, fit: Fit | None) -> None:
    """The bake for a person."""
    from hardtack.cli.show import console, show_assumptions, show_section
    from hardtack.oven import words
    from hardtack.oven.solving import range_words

    out = console()
    out.print(Text(words.headline(baked), style="bold"))
    show_section(out, "The bake", words.bake_lines(baked))
    show_section(out, "Lift against setting", words.lift_lines(baked))
    show_section(out, "Colour", words.colour_lines(baked))
    show_section(out, "Cooling and packing", words.cooling_lines(baked))
    show_section(out, "Handed to storage", _layers(baked))
    if places:
        show_section(out, "Across the band", [range_words(baked, places)])
    if wanted is not None:
        show_section(out, "How long, how hot", _wanted(wanted))
    if fit is not None:
        show_section(out, "Fitted to the plant", _fit(fit))
    show_section(out, "Kill step", words.kill_lines(baked))
    show_assumptions(out, baked.used)
    show_section(out, "Cautions", words.caution_lines(baked))


def _layers(baked: Baked) -> list[str]:
    from hardtack.oven.handover import computed_layers, layers_of
    from hardtack.units import wet_basis

    if not computed_layers(baked.product):
        return ["No layer of the file waits for the bake: each has a moisture or an activity of its own."]
    return [
        f"{layer.name}: {100 * wet_basis(layer.moisture):.2f} % moisture (wet basis), {1e3 * layer.dry_mass:.3g} g dry, "
        f"{1e3 * layer.thickness:.1f} mm, {layer.density:.0f} kg/m³, on the desorption branch unless the formula says "
        "otherwise."
        for layer in layers_of(baked)
    ]


def _wanted(wanted: ToMoisture) -> list[str]:
    from hardtack.oven.solving import SHIFTS, TIMES
    from hardtack.units import wet_basis

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
    from hardtack.oven.calibration import NAMES

    values = (fit.factors.heat, fit.factors.dry_path, fit.factors.wet_path)
    lines = [
        f"{name}: {value:.3g} of the shelf's, ± {sd:.0%} (shelf and plant together)"
        for name, value, sd in zip(NAMES, values, fit.sd, strict=True)
    ]
    c = fit.correlation
    lines.append(
        f"Correlations: heat and dry path {c[0, 1]:+.2f}, heat and wet path {c[0, 2]:+.2f}, dry and wet path {c[1, 2]:+.2f}."
    )
    for row in fit.readings:
        lines.append(
            f"{row.what}: measured {row.measured:.4g} ± {row.sd:.2g} {row.unit}, before {row.before:.4g}, fitted {row.after:.4g}."
        )
    return lines
