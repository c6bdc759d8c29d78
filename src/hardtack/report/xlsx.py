"""The report as a workbook: words on the first sheet, a sheet for every table, charts the spreadsheet draws itself."""

from __future__ import annotations

import datetime
import io
import re
from typing import Any

from hardtack.report.model import Bullets, Cell, Chart, Figure, Number, Paragraph, Report, Table

RUNS = ("=", "+", "-", "@", "\t", "\r")
"""A cell of text that begins so would be run by some spreadsheets; it gets an apostrophe in front."""
WIDEST = 60


def xlsx(report: Report) -> bytes:
    """The report as XLSX; the same report gives the same bytes."""
    import xlsxwriter

    out = io.BytesIO()
    options = {
        "in_memory": True,
        "strings_to_formulas": False,
        "strings_to_urls": False,
        "strings_to_numbers": False,
    }
    book = xlsxwriter.Workbook(out, options)
    made = datetime.datetime.combine(report.made_on, datetime.time())
    book.set_properties(
        {
            "title": safe(report.title),
            "author": safe(report.author),
            "comments": f"Hardtack {report.version}; a model is not a validation",
            "created": made,
        }
    )
    looks = {
        "head": book.add_format({"bold": True, "text_wrap": True, "bottom": 1, "valign": "top"}),
        "title": book.add_format({"bold": True, "font_size": 14, "text_wrap": True}),
        "section": book.add_format({"bold": True, "font_size": 12}),
        "text": book.add_format({"text_wrap": True, "valign": "top"}),
        "soft": book.add_format({"font_color": "#595959", "valign": "top"}),
    }
    names = sheet_names(report)
    _words(book.add_worksheet("Statement"), report, names, looks)
    sheets = {}
    for table in report.tables:
        sheets[table.name] = book.add_worksheet(names[table.name])
        _table(sheets[table.name], table, looks)
    for chart in report.charts:
        table = next(table for table in report.tables if table.name == chart.table)
        _chart(book, sheets[table.name], names[table.name], table, chart)
    book.close()
    return out.getvalue()


def safe(text: str) -> str:
    """Text that no spreadsheet takes for a formula."""
    return "'" + text if text.startswith(RUNS) else text


def sheet_names(report: Report) -> dict[str, str]:
    """A sheet's name for each table: short, without the signs a sheet may not have, each once."""
    taken: dict[str, str] = {}
    for table in report.tables:
        base = re.sub(r"[\[\]:*?/\\']", " ", table.name)[:28].strip()
        name, n = base, 1
        while name.lower() in (other.lower() for other in (*taken.values(), "Statement")):
            n += 1
            name = f"{base} {n}"
        taken[table.name] = name
    return taken


def _words(sheet: Any, report: Report, names: dict[str, str], looks: dict[str, Any]) -> None:
    """All that is said, in order; a table is pointed to by its sheet, a picture is told in its sentences."""
    sheet.set_column(0, 0, 24)
    sheet.set_column(1, 1, 110)
    sheet.write_string(0, 0, safe(report.title), looks["title"])
    row = 1
    lines: list[tuple[str, str, str]] = [("", report.sentence, "head"), ("", report.chain, "text")]
    lines += [(word, told, "text") for word, told in report.facts]
    for section in report.sections:
        lines.append((section.title, "", "section"))
        for block in section.blocks:
            if isinstance(block, Paragraph):
                lines.append(("", block.text, "head" if block.strong else "text"))
            elif isinstance(block, Bullets):
                lines += [("", item, "text") for item in block.items]
            elif isinstance(block, Figure):
                lines.append(("picture", block.description, "text"))
            else:
                lines.append(("table", f"{block.caption}: sheet “{names[block.name]}”", "text"))
    for word, told, look in lines:
        sheet.write_string(row, 0, safe(word), looks["section" if look == "section" else "soft"])
        sheet.write_string(row, 1, safe(told), looks["text" if look == "section" else look])
        row += 1


def _table(sheet: Any, table: Table, looks: dict[str, Any]) -> None:
    sheet.write_string(0, 0, safe(table.caption.split(" (every ")[0]), looks["section"])
    for k, column in enumerate(table.columns):
        sheet.write_string(2, k, safe(column.head), looks["head"])
        longest = max([len(column.head) / 2, *(len(_shown(row[k])) for row in table.rows)], default=8)
        sheet.set_column(k, k, min(WIDEST, max(10, longest + 2)))
    for n, row in enumerate(table.rows, 3):
        for k, cell in enumerate(row):
            if isinstance(cell, Number):
                sheet.write_number(n, k, cell.value)
            else:
                sheet.write_string(n, k, safe(cell), looks["text"])
    sheet.freeze_panes(3, 0)


def _shown(cell: Cell) -> str:
    return cell.text if isinstance(cell, Number) else cell


def _chart(book: Any, sheet: Any, name: str, table: Table, chart: Chart) -> None:
    """Lines that differ by dash and weight, black, so that a grey print is enough."""
    made = book.add_chart({"type": "scatter", "subtype": "straight"})
    last = 2 + len(table.rows)
    dashes = ("solid", "dash", "round_dot", "dash_dot", "long_dash", "long_dash_dot")
    for k, column in enumerate(chart.lines):
        made.add_series(
            {
                "name": [name, 2, column],
                "categories": [name, 3, chart.x, last, chart.x],
                "values": [name, 3, column, last, column],
                "line": {
                    "color": "#1a1a1a",
                    "width": 2.25 if k == 0 else 1.5,
                    "dash_type": dashes[k % len(dashes)],
                },
            }
        )
    made.set_title({"name": chart.title, "name_font": {"size": 12}})
    made.set_x_axis({"name": chart.x_title, "min": 0, "major_gridlines": {"visible": False}})
    made.set_y_axis(
        {"name": chart.y_title, "major_gridlines": {"visible": True, "line": {"color": "#e3e3e3"}}}
    )
    made.set_legend({"position": "bottom"})
    made.set_size({"width": 760, "height": 400})
    sheet.insert_chart(
        2,
        len(table.columns) + 1,
        made,
        {"description": f"{chart.title}: {chart.y_title} over {chart.x_title}"},
    )
