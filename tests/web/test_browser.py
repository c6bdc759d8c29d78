"""The pages in a real browser: by keyboard, live, accessible, on a laptop and a phone, with nothing from outside."""

from __future__ import annotations

import re
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from hardtack.web.answers import ANSWERS
from hardtack.web.stages import OTHERS, STAGES
from tests.web.chromium import Watch, browser

pytestmark = pytest.mark.chromium
PAGES = tuple(each.slug for each in (*STAGES, *OTHERS, *ANSWERS))
expect.set_options(timeout=30_000)  # a busy machine is no fault
LAPTOP = {"width": 1280, "height": 800}
PHONE = {"width": 390, "height": 844}


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    """One browser for all."""
    with browser() as running:
        yield running


@pytest.fixture
def tab(chromium: Browser, site: str) -> Iterator[Page]:
    """A fresh tab at laptop width; nothing may go wrong in it, and nothing be asked of other machines."""
    context = chromium.new_context(viewport=LAPTOP, base_url=site)
    page = context.new_page()
    watch = Watch(page, site)
    yield page
    context.close()
    assert watch.faults == []


def begin(tab: Page, kind: str = "cracker") -> str:
    """A new product; gives its address."""
    tab.goto("/")
    tab.get_by_role("button", name=kind, exact=True).click()
    tab.wait_for_url("**/product")
    return re.sub(r"/product$", "", tab.url)


def drawn(tab: Page) -> None:
    expect(tab.locator(".drawing svg").first).to_be_visible(timeout=30_000)


def kept(tab: Page) -> None:
    expect(tab.locator("[data-saved]")).to_have_text("Every change is kept.", timeout=15_000)


def test_a_pasted_formula_a_changed_film_and_two_versions_compared(tab: Page) -> None:
    product = begin(tab)
    tab.locator("#at-formulas-name").fill("dough")
    tab.get_by_role("button", name="add formulas").click()
    grid = tab.locator("[data-grid]")
    expect(grid.get_by_label("ingredient of row 1")).to_have_value("bread flour")
    grid.get_by_label("ingredient of row 1").focus()
    tab.keyboard.press("Enter")  # a new row below the last
    expect(grid.get_by_label("ingredient of row 2")).to_be_focused()
    rows = "water\\t30\\npalm oil\\t12,5 %\\nsalt\\t1.5"
    grid.get_by_label("ingredient of row 2").evaluate(
        f"""(input) => {{ const data = new DataTransfer(); data.setData("text/plain", "{rows}");
        input.dispatchEvent(new ClipboardEvent("paste", {{clipboardData: data, bubbles: true, cancelable: true}})); }}"""
    )
    expect(grid.get_by_label("amount of row 3").first).to_have_value("12.5 %")
    expect(grid.get_by_label("ingredient of row 4")).to_have_value("salt")
    grid.get_by_label("ingredient of row 1").focus()
    for key, row in (("ArrowDown", 2), ("ArrowDown", 3), ("ArrowUp", 2)):
        tab.keyboard.press(key)
        expect(grid.get_by_label(f"ingredient of row {row}")).to_be_focused()
    tab.keyboard.press("ArrowRight")
    expect(grid.get_by_label("amount of row 2").first).to_be_focused()

    tab.goto(f"{product}/piece")
    tab.get_by_text("more about cracker").click()
    tab.locator("[name='v:piece/layers/0/formula']").fill("dough")
    for gone in ("isotherm", "activity", "activity at"):
        tab.locator(f"[name='v:piece/layers/0/{gone}']").fill("")
    kept(tab)
    expect(tab.locator("#said .sentence")).to_contain_text("loses its snap", timeout=15_000)
    before = tab.locator("#said .sentence").inner_text()
    tab.goto(f"{product}/pack")
    tab.get_by_label("film", exact=True).fill("metallised BOPP")
    kept(tab)
    expect(tab.locator("#said .sentence")).not_to_have_text(before, timeout=15_000)
    tab.goto(f"{product}/statement")
    drawn(tab)
    assert tab.locator("main p").first.inner_text() != before  # the sentence comes first
    tab.goto(f"{product}/compare")
    drawn(tab)
    expect(tab.locator("main")).to_contain_text("metallised BOPP")
    tab.get_by_role("link", name="Statement", exact=True).click()
    tab.locator("a[href*='/why/failure/']").first.click()
    expect(tab.get_by_text("Equation")).to_be_visible()
    tab.goto(f"{product}/statement")
    with tab.expect_download() as taken:
        tab.get_by_role("link", name="PDF").click()
    assert taken.value.suggested_filename.endswith(".pdf")
    tab.get_by_role("link", name="read", exact=True).click()
    expect(tab.get_by_role("heading", level=1)).to_contain_text("Keeping report")


def test_a_messy_file_is_read_asked_fitted_and_put_in_and_the_date_moves(tab: Page, tmp_path: Path) -> None:
    product = begin(tab)
    tab.goto(f"{product}/statement")
    before = tab.locator(".sentence").first.inner_text()
    messy = tmp_path / "jars of march.csv"
    messy.write_text(
        "Laboratory: invented;;\n;;\naw;Moisture;Remark\n0,11;2,9;\n0,23;3,9;\n0,33;4,7;\n0,43;5,6;\n0,53;6,8;\n"
        "0,65;8,9;\n0,75;11,6;\n0,81;14,3;\nmean;7,3;\n",
        "cp1252",
    )
    tab.goto(f"{product}/measurements")
    tab.set_input_files("#file", messy)
    tab.get_by_role("button", name="bring it").click()
    expect(tab.get_by_role("heading", name="What the file leaves open")).to_be_visible()
    for question in tab.locator("select[name='say.moisture basis']").all():
        question.select_option("dry")
    for question in tab.locator("select[name='say.moisture unit']").all():
        question.select_option("percent")
    tab.get_by_role("button", name="answer").click()
    for _ in range(3):  # what stays open after the first answers
        if not tab.get_by_role("button", name="answer").is_visible():
            break
        tab.locator("select[name='say.moisture unit']").select_option("percent")
        tab.get_by_role("button", name="answer").click()
    expect(tab.get_by_role("heading", name="What was understood")).to_be_visible()
    expect(tab.locator("main")).to_contain_text("set aside")
    tab.locator("summary", has_text="Isotherm of a layer").click()
    tab.locator("details[open]").get_by_label("temperature").fill("25 degC")
    tab.get_by_role("button", name="fit Isotherm of a layer").click()
    tab.get_by_role("button", name="put it in").click()
    tab.wait_for_url("**/statement")
    drawn(tab)
    after = tab.locator(".sentence").first.inner_text()
    assert after != before  # the date moved
    expect(tab.locator("main")).to_contain_text("measured here")
    with tab.expect_download() as taken:
        tab.get_by_role("link", name="workbook").click()
    assert taken.value.suggested_filename.endswith(".xlsx")
    tab.get_by_role("link", name="read", exact=True).click()
    expect(tab.get_by_role("heading", level=1)).to_contain_text("Keeping report")
    expect(tab.locator("body")).to_contain_text(after)
    expect(tab.locator("body")).to_contain_text("measured here")


def brought(tab: Page, name: str) -> str:
    """A product made of an example; gives its address."""
    tab.goto("/")
    tab.set_input_files("#file", f"examples/{name}.yaml")
    tab.get_by_role("button", name="bring it").click()
    tab.wait_for_url("**/product")
    return re.sub(r"/product$", "", tab.url)


def test_where_shows_how_far_it_is_goes_on_without_a_watcher_and_ends_with_a_picture(tab: Page) -> None:
    product = begin(tab, "biscuit")
    tab.goto(f"{product}/where")
    tab.get_by_role("button", name="work it out").click()
    expect(tab.get_by_role("status")).to_contain_text(re.compile("Under way|Waiting"))
    tab.goto(f"{product}/pack")  # away, and something is changed back and forth
    area = tab.get_by_label("area", exact=True)
    was = area.input_value()
    area.fill("0.0333 m2")
    kept(tab)
    area.fill(was)
    kept(tab)
    tab.goto(f"{product}/where")
    expect(tab.get_by_role("heading", name="Places, the shortest first")).to_be_visible(timeout=240_000)
    drawn(tab)


def worked_out(tab: Page) -> None:
    """Begin long work and wait for its end."""
    tab.get_by_role("button", name="work it out").click()
    expect(tab.locator("main figure")).to_be_visible(timeout=240_000)
    drawn(tab)


def test_from_the_statement_to_remedies_to_a_report_with_their_lines(tab: Page) -> None:
    product = begin(tab)
    tab.goto(f"{product}/statement")
    tab.get_by_role("link", name="Remedies", exact=True).click()
    tab.get_by_label("days wanted, from packing").fill("110")
    worked_out(tab)
    expect(tab.get_by_role("heading", name="Each of these alone gives 110 days")).to_be_visible()
    expect(tab.get_by_label("days wanted, from packing")).to_have_value("110")
    found: list[tuple[str, str, str]] = []
    look(tab, tab.url, found)
    assert found == [], found
    line = tab.get_by_role("region", name="Specification lines").locator("li").first.inner_text()
    with tab.expect_download() as taken:
        tab.get_by_role("link", name="PDF").click()
    assert taken.value.suggested_filename.endswith(".pdf")
    tab.get_by_role("link", name="read", exact=True).click()
    expect(tab.get_by_role("heading", name="Specification lines for 110 days")).to_be_visible()
    expect(tab.locator("body")).to_contain_text(line)


def test_certainty_comes_to_its_end_with_a_picture_and_numbers(tab: Page) -> None:
    product = begin(tab, "biscuit")
    tab.goto(f"{product}/certainty")
    tab.get_by_label("share of the packs still good").fill("70 %")
    worked_out(tab)
    expect(tab.locator(".sentence").first).to_contain_text("With 80% confidence, at least 70% of the packs")
    found: list[tuple[str, str, str]] = []
    look(tab, tab.url, found)
    assert found == [], found


def test_a_trade_off_and_a_complaint_are_worked_out_accessibly(tab: Page) -> None:
    product = begin(tab)
    found: list[tuple[str, str, str]] = []
    tab.goto(f"{product}/tradeoff")
    tab.get_by_label("across").select_option("pack: area")
    tab.get_by_label("days wanted, if any").fill("90")
    worked_out(tab)
    look(tab, tab.url, found)
    tab.goto(f"{product}/complaint")
    tab.get_by_label("found how long after packing").fill("40 days")
    tab.get_by_label("its moisture").fill("5.9 ± 0.2 %wb")
    worked_out(tab)
    expect(tab.locator("main")).to_contain_text("The likeliest cause")
    look(tab, tab.url, found)
    tab.goto("/sweeps")
    expect(tab.locator("main")).to_contain_text("hardtack serve --sweeps FOLDER")
    assert found == [], found


def test_long_work_is_stopped_by_its_button(tab: Page) -> None:
    product = begin(tab)
    tab.goto(f"{product}/pack")
    tab.get_by_label("area", exact=True).fill("0.0777 m2")
    kept(tab)
    tab.goto(f"{product}/where")
    tab.get_by_role("button", name="work it out").click()
    tab.get_by_role("button", name="stop it").click()
    expect(tab.get_by_text("It was stopped.")).to_be_visible()


def test_what_the_isotherms_error_does_comes_after_the_change(tab: Page) -> None:
    product = brought(tab, "formula-soda-cracker")
    tab.goto(f"{product}/pack")
    drawn(tab)
    expect(tab.locator("#said")).to_contain_text("that alone moves the date")
    tab.get_by_label("area", exact=True).fill("0.07 m2")
    kept(tab)
    expect(tab.locator("#said")).to_contain_text("that alone moves the date")
    said = tab.locator("[data-rest]").inner_text()
    tab.goto(f"{product}/statement")
    expect(tab.locator("main")).to_contain_text(said)


def test_a_link_leads_to_what_is_not_judged_yet(tab: Page) -> None:
    product = begin(tab)
    tab.goto(f"{product}/statement")
    tab.locator("summary", has_text="Not judged").click()
    tab.get_by_role("link", name="write it on Limits (rancidity)").click()
    expect(tab.locator("#at-failures-rancidity")).to_be_in_viewport()
    expect(tab.locator("[name='v:failures/rancidity/fat']")).to_be_visible()


def test_a_mistake_is_shown_where_it_is_and_undo_takes_it_back(tab: Page) -> None:
    product = begin(tab)
    tab.goto(f"{product}/piece")
    sentence = tab.locator("#said .sentence").inner_text()
    mass = tab.get_by_label("mass", exact=True)
    mass.fill("7.6")
    kept(tab)
    expect(mass).to_have_attribute("aria-invalid", "true")
    expect(tab.locator("#at-piece-mass-wrong")).to_be_visible()
    expect(tab.locator("#said .sentence")).to_have_text(sentence)
    tab.reload()
    expect(mass).to_have_value("7.6")  # nothing typed is lost
    tab.get_by_role("button", name="undo").click()
    expect(mass).to_have_value("7.6 g")
    expect(mass).not_to_have_attribute("aria-invalid", "true")
    tab.get_by_role("button", name="redo").click()
    expect(mass).to_have_value("7.6")
    tab.goto(f"{product}/piece#at-piece-mass")  # a deep link
    expect(mass).to_be_in_viewport()


def test_only_the_newest_answer_is_shown(tab: Page) -> None:
    product = begin(tab)
    tab.goto(f"{product}/pack")
    drawn(tab)
    area = tab.get_by_label("area", exact=True)
    area.fill("")
    area.press_sequentially("0.0321 m2", delay=15)
    kept(tab)
    tab.reload()
    expect(area).to_have_value("0.0321 m2")
    shown = tab.locator("#said .sentence").inner_text()
    tab.goto(f"{product}/statement")
    assert tab.locator(".sentence").first.inner_text() == shown


def look(tab: Page, address: str, found: list[tuple[str, str, str]]) -> None:
    """Note every accessibility violation of a page, and whatever is wider than the screen, on a laptop and a phone."""
    tab.goto(address)
    if tab.locator(".drawing").count():
        drawn(tab)
    for width in (LAPTOP, PHONE):
        tab.set_viewport_size(width)  # type: ignore[arg-type]
        for each in Axe().run(tab).response["violations"]:
            found.append((address, each["id"], each["nodes"][0]["html"][:160]))
        wide = tab.evaluate("document.documentElement.scrollWidth - window.innerWidth")
        if wide > 0:
            found.append((address, f"{wide} px too wide at {width['width']}", ""))
    tab.set_viewport_size(LAPTOP)  # type: ignore[arg-type]


def test_no_accessibility_violation_and_nothing_wider_than_the_screen(chromium: Browser, site: str) -> None:
    """Each page once: as a laptop shows it, then narrowed to a phone."""
    context = chromium.new_context(viewport=LAPTOP, base_url=site)  # type: ignore[arg-type]
    tab = context.new_page()
    watch = Watch(tab, site)
    product = begin(tab)
    tab.locator("#at-formulas-name").fill("dough")
    tab.get_by_role("button", name="add formulas").click()
    tab.goto(f"{product}/piece")
    tab.get_by_label("mass", exact=True).fill("heavy")  # pages with something to mend count as well
    kept(tab)
    addresses = [f"{product}/{name}" for name in PAGES] + [
        f"{product}/why/used/0", f"{product}/why/failure/0", "/", "/sweeps", "/reference", "/reference?word=cracker",
        "/api",
    ]  # fmt: skip
    found: list[tuple[str, str, str]] = []
    for address in addresses:
        look(tab, address, found)
    whole = brought(tab, "bake-cracker")  # and those of a product that has all of them
    for name in (
        "dough",
        "bake",
        "water",
        "oven",
        "why/computed-bake/0",
        "why/computed-dough/1",
        "why/bake/0",
        "product",
    ):
        look(tab, f"{whole}/{name}", found)
    context.close()
    assert found == [], found
    assert watch.faults == []


def test_every_page_by_keyboard_alone(tab: Page) -> None:
    begin(tab)
    tab.keyboard.press("Tab")
    expect(tab.get_by_role("link", name="To the content")).to_be_focused()
    seen = set()
    for _ in range(60):
        tab.keyboard.press("Tab")
        seen.add(
            tab.evaluate(
                "document.activeElement.name || document.activeElement.textContent.trim().slice(0, 40)"
            )
        )
    assert {"Statement", "v:name", "v:kind", "n:formulas", "act"} <= seen


def test_without_scripts_every_picture_and_flow_is_there(chromium: Browser, site: str) -> None:
    context = chromium.new_context(java_script_enabled=False, viewport=LAPTOP, base_url=site)  # type: ignore[arg-type]
    tab = context.new_page()
    product = begin(tab)
    tab.goto(f"{product}/pack")
    before = tab.locator("#said .sentence").inner_text()
    tab.get_by_label("area", exact=True).fill("0.09 m2")
    tab.get_by_role("button", name="Save").click()
    assert tab.locator("#said .sentence").inner_text() != before
    image = tab.locator("#said figure img")
    expect(image).to_be_visible()
    box = image.bounding_box()
    assert box is not None
    assert box["width"] > 200
    tab.goto(f"{product}/remedies")
    tab.get_by_label("days wanted, from packing").fill("85")
    tab.get_by_role("button", name="work it out").click()
    answer = tab.get_by_role("heading", name="Each of these alone gives 85 days")
    for _ in range(400):  # as a person does: look again
        if answer.count():
            break
        tab.wait_for_timeout(300)
        tab.reload()
    expect(answer).to_be_visible()
    expect(tab.locator("main figure img")).to_be_visible()
    context.close()


def test_a_changed_input_redraws_soon(tab: Page) -> None:
    """That it redraws, and no slower than a person bears on a busy machine; benchmarks/page_latency.py measures."""
    product = begin(tab)
    tab.goto(f"{product}/pack")
    drawn(tab)
    area = tab.get_by_label("area", exact=True)
    for value in ("0.05 m2", "0.055 m2"):
        sentence = tab.locator("#said .sentence").inner_text()
        start = time.perf_counter()
        area.fill(value)
        expect(tab.locator("#said .sentence")).not_to_have_text(sentence)
        assert time.perf_counter() - start < 3.0
