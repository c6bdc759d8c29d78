"""An isotherm from measured points of activity and moisture, at one temperature or several at once.

Every form of `hardtack.water.isotherms` is fitted by least squares on moisture and ranked by AICc; beside it
stands the mean relative deviation E = 100/n sum |X - Xp| / X, by which published isotherms are judged (below
5 % very good, above 10 % poor: common practice, no source). BET takes only points up to activity 0.5 and is
not ranked. Several temperatures go into one fit with a net isosteric heat, constant or fading with moisture;
the three forms that fit best at one temperature go on to that.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from hardtack.errors import HardtackError
from hardtack.measurements.derive import FROM_SALT
from hardtack.measurements.fitting import Constants, Fit, Sought, least_squares
from hardtack.measurements.headers import salt_in
from hardtack.measurements.starts import sought, starts
from hardtack.measurements.table import Row, SetAside, Table, Understood
from hardtack.states import Branch, Floats, IsostericHeat, Isotherm
from hardtack.units import celsius
from hardtack.water import isotherm as water_isotherm
from hardtack.water.isotherms import form_named
from hardtack.water.salts import salt_activity

RANKED = ("gab", "oswin", "halsey", "henderson", "chung_pfost", "smith", "peleg", "lewicki")
BET_TO = 0.5
AS_GOOD = 2.0
"""AICc this close to the best is as good (Burnham and Anderson 2002, Model Selection, sect. 2.6)."""
_ONE_TEMPERATURE = 0.5
_HEATED_FORMS = 3
_FADES = (0.05, 0.2)


@dataclass(frozen=True, slots=True, eq=False)
class IsothermFit:
    """One form fitted: the isotherm ready for use, the fit, E [%], and what speaks against it.

    `isotherm.activity_range` is what was measured; beyond it the curve is extrapolation.
    """

    isotherm: Isotherm
    fit: Fit
    mean_deviation: float
    doubts: tuple[str, ...]

    @property
    def sound(self) -> bool:
        """Whether nothing forbids its use."""
        return not any(doubt.startswith("not usable") for doubt in self.doubts)


@dataclass(frozen=True, slots=True, eq=False)
class IsothermStudy:
    """All forms, best first; `best` is the first that is sound. `bet` is fitted apart, for its monolayer."""

    activity: Floats
    moisture: Floats
    temperature: Floats
    ranked: tuple[IsothermFit, ...]
    bet: IsothermFit | None
    best: IsothermFit
    rows: tuple[int, ...]
    aside: tuple[SetAside, ...]
    told: tuple[str, ...]


def isotherm_from(
    table: Table,
    *,
    temperature: float | None = None,
    branch: Branch = "adsorption",
    change: Callable[[Floats], Floats] | None = None,
    progress: Callable[[float], None] = lambda _: None,
) -> IsothermStudy:
    """The isotherm in a table with activity (or salts) and moisture, and temperature unless given [K].

    `change` corrects the readings first (a meter's correction; never the activities of salts). Where the table has a
    column that names the branch, only its rows of `branch` are taken, the others listed.
    Raises `HardtackError` when columns are lacking or the points are too few.
    """
    aside: list[SetAside] = []
    if table.keys("branch"):
        kept = [row for row in table.rows if _branch(row.values.get("branch")) in (branch, None)]
        numbers = {row.number for row in kept}
        aside += [
            SetAside(table.file, row.number, "branch", str(row.values.get("branch", "")), f"not {branch}")
            for row in table.rows
            if row.number not in numbers
        ]
        table = replace(table, rows=tuple(kept))
    wanted = ("activity", "moisture") if temperature is not None else ("activity", "moisture", "temperature")
    jars = {} if table.keys("activity") else _jar_columns(table)
    table.need(*(("moisture",) if jars else ("activity", "moisture")))
    if temperature is None and not table.keys("temperature"):
        raise HardtackError(
            f"{table.file}: at which temperature was the isotherm measured?",
            "add a column of temperature, or say --answer 'temperature: 25 degC'",
        )
    if jars:
        table = _one_row_a_jar(table, jars, temperature, aside)
    taken = table.take(*wanted, replicated="moisture")
    a, X = taken.columns[:2]
    if change is not None:
        if all(c.column == FROM_SALT for c in table.understood if c.meaning == "activity"):
            raise HardtackError(
                f"{table.file}: its activities come from salts, there is no meter to correct",
                "leave the meter's log out",
            )
        a = change(a)
    T = taken.columns[2] if temperature is None else np.full(a.size, temperature)
    return fit_isotherms(
        a,
        X,
        T,
        branch=branch,
        rows=taken.rows,
        aside=(*aside, *taken.aside),
        source=table.file,
        progress=progress,
    )


def _jar_columns(table: Table) -> dict[str, str]:
    """The salts of a sheet with a column for every jar, by the columns' keys."""
    named = {c.key: salt_in(c.column) for c in table.understood if c.meaning == "moisture"}
    return {key: salt for key, salt in named.items() if salt}


def _one_row_a_jar(
    table: Table, jars: Mapping[str, str], temperature: float | None, aside: list[SetAside]
) -> Table:
    """The same table with one row a jar, its activity from the salt at the row's temperature."""
    rows = []
    for row in table.rows:
        T = row.values.get("temperature") if temperature is None else temperature
        for key, salt in jars.items():
            X = row.values.get(key)
            if not isinstance(X, float) or not isinstance(T, float):
                continue  # blanks stand in the table's own list
            try:
                a = salt_activity(salt, T).value
            except HardtackError as error:
                aside.append(SetAside(table.file, row.number, salt, f"{X:g}", error.problems[0].what))
                continue
            rows.append(Row(row.number, {**row.values, "moisture": X, "activity": a}))
    column = Understood(
        FROM_SALT, "activity", "fraction", "", "over the solution its column names", "activity"
    )
    kept = tuple(c for c in table.understood if c.meaning != "moisture" or c.key == "moisture")
    return replace(table, rows=tuple(rows), understood=(*kept, column))


def fit_isotherms(
    activity: Floats,
    moisture: Floats,
    temperature: Floats,
    *,
    branch: Branch = "adsorption",
    rows: tuple[int, ...] = (),
    aside: tuple[SetAside, ...] = (),
    source: str = "",
    progress: Callable[[float], None] = lambda _: None,
) -> IsothermStudy:
    """Fit every form to points of activity, moisture [kg/kg dry] and temperature [K].

    Raises `HardtackError` with fewer than four points, points out of range, or when no form is usable.
    """
    a, X, T = (np.asarray(values, dtype=float) for values in (activity, moisture, temperature))
    _check(a, X)
    fits = []
    forms = _forms(a, X, T)
    for k, form in enumerate(forms):
        progress(0.2 + 0.5 * k / len(forms))
        try:
            fits.append(fit_form(form, a, X, T, branch=branch, source=source, profiles=False))
        except HardtackError:
            continue  # more constants than points: the form is not in the race
    fits.sort(key=lambda found: found.fit.aicc)
    sound = [found for found in fits if found.sound]
    if not sound:
        raise HardtackError(
            "no isotherm form fits these points", "plot them: are moisture and activity of one sample?"
        )
    best = fit_form(sound[0].isotherm.form, a, X, T, branch=branch, source=source)
    fits[fits.index(sound[0])] = best
    low = (a <= BET_TO) & (a > 0)
    bet = None
    if low.sum() >= 4 and np.ptp(T) < _ONE_TEMPERATURE:
        bet = fit_form("bet", a[low], X[low], T[low], branch=branch, source=source)
    told = _told(a, X, T, fits, best, rows)
    return IsothermStudy(a, X, T, tuple(fits), bet, best, rows, aside, told)


def _forms(a: Floats, X: Floats, T: Floats) -> tuple[str, ...]:
    """All forms at one temperature; at several, the best few at the most measured one go on to the heat."""
    if np.ptp(T) < _ONE_TEMPERATURE:
        return RANKED
    levels = np.round(T)
    most = max(np.unique(levels), key=lambda level: int((levels == level).sum()))
    at = levels == most
    if at.sum() < 6:
        return RANKED
    alone = []
    for form in RANKED:
        found = fit_form(form, a[at], X[at], np.full(int(at.sum()), most), profiles=False)
        alone.append((not found.sound, found.fit.aicc, form))
    return tuple(form for _, _, form in sorted(alone)[:_HEATED_FORMS])


def _check(a: Floats, X: Floats) -> None:
    if a.size < 4:
        raise HardtackError(
            f"{a.size} points are too few for an isotherm", "measure at least four activities, better eight"
        )
    if not (np.all((a > 0) & (a < 1)) and np.all(X > 0) and np.all(np.isfinite(X))):
        raise HardtackError(
            "activities must lie between 0 and 1, moistures above 0", "look at units and basis"
        )


def fit_form(
    form: str,
    a: Floats,
    X: Floats,
    T: Floats,
    *,
    branch: Branch = "adsorption",
    source: str = "",
    profiles: bool = True,
) -> IsothermFit:
    """Fit one form; with several temperatures also the isosteric heat, constant or fading by AICc.

    Raises `HardtackError` with no more points than constants.
    """
    constants = sought(form, float(a.max()))
    begin = starts(form, a, X)
    T_ref = float(np.median(T))
    record = Isotherm(
        name=f"measured isotherm ({form})", form=form, reference_temperature=T_ref,
        activity_range=(float(a.min()), float(a.max())), branch=branch, provenance="measured here", source=source,
    )  # fmt: skip
    if np.ptp(T) < _ONE_TEMPERATURE:
        evaluate = form_named(form).moisture
        fit = least_squares(lambda p: np.asarray(evaluate(a, p)), X, constants, begin, profiles=profiles)
        return _finished(record, fit, X)
    nearest = np.abs(T - T_ref) <= np.abs(T - T_ref).min() + _ONE_TEMPERATURE
    if nearest.sum() > len(constants):
        begin = [least_squares(
            lambda p: np.asarray(form_named(form).moisture(a[nearest], p)), X[nearest], constants, begin, profiles=False
        ).values]  # fmt: skip
    return _heated(record, a, X, T, constants, begin, profiles)


def _heated(
    record: Isotherm,
    a: Floats,
    X: Floats,
    T: Floats,
    constants: tuple[Sought, ...],
    begin: list[Constants],
    profiles: bool,
) -> IsothermFit:
    q0 = Sought("q0", -2e4, 8e4, "J/mol", "net isosteric heat at zero moisture")
    X0 = Sought("X0", 1e-3, 10.0, "kg/kg dry", "moisture over which that heat falls to 1/e")

    def predict(p: Constants) -> Floats:
        try:
            return np.asarray(water_isotherm.moisture(with_constants(record, p), a, T))
        except HardtackError:
            return np.full(a.size, np.nan)  # constants that are no isotherm: the search turns back

    def near(p: Constants) -> Floats:
        """Moisture to first order from the activity at the measured moisture: no inverse, so quick to search."""
        iso = with_constants(record, p)
        try:
            at, beside = water_isotherm.activity(iso, X, T), water_isotherm.activity(iso, X * (1 + 1e-5), T)
        except HardtackError:
            return np.full(a.size, np.nan)
        return X + (a - at) * 1e-5 * X / (beside - at)

    heats = [{**p, "q0": q} for p in begin for q in (3e3, 1e4)]
    names: tuple[Sought, ...] = (*constants, q0)
    fit = least_squares(near, X, names, heats, profiles=False)
    fit = least_squares(predict, X, names, [fit.values], profiles=False)
    if X.size > len(names) + 1:
        faded = [{**fit.values, "q0": fit["q0"].value * 2 + 500.0, "X0": fade} for fade in _FADES]
        found = least_squares(near, X, (*names, X0), faded, profiles=False)
        fading = least_squares(predict, X, (*names, X0), [found.values], profiles=False)
        if fading.aicc < fit.aicc:
            fit, names = fading, (*names, X0)
    if profiles:
        fit = least_squares(predict, X, names, [fit.values])
    return _finished(record, fit, X)


def with_constants(record: Isotherm, p: Mapping[str, float]) -> Isotherm:
    """The isotherm with fitted constants; `q0` and `X0` among them make its isosteric heat."""
    heat = IsostericHeat(p["q0"], p.get("X0", float("inf"))) if "q0" in p else None
    own = {name: value for name, value in p.items() if name not in ("q0", "X0")}
    return replace(record, parameters=own, heat=heat)


def _finished(record: Isotherm, fit: Fit, X: Floats) -> IsothermFit:
    E = 100 * float(np.mean(np.abs(fit.residuals) / X))
    made = with_constants(record, fit.values)
    doubts = [*fit.weak]
    try:
        water_isotherm.validate(made)
        middle = float(np.mean(made.activity_range))
        steep = float(water_isotherm.slope(made, middle, made.reference_temperature))
        made = replace(made, activity_sd=fit.sigma / steep if fit.dof > 0 and steep > 0 else None)
    except HardtackError as error:
        doubts.append(f"not usable: {error.problems[0].what}")
    doubts += [
        f"not usable: {doubt}" for doubt in fit.weak if "ran into its bound" in doubt and "K ran" not in doubt
    ]
    if made.form in ("gab", "bet"):
        doubts += _layers(fit)
    return IsothermFit(made, fit, E, tuple(dict.fromkeys(doubts)))


def _layers(fit: Fit) -> list[str]:
    """What Xm, C and K say about themselves (Lewicki 1997, Int. J. Food Sci. Technol. 32:553)."""
    said = []
    values = fit.values
    if values["C"] < 2:
        said.append(
            f"C = {values['C']:.2g} is below 2 (a type III curve): Xm is a number of the fit, no monolayer"
        )
    elif values["C"] < 5.67:
        said.append(f"C = {values['C']:.2g} is below 5.67: Xm may be off by more than 15 %")
    if values.get("K", 0.5) > 1:
        said.append(
            f"K = {values['K']:.3g} is above 1: the curve runs to infinite moisture at activity {1 / values['K']:.3f}"
        )
    return said


def _branch(value: object) -> Branch | None:
    word = str(value).lower()
    if word.startswith(("ad", "sorp", "wet")):
        return "adsorption"
    return "desorption" if word.startswith(("de", "dry")) else None


def _told(
    a: Floats, X: Floats, T: Floats, fits: list[IsothermFit], best: IsothermFit, rows: tuple[int, ...]
) -> tuple[str, ...]:
    said = [
        f"{a.size} points from activity {a.min():.3f} to {a.max():.3f} at "
        + (f"{celsius(float(T.min())):.0f} °C" if np.ptp(T) < _ONE_TEMPERATURE
           else f"{celsius(float(T.min())):.0f} to {celsius(float(T.max())):.0f} °C")
        + "; outside this range the curve is extrapolation.",
        f"{_name(best)} fits best: mean relative deviation {best.mean_deviation:.1f} %, "
        f"residual {100 * best.fit.sigma:.2g} g per 100 g dry.",
        *(str(estimate) for estimate in best.fit.estimates),
    ]  # fmt: skip
    rivals = [
        f"{_name(found)} (E {found.mean_deviation:.1f} %)"
        for found in fits
        if found is not best and found.sound and found.fit.aicc - best.fit.aicc < AS_GOOD
    ]
    if rivals:
        said.append(f"As good by AICc: {', '.join(rivals)}.")
    if not fits[0].sound:
        said.append(
            f"{_name(fits[0])} came nearer, but {'; '.join(d for d in fits[0].doubts if 'not usable' in d)}."
        )
    if best.mean_deviation > 10:
        said.append(
            "A deviation above 10 % is poor: look for a wrong basis, a jar out of balance, or two branches mixed."
        )
    said += [f"{_name(best)}: {doubt}." for doubt in best.doubts]
    for place in best.fit.outliers:
        where = f"row {rows[place]}" if rows else f"point {place + 1}"
        said.append(
            f"{where} (activity {a[place]:.3f}, {100 * X[place]:.2f} g/100 g dry) stands apart from the curve by "
            f"{100 * best.fit.residuals[place]:+.2f} g/100 g; it is still in the fit."
        )
    return tuple(said)


def form_title(form: str) -> str:
    """A form's name as it is written: GAB, Chung-Pfost."""
    written = {"gab": "GAB", "bet": "BET", "chung_pfost": "Chung-Pfost"}
    return written.get(form, form.capitalize())


def _name(found: IsothermFit) -> str:
    return form_title(found.isotherm.form)
