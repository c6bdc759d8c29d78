"""Meter correction against saturated salts (Greenspan 1977 through the shelf)."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from hardtack.errors import HardtackError
from hardtack.measurements.meter import meter_correction, meter_from
from tests.measurements.files import lines, read

# Greenspan 1977, J. Res. NBS 81A:89, table of humidities at 25 degC, %: LiCl 11.30, MgCl2 32.78, NaCl 75.29, KCl 84.34
GREENSPAN = {"LiCl": 0.1130, "MgCl2": 0.3278, "NaCl": 0.7529, "KCl": 0.8434}


def test_a_known_fault_is_found() -> None:
    true = np.array(list(GREENSPAN.values()))
    found = meter_correction(list(GREENSPAN), (true - 0.004) / 1.02, np.full(4, 298.15))
    assert found.offset == pytest.approx(0.004, abs=2e-4)
    assert found.slope == pytest.approx(1.02, abs=5e-4)
    assert found.corrected((true - 0.004) / 1.02) == pytest.approx(true, abs=2e-4)
    assert found.sd is not None
    assert found.sd < 2e-4


def test_one_standard_gives_an_offset() -> None:
    found = meter_correction(["NaCl", "NaCl"], np.array([0.760, 0.758]), np.full(2, 298.15))
    assert (found.slope, found.offset) == (1.0, pytest.approx(0.7529 - 0.759, abs=2e-4))
    assert "one standard" in found.told[0]


def test_log_with_a_wrong_expectation_and_an_unknown_salt(tmp_path: Path) -> None:
    table = read(
        tmp_path,
        lines(
            "Salt,T,Read aw,Expected",
            "NaCl,25 °C,0.760,0.753",
            "MgCl2,25 °C,0.335,0.33",
            "K2SO4,25 °C,0.98,0.95",
            "MgCl,25 °C,0.3,0.33",
        ),
    )
    found, aside = meter_from(table)
    assert [item.row for item in aside] == [5]
    assert any("row 4: K2SO4 stands at 0.973" in line for line in found.told)  # Greenspan 1977: 97.30 %
    assert not any("row 2" in line for line in found.told)


def test_a_meter_far_off_wants_cleaning() -> None:
    found = meter_correction(["LiCl", "NaCl"], np.array([0.113, 0.79]), np.full(2, 298.15))
    assert any("clean and calibrate" in line for line in found.told)
    with pytest.raises(HardtackError):
        meter_correction(["salt of the earth"], np.array([0.5]), np.array([298.15]))
