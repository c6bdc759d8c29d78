"""One model, three forms: the text is golden, nothing runs or is fetched, tables come back with their values."""

from __future__ import annotations

import datetime
import io
import re
import zipfile
from dataclasses import replace
from functools import cache
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree

import openpyxl
import pypdfium2
import pytest

from hardtack.cli import main
from hardtack.errors import HardtackError
from hardtack.evidence import run_evidence
from hardtack.keeping import keep
from hardtack.keeping.sentences import moment
from hardtack.pictures import KINDS
from hardtack.product import load, loads, starter
from hardtack.report import Report, keeping_report, write_report
from hardtack.report.decision import Wanted, decision
from hardtack.report.html import html
from hardtack.report.model import Bullets, Number, Paragraph
from hardtack.report.pdf import pdf
from hardtack.report.xlsx import safe, sheet_names, xlsx
from tests.house.tree import ROOT
from tests.pictures import invented

DAY = datetime.date(2026, 3, 2)
LOAF = "crusty-loaf-in-plastic"
SANDWICH = "savoury-sandwich-cracker"
FORMULA = "formula-sandwich"
GOLDEN = Path(__file__).parent / "golden"
HOSTILE = '=HYPERLINK("x")<script>alert(1)</script> #set page(width: 1pt) $x$ *b* "&\'] \\'


@cache
def _report(name: str) -> Report:
    return keeping_report(load(ROOT / "examples" / f"{name}.yaml"), made_on=DAY, author="A. N. Author")


@cache
def _pdf(name: str) -> bytes:
    return pdf(_report(name))


def _hostile() -> Report:
    text = (ROOT / "examples" / "hard-biscuit-plain.yaml").read_text("utf-8")
    name = next(line for line in text.splitlines() if line.startswith("name:"))
    quoted = HOSTILE.replace("'", "''")
    return keeping_report(
        loads(text.replace(name, f"name: '{quoted}'")), title=HOSTILE, author=HOSTILE, made_on=DAY
    )


class _Words(HTMLParser):
    """Visible words of a page, without those inside its pictures; and every tag with its attributes."""

    def __init__(self) -> None:
        super().__init__()
        self.words: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self._hidden = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        self._hidden += tag in ("svg", "style", "title")

    def handle_endtag(self, tag: str) -> None:
        self._hidden -= tag in ("svg", "style", "title")

    def handle_data(self, data: str) -> None:
        if not self._hidden and data.strip():
            self.words.append(" ".join(data.split()))


def _read(page: str) -> _Words:
    words = _Words()
    words.feed(page)
    return words


@pytest.mark.parametrize("name", [LOAF, SANDWICH, FORMULA])
def test_the_text_is_golden(name: str) -> None:
    """To renew after a meant change: python -m tests.report.renew"""
    assert golden_text(name) == (GOLDEN / f"{name}.txt").read_text("utf-8")


def golden_text(name: str) -> str:
    """The page's words, one piece a line, up to the evidence and the numbers behind the pictures.

    Those are compared with what they come from in the tests below; they move with every digit of a run.
    """
    report = _report(name)
    kept = tuple(s for s in report.sections if s.title not in ("Evidence", "Numbers behind the pictures"))
    words = _read(html(replace(report, sections=kept))).words
    return "\n".join(words).replace(f"Hardtack {report.version}", "Hardtack VERSION") + "\n"


def test_html_runs_nothing_and_fetches_nothing() -> None:
    page = html(_report(LOAF))
    read = _read(page)
    assert not {"script", "link", "iframe", "object", "embed", "img", "form", "base"} & {
        tag for tag, _ in read.tags
    }
    for tag, attributes in read.tags:
        for name, value in attributes.items():
            assert not name.startswith("on"), (tag, name)
            assert name not in ("src", "srcset", "action"), (tag, name)
            if name in ("href", "xlink:href"):
                assert (value or "").startswith("#"), (tag, value)
    addresses = set(re.findall(r"[a-z]+:" + r"//[^\s\"'<>)]+", page))
    assert {address.split("/")[2] for address in addresses} <= {
        "www.w3.org"
    }  # names of the SVG language only
    assert "url(http" not in page
    assert "@import" not in page
    assert read.tags[0] == ("html", {"lang": "en"})


def test_html_reads_in_order_and_every_picture_is_described() -> None:
    read = _read(html(_report(LOAF)))
    heads = [tag for tag, _ in read.tags if re.fullmatch(r"h[1-6]", tag)]
    assert heads == ["h1"] + ["h2"] * len(_report(LOAF).sections)
    pictures = [attributes for tag, attributes in read.tags if tag == "svg" and "role" in attributes]
    assert [picture["aria-label"] for picture in pictures] == [f.description for f in _report(LOAF).figures]
    assert [f.kind for f in _report(LOAF).figures] == ["ladder", "profile", "shares", "stales", "journey"]
    cells = [attributes for tag, attributes in read.tags if tag == "th"]
    assert all(attributes.get("scope") == "col" for attributes in cells)


@pytest.mark.parametrize("name", [LOAF, SANDWICH])
def test_the_pdf_is_tagged_titled_and_the_same_twice(name: str) -> None:
    """PDF/UA-1 (ISO 14289-1) asks for a structure tree, a language, a title and alternative text."""
    made = _pdf(name)
    for mark in (b"/StructTreeRoot", b"/Lang", b"/Alt", b"pdfuaid", b"/DisplayDocTitle true"):
        assert mark in made, mark
    assert made == pdf(_report(name))
    assert made != pdf(replace(_report(name), made_on=DAY + datetime.timedelta(days=1)))


def _read_back(document: bytes) -> str:
    """The text of all pages, as PDFium reads it."""
    return "\n".join(page.get_textpage().get_text_bounded() for page in pypdfium2.PdfDocument(document))


@pytest.mark.parametrize("name", [LOAF, FORMULA])
def test_the_pdf_says_everything_the_model_says(name: str) -> None:
    text = _read_back(_pdf(name))
    # lines break at hyphens and at any word; what is compared are the letters in order
    letters = re.sub(r"\s+", "", text)
    report = _report(name)
    told = [report.sentence, report.chain, report.title]
    for section in report.sections:
        told.append(section.title)
        for block in section.blocks:
            told += [block.text] if isinstance(block, Paragraph) else []
            told += block.items if isinstance(block, Bullets) else []
    footer = re.escape(
        re.sub(r"\s+", "", f"{report.product} · Hardtack {report.version} · a model is not a validation")
    )
    letters = re.sub(footer + r"\d+of\d+", "", letters)
    for words in told:
        assert re.sub(r"\s+", "", words) in letters, words
    assert "\ufffd" not in text  # no glyph is missing


def test_the_workbook_comes_back_with_its_values() -> None:
    report = _report(LOAF)
    made = xlsx(report)
    assert made == xlsx(report)
    book = openpyxl.load_workbook(io.BytesIO(made))
    names = sheet_names(report)
    assert book.sheetnames == ["Statement", *names.values()]
    for table in report.tables:
        sheet = book[names[table.name]]
        assert [cell.value for cell in sheet[3]] == [column.head for column in table.columns]
        assert sheet.max_row == 3 + len(table.rows)  # every row, not only the printed ones
        for n, row in enumerate(table.rows, 4):
            for cell, told in zip(sheet[n], row, strict=True):
                if isinstance(told, Number):
                    assert cell.value == pytest.approx(told.value, rel=1e-12)
                else:
                    assert (cell.value or "") == safe(told)
    said = [row[1].value for row in book["Statement"].iter_rows(min_row=2)]
    assert said[0] == report.sentence
    assert set(report.figures[0].description.split()) <= set(" ".join(str(text) for text in said).split())


def test_the_workbook_draws_its_own_charts() -> None:
    report = _report(LOAF)
    book = zipfile.ZipFile(io.BytesIO(xlsx(report)))
    charts = sorted(name for name in book.namelist() if re.fullmatch(r"xl/charts/chart\d+\.xml", name))
    assert len(charts) == len(report.charts) == 3
    space = {"c": "http:" + "//schemas.openxmlformats.org/drawingml/2006/chart"}
    for name, chart in zip(charts, report.charts, strict=True):
        root = ElementTree.fromstring(book.read(name))
        table = next(table for table in report.tables if table.name == chart.table)
        series = root.findall(".//c:ser", space)
        assert len(series) == len(chart.lines)
        ranges = [node.text or "" for node in root.findall(".//c:yVal//c:f", space)]
        assert all(text.endswith(f"${3 + len(table.rows)}") for text in ranges)
        heads = [table.columns[k].head for k in (chart.x, *chart.lines)]
        assert heads[0].startswith(("day", "depth"))
        assert not any("°C" in head for head in heads)
    assert not any(name.startswith("xl/externalLinks") or name.endswith(".bin") for name in book.namelist())


@pytest.mark.filterwarnings("error")
def test_hostile_names_stay_text() -> None:
    report = _hostile()
    assert HOSTILE in report.sentence
    page = html(report)
    assert "<script" not in page
    assert HOSTILE in " ".join(_read(page).words)
    assert b"/StructTreeRoot" in pdf(report)
    book = openpyxl.load_workbook(io.BytesIO(xlsx(report)))
    for sheet in book:
        for row in sheet.iter_rows():
            for cell in row:
                assert cell.data_type != "f", (sheet.title, cell.coordinate)
                if isinstance(cell.value, str):
                    assert not cell.value.startswith(("=", "+", "-", "@")), cell.value


def test_hostile_names_are_set_as_they_are() -> None:
    letters = re.sub(r"\s+", "", _read_back(pdf(_hostile())))
    assert re.sub(r"\s+", "", HOSTILE) in letters


def test_specification_lines_are_the_runs_own_numbers() -> None:
    report, statement = _report(SANDWICH), keep(load(ROOT / "examples" / f"{SANDWICH}.yaml"))
    table = next(table for table in report.tables if table.name == "Specification")
    lines = {str(row[0]): (str(row[1]), str(row[2])) for row in table.rows}
    asked, origin = lines["upper shell, to the end of its life (crispness)"]
    limit = statement.limits[0]
    assert asked == (
        f"moisture ≤ {100 * limit.moisture / (1 + limit.moisture):.1f} % wb, water activity ≤ {limit.activity:.2f} at 25 °C"
    )
    assert f"{100 * limit.moisture / (1 + limit.moisture):.2f} %" in statement.courses[0].limit
    assert "Katz & Labuza 1981" in origin
    # 22 of activity in the file, a crisp layer: on the dry side; the filling has no texture limit, so no side
    assert "water activity ≤ 0.22 at 25 °C" in lines["upper shell, when packed"][0]
    assert "≤" not in lines["filling, when packed"][0]
    film = next(value for name, value in lines.items() if name.startswith("transmission rate"))
    assert film[0] == "at most 0.75 g/m2/day, the middle of 0.5..1.0 g/m2/day"
    assert any(name.startswith("whole-pack factor") for name in lines)
    storage = [name for name in lines if name.startswith("storage, ")]
    assert storage == [f"storage, {leg.name}" for leg in statement.legs]


def test_a_layer_that_dries_out_is_asked_for_from_below() -> None:
    report = _report("soft-bread-with-emulsifier")
    lines = next(table for table in report.tables if table.name == "Specification").rows
    assert "moisture ≥ " in str(lines[0][1])
    assert "moisture ≥ " in next(str(row[1]) for row in lines if "drying out" in str(row[0]))


def test_every_number_used_is_listed_once_by_how_it_is_known() -> None:
    statement = keep(load(ROOT / "examples" / f"{SANDWICH}.yaml"))
    tables = [table for table in _report(SANDWICH).tables if table.name.startswith("Numbers ")]
    assert sum(len(table.rows) for table in tables) == len(statement.used)
    words = " ".join(str(cell) for table in tables for row in table.rows for cell in row)
    assert all(used.what in words for used in statement.used)


def test_evidence_is_counted_and_failures_are_not_hidden() -> None:
    rows = [
        row for row in run_evidence() if row.area not in ("dough and leavening", "oven") and not row.fitted
    ]
    table = next(table for table in _report(SANDWICH).tables if table.name == "Evidence")
    counts = {
        str(row[0]): [cell.value for cell in row[1:4] if isinstance(cell, Number)] for row in table.rows
    }
    assert set(counts) == {row.area for row in rows}
    for area in counts:
        here = [row for row in rows if row.area == area]
        within = sum(row.within for row in here)
        assert counts[area] == [len(here), within, len(here) - within]
    with_dough = next(table for table in _report(FORMULA).tables if table.name == "Evidence")
    assert len(with_dough.rows) == len(table.rows) + 1


def test_data_tables_are_those_of_the_pictures() -> None:
    report, statement = _report(LOAF), keep(load(ROOT / "examples" / f"{LOAF}.yaml"))
    for kind, name in (("profile", "Profile data"), ("shares", "Shares data"), ("stales", "Stales data")):
        table = next(table for table in report.tables if table.name == name)
        rows = KINDS[kind].table(statement)
        assert [column.head for column in table.columns] == list(rows[0])
        assert len(table.rows) == len(rows)
        assert len(table.printed) <= 17
        assert table.printed[-1] == table.rows[-1]
        last = [cell.value for cell in table.rows[-1] if isinstance(cell, Number)]
        assert last == [value for value in rows[-1].values() if isinstance(value, float)]


def test_the_date_comes_with_its_doubt_and_defers_to_the_law() -> None:
    statement = keep(load(ROOT / "examples" / f"{SANDWICH}.yaml"))
    words = " ".join(_read(html(_report(SANDWICH))).words)
    day = moment(statement.end, "2026-05-04")
    best = f"Best estimate of the first failure (crispness of the {statement.courses[0].layer}): {day}."
    assert best in words
    assert "no confidence is put on the date" in words
    assert "A computed date is not a legal date." in words
    assert "2 March 2026" in words


@pytest.mark.parametrize("name", ["hard-biscuit-plain", "rusk-open-in-damp-air", "crackers-with-dried-fruit"])
def test_every_kind_of_answer_makes_all_forms(name: str, tmp_path: Path) -> None:
    report = _report(name)
    for suffix, head in ((".pdf", b"%PDF"), (".html", b"<!DOCTYPE html>"), (".xlsx", b"PK")):
        assert write_report(report, tmp_path / f"out{suffix}").read_bytes().startswith(head)


def test_a_place_or_form_that_cannot_be_is_told_before_the_work(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    file = str(ROOT / "examples" / "hard-biscuit-plain.yaml")
    assert main(["report", file, "-o", str(tmp_path / "out.docx")]) == 2
    assert "out.pdf" in capsys.readouterr().err
    assert main(["report", file, "-o", str(tmp_path / "none" / "out.pdf")]) == 2
    assert "does not exist" in capsys.readouterr().err
    (tmp_path / "folder.html").mkdir()
    with pytest.raises(HardtackError, match="cannot write"):
        write_report(_report("hard-biscuit-plain"), tmp_path / "folder.html")


def test_the_command_writes_every_form_from_one_run(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    file = str(ROOT / "examples" / "hard-biscuit-plain.yaml")
    outs = [tmp_path / f"biscuit{suffix}" for suffix in (".pdf", ".html", ".xlsx")]
    words = [word for out in outs for word in ("-o", str(out))]
    assert main(["report", file, *words, "--title", "Release file 7", "--author", "A. N. Author"]) == 0
    said = capsys.readouterr().out
    assert all(f"Report written to {out}" in said for out in outs)
    page = outs[1].read_text("utf-8")
    assert "<h1>Release file 7</h1>" in page
    assert "A. N. Author" in page


def test_what_was_asked_beside_the_answer_stands_in_every_form() -> None:
    product = loads(starter("cracker"))
    shares: list[float] = []
    known = decision(product, Wanted(share=0.7, confidence=0.7, days=100.0), shares.append)
    assert shares == sorted(shares)
    report = keeping_report(product, made_on=DAY, known=known)
    assert known.certainty is not None
    assert known.measure_next is not None
    assert known.remedies is not None
    titles = [section.title for section in report.sections]
    asked = [
        "How sure: 70% of the packs, 70% confidence",
        "What to measure next",
        "Remedies: what gives 100 days",
        "Specification lines for 100 days",
    ]
    assert [title for title in titles if title in asked] == asked
    words = " ".join(_read(html(report)).words)
    read_back = "".join(_read_back(pdf(report)).split())
    lines = [one.setting.specification for one in known.remedies.sufficient]
    assert lines
    for said in (known.certainty.sentence, known.measure_next.sentence, known.remedies.sentence, *lines):
        assert " ".join(said.split()) in words
        assert "".join(said.split()) in read_back
    assert "no confidence is put on the date" not in words
    book = openpyxl.load_workbook(io.BytesIO(xlsx(report)))
    for name in ("First failures", "Measurements", "Variance", "Remedies", "Remedy lines", "Certainty data"):
        assert name in book.sheetnames
    plain = {section.title for section in keeping_report(product, made_on=DAY).sections}
    assert not plain & set(asked)


def test_a_trade_off_a_complaint_and_a_sweep_stand_in_every_form_when_asked(tmp_path: Path) -> None:
    plan = tmp_path / "plan.yaml"
    plan.write_text(
        f"hardtack sweep: 1\nproducts: [{ROOT / 'examples' / 'hard-biscuit-plain.yaml'}]\n"
        'designs: {crossed: {"biscuit: moisture": [2.0 %wb, 2.4 %wb]}}\n',
        encoding="utf-8",
    )
    assert main(["sweep", str(plan), "-o", str(tmp_path / "swept"), "--workers", "1"]) == 0
    out, book = tmp_path / "biscuit.html", tmp_path / "biscuit.xlsx"
    asked = ["--tradeoff", "biscuit: moisture", "pack: area", "--sweep", str(tmp_path / "swept")]
    asked += ["--complaint", str(ROOT / "examples" / "data" / "complaint-soft-biscuits.yaml")]
    file = str(ROOT / "examples" / "hard-biscuit-plain.yaml")
    assert main(["report", file, "-o", str(out), "-o", str(book), *asked]) == 0
    words = " ".join(_read(out.read_text("utf-8")).words)
    for said in (
        "Trade-off: biscuit: moisture and pack: area",
        "A complaint",
        "The likeliest cause is",
        "Sweep: plan",
        "100% finished",
    ):
        assert said in words
    names = openpyxl.load_workbook(book).sheetnames
    assert {"Trade-off 1", "A complaint 1", "A complaint 2", "Sweep 1"} <= set(names)


def test_a_notebook_shows_the_sentence_and_the_pictures() -> None:
    statement = invented.sandwich()
    shown = statement._repr_html_()
    assert statement.sentence in " ".join(_read(shown).words)
    assert shown.count("<svg") == 4  # no two stales without firming
    assert "<script" not in shown
    hostile = replace(statement, sentence=HOSTILE, chain=HOSTILE)
    assert "<script" not in hostile._repr_html_()


def test_a_pack_in_use_is_not_called_sealed_and_a_bake_has_its_section() -> None:
    report = _report("crackers-opened-at-home")
    packs = [str(row[4]) for row in next(table for table in report.tables if table.name == "Legs").rows]
    assert packs[0] == "sealed"
    assert packs[1].startswith("opened ")
    loaf = _report("bake-loaf")
    section = next(section for section in loaf.sections if section.title == "The bake")
    assert isinstance(section.blocks[0], Bullets)
    assert "leaves the oven at" in section.blocks[0].items[0]
    assert "bake" in [figure.kind for figure in loaf.figures]
    evidence = next(table for table in loaf.tables if table.name == "Evidence")
    assert {"oven", "dough and leavening"} <= {str(row[0]) for row in evidence.rows}
