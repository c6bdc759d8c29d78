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
    core_log: Path | None = None,
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
    core_log
        A logger's file (time, temperature) of the core, fitted to beside what the file says was measured.
    """
    from hardtack.oven.baking import bake
    from hardtack.oven.calibration import calibrate as fit_oven
    from hardtack.oven.solving import across_the_band, to_moisture
    from hardtack.product import load
    from hardtack.units import parse_quantity

    product = load(file)
    log = None
    if core_log is not None:
        from hardtack.measurements.core_log import with_core_log

        product, log = with_core_log(product, core_log)
    fit = fit_oven(product) if calibrate or log is not None else None
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
    if log is not None:
        print()
        print("\n".join(log.told))
    if picture is not None:
        print(f"\nPicture written to {picture}")


def show_bake(baked: Baked, places: tuple[Across, ...], wanted: ToMoisture | None, fit: Fit | None) -> None:
    """The bake for a person."""
    from hardtack.cli.show import console, show_assumptions, show_section, show_sections
    from hardtack.oven import words
    from hardtack.oven.told import bake_sections

    out = console()
    out.print(Text(words.headline(baked), style="bold"))
    show_sections(out, bake_sections(baked, places, wanted, fit))
    show_assumptions(out, baked.used)
    show_section(out, "Cautions", words.caution_lines(baked))
