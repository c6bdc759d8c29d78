"""The short list of common units is the registry's own: pint with the project's unit file says the same."""

from __future__ import annotations

import pytest

from hardtack.units import COMMON, convert, registry


@pytest.mark.parametrize(("to", "unit"), [(to, unit) for to, units in COMMON.items() for unit in units])
def test_the_short_list_is_the_registry(to: str, unit: str) -> None:
    exact = registry().Quantity(7.3, unit).to(to).magnitude
    assert convert(7.3, unit, to) == pytest.approx(exact, rel=1e-14)


def test_celsius() -> None:
    assert convert(21.5, "°C", "K") == pytest.approx(
        registry().Quantity(21.5, "degC").to("K").magnitude, rel=1e-15
    )
