"""The fits a page offers: which questions each asks beside the file, and how it is called."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from hardtack.errors import HardtackError, NotOnShelf, Problem
from hardtack.product import Product
from hardtack.units import parse_quantity

if TYPE_CHECKING:
    from hardtack.measurements.answers import Answers
    from hardtack.measurements.fit_answer import FitAnswer

Given = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Ask:
    """One thing a fit wants to know: a quantity of a kind, or one of some choices."""

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

    def __init__(self, fit: Fit, given: Given, product: Product | None) -> None:
        self.product = product
        self.values: dict[str, float | None] = {}
        self.words: dict[str, str] = {}
        problems: list[Problem] = []
        for ask in fit.asks:
            written = given.get(f"ask.{ask.name}", "").strip()
            if ask.choices:
                self.words[ask.name] = written if written in ask.choices else ask.choices[0]
                continue
            if not written:
                self.values[ask.name] = None
                if ask.needed:
                    problems.append(Problem(f"{ask.name} is missing", f"write it such as {ask.example}"))
                continue
            try:
                self.values[ask.name] = parse_quantity(written, ask.kind).value
            except HardtackError as error:
                first = error.problems[0]
                problems.append(Problem(f"{ask.name}: {first.what}", first.mend))
        if problems:
            raise HardtackError(problems)

    def __getitem__(self, name: str) -> float:
        value = self.values[name]
        assert value is not None  # the fit needs it, so it was asked for
        return value

    def maybe(self, name: str) -> float | None:
        """A value that may be left out."""
        return self.values[name]


_TEMPERATURE = Ask("temperature", "temperature", "25 degC")


def _isotherm(data: Path, said: Answers, known: _Known) -> FitAnswer:
    from hardtack.measurements.fits import fit_isotherm

    branch = known.words["branch"]
    return fit_isotherm(
        data, said=said, temperature=known.maybe("temperature"),
        branch="desorption" if branch == "desorption" else "adsorption",
    )  # fmt: skip


def _film(data: Path, said: Answers, known: _Known) -> FitAnswer:
    from hardtack.measurements.film import TestClimate
    from hardtack.measurements.fits import fit_film

    climate = TestClimate(
        known["temperature of the test"], known["humidity outside"], known["humidity inside"]
    )
    return fit_film(
        data, area=known["area of one cup or pouch"], climate=climate, said=said,
        pouch=known.words["what was weighed"] == "whole pouches",
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

    return fit_firmness(data, temperature=known.maybe("temperature"), said=said)


def _mould(data: Path, said: Answers, known: _Known) -> FitAnswer:
    from hardtack.measurements.fits import fit_mould_days

    return fit_mould_days(data, temperature=known.maybe("temperature"), said=said)


def _panel(data: Path, said: Answers, known: _Known) -> FitAnswer:
    from hardtack.measurements.fits import fit_panel

    return fit_panel(data, said=said)


def _oxidation(data: Path, said: Answers, known: _Known) -> FitAnswer:
    from hardtack.measurements.fits import fit_oxidation

    return fit_oxidation(data, at=known.maybe("temperature"), said=said)


def _trial(data: Path, said: Answers, known: _Known) -> FitAnswer:
    from hardtack.measurements.fits import fit_trial

    if known.product is None:
        raise HardtackError("a trial is fitted to the product's own model", "mend the product file first")
    return fit_trial(data, known.product, said=said)


FITS: tuple[Fit, ...] = (
    Fit(
        "isotherm", "Isotherm of a layer",
        (_TEMPERATURE, Ask("branch", "", "", choices=("adsorption", "desorption"))), _isotherm,
    ),
    Fit(
        "film", "Film or pack, by weighing",
        (
            Ask("area of one cup or pouch", "area", "50 cm2", True),
            Ask("temperature of the test", "temperature", "38 degC", True),
            Ask("humidity outside", "humidity", "90 %", True),
            Ask("humidity inside", "humidity", "0 %", True),
            Ask("what was weighed", "", "", choices=("cups of flat film", "whole pouches")),
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
    Fit("firmness", "Firming of crumb", (_TEMPERATURE,), _firmness),
    Fit("mould", "Mould-free days", (_TEMPERATURE,), _mould),
    Fit("panel", "Panel: days to rejection", (), _panel),
    Fit("oxidation", "Rancidity", (_TEMPERATURE,), _oxidation),
    Fit("trial", "Storage trial against the model", (), _trial),
)  # fmt: skip
"""Every fit with a page. Sorption steps (diffusivity) need a sample's shape and stay with `hardtack fit`."""


def fitted(slug: str, data: Path, said: Answers, given: Given, product: Product | None) -> FitAnswer:
    """The answer of a fit. Raises `HardtackError` for what is missing or open, `NotOnShelf` for no such fit."""
    fit = next((each for each in FITS if each.slug == slug), None)
    if fit is None:
        raise NotOnShelf("there is no such fit", "choose one on the page")
    return fit.call(data, said, _Known(fit, given, product))
