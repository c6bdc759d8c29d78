"""What every fit hands to the faces: a sentence, what was found with its error, a drawing, and where it belongs."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from hardtack.errors import HardtackError
from hardtack.measurements.fitting import CONFIDENCE, Constants, Estimate, Fit, Named
from hardtack.measurements.into import Entry
from hardtack.measurements.table import SetAside, Table, told_aside
from hardtack.product import Product
from hardtack.states import Floats

CURVE_POINTS = 121


@dataclass(frozen=True, slots=True, eq=False)
class Points:
    """Measured points of one series; `apart` are places of those that stand apart, `predicted` the fit there."""

    name: str
    x: Floats
    y: Floats
    apart: tuple[int, ...] = ()
    predicted: Floats | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Curve:
    """A fitted curve, with the ends of its 90 % interval where the points fix one."""

    name: str
    x: Floats
    y: Floats
    low: Floats | None = None
    high: Floats | None = None
    step: bool = False


@dataclass(frozen=True, slots=True)
class Mark:
    """An upright line at `x` with its words."""

    x: float
    text: str


@dataclass(frozen=True, slots=True, eq=False)
class Drawing:
    """Everything a picture of a fit shows, in the units of its axes."""

    x_title: str
    y_title: str
    points: tuple[Points, ...]
    curves: tuple[Curve, ...]
    marks: tuple[Mark, ...] = ()
    residual_title: str = ""


Places = Callable[[Product, str], tuple[Entry, ...]]
"""Where a result belongs in a product file, for the layer of that name."""


@dataclass(frozen=True, slots=True, eq=False)
class FitAnswer:
    """One fit as it is told: `sentence` first, then `told`, then how the files were read.

    `covariance` is that of the fitted constants, None where one number alone was found.
    `facts` are further results for the JSON, in the units its keys say. `places` is None for a result that no
    product file holds.
    """

    kind: str
    sentence: str
    told: tuple[str, ...]
    estimates: tuple[Estimate, ...]
    drawing: Drawing
    tables: tuple[Table, ...]
    aside: tuple[SetAside, ...] = ()
    weak: tuple[str, ...] = ()
    covariance: Named | None = None
    facts: Mapping[str, Any] = field(default_factory=dict)
    places: Places | None = None

    @property
    def reading(self) -> tuple[str, ...]:
        """What was understood of the files, and everything left out, with the reason."""
        told = [line for table in self.tables for line in table.told]
        named = {(t.file, c.key): c.column for t in self.tables for c in t.understood if c.key}
        listed = {(item.file, item.row, item.column) for table in self.tables for item in table.values_aside}
        more = [item for item in self.aside
                if (item.file, item.row, named.get((item.file, item.column), item.column)) not in listed]  # fmt: skip
        return (*told, *told_aside(more, "Not in the fit"))


def layer_named(product: Product, layer: str) -> str:
    """The layer that is meant: the only one when none is named. Raises `HardtackError` listing the layers."""
    names = [part.name for part in product.piece.layers if hasattr(part, "moisture")]
    if layer in names:
        return layer
    if not layer and len(names) == 1:
        return names[0]
    what = f"{product.name} has no layer {layer!r}" if layer else f"{product.name} has several layers"
    raise HardtackError(what, f"name one with --layer: {', '.join(names)}")


def curve(
    fit: Fit,
    name: str,
    x: Floats,
    function: Callable[[Constants], Floats],
    scale: float = 1.0,
) -> Curve:
    """The fitted function over `x` times `scale`, with its 90 % interval by the linear approximation."""
    values = fit.values
    middle = np.asarray(function(values), dtype=float)
    known = np.isfinite(np.diag(fit.covariance))
    if not known.all() or fit.dof < 1:
        return Curve(name, x, middle * scale)
    slopes = np.empty((middle.size, len(values)))
    for k, (constant, value) in enumerate(values.items()):
        h = 1e-5 * (abs(value) or 1.0)
        up = np.asarray(function({**values, constant: value + h}))
        down = np.asarray(function({**values, constant: value - h}))
        slopes[:, k] = (up - down) / (2 * h)
    spread = np.sqrt(np.maximum(np.einsum("ij,jk,ik->i", slopes, fit.covariance, slopes), 0.0))
    width = student(fit.dof) * spread
    if not np.all(np.isfinite(width)):
        return Curve(name, x, middle * scale)
    return Curve(name, x, middle * scale, (middle - width) * scale, (middle + width) * scale)


def student(dof: int) -> float:
    """Half the width of a 90 % interval in standard deviations, Student's t."""
    from scipy.special import stdtrit

    return float(stdtrit(dof, 0.5 + CONFIDENCE / 2))


def grid(x: Floats, low: float | None = None, high: float | None = None) -> Floats:
    """Evenly spaced from the least to the greatest of x, or from and to what is given."""
    first = float(np.min(x)) if low is None else low
    last = float(np.max(x)) if high is None else high
    return np.linspace(first, last, CURVE_POINTS)


def groups(x: Floats, width: float) -> list[tuple[float, Any]]:
    """Mean and places of values that lie within `width` of one another."""
    order = np.argsort(x)
    found: list[list[int]] = []
    for place in order:
        if found and x[place] - x[found[-1][0]] <= width:
            found[-1].append(int(place))
        else:
            found.append([int(place)])
    return [(float(np.mean(x[places])), np.array(sorted(places))) for places in found]


def within(apart: Sequence[int], places: Any) -> tuple[int, ...]:
    """The outliers of a whole fit, as places within one group of its points."""
    position = {int(place): k for k, place in enumerate(places)}
    return tuple(position[place] for place in apart if place in position)
