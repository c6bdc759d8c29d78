"""Published comparisons: what the program predicts beside what was measured or certified elsewhere."""

from hardtack.evidence.run import Count, EvidenceRow, counts, run_evidence

__all__ = ["Count", "EvidenceRow", "counts", "run_evidence"]
