"""Lists, kinds of spread and correlations in the product file."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

import hardtack
from hardtack.errors import HardtackError
from hardtack.product.quantities import Origin, read_quantity

SPREADS = (Path(__file__).parents[2] / "examples" / "hard-biscuit-spreads.yaml").read_text("utf-8")


@pytest.mark.parametrize(
    "values", ["2.4, 2.6, 2.8 %db", ["2.4 %db", "2.6 %db", "2.8 %db"], "2.4; 2.6; 2.8 %db"]
)
def test_a_list_is_its_mean_and_its_own_sd(values: Any) -> None:
    amount = read_quantity(
        {"values": values, "spread": "lot to lot", "from": "measured here"}, "moisture", Origin()
    )
    assert amount.values == pytest.approx((0.024, 0.026, 0.028))
    assert amount.value == pytest.approx(0.026)
    assert amount.sd == pytest.approx(0.002)
    assert (amount.spread, amount.provenance) == ("lot to lot", "measured here")


@pytest.mark.parametrize(("given", "said"), [
    ({"values": "2.4 %db"}, "several values"),
    ({"values": ["2.4 %db"]}, "two or more"),
    ({"values": ["2.4 ± 0.1 %db", "2.6 %db"]}, "spread of its own"),
    ({"values": "2.4, 2.6 %db", "sd": "0.1 %db"}, "not both"),
    ({"value": "2.4 %db", "spread": "sometimes"}, "does not say what spreads"),
    (["2.4 %db", "2.6 %db"], "a list stands where"),
])  # fmt: skip
def test_slips_in_spreads_are_told(given: Any, said: str) -> None:
    with pytest.raises(HardtackError, match=said):
        read_quantity(given, "moisture", Origin())


@pytest.mark.parametrize(("written", "said"), [
    ("{Xm and C: -0.88, Xm and K: -0.97, C and K: -0.9}", "cannot hold together"),
    ("{Xm and Z: 0.5}", "'Z' is no constant"),
    ("{Xm: 0.5}", "does not name two constants"),
    ("{Xm and C: 1.5}", "a correlation of 1.5"),
    ("{Xm and C: much}", "as a correlation"),
    ("{Xm and C: 0.5, C and Xm: 0.5}", "nothing new"),
    ("0.5", "stand as a mapping"),
])  # fmt: skip
def test_slips_in_correlations_are_told_with_their_line(written: str, said: str) -> None:
    line = next(line for line in SPREADS.splitlines() if "correlations: {" in line)
    with pytest.raises(HardtackError, match=said) as caught:
        hardtack.loads(SPREADS.replace(line, f"        correlations: {written}"), "mine.yaml")
    assert caught.value.problems[0].line is not None
