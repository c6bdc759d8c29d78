"""Write the golden texts anew after a meant change, then look at what moved: python -m tests.report.renew"""

from __future__ import annotations

from tests.report.test_report import FORMULA, GOLDEN, LOAF, SANDWICH, golden_text

if __name__ == "__main__":
    GOLDEN.mkdir(exist_ok=True)
    for name in (LOAF, SANDWICH, FORMULA):
        (GOLDEN / f"{name}.txt").write_text(golden_text(name), "utf-8")
