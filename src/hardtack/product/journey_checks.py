"""What must hang together in the journey: its air, its duration, opened packs, and the files it names."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from hardtack.errors import HardtackError
from hardtack.product.complete import entries_of, has, list_of, need_together, quietly
from hardtack.product.journey_spec import UNTIL_IT_FAILS
from hardtack.product.logger import LoggerRecord, read_logger
from hardtack.product.logger_mend import LONGEST_GAP, Mend
from hardtack.product.quantities import Origin
from hardtack.product.tree import Entries, Tree
from hardtack.product.weather import WeatherRecord, read_weather

_SWINGS = ("daily swing", "yearly swing")
_ALL, _NONE = "all", "none"
Record = TypeVar("Record")


def check_journey(tree: Tree) -> None:
    """Note every problem between the keys of the legs in `tree.problems`."""
    legs = list_of(tree.root, "journey")
    if isinstance(tree.root.get("journey"), list) and not tree.root["journey"]:
        tree.problem(
            "the journey has no leg", "add '- leg: shop'", tree.root.line_of("journey"), ("journey",)
        )
    for number, leg in enumerate(legs, 1):
        _check_air(tree, leg)
        _check_lasts(tree, leg, last=number == len(legs))
        unpacked = str(leg.get("unpacked", "no")).strip().lower() not in ("false", "no")
        _check_opened(tree, leg, unpacked)
        _check_outer(tree, leg, unpacked)
        need_together(tree, leg, "load starts at", "load lag", "load lag: 2 hours")
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
    """Exactly one of climate, months, weather, logger, and temperature with humidity; swings with their times."""
    courses = has(leg, "temperature", "humidity")
    ways = [*has(leg, "climate", "months", "weather", "logger"), *courses[:1]]
    mend = "give one of: 'climate'; 'months'; 'weather'; 'logger'; 'temperature' and 'humidity'"
    if len(ways) > 1:
        said = " and ".join(f"'{key}'" for key in ways)
        tree.problem(f"the leg has {said} at once", mend, leg.line, leg.path)
    elif not ways:
        tree.problem("the leg does not say what air it passes through", mend, leg.line, leg.path)
    elif len(courses) == 1:
        other = {"temperature": "humidity: 65 %", "humidity": "temperature: 25 degC"}[courses[0]]
        tree.problem(f"'{courses[0]}' alone is not a climate", f"add '{other}'", leg.line, leg.path)
    for key in has(leg, "months", "weather"):
        if not has(tree.root, "packed on"):
            tree.problem(
                f"'{key}' needs the day of packing",
                "add 'packed on: 2026-06-01' at the top",
                leg.line_of(key),
                (*leg.path, key),
            )
    for key in has(leg, "gaps", "clock jumps"):
        if not has(leg, "logger"):
            tree.problem(f"'{key}' belongs to a logger's record", "take it out", leg.line_of(key), leg.path)
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


def _check_opened(tree: Tree, leg: Entries, unpacked: bool) -> None:
    """A pack that is opened is a pack; a day has no more than 24 hours."""
    if not has(leg, "opened"):
        return
    line, path = leg.line_of("opened"), (*leg.path, "opened")
    if unpacked:
        tree.problem("the leg is unpacked and its pack opened at once", "keep one of the two", line, path)
    opened = entries_of(leg, "opened")
    a_day = quietly(opened, "each day", "duration", Origin())
    if a_day is not None and a_day.value > 86400.0:
        tree.problem(
            "the pack stands open for more than a day each day",
            "give the time of one day, such as 5 min; a pack that is never closed is 'unpacked: true'",
            opened.line_of("each day"),
            (*path, "each day"),
        )
    left = quietly(opened, "pieces left", "share", Origin())
    if left is not None and left.value <= 0.0:
        tree.problem(
            "no piece is left in the pack",
            "end the journey before it, or give the share left, such as 50 %",
            opened.line_of("pieces left"),
            (*path, "pieces left"),
        )


def _check_outer(tree: Tree, leg: Entries, unpacked: bool) -> None:
    """A leg's outer packs are among the pack's."""
    if not isinstance(leg.get("outer packs"), str):
        return
    line, path = leg.line_of("outer packs"), (*leg.path, "outer packs")
    said = " ".join(leg["outer packs"].split())
    names = [
        " ".join(str(outer["name"]).split())
        for outer in list_of(entries_of(tree.root, "pack"), "outer packs")
        if "name" in outer
    ]
    if said not in (_ALL, _NONE, *names):
        tree.problem(
            f"no outer pack is called '{said[:60]}'",
            f"write one of: {', '.join((_ALL, _NONE, *names))}",
            line,
            path,
        )
    elif unpacked and said != _NONE:
        tree.problem("an unpacked leg has no outer pack", "take 'outer packs' out", line, path)


def read_loggers(tree: Tree, folder: Path | None, origin: Origin) -> dict[str, LoggerRecord]:
    """Read the logger files the legs name, beside the product file; problems go to `tree.problems`."""
    mends = _mends(tree, origin)
    records = _read_files(
        tree, folder, "logger", "van.csv", lambda path, name: read_logger(path, name, mends[name])
    )
    for leg in list_of(tree.root, "journey"):
        record = records.get(str(leg.get("logger", "")).strip())
        lasts = quietly(leg, "lasts", "duration", origin)
        if record is not None and lasts is not None and lasts.value > record.duration * (1 + 1e-9):
            tree.problem(
                f"the leg lasts longer than its logger's {record.duration / 86400:.4g} days",
                "shorten the leg, or take 'lasts' out",
                leg.line_of("lasts"),
                (*leg.path, "lasts"),
            )
    return records


def _mends(tree: Tree, origin: Origin) -> dict[str, Mend]:
    """What the legs say of the holes and the clock of each logger file; two legs of one file must say the same."""
    mends: dict[str, Mend] = {}
    for leg in list_of(tree.root, "journey"):
        name = str(leg.get("logger", "")).strip()
        gaps = quietly(leg, "gaps", "duration", origin)
        mend = Mend(LONGEST_GAP if gaps is None else gaps.value, leg.get("clock jumps") == "shift")
        if mends.setdefault(name, mend) != mend:
            tree.problem(
                f"two legs read {name} with different 'gaps' or 'clock jumps'",
                "say the same in both",
                leg.line_of("logger"),
                leg.path,
            )
    return mends


def read_weathers(tree: Tree, folder: Path | None) -> dict[str, WeatherRecord]:
    """Read the weather files the legs name, beside the product file; problems go to `tree.problems`."""
    return _read_files(tree, folder, "weather", "store.epw", read_weather)


def _read_files(
    tree: Tree, folder: Path | None, key: str, example: str, read: Callable[[Path, str], Record]
) -> dict[str, Record]:
    """Read each file that stands under `key` of a leg once."""
    records: dict[str, Record] = {}
    failed: set[str] = set()
    for leg in list_of(tree.root, "journey"):
        if not isinstance(leg.get(key), str):
            continue
        name, line, path = leg[key].strip(), leg.line_of(key), (*leg.path, key)
        if folder is None:
            what = f"a {key} file is named, but this text stands in no folder"
            tree.problem(what, "load it as a file", line, path)
            continue
        if not name or name != Path(name).name or "\\" in name or name in (".", ".."):
            what = f"a {key}'s file stands beside the product file"
            tree.problem(what, f"write its plain name, such as {example}", line, path)
            continue
        if name in records or name in failed:
            continue
        try:
            records[name] = read(folder / name, name)
        except HardtackError as error:
            failed.add(name)
            tree.problems.extend(error.problems)
    return records
