"""Published comparisons: what the program predicts beside what was measured or certified elsewhere."""

from hardtack.evidence.run import EvidenceRow, run_evidence

__all__ = ["EvidenceRow", "run_evidence"]
