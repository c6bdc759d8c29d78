"""The answers beside the statement: they say all the command line says, every number opens, long ones wait in line."""

from __future__ import annotations

import re
import statistics
import threading
import time
from collections.abc import Callable
from html import unescape
from pathlib import Path

import pytest

from hardtack.errors import HardtackError
from hardtack.keeping.bought_told import complaint_sections, remedies_sections, tradeoff_sections
from hardtack.keeping.complaint import complaint
from hardtack.keeping.dough_report import dough_report
from hardtack.keeping.dough_sections import dough_sections
from hardtack.keeping.dough_words import bench_words, heat_words, oven_words, proof_words
from hardtack.keeping.remedies import remedies
from hardtack.keeping.tradeoff import tradeoff
from hardtack.keeping.water_report import water_report
from hardtack.keeping.water_words import layer_words, rest_words, table_words
from hardtack.oven.storage import baked_once
from hardtack.oven.told import bake_sections
from hardtack.product import load, loads
from hardtack.product.found_spec import loads_found
from hardtack.states import Section
from hardtack.web import work
from tests.web.conftest import Bench, Client

SODA, LOAF = Path("examples/formula-soda-cracker.yaml"), Path("examples/bake-loaf.yaml")


def brought(client: Client, file: Path) -> str:
    """A product made of an example; gives its address."""
    with file.open("rb") as opened:
        made = client.post("/new", files={"file": (file.name, opened)})
    assert made.status_code == 303
    return str(made.headers["location"]).rpartition("/")[0]


def words(page: str) -> str:
    """What a page says, its markup taken off."""
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", page)).split())


def plain(text: str) -> str:
    return " ".join(text.split())


def test_the_dough_page_says_all_that_the_command_line_says(client: Client) -> None:
    root = brought(client, SODA)
    said = words(client.get(f"{root}/dough").text)
    (sheet,) = dough_report(load(SODA)).sheets
    assert bench_words(sheet)
    assert heat_words(sheet)
    for line in (bench_words(sheet), heat_words(sheet), oven_words(sheet)):
        assert plain(line) in said
    assert sheet.proved is not None
    assert proof_words(sheet.proved) in said
    for section in dough_sections(sheet):
        assert plain(section.title) in said
        for line in (*section.lines, *section.below, *(cell for row in section.rows for cell in row)):
            assert plain(line) in said, section.title


def test_the_water_page_says_all_that_the_command_line_says(client: Client) -> None:
    file = Path("examples/formula-sandwich.yaml")
    page = client.get(f"{brought(client, file)}/water").text
    said = words(page)
    report = water_report(load(file))
    assert len(report.temperatures) > 1
    for layer in report.layers:
        for line in layer_words(layer):
            assert plain(line) in said
        for T, row in zip(report.temperatures, layer.moistures, strict=True):
            assert f"{T - 273.15:.0f} °C {' '.join(table_words(row))}" in said
    for line in rest_words(report):
        assert plain(line) in said
    tables = re.findall(r'<caption><a href="([^"]+)"', page)
    assert len(tables) == len(report.layers)
    for address, layer in zip(tables, report.layers, strict=True):
        opened = words(client.get(unescape(address)).text)
        assert f"moistures of the {layer.name} over activity" in opened
        assert "Equation" in opened


def test_the_bake_page_says_all_that_the_command_line_says(client: Client) -> None:
    root = brought(client, LOAF)
    said = words(client.get(f"{root}/bake").text)
    for section in bake_sections(baked_once(load(LOAF))):
        for line in section.lines:
            assert plain(line) in said, section.title
    asked = words(client.get(f"{root}/bake", params={"moisture": "38 %wb"}).text)
    assert "38.00 % (wet basis) at the exit" in asked
    assert "to mend" in words(client.get(f"{root}/bake", params={"moisture": "38"}).text)


def test_an_oven_is_fitted_on_the_page_to_what_was_measured(client: Client) -> None:
    root = brought(client, Path("examples/bake-hard-biscuit.yaml"))
    page = client.get(f"{root}/bake", params={"factors": "fitted to what was measured"})
    said = words(page.text)
    assert "Fitted to the plant" in said
    assert "measured" in said
    opened = re.findall(r'href="([^"]*/why/computed-bake/0[^"]*)"', page.text)
    assert "Equation" in client.get(unescape(opened[0])).text
    assert "nothing was measured" in words(
        client.get(f"{brought(client, LOAF)}/bake", params={"factors": "fitted to what was measured"}).text
    )


@pytest.mark.parametrize("slug", ["dough", "bake", "water"])
def test_every_number_of_an_answer_opens_to_equation_inputs_source_and_provenance(
    client: Client, slug: str
) -> None:
    root = brought(client, LOAF)
    links = re.findall(rf'href="([^"]*/why/computed-{slug}/[^"]*)"', client.get(f"{root}/{slug}").text)
    assert len(links) >= 2
    for link in links:
        text = client.get(unescape(link)).text
        for word in ("Equation", "Source", "How it is known"):
            assert f"<dt>{word}</dt>" in text
        assert "What went into it" in text, link
        inputs = re.findall(rf'href="([^"]*/why/{slug}/[^"]*)"', text)
        assert client.get(unescape(inputs[0])).status_code == 200
    assert client.get(f"{root}/why/computed-{slug}/999").status_code == 404


def until(done: Callable[[], bool], seconds: float = 240.0) -> None:
    """Wait until something is so."""
    end = time.monotonic() + seconds
    while not done():
        assert time.monotonic() < end
        time.sleep(0.05)


def test_where_is_worked_out_in_the_background_to_the_end(bench: Bench) -> None:
    progress = f"{bench.root}/long/where"
    assert bench.client.get(progress).json()["state"] == "none"
    begun = bench.client.post(progress)
    assert begun.headers["location"] == f"{bench.root}/where"
    page = bench.page("where")
    assert "stop it" in page
    assert "<progress" in page
    shares = []

    def done() -> bool:
        now = bench.client.get(progress).json()
        shares.append(now["share"])
        bench.page("statement")  # other pages are there meanwhile
        return bool(now["state"] == "done")

    until(done)
    assert shares == sorted(shares)
    said = words(bench.page("where"))
    assert "Places, the shortest first" in said
    assert "from packing." in said
    assert bench.client.get(f"{bench.root}/figure/where.svg").text.startswith("<svg")
    api = bench.client.get(f"/api/v1/products/{bench.id}/where")
    assert api.status_code == 200
    assert api.json()["schema"].startswith("hardtack where")
    bench.send("pack", **{"v:pack/film": "metallised BOPP"})  # another state has another answer
    assert "work it out" in bench.page("where")


def test_long_work_is_stopped_and_asked_again_through_the_api(bench: Bench) -> None:
    progress, api = f"{bench.root}/long/where", f"/api/v1/products/{bench.id}/where"
    bench.send("pack", **{"v:pack/area": "0.0567 m2"})  # not yet asked about
    first = bench.client.get(api)
    assert first.status_code == 202
    assert set(first.json()) == {"state", "share", "before"}
    bench.client.post(progress, data={"act": "stop"})
    until(lambda: bench.client.get(progress).json()["state"] == "stopped")
    assert "It was stopped." in bench.page("where")
    assert bench.client.get(api).status_code == 202  # begun again
    bench.client.post(progress, data={"act": "stop"})


def test_a_fault_in_the_product_is_told_and_the_line_goes_on(bench: Bench) -> None:
    bench.send("piece", **{"v:piece/mass": "heavy"})
    assert bench.client.post(f"{bench.root}/long/where").status_code == 422
    assert "to mend" in bench.page("where")
    assert bench.client.post(f"{bench.root}/long/dough").status_code == 404


def test_the_line_is_one_worker_long_bounded_and_survives_faults() -> None:
    gate, order = threading.Event(), []

    def held(heard: work.Heard) -> str:
        gate.wait(60)
        order.append("held")
        return "held"

    def breaks(heard: work.Heard) -> str:
        raise ZeroDivisionError

    first = work.begin(("line", "held"), ("line", "held"), held)
    until(lambda: first.state == "running")
    assert work.begin(("line", "held"), ("line", "held"), held) is first
    broken = work.begin(("line", "broken"), ("line", "broken"), breaks)
    waiting = [
        work.begin((f"p{k}", "x"), ("line", k), lambda heard, k=k: order.append(k))
        for k in range(work.WAITING - 1)
    ]
    assert work.before(waiting[3]) == 4
    with pytest.raises(HardtackError, match="wait for long answers"):
        work.begin(("p", "y"), ("line", "one too many"), held)
    work.stop(("p2", "x"))
    gate.set()
    until(lambda: not any(each.going for each in (first, broken, *waiting)))
    assert broken.state == "failed"
    assert "ZeroDivisionError" in broken.problems[0].what
    assert [each.state for each in waiting[:4]] == ["done", "done", "stopped", "done"]
    assert order == ["held", *(k for k in range(work.WAITING - 1) if k != 2)]


def test_fifty_people_are_answered_while_someone_waits_for_where(bench: Bench, client: Client) -> None:
    benches = [
        client.post("/new", data={"kind": "biscuit"}).headers["location"].split("/")[2] for _ in range(50)
    ]
    bench.send("pack", **{"v:pack/area": "0.0765 m2"})
    bench.client.post(f"{bench.root}/long/where")
    times: list[float] = []
    together = threading.Barrier(len(benches))

    def ask(k: int) -> None:
        with Client(client.base) as mine:
            together.wait()
            start = time.perf_counter()
            answer = mine.post(
                f"/p/{benches[k]}/product/live", data={"seq": "1", "v:name": f"Person {k} of many"}
            )
            assert f"Person {k} of many loses" in answer.json()["says"]
            times.append(time.perf_counter() - start)

    people = [threading.Thread(target=ask, args=(k,)) for k in range(len(benches))]
    for person in people:
        person.start()
    for person in people:
        person.join(120)
    state = bench.client.get(f"{bench.root}/long/where").json()["state"]
    bench.client.post(f"{bench.root}/long/where", data={"act": "stop"})
    assert len(times) == len(benches)
    print(
        f"50 at once beside long work ({state}): median {statistics.median(times):.2f} s, slowest {max(times):.2f} s"
    )
    assert state in ("running", "waiting", "done")


def worked_out(bench: Bench, slug: str, **given: str) -> str:
    """A long page's whole text, after its work came to the end."""
    address = f"{bench.root}/long/{slug}"
    begun = bench.client.post(address, data=given)
    assert begun.status_code == 303, begun.text
    at = str(begun.headers["location"])
    query = at.partition("?")[2]
    until(lambda: bench.client.get(f"{address}?{query}").json()["state"] in ("done", "failed"))
    return bench.client.get(at).text


def all_said(page: str, sections: tuple[Section, ...]) -> None:
    said = words(page)
    assert sections
    for section in sections:
        for line in (*section.lines, *section.below, *(cell for row in section.rows for cell in row)):
            assert plain(line) in said, section.title


def test_remedies_are_worked_out_and_their_lines_stand_in_the_report(bench: Bench) -> None:
    early = bench.client.get(f"{bench.root}/report/html", params={"days": "100"})
    assert early.status_code == 422
    assert "has not been worked out yet" in early.text
    page = worked_out(bench, "remedies", days="100")
    answer = remedies(loads(bench.text), 100.0)
    all_said(page, remedies_sections(answer))
    links = re.findall(r'href="([^"]*/report/[^"]*)"', page)
    assert len(links) == 3
    report = words(bench.client.get(unescape(links[0])).text)
    assert "Specification lines for 100 days" in report
    for one in answer.sufficient:
        assert plain(one.setting.specification) in report
    plain_report = words(bench.client.get(f"{bench.root}/report/html").text)
    assert "for 100 days" not in plain_report


def test_days_that_say_nothing_are_told_beside_the_form(bench: Bench) -> None:
    assert "no days are wanted yet" in words(worked_out(bench, "remedies", days=""))
    assert "to mend" in words(worked_out(bench, "remedies", days="many"))
    assert "at most 1095 days" in words(worked_out(bench, "remedies", days="9999"))


def test_a_trade_off_runs_over_the_inputs_chosen(bench: Bench) -> None:
    page = bench.page("tradeoff")
    offered = re.findall(r"<option[^>]*>([^<]*)</option>", page)
    assert offered[0] == "cracker: moisture"
    given = {"a": "cracker: moisture", "b": "pack: area", "days": "90"}
    answer = tradeoff(loads(bench.text), "cracker: moisture", "pack: area", days=90.0)
    all_said(worked_out(bench, "tradeoff", **given), tradeoff_sections(answer))
    assert "begin with the lower" in words(
        worked_out(bench, "tradeoff", **given, **{"a from": "4 %wb", "a to": "2 %wb"})
    )


def test_a_complaint_is_weighed_from_its_fields_and_from_its_file(bench: Bench) -> None:
    text = "hardtack complaint: 1\nday: 40 days\nfound: [{layer: cracker, moisture: 5.9 ± 0.2 %wb}]\nseen: [soft]\n"
    sections = complaint_sections(complaint(loads(bench.text), loads_found(text)))
    fields = {"day": "40 days", "layer": "cracker", "moisture": "5.9 ± 0.2 %wb", "seen": "soft"}
    all_said(worked_out(bench, "complaint", leg="the one of that day", **fields), sections)
    all_said(worked_out(bench, "complaint", file=text), sections)
    assert "is missing" in words(worked_out(bench, "complaint", moisture="5 %wb"))
    wrong = words(worked_out(bench, "complaint", **{**fields, "seen": 'sof"t: {x'}))
    assert "is no word for what is seen" in wrong
    assert "line 1" not in wrong


def test_certainty_and_what_to_measure_next_come_to_their_end_and_into_the_report(bench: Bench) -> None:
    page = worked_out(bench, "certainty", share="70 %", confidence="70 %")
    assert "With 70% confidence, at least 70% of the packs" in words(page)
    assert "What fails first, in what share of the samples" in words(page)
    report = unescape(re.findall(r'href="([^"]*/report/html[^"]*)"', page)[0])
    first = words(bench.client.get(report).text)
    assert "How sure: 70% of the packs, 70% confidence" in first
    assert "no confidence is put on the date" not in first
    assert "What to measure next" not in first
    following = words(worked_out(bench, "measure-next", share="70 %", confidence="70 %"))
    assert "Measurements, by the days they would firm the stated date up" in following
    assert "What to measure next" in words(bench.client.get(report).text)
    assert "1 thing to mend" in words(worked_out(bench, "certainty", share="170 %"))
    usual = worked_out(bench, "certainty", share="90 %", confidence="80 %")
    assert bench.page("certainty") == usual  # what is usual is the same question as none
    link = unescape(re.findall(r'href="([^"]*/report/html[^"]*)"', usual)[0])
    assert "How sure: 90% of the packs, 80% confidence" in words(bench.client.get(link).text)
