"""The fits a page offers: which questions each asks beside the file, and how it is called."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, get_args

from hardtack.errors import HardtackError, NotOnShelf, Problem
from hardtack.product import Product
from hardtack.units import parse_quantity

if TYPE_CHECKING:
    from hardtack.measurements.answers import Answers
    from hardtack.measurements.fit_answer import FitAnswer

Given = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Ask:
    """One thing a fit wants to know: a quantity of a kind, several shares, a plain number, words as they are, another
    file of the product, or one of some choices."""

    name: str
    kind: str
    example: str
    needed: bool = False
    choices: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Fit:
    """One kind of fit."""

    slug: str
    title: str
    asks: tuple[Ask, ...]
    call: Callable[[Path, Answers, _Known], FitAnswer]


class _Known:
    """What was said beside the file, read in SI; every fault is kept, with its field."""

    def __init__(self, fit: Fit, given: Given, product: Product | None, beside: Mapping[str, Path]) -> None:
        self.product = product
        self.files = {ask.name: beside[ask.name] for ask in fit.asks if ask.name in beside}
        self.values: dict[str, float | None] = {}
        self.shares: dict[str, tuple[float, ...]] = {}
        self.words: dict[str, str] = {"layer": given.get("layer", "")}
        problems: list[Problem] = []
        for ask in fit.asks:
            written = given.get(f"ask.{ask.name}", "").strip()
            if ask.choices:
                self.words[ask.name] = written if written in ask.choices else ask.choices[0]
                continue
            self.words[ask.name] = written
            if not written:
                self.values[ask.name] = None
                if ask.needed:
                    problems.append(Problem(f"{ask.name} is missing", f"write it such as {ask.example}"))
                continue
            try:
                if ask.kind == "shares":
                    self.shares[ask.name] = _shares(written)
                    continue
                self.values[ask.name] = _read(written, ask.kind)
            except HardtackError as error:
                first = error.problems[0]
                problems.append(Problem(f"{ask.name}: {first.what}", first.mend))
        if problems:
            raise HardtackError(problems)

    @property
    def layer(self) -> str:
        """The layer it belongs to, where one was chosen."""
        return self.words.get("layer", "")

    def __getitem__(self, name: str) -> float:
        value = self.values[name]
        assert value is not None  # the fit needs it, so it was asked for
        return value

    def maybe(self, name: str) -> float | None:
        """A value that may be left out."""
        return self.values[name]


def _shares(written: str) -> tuple[float, ...]:
    """Shares between none and all, parted by commas that no digit follows, semicolons or 'and'."""
    parts = [part for part in re.split(r",(?!\d)|;|\band\b", written) if part.strip()]
    found = tuple(parse_quantity(part.strip().replace(",", "."), "share").value for part in parts)
    if not found or not all(0 < share < 1 for share in found):
        raise HardtackError(
            f"{written[:40]!r} are no shares between none and all", "write them such as 50 %, 25 %"
        )
    return found


def _read(written: str, kind: str) -> float | None:
    """A quantity in SI, a plain number; None where the words count as they are."""
    if kind in ("words", "file"):
        return None
    if kind != "number":
        return parse_quantity(written, kind).value
    try:
        return float(written.replace(",", "."))
    except ValueError:
        raise HardtackError(f"{written[:40]!r} is no number", "write a plain number, such as 10") from None


_TEMPERATURE = Ask("temperature", "temperature", "25 degC")
_METER = Ask("salt standards on the meter", "file", "")
_WEIGHING = (
    Ask("area of one cup or pouch", "area", "50 cm2", True),
    Ask("temperature of the test", "temperature", "38 degC", True),
    Ask("humidity outside", "humidity", "90 %", True),
    Ask("humidity inside", "humidity", "0 %", True),
)
_MOVED = (
    "what the readings support", "permeance", "isotherm", "diffusivity", "permeance and isotherm", "permeance and diffusivity",
    "isotherm and diffusivity", "permeance and isotherm and diffusivity",
)  # fmt: skip


def _isotherm(data: Path, said: Answers, known: _Known) -> FitAnswer:
    from hardtack.measurements.fits import fit_isotherm

    branch = known.words["branch"]
    return fit_isotherm(
        data, said=said, temperature=known.maybe("temperature"),
        branch="desorption" if branch == "desorption" else "adsorption",
        meter=known.files.get(_METER.name), meter_said=said,
    )  # fmt: skip


def _film(data: Path, said: Answers, known: _Known) -> FitAnswer:
    from hardtack.measurements.film import TestClimate
    from hardtack.measurements.fits import fit_film

    T, outside, inside = (known.maybe(ask.name) for ask in _WEIGHING[1:])
    climate = None if T is None or outside is None or inside is None else TestClimate(T, outside, inside)
    return fit_film(
        data, area=known.maybe(_WEIGHING[0].name), climate=climate, said=said,
        pouch=known.words["what was weighed"] == "whole pouches", film=known.words["film of a supplier's sheet"],
    )  # fmt: skip


def _crispness(data: Path, said: Answers, known: _Known) -> FitAnswer:
    from hardtack.measurements.fits import fit_crispness

    loss = known.maybe("loss that counts as failure")
    return fit_crispness(
        data, loss=0.5 if loss is None else loss, temperature=known.maybe("temperature"), said=said
    )


def _bake(data: Path, said: Answers, known: _Known) -> FitAnswer:
    from hardtack.measurements.fits import fit_bake

    return fit_bake(
        data, dough_moisture=known.maybe("moisture of the dough"), time=known.maybe("baking time"), said=said
    )


def _firmness(data: Path, said: Answers, known: _Known) -> FitAnswer:
    from hardtack.measurements.fits import fit_firmness

    limit = known.maybe("firmness no longer accepted, N")
    return fit_firmness(data, temperature=known.maybe("temperature"), limit=limit, said=said)


def _mould(data: Path, said: Answers, known: _Known) -> FitAnswer:
    from hardtack.measurements.fits import fit_mould_days

    return fit_mould_days(
        data, temperature=known.maybe("temperature"), activity=known.maybe("water activity wanted"),
        at=known.maybe("temperature wanted"), said=said,
    )  # fmt: skip


def _panel(data: Path, said: Answers, known: _Known) -> FitAnswer:
    from hardtack.measurements.fits import fit_panel

    return fit_panel(
        data, shares=known.shares.get("shares rejecting", (0.5, 0.25)), temperature=known.maybe("packs kept at"),
        humidity=known.maybe("humidity they were kept in"), said=said,
    )  # fmt: skip


def _oxidation(data: Path, said: Answers, known: _Known) -> FitAnswer:
    from hardtack.measurements.fits import fit_oxidation
    from hardtack.measurements.rancidity import Transition

    changes = [
        Transition(what, at) for what in ("the fat melts", "the glass softens") if (at := known.maybe(f"{what} at")) is not None
    ]  # fmt: skip
    return fit_oxidation(
        data, limit=known.maybe("value that counts as rancid"), at=known.maybe("temperature of the store"),
        transitions=changes, fat=known.words["fat"],
        activity=known.words["water activity in the test"], film_oxygen=known.words["oxygen through the film"], said=said,
    )  # fmt: skip


def _trial(data: Path, said: Answers, known: _Known) -> FitAnswer:
    from hardtack.measurements.fits import fit_trial
    from hardtack.measurements.model import Air
    from hardtack.measurements.storage_trial import Factor

    if known.product is None:
        raise HardtackError("a trial is fitted to the product's own model", "mend the product file first")
    T, RH = known.maybe("temperature of the cabinet"), known.maybe("humidity of the cabinet")
    if (T is None) != (RH is None):
        raise HardtackError("a cabinet has a temperature and a humidity", "write both, or neither")
    air = None if T is None or RH is None else Air(T, RH)
    wanted = known.words["what may be moved"].split(" and ")
    moved: list[Factor] = [factor for factor in get_args(Factor) if factor in wanted]
    return fit_trial(data, known.product, layer=known.layer, air=air, factors=moved, said=said)


def _diffusion(data: Path, said: Answers, known: _Known) -> FitAnswer:
    from hardtack import reference
    from hardtack.measurements.diffusivity import Sample
    from hardtack.measurements.fit_answer import layer_named
    from hardtack.measurements.fits import fit_diffusion
    from hardtack.piece import isotherms_of

    shape = known.words["shape of the sample"]
    sample = Sample(
        "cylinder" if shape == "cylinder" else "sphere" if shape == "sphere" else "slab",
        known["thickness, or radius of a round sample"], known["surface open to the air"], known["dry mass"],
        known.maybe("mass transfer of the air"),
    )  # fmt: skip
    name = known.words["isotherm on the shelf"]
    if name:
        isotherm = reference.isotherm(name)
    elif known.product is not None:
        isotherm = isotherms_of(known.product)[0][layer_named(known.product, known.layer)]
    else:
        raise HardtackError(
            "which isotherm has the sample?", "name one of the shelf, or mend the product file"
        )
    return fit_diffusion(
        data, sample=sample, isotherm=isotherm, temperature=known["temperature of the test"],
        activity=known.maybe("humidity of the air"), said=said,
    )  # fmt: skip


FITS: tuple[Fit, ...] = (
    Fit(
        "isotherm", "Isotherm of a layer",
        (_TEMPERATURE, Ask("branch", "", "", choices=("adsorption", "desorption")), _METER), _isotherm,
    ),
    Fit(
        "film", "Film or pack, by weighing",
        (
            *_WEIGHING,
            Ask("what was weighed", "", "", choices=("cups of flat film", "whole pouches")),
            Ask("film of a supplier's sheet", "words", "OPP 20; where the file lists several"),
        ), _film,
    ),
    Fit(
        "crispness", "Limit of crispness",
        (Ask("loss that counts as failure", "share", "50 %"), _TEMPERATURE), _crispness,
    ),
    Fit(
        "bake", "Loss in the oven",
        (Ask("moisture of the dough", "moisture", "38 %wb"), Ask("baking time", "duration", "6 min")), _bake,
    ),
    Fit(
        "firmness", "Firming of crumb", (_TEMPERATURE, Ask("firmness no longer accepted, N", "number", "12")), _firmness
    ),
    Fit(
        "mould", "Mould-free days",
        (
            _TEMPERATURE,
            Ask("water activity wanted", "activity", "0.84"),
            Ask("temperature wanted", "temperature", "21 degC"),
        ), _mould,
    ),
    Fit(
        "panel", "Panel: days to rejection",
        (
            Ask("shares rejecting", "shares", "50 %, 25 %; the first goes into the product"),
            Ask("packs kept at", "temperature", "25 degC"),
            Ask("humidity they were kept in", "humidity", "50 %"),
        ), _panel,
    ),
    Fit(
        "oxidation", "Rancidity",
        (
            Ask("value that counts as rancid", "number", "10"),
            Ask("temperature of the store", "temperature", "20 degC"),
            Ask("fat", "words", "18 %"),
            Ask("water activity in the test", "words", "0.3"),
            Ask("oxygen through the film", "words", "1500 cm3/m2/day/atm"),
            Ask("the fat melts at", "temperature", "34 degC"),
            Ask("the glass softens at", "temperature", "45 degC"),
        ), _oxidation,
    ),
    Fit(
        "trial", "Storage trial against the model",
        (
            Ask("temperature of the cabinet", "temperature", "30 degC"),
            Ask("humidity of the cabinet", "humidity", "75 %"),
            Ask("what may be moved", "", "", choices=_MOVED),
        ), _trial,
    ),
    Fit(
        "diffusion", "Diffusivity, from sorption steps",
        (
            Ask("shape of the sample", "", "", choices=("slab", "cylinder", "sphere")),
            Ask("thickness, or radius of a round sample", "length", "4 mm", True),
            Ask("surface open to the air", "area", "25 cm2", True),
            Ask("dry mass", "mass", "2.4 g", True),
            Ask("temperature of the test", "temperature", "25 degC", True),
            Ask("humidity of the air", "humidity", "60 %"),
            Ask("mass transfer of the air", "velocity", "3 mm/s; stirred air without"),
            Ask("isotherm on the shelf", "words", "hard-dough biscuit; the layer's own without"),
        ), _diffusion,
    ),
)  # fmt: skip
"""Every fit of the command line."""


def asks_files(slug: str) -> tuple[str, ...]:
    """The names of what a fit takes from other files of the product."""
    return tuple(ask.name for fit in FITS if fit.slug == slug for ask in fit.asks if ask.kind == "file")


def fitted(
    slug: str,
    data: Path,
    said: Answers,
    given: Given,
    product: Product | None,
    beside: Mapping[str, Path] | None = None,
) -> FitAnswer:
    """The answer of a fit; `beside` are the other files it takes, by what they are for. Raises `HardtackError` for what is missing or open, `NotOnShelf` for no such fit."""
    fit = next((each for each in FITS if each.slug == slug), None)
    if fit is None:
        raise NotOnShelf("there is no such fit", "choose one on the page")
    if fit.slug == "film" and _is_sheet(data, said):
        fit = replace(fit, asks=tuple(replace(ask, needed=False) for ask in fit.asks))
    return fit.call(data, said, _Known(fit, given, product, beside or {}))


def _is_sheet(data: Path, said: Answers) -> bool:
    """Whether the file states films instead of weighing them: then nothing of a test has to be said."""
    from hardtack.measurements.fits.film_sheet import is_sheet
    from hardtack.measurements.reading import read_table

    return is_sheet(read_table(data, said))
