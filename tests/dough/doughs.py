"""Doughs written as in a product file, for the tests of this room."""

from __future__ import annotations

from hardtack.dough import Formula, formula_of
from hardtack.product import FormulaSpec, Product, loads

FILE = """hardtack: 1
name: test
kind: cracker
origin: invented
formulas:
  dough: {formula}
piece:
  shape: slab
  thickness: 5 mm
  length: 60 mm
  width: 50 mm
  mass: 8 g
  layers: [{{name: c, moisture: 3 %wb{layer}}}]
journey:
  - {{leg: table, unpacked: true, lasts: 1 hours, climate: zone II}}
"""


def product_of(formula: str, layer: str = "") -> Product:
    """A product around one formula, `dough`, written in YAML's flow style."""
    return loads(FILE.format(formula=formula, layer=layer), "test.yaml")


def dough_of(formula: str) -> tuple[FormulaSpec, Formula]:
    """The formula as read and as worked out."""
    product = product_of(formula)
    return product.formulas["dough"], formula_of(product, "dough")


def bakers(*lines: str, keys: str = "") -> str:
    """A formula in baker's percent: lines such as ``bread flour 100``, and further keys."""
    rows = ", ".join(
        f"{{ingredient: {line.rpartition(' ')[0]}, amount: {line.rpartition(' ')[2]} %}}" for line in lines
    )
    return f"{{basis: baker's percent, ingredients: [{rows}]{keys}}}"
