"""`hardtack fit`: from a laboratory's file to properties with honest errors, one verb a kind of measurement."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

from cyclopts import App, Parameter

from hardtack.cli.given import air_of, amount, maybe, share_of
from hardtack.errors import HardtackError

if TYPE_CHECKING:
    from hardtack.measurements.answers import Answers
    from hardtack.measurements.fit_answer import FitAnswer
    from hardtack.states import Isotherm

app = App(
    name="fit",
    help_format="plaintext",
    help="""Fit your own measurements: what they say, how sure, and into your product file.

A file is CSV (any separator, decimal point or comma) or XLSX. What it leaves open is asked: answer with --answer
'moisture basis: wet', or once for many files with --answers FILE. Example: hardtack fit isotherm
examples/data/jars-crispbread.csv --answer 'temperature: 25 degC'""",
)


@Parameter(name="*")
@dataclass(frozen=True)
class Common:
    """What every fit takes."""

    answer: Annotated[tuple[str, ...], Parameter(negative="")] = ()
    """An answer to what the file leaves open, as the question prints it; may be given several times."""
    answers: Path | None = None
    """A mapping file of answers by pattern of file name (docs/measurements.md)."""
    into: Path | None = None
    """Write the result into this product file, value ± error [measured here], and say how its statement moves."""
    layer: str = ""
    """The layer of the product file that was measured; needed when it has several."""
    as_json: Annotated[bool, Parameter(name="--json", negative="")] = False
    """Print the answer as JSON with a stable schema (docs/json.md) instead of text."""
    picture: Path | None = None
    """Draw points, curve, interval and residuals to this file; .svg or .png."""

    def said(self, data: Path) -> Answers:
        """The answers for one file: those given on the spot over those of the mapping file."""
        from hardtack.measurements.answers import NONE, answers, answers_for

        general = NONE if self.answers is None else answers_for(data, self.answers)
        return answers(self.answer).over(general)


PLAIN = Common()


def _answer(made: FitAnswer, common: Common) -> None:
    from hardtack.cli.show_fit import finish

    finish(made, common.into, common.layer, as_json=common.as_json, picture=common.picture)


@app.command
def isotherm(
    data: Path,
    /,
    *,
    temperature: str | None = None,
    branch: Literal["adsorption", "desorption"] | None = None,
    meter: Path | None = None,
    common: Common = PLAIN,
) -> None:
    """Fit every form of isotherm to jars or meter readings, rank them, and give the best with its errors.

    Columns: activity (or salt names) and moisture (or pan weights), temperature, and branch where there are two.

    Example: hardtack fit isotherm examples/data/jars-crispbread.csv --temperature '25 degC'

    Parameters
    ----------
    data
        The measurement file.
    temperature
        Of all rows, where the file has no column of it.
    branch
        The branch that is wanted, where the file holds both.
    meter
        A log of salt standards: the meter's readings are corrected by it before the fit.
    """
    from hardtack.cli.progress import progress
    from hardtack.measurements.fits import fit_isotherm

    T = maybe(temperature, "temperature", "--temperature")
    with progress("Fitting isotherms") as step:
        made = fit_isotherm(
            data, said=common.said(data), temperature=T, branch=branch, meter=meter,
            meter_said=common.said(meter or data), progress=step,
        )  # fmt: skip
    _answer(made, common)


@app.command
def film(
    data: Path,
    /,
    *,
    area: str | None = None,
    temperature: str | None = None,
    outside: str | None = None,
    inside: str | None = None,
    pouch: bool = False,
    film: str = "",
    common: Common = PLAIN,
) -> None:
    """Find the steady part of cup or pouch weighings, and the transmission rate and permeance they mean.

    Columns: time and mass, with sample for several cups; or one row a sample and a column for every day. A supplier's
    sheet (film, transmission rate or permeance, temperature and humidities or conditions) is read as it stands.

    Example: hardtack fit film examples/data/cups-film.csv --area '50 cm2' --temperature '38 degC' --outside '90 %' --inside '0 %'

    Parameters
    ----------
    data
        The measurement file.
    area
        The mouth of one cup, or all the film of one pouch; weighings need it, and the climate of the test.
    temperature
        Of the test.
    outside
        Relative humidity on the wet side.
    inside
        Relative humidity on the dry side.
    pouch
        Whole pouches were weighed: the result holds seals and folds.
    film
        The film of a supplier's sheet that goes --into the product file.
    """
    from hardtack.measurements.film import TestClimate
    from hardtack.measurements.fits import fit_film

    T = maybe(temperature, "temperature", "--temperature")
    wet, dry = maybe(outside, "humidity", "--outside"), maybe(inside, "humidity", "--inside")
    climate = None if T is None or wet is None or dry is None else TestClimate(T, wet, dry)
    size = maybe(area, "area", "--area")
    made = fit_film(data, area=size, climate=climate, pouch=pouch, film=film, said=common.said(data))
    _answer(made, common)


@app.command
def diffusion(
    data: Path,
    /,
    *,
    size: str,
    area: str,
    dry_mass: str,
    isotherm: str,
    temperature: str,
    shape: Literal["slab", "cylinder", "sphere"] = "slab",
    humidity: str | None = None,
    film_coefficient: str | None = None,
    common: Common = PLAIN,
) -> None:
    """Follow sorption steps through the transport solver and fit the moisture diffusivity.

    Columns: time and moisture (or mass), and the air's humidity; each change of humidity begins a step.

    Example: hardtack fit diffusion examples/data/steps-biscuit.csv --size '4 mm' --area '25 cm2' --dry-mass '2.4 g' --isotherm 'hard-dough biscuit' --temperature '25 degC'

    Parameters
    ----------
    data
        The measurement file.
    size
        Thickness of a slab open on both faces, or radius of a round piece.
    area
        Surface that is open to the air; both faces of a slab.
    dry_mass
        Dry mass of the sample.
    isotherm
        A name on the reference shelf, or a product file whose layer's isotherm is taken (--layer).
    temperature
        Of the test.
    shape
        Shape of the sample.
    humidity
        Of the air in all rows, where the file has no column of it.
    film_coefficient
        Mass transfer coefficient of the air over the sample; without it the air counts as stirred.
    """
    from hardtack.measurements.diffusivity import Sample
    from hardtack.measurements.fits import fit_diffusion

    sample = Sample(
        shape, amount(size, "length", "--size"), amount(area, "area", "--area"),
        amount(dry_mass, "mass", "--dry-mass"), maybe(film_coefficient, "velocity", "--film-coefficient"),
    )  # fmt: skip
    _answer(
        fit_diffusion(
            data, sample=sample, isotherm=_isotherm(isotherm, common.layer),
            temperature=amount(temperature, "temperature", "--temperature"),
            activity=maybe(humidity, "humidity", "--humidity"), said=common.said(data),
        ),
        common,
    )  # fmt: skip


def _isotherm(name: str, layer: str) -> Isotherm:
    from hardtack import reference
    from hardtack.measurements.fit_answer import layer_named
    from hardtack.piece import isotherms_of
    from hardtack.product import load

    if not name.endswith((".yaml", ".yml")):
        return reference.isotherm(name)
    product = load(name)
    return isotherms_of(product)[0][layer_named(product, layer)]


@app.command
def bake(
    data: Path,
    /,
    *,
    dough_moisture: str | None = None,
    time: str | None = None,
    common: Common = PLAIN,
) -> None:
    """Fit the loss of weight in the oven, and give the moisture that a baking time leaves; or the log of a core.

    Columns: bake time (or belt speed), dough weight, baked weight. An oven log: time and core, with the zones.

    Example: hardtack fit bake examples/data/bake-loss.csv --dough-moisture '24 %wb' --time '6.5 min'

    Parameters
    ----------
    data
        The measurement file.
    dough_moisture
        Moisture of the dough, with its basis.
    time
        The baking time whose moisture is wanted.
    """
    from hardtack.measurements.fits import fit_bake

    made = fit_bake(
        data, dough_moisture=maybe(dough_moisture, "moisture", "--dough-moisture"),
        time=maybe(time, "duration", "--time"), said=common.said(data),
    )  # fmt: skip
    _answer(made, common)


@app.command
def crispness(
    data: Path, /, *, loss: str = "50 %", temperature: str | None = None, common: Common = PLAIN
) -> None:
    """Fit force, sound or a panel's score against water activity: the limit of crispness.

    Columns: activity, and one of force, sound, score; pieces of one activity in rows or in columns.

    Example: hardtack fit crispness examples/data/force-cracker.csv --loss '30 %'

    Parameters
    ----------
    data
        The measurement file.
    loss
        Share of the crispness whose loss counts as failure.
    temperature
        Of the test, where the file has no column of it.
    """
    from hardtack.measurements.fits import fit_crispness

    made = fit_crispness(
        data, loss=share_of(loss, "--loss"), temperature=maybe(temperature, "temperature", "--temperature"),
        said=common.said(data),
    )  # fmt: skip
    _answer(made, common)


@app.command
def firming(
    data: Path,
    /,
    *,
    temperature: str | None = None,
    limit: float | None = None,
    common: Common = PLAIN,
) -> None:
    """Fit the firming of a crumb at several temperatures at once.

    Columns: days, force, and temperature where there are several.

    Example: hardtack fit firming examples/data/firmness-loaf.csv --limit 12

    Parameters
    ----------
    data
        The measurement file.
    temperature
        Of the store, where the file has no column of it.
    limit
        Firmness [N] that people no longer accept: its day is then given.
    """
    from hardtack.measurements.fits import fit_firmness

    T = maybe(temperature, "temperature", "--temperature")
    _answer(fit_firmness(data, temperature=T, limit=limit, said=common.said(data)), common)


@app.command
def mould(
    data: Path,
    /,
    *,
    temperature: str | None = None,
    activity: str | None = None,
    at: str | None = None,
    common: Common = PLAIN,
) -> None:
    """Fit mould-free days against humidity and temperature; packs still free count as such. No safety limit.

    Columns: activity, mould-free days (">60" where none came), temperature.

    Example: hardtack fit mould examples/data/mould-cake.csv --activity 0.84 --at '21 degC'

    Parameters
    ----------
    data
        The measurement file.
    temperature
        Of the store, where the file has no column of it.
    activity
        Water activity whose days are wanted; the middle of the test without it.
    at
        Temperature whose days are wanted; the middle of the test without it.
    """
    from hardtack.measurements.fits import fit_mould_days

    made = fit_mould_days(
        data, temperature=maybe(temperature, "temperature", "--temperature"),
        activity=maybe(activity, "activity", "--activity"), at=maybe(at, "temperature", "--at"),
        said=common.said(data),
    )  # fmt: skip
    _answer(made, common)


@app.command
def rancidity(
    data: Path,
    /,
    *,
    limit: float | None = None,
    at: str | None = None,
    transition: Annotated[tuple[str, ...], Parameter(negative="")] = (),
    fat: str = "",
    activity: str = "",
    film_oxygen: str = "",
    common: Common = PLAIN,
) -> None:
    """Fit accelerated oxidation tests of all temperatures in one step, and give the days to a limit in the store.

    Columns: time, temperature, and peroxide value or hexanal.

    Example: hardtack fit rancidity examples/data/peroxide-biscuit.csv --limit 10 --at '20 degC' --transition 'the fat melts: 34 degC'

    Parameters
    ----------
    data
        The measurement file.
    limit
        The indicator's value that counts as rancid, in the file's own unit.
    at
        Temperature of the store; the coldest of the test without it.
    transition
        A melting or glass transition to be warned of, as 'the fat melts: 34 degC'; may be given several times.
    fat
        Of the layer as packed, as '18 %': for --into where the product file has no rancidity yet.
    activity
        Water activity of the product in the test: likewise.
    film_oxygen
        Oxygen transmission of the pack's film, as '1500 cm3/m2/day/atm': where neither file nor shelf knows it.
    """
    from hardtack.measurements.fits import fit_oxidation
    from hardtack.measurements.rancidity import Transition

    changes = []
    for text in transition:
        what, colon, degrees = text.rpartition(":")
        if not colon or not what.strip():
            raise HardtackError(
                f"--transition: {text!r} names no temperature", "say it as 'the fat melts: 34 degC'"
            )
        changes.append(Transition(what.strip(), amount(degrees.strip(), "temperature", "--transition")))
    made = fit_oxidation(
        data, limit=limit, at=maybe(at, "temperature", "--at"), transitions=changes, fat=fat, activity=activity,
        film_oxygen=film_oxygen, said=common.said(data),
    )  # fmt: skip
    _answer(made, common)


@app.command
def panel(
    data: Path,
    /,
    *,
    share: Annotated[tuple[str, ...], Parameter(negative="")] = ("50 %", "25 %"),
    temperature: str | None = None,
    humidity: str | None = None,
    common: Common = PLAIN,
) -> None:
    """Fit how long people accept the product, from who rejected it when; missed days are no loss.

    Columns: person, time, accepted; or one row a person and a column for every day.

    Example: hardtack fit panel examples/data/panel-crackers.csv --share '25 %'

    Parameters
    ----------
    data
        The measurement file.
    share
        Share of people rejecting whose day is wanted; may be given several times, the first goes --into the file.
    temperature
        Temperature the packs were kept at, as '25 degC': for --into.
    humidity
        Humidity of the air they were kept in, as '50 %': likewise, where it is known.
    """
    from hardtack.measurements.fits import fit_panel

    shares = [share_of(text, "--share") for text in share]
    made = fit_panel(
        data, shares=shares, temperature=maybe(temperature, "temperature", "--temperature"),
        humidity=maybe(humidity, "humidity", "--humidity"), said=common.said(data),
    )  # fmt: skip
    _answer(made, common)


@app.command
def trial(
    data: Path,
    /,
    *,
    product: Path,
    climate: str | None = None,
    factor: Annotated[
        tuple[Literal["permeance", "isotherm", "diffusivity"], ...], Parameter(negative="")
    ] = (),
    common: Common = PLAIN,
) -> None:
    """Hold a storage trial against the whole model: what it supports, and the date it means, also while it runs.

    Columns: time, and moisture or activity of one layer; temperature and humidity of the cabinet where there are
    several.

    Example: hardtack fit trial examples/data/trial-biscuit.csv --product examples/hard-biscuit-plain.yaml

    Parameters
    ----------
    data
        The measurement file.
    product
        The product file whose forecast is held against the trial.
    climate
        Of the cabinet, as '30 degC, 75 %', where the file has no columns of it; without both the packs went
        through the product's own journey.
    factor
        What may be moved, several times for several; without it, what the readings support.
    """
    from hardtack.cli.progress import progress
    from hardtack.measurements.fits import fit_trial
    from hardtack.product import load

    with progress("Fitting the trial") as step:
        made = fit_trial(
            data, load(product), layer=common.layer, factors=factor, air=air_of(climate), said=common.said(data),
            progress=step,
        )  # fmt: skip
    _answer(made, common)
