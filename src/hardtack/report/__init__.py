"""The keeping report: one model of what a run has to say, as HTML, PDF and XLSX."""

from hardtack.report.build import keeping_report, report_of
from hardtack.report.model import Report
from hardtack.report.write import write_report

__all__ = ["Report", "keeping_report", "report_of", "write_report"]
