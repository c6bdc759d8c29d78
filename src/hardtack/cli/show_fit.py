"""How a fit looks in a terminal, and what `--into` does."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from rich.table import Table
from rich.text import Text

from hardtack.cli.show import console, show_section
from hardtack.errors import HardtackError, Problem
from hardtack.measurements.fit_answer import FitAnswer
from hardtack.measurements.fitting import Estimate
from hardtack.measurements.into import Entry, write_entries
from hardtack.states import of_layer
from hardtack.units import DAY


@dataclass(frozen=True, slots=True)
class Written:
    """What was written where, and the statement before and after (its fault, when there is none)."""

    file: str
    entries: tuple[Entry, ...]
    old: tuple[str, ...]
    before: str
    after: str
    days: tuple[float | None, float | None]
    moved: tuple[Moved, ...] = ()


@dataclass(frozen=True, slots=True)
class Moved:
    """One failure whose own day moved: days from packing before and after, None where it does not come in the journey or
    is not judged."""

    failure: str
    before: float | None
    after: float | None

    def __str__(self) -> str:
        days = [
            "not judged, or not within the journey," if day is None else f"day {day:.3g}"
            for day in (self.before, self.after)
        ]
        return f"{self.failure}: {days[0]} before, {days[1]} now."


@dataclass(frozen=True, slots=True)
class _Said:
    """A statement, or the fault that there is none for."""

    sentence: str
    day: float | None
    left: dict[str, str]
    courses: dict[str, float | None]
    fault: HardtackError | None = None


def finish(answer: FitAnswer, into: Path | None, layer: str, *, as_json: bool, picture: Path | None) -> None:
    """Write the result where it is wanted, draw it, and show it."""
    if picture is not None:
        from hardtack.pictures.fit import fit_picture
        from hardtack.pictures.render import write_picture

        write_picture(fit_picture(answer), picture)
    written = None if into is None else write_result(answer, into, layer)
    if as_json:
        from hardtack.cli.commands import print_json
        from hardtack.measurements.as_json import fit_json

        made = fit_json(answer)
        if written is not None:
            made["written"] = written_json(written)
        print_json(made)
        return
    show_fit(answer)
    if written is not None:
        show_written(written)
    if picture is not None:
        print(f"\nPicture written to {picture}")


def write_result(answer: FitAnswer, into: Path, layer: str) -> Written:
    """Put the result into the product file; the statement is computed before and after.

    Raises `HardtackError`, the file as it was, when there would be no statement any more.
    """
    from hardtack.product import load

    product = load(into)
    if answer.places is None:
        raise HardtackError(
            f"nothing of this {answer.kind} fit belongs in a product file",
            f"leave --into out; `hardtack fit {answer.kind} --help` says when there is something to write",
        )
    entries = answer.places(product, layer)
    before = _statement(into)
    held = into.read_bytes()
    old = write_entries(into, entries)
    after = _statement(into)
    if after.fault is not None and before.fault is None:
        into.write_bytes(held)
        first, *rest = after.fault.problems
        raise HardtackError([Problem(f"with this result there would be no statement, so nothing was written: {first.what}",
                                     first.mend, first.file, first.line), *rest])  # fmt: skip
    named = {entry.path.split(" / ")[1] for entry in entries if entry.path.startswith("failures / ")}
    tail = "".join(f" Not judged there: {name}, {why}." for name, why in after.left.items() if name in named)
    return Written(
        str(into),
        entries,
        old,
        before.sentence,
        after.sentence + tail,
        (before.day, after.day),
        _moved(before, after),
    )


def _moved(before: _Said, after: _Said) -> tuple[Moved, ...]:
    """Every failure whose own day is another one now, though it may not come first."""
    names = dict.fromkeys((*before.courses, *after.courses))
    found = [Moved(name, before.courses.get(name), after.courses.get(name)) for name in names]
    return tuple(
        each for each in found
        if (each.before is None) != (each.after is None)
        or (each.before is not None and each.after is not None and abs(each.after - each.before) > 0.01 * each.before)
    )  # fmt: skip


def _statement(file: Path) -> _Said:
    """Sentence, days, what was not judged with the reasons, and each failure's own day."""
    from hardtack.keeping import keep
    from hardtack.product import load

    try:
        statement = keep(load(file))
    except HardtackError as error:
        return _Said(f"no statement: {error.problems[0].what}", None, {}, {}, error)
    left = {one.name: one.why for one in statement.not_judged}
    courses = {
        of_layer(course.name, course.layer): None if course.time is None else course.time / DAY
        for course in statement.courses
    }
    return _Said(statement.sentence, statement.days, left, courses)


def written_json(written: Written) -> dict[str, Any]:
    """The writing as plain data."""
    return {
        "file": written.file,
        "entries": [
            {"path": entry.path, "value": entry.value, "instead_of": old}
            for entry, old in zip(written.entries, written.old, strict=True)
        ],
        "statement_before": written.before,
        "statement_after": written.after,
        "days_before": written.days[0],
        "days_after": written.days[1],
        "failures_moved": [
            {"failure": each.failure, "day_before": each.before, "day_after": each.after}
            for each in written.moved
        ],
    }


def show_fit(answer: FitAnswer) -> None:
    """The answer for a person: the sentence, the numbers, what is weak, and how the files were read."""
    out = console()
    out.print(Text(answer.sentence, style="bold"))
    if answer.estimates:
        out.print()
        out.print(estimates_table(answer.estimates))
    estimates = {str(estimate) for estimate in answer.estimates}
    told = [line for line in answer.told if line not in estimates and line != answer.sentence]
    show_section(out, "What the points say", told)
    show_section(out, "Residuals, measured less fitted", _residuals(answer))
    show_section(out, "How the file was understood", answer.reading)


def estimates_table(estimates: tuple[Estimate, ...]) -> Table:
    """Values with their errors and 90 % intervals."""
    table = Table(box=None, padding=(0, 2, 0, 2), header_style="dim")
    for name, side in (("", "left"), ("value", "right"), ("± sd", "right"), ("90 % interval", "left"), ("unit", "left"),
                       ("meaning", "left")):  # fmt: skip
        table.add_column(name, justify=side, overflow="fold")  # type: ignore[arg-type]
    for estimate in estimates:
        ends = tuple("open" if end is None else f"{end:.4g}" for end in (estimate.low, estimate.high))
        sd = "not fixed" if estimate.sd is None else f"{estimate.sd:.2g}"
        table.add_row(
            estimate.name,
            f"{estimate.value:.4g}",
            sd,
            f"{ends[0]} to {ends[1]}",
            estimate.unit or "-",
            estimate.meaning,
        )
    return table


def _residuals(answer: FitAnswer) -> list[str]:
    lines = []
    unit = f" {answer.drawing.residual_title}" if answer.drawing.residual_title else ""
    for part in answer.drawing.points:
        if part.predicted is None or part.y.size == 0:
            continue
        miss = part.y - part.predicted
        k = int(abs(miss).argmax())
        rms = float((miss**2).mean() ** 0.5)
        lines.append(
            f"{part.name}: {part.y.size} points, rms {rms:.2g}{unit}; the largest {miss[k]:+.2g} at "
            f"{part.x[k]:.4g} ({answer.drawing.x_title})."
        )
    return lines


def show_written(written: Written) -> None:
    """What was written, and how the statement moved."""
    out = console()
    lines = [
        f"{entry.path}: {_short(entry.value)}" + (f" (was: {old})" if old else " (was not there)")
        if entry.value is not None
        else f"{entry.path}: taken out (was: {old})"
        for entry, old in zip(written.entries, written.old, strict=True)
    ]
    show_section(out, f"Written into {written.file}", lines)
    moved = [f"Before: {written.before}", f"Now: {written.after}"]
    first, second = written.days
    if first is not None and second is not None:
        moved.append(f"The date moves by {second - first:+.0f} days.")
    if len(written.moved) > 1 or first == second:
        moved += [str(each) for each in written.moved]
    show_section(out, "The statement", moved)


def _short(value: Any) -> str:
    if isinstance(value, str):
        return value
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(_short(held) for held in value) + "]"
    return "{" + ", ".join(f"{key}: {_short(held)}" for key, held in value.items()) + "}"
