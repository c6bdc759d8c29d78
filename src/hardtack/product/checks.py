"""What must hang together across keys. Each check reads the file's own text, so that a slip elsewhere in
the file hides none of them; what a single key may hold is the schema's business."""

from __future__ import annotations

from pathlib import Path

from hardtack.errors import HardtackError
from hardtack.product.complete import entries_of, has, list_of, quietly
from hardtack.product.failure_checks import check_failures, check_layer_named
from hardtack.product.formula_checks import check_formulas
from hardtack.product.journey_spec import UNTIL_IT_FAILS
from hardtack.product.logger import LoggerRecord, read_logger
from hardtack.product.piece_checks import check_pieces
from hardtack.product.quantities import Origin
from hardtack.product.tree import Entries, Tree

_SWINGS = ("daily swing", "yearly swing")


def check(tree: Tree, origin: Origin) -> None:
    """Note every problem between keys in `tree.problems`."""
    check_formulas(tree, origin)
    check_pieces(tree)
    _check_pack(tree)
    _check_journey(tree)
    _check_limits(tree, origin)
    check_failures(tree)


def _check_pack(tree: Tree) -> None:
    film = entries_of(entries_of(tree.root, "pack"), "film")
    if not film:
        return
    given = has(film, "transmission", "permeance")
    if len(given) != 1:
        what = (
            "the film has neither transmission nor permeance"
            if not given
            else "transmission and permeance at once"
        )
        tree.problem(what, "give one of the two, as the supplier's sheet states it", film.line, film.path)
    tested = entries_of(film, "tested at")
    if tested and "transmission" in given:
        for key, example in (("humidity outside", "90 %"), ("humidity inside", "0 %")):
            if not has(tested, key):
                tree.problem(
                    f"a transmission rate says nothing without its test's '{key}'",
                    f"add '{key}: {example}', from the supplier's sheet",
                    tested.line,
                    tested.path,
                )


def _check_journey(tree: Tree) -> None:
    legs = list_of(tree.root, "journey")
    if isinstance(tree.root.get("journey"), list) and not tree.root["journey"]:
        tree.problem(
            "the journey has no leg", "add '- leg: shop'", tree.root.line_of("journey"), ("journey",)
        )
    for number, leg in enumerate(legs, 1):
        _check_air(tree, leg)
        _check_lasts(tree, leg, last=number == len(legs))
        unpacked = str(leg.get("unpacked", "no")).strip().lower() not in ("false", "no")
        if not unpacked and not has(tree.root, "pack"):
            tree.problem(
                "the pieces are sealed in this leg, but the file has no pack",
                "add 'pack:' with film, area and headspace, or 'unpacked: true' to the leg",
                leg.line,
                leg.path,
            )
        if not unpacked and has(leg, "outside film coefficient"):
            tree.problem(
                "'outside film coefficient' belongs to an unpacked leg",
                "add 'unpacked: true', or take it out",
                leg.line_of("outside film coefficient"),
                leg.path,
            )


def _check_air(tree: Tree, leg: Entries) -> None:
    """Exactly one of climate, logger, and temperature with humidity; swings with their times."""
    courses = has(leg, "temperature", "humidity")
    ways = [*has(leg, "climate", "logger"), *courses[:1]]
    mend = "give one of: 'climate'; 'logger'; 'temperature' and 'humidity'"
    if len(ways) > 1:
        said = " and ".join(f"'{key}'" for key in ways)
        tree.problem(f"the leg has {said} at once", mend, leg.line, leg.path)
    elif not ways:
        tree.problem("the leg does not say what air it passes through", mend, leg.line, leg.path)
    elif len(courses) == 1:
        other = {"temperature": "humidity: 65 %", "humidity": "temperature: 25 degC"}[courses[0]]
        tree.problem(f"'{courses[0]}' alone is not a climate", f"add '{other}'", leg.line, leg.path)
    temperature, humidity = entries_of(leg, "temperature"), entries_of(leg, "humidity")
    _check_swings(tree, temperature, ("warmest at", "warmest on"), Entries(0, ()))
    _check_swings(tree, humidity, ("highest at", "highest on"), temperature)


def _check_swings(tree: Tree, course: Entries, times: tuple[str, str], clock: Entries) -> None:
    for swing, time, example in zip(_SWINGS, times, ("14:00", "07-20"), strict=True):
        if has(course, time) and not has(course, swing):
            tree.problem(
                f"'{time}' without a '{swing}'", f"add the {swing}", course.line_of(time), course.path
            )
        if not has(course, swing):
            continue
        borrowed = has(clock, time.replace("highest", "warmest"))
        if not has(course, time) and not borrowed:
            tree.problem(
                f"'{swing}' without '{time}'", f"add '{time}: {example}'", course.line_of(swing), course.path
            )
        if has(course, time) and str(course.get(swing, "")).strip().startswith(("-", "−")):
            tree.problem(
                f"'{time}' with a negative swing: is it highest or lowest then?",
                f"write the swing without the minus, or take '{time}' out: it then follows the temperature",
                course.line_of(swing),
                course.path,
            )
        if swing == "yearly swing" and not has(tree.root, "packed on"):
            tree.problem(
                "a yearly swing needs the day of packing",
                "add 'packed on: 2026-06-01' at the top",
                course.line_of(swing),
                course.path,
            )


def _check_lasts(tree: Tree, leg: Entries, *, last: bool) -> None:
    if not has(leg, "lasts"):
        if not has(leg, "logger"):
            tree.problem("'lasts' is missing", "add 'lasts: 21 days'", leg.line, leg.path)
        return
    forever = " ".join(str(leg.get("lasts", "")).lower().split()) == UNTIL_IT_FAILS
    if forever and not last:
        tree.problem(
            f"'{UNTIL_IT_FAILS}' stands before the last leg",
            "give this leg its duration, such as 'lasts: 21 days'",
            leg.line_of("lasts"),
            (*leg.path, "lasts"),
        )
    if forever and has(leg, "logger"):
        tree.problem(
            f"a logger's record cannot last '{UNTIL_IT_FAILS}'",
            "take 'lasts' out, and add a last leg with a climate",
            leg.line_of("lasts"),
            (*leg.path, "lasts"),
        )


def _check_limits(tree: Tree, origin: Origin) -> None:
    limits = entries_of(tree.root, "limits")
    for key in limits:
        limit = entries_of(limits, key)
        if not limit:
            continue
        check_layer_named(tree, limit, limit.get("layer"), "layer")
        _check_limit(tree, limit, _LIMIT_WAYS.get(key, _BY_WATER))
        loss = quietly(limit, "failing loss", "share", origin)
        if loss is not None and not 0 < loss.value < 1:
            tree.problem(
                "the failing loss lies between 0 and 100 %, both left out",
                "write it such as 50 %",
                limit.line_of("failing loss"),
                (*limit.path, "failing loss"),
            )


_BY_WATER = "give one of: 'activity' and 'at'; 'moisture'"
_LIMIT_WAYS = {"crispness": f"{_BY_WATER}; 'midpoint', 'steepness', 'failing loss' and 'at'"}


def _check_limit(tree: Tree, limit: Entries, mend: str) -> None:
    """Stated one way: by activity, by moisture, or by a loss of the sigmoid."""
    sigmoid = has(limit, "midpoint", "steepness", "failing loss")
    ways = [*has(limit, "activity", "moisture"), *sigmoid[:1]]
    if len(ways) > 1:
        said = " and ".join(f"'{key}'" for key in ways)
        tree.problem(f"the limit is stated by {said} at once", mend, limit.line, limit.path)
    elif not ways:
        tree.problem("the limit names neither an activity nor a moisture", mend, limit.line, limit.path)
    if 0 < len(sigmoid) < 3:
        tree.problem(f"{' and '.join(sigmoid)} alone give no limit", mend, limit.line, limit.path)
    if (sigmoid or "activity" in ways) and not has(limit, "at"):
        tree.problem(
            "a limit by activity without its temperature",
            "add 'at: 25 degC', the temperature of the texture test",
            limit.line,
            limit.path,
        )


def read_loggers(tree: Tree, folder: Path | None, origin: Origin) -> dict[str, LoggerRecord]:
    """Read the logger files the legs name, beside the product file; problems go to `tree.problems`."""
    records: dict[str, LoggerRecord] = {}
    for leg in list_of(tree.root, "journey"):
        if not isinstance(leg.get("logger"), str):
            continue
        name, line, path = leg["logger"].strip(), leg.line_of("logger"), (*leg.path, "logger")
        if folder is None:
            tree.problem(
                "a logger file is named, but this text stands in no folder", "load it as a file", line, path
            )
            continue
        if not name or name != Path(name).name or "\\" in name or name in (".", ".."):
            tree.problem(
                "a logger's file stands beside the product file",
                "write its plain name, such as van.csv",
                line,
                path,
            )
            continue
        try:
            record = records.get(name) or read_logger(folder / name, name)
        except HardtackError as error:
            tree.problems.extend(error.problems)
            continue
        records[name] = record
        lasts = quietly(leg, "lasts", "duration", origin)
        if lasts is not None and lasts.value > record.duration * (1 + 1e-9):
            tree.problem(
                f"the leg lasts longer than its logger's {record.duration / 86400:.4g} days",
                "shorten the leg, or take 'lasts' out",
                leg.line_of("lasts"),
                (*leg.path, "lasts"),
            )
    return records
