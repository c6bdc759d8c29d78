"""An isotherm written out in the product file: a published form with its constants, or measured points."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise
from typing import Any, Literal

from pydantic import Field, ValidationInfo, field_validator, model_validator

from hardtack.errors import HardtackError
from hardtack.product.base import Model
from hardtack.product.correlations import Correlations, check_correlations
from hardtack.product.quantities import (
    Activity,
    Moisture,
    MolarEnergy,
    Origin,
    Temperature,
    Word,
    fault,
    quantity_json,
    read_quantity,
)
from hardtack.product.tree import Entries, Tree
from hardtack.sourced import Sourced
from hardtack.units import KINDS

Form = Literal[
    "GAB", "BET", "Oswin", "Halsey", "Henderson", "Chung-Pfost", "Smith", "Peleg", "Lewicki", "table"
]

CONSTANTS: Mapping[str, Mapping[str, str]] = {
    "GAB": {"Xm": "moisture", "C": "positive number", "K": "positive number"},
    "BET": {"Xm": "moisture", "C": "positive number"},
    "Oswin": {"A": "moisture", "B": "positive number"},
    "Halsey": {"A": "positive number", "B": "positive number"},
    "Henderson": {"A": "positive number", "B": "positive number"},
    "Chung-Pfost": {"A": "positive number", "B": "positive number"},
    "Smith": {"A": "moisture", "B": "moisture"},
    "Peleg": {"C1": "moisture", "C2": "positive number", "C3": "moisture", "C4": "positive number"},
    "Lewicki": {"F": "moisture", "G": "positive number", "H": "positive number"},
    "table": {},
}
"""The constants of each form and their kind of quantity; those that are plain numbers belong to moisture in
kg water per kg dry solid."""


class IsothermSpec(Model):
    """Moisture against water activity of one layer, at one temperature, with its temperature law."""

    form: Form = Field(description="the form of the isotherm, or table for measured points", examples=["GAB"])
    at: Temperature = Field(
        description="temperature at which the constants or points hold", examples=["25 degC"]
    )
    parameters: Mapping[str, Sourced] = Field(default_factory=dict)
    points: dict[Activity, Moisture] = Field(
        default_factory=dict, description="for the form table: activity and moisture, point by point"
    )
    isosteric_heat: MolarEnergy | None = Field(
        None, description="net isosteric heat at zero moisture: how the activity rises with temperature"
    )
    fades_over: Moisture | None = Field(
        None, description="moisture over which the isosteric heat falls to 37 % (1/e) of itself"
    )
    enthalpies: dict[str, MolarEnergy] = Field(
        default_factory=dict, description="Arrhenius energies of the constants, instead of the isosteric heat"
    )
    correlations: Correlations = Field(
        default_factory=dict,
        description="how the errors of two constants hang together, -1 to 1, by their names joined with 'and'; "
        "`hardtack fit isotherm --into` writes them",
    )
    branch: Literal["adsorption", "desorption"] = Field(
        "adsorption", description="whether it was measured wetting or drying"
    )
    range: Activity | None = Field(
        None, description="activities between which it was measured", examples=["0.05..0.90"]
    )
    name: Word | None = Field(None, description="what to call it in answers")

    @classmethod
    def known_keys(cls) -> tuple[str, ...]:
        """The fixed keys; the constants come in addition."""
        return tuple(key for key in super().known_keys() if key != "parameters")

    @classmethod
    def extra_keys(cls, given: Mapping[str, Any]) -> tuple[str, ...]:
        """The constants of the form that is given; of every form while it is not one of them."""
        form = str(given.get("form"))
        known = [CONSTANTS[form]] if form in CONSTANTS else CONSTANTS.values()
        return tuple(dict.fromkeys(name for constants in known for name in constants))

    @classmethod
    def arrange(cls, given: Entries, kept: dict[str, Any]) -> dict[str, Any]:
        """Gather the constants of the form, which stand beside the other keys, under one field."""
        constants = cls.extra_keys(given)
        parameters = Entries(given.line, given.path)
        parameters.update({name: kept.pop(name) for name in constants if name in kept})
        return {**kept, "parameters": parameters}

    @field_validator("parameters", mode="plain")
    @classmethod
    def _read_parameters(cls, given: Mapping[str, Any], info: ValidationInfo) -> Mapping[str, Sourced]:
        context = info.context or {}
        tree: Tree | None = context.get("tree")
        read: dict[str, Sourced] = {}
        for name, kind in CONSTANTS.get(info.data.get("form", ""), {}).items():
            path = (*given.path, name) if isinstance(given, Entries) else (name,)
            if name not in given:
                what = f"'{name}' is missing"
                mend = f"the form {info.data['form']} needs it: '{name}: {KINDS[kind].example}'"
            else:
                try:
                    read[name] = read_quantity(given[name], kind, context.get("origin", Origin()))
                    continue
                except HardtackError as error:
                    what, mend = error.problems[0].what, error.problems[0].mend
            if tree is None:
                raise fault(what, mend)
            tree.problem(what, mend, tree.lines.get(path, tree.lines.get(path[:-1])), path)
        return read

    @model_validator(mode="after")
    def _hangs_together(self) -> IsothermSpec:
        if self.form == "table":
            self._check_points()
        elif self.points:
            raise fault(
                "'points' belong to the form table only", "write 'form: table', or take the points out"
            )
        if self.isosteric_heat is not None and self.enthalpies:
            raise fault(
                "temperature acts either by 'isosteric heat' or by 'enthalpies', not by both",
                "keep one of the two",
            )
        if self.fades_over is not None and self.isosteric_heat is None:
            raise fault("'fades over' without an 'isosteric heat'", "add 'isosteric heat: 5 kJ/mol'")
        for name in self.enthalpies:
            if name not in CONSTANTS[self.form]:
                raise fault(
                    f"the form {self.form} has no constant '{name}' to change with temperature",
                    f"its constants are: {', '.join(CONSTANTS[self.form]) or 'none; use isosteric heat'}",
                )
        self._check_correlations()
        if self.range is not None and self.range.low is None:
            raise fault("'range' names one activity only", "write both ends, such as 0.05..0.90")
        return self

    def _check_correlations(self) -> None:
        names = [*CONSTANTS[self.form]]
        names += ["isosteric heat"] if self.isosteric_heat is not None else []
        names += ["fades over"] if self.fades_over is not None else []
        check_correlations(self.correlations, names)

    def _check_points(self) -> None:
        pairs = sorted((a.value, X.value) for a, X in self.points.items())
        if len(pairs) < 2:
            raise fault(
                "a table needs two points or more", "write them as 'points: {0.11: 2.4 %db, 0.33: 4.6 %db}'"
            )
        for (a_low, X_low), (a_high, X_high) in pairwise(pairs):
            if a_high == a_low or X_high <= X_low:
                raise fault(
                    f"the points do not rise: {X_low * 100:.3g} %db at {a_low:g}, "
                    f"{X_high * 100:.3g} %db at {a_high:g}",
                    "moisture must rise with activity; leave a reading out, with a comment why",
                )

    @classmethod
    def __get_pydantic_json_schema__(cls, schema: Any, handler: Any) -> dict[str, Any]:
        made: dict[str, Any] = handler(schema)
        target = handler.resolve_ref_schema(made)
        target["properties"].pop("parameters", None)
        target["properties"]["enthalpies"]["propertyNames"] = {"pattern": "^[A-Z][a-z0-9]?$"}
        kinds: dict[str, set[str]] = {}
        for constants in CONSTANTS.values():
            for name, kind in constants.items():
                kinds.setdefault(name, set()).add(kind)
        for name, several in sorted(kinds.items()):
            options = [quantity_json(kind) for kind in sorted(several)]
            forms = ", ".join(form for form, constants in CONSTANTS.items() if name in constants)
            target["properties"][name] = {
                "description": f"a constant of {forms}; plain numbers go with moisture in kg/kg dry",
                **(options[0] if len(options) == 1 else {"anyOf": options}),
            }
        return made
