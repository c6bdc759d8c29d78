"""The pages without scripts: every flow by forms, from the formula to the statement and back."""

from __future__ import annotations

import re
from html import unescape

import pytest

from hardtack.ledger import edit_at
from hardtack.product import json_schema, kinds, loads, starter
from hardtack.web.edits import changes
from hardtack.web.forms import Forms, Group, joined, schema, split_origin
from hardtack.web.stages import OTHERS, STAGES, keys_of
from tests.web.conftest import Bench, Client

SANDWICH = "tests/product/sandwich.yaml"


def sentence(page: str) -> str:
    found = re.search(r'<p class="sentence[^"]*">(.*?)</p>', page, re.S)
    assert found
    return unescape(found[1])


def test_every_key_of_the_product_file_has_a_page() -> None:
    known = tuple(json_schema()["properties"])
    shown = [key for each in STAGES for key in keys_of(each, known)]
    assert sorted(shown) == sorted(key for key in known if key != "hardtack")
    assert keys_of(STAGES[0], (*known, "brand new"))[-1] == "brand new"


@pytest.mark.parametrize("kind", kinds())
def test_a_form_sent_back_unchanged_changes_nothing(kind: str) -> None:
    from hardtack.product.tree import read_tree

    text = starter(kind)
    forms = Forms(read_tree(text, "x"), ())
    sent = {}
    for part in forms.parts(tuple(key for key in schema()["properties"] if key != "hardtack")):
        sent |= _fields(part)
    assert len(sent) > 30
    assert changes(text, sent) == ()
    assert (
        joined(*split_origin("2.6 ± 0.2 %wb [measured here, three pans]"))
        == "2.6 ± 0.2 %wb [measured here, three pans]"
    )


def _fields(part: object) -> dict[str, str]:
    if not isinstance(part, Group):
        sent = {f"v:{part.place}": part.value}  # type: ignore[attr-defined]
        return sent | ({f"o:{part.place}": part.origin} if part.kind == "amount" else {})  # type: ignore[attr-defined]
    inner = (
        [*part.parts, *(cell for row in (*part.grid.rows, *part.grid.rest) for cell in row)]
        if part.grid
        else part.parts
    )
    return {name: value for each in inner for name, value in _fields(each).items()}


def test_every_page_of_a_product_answers(bench: Bench) -> None:
    for each in (*STAGES, *OTHERS):
        text = bench.page(each.slug)
        assert text.count("<h1") == 1
        assert 'aria-current="page"' in text
    for path in ("/", "/reference", "/reference?topic=films", "/reference?word=cracker", "/api"):
        assert bench.client.get(path).status_code == 200
    assert bench.client.get(bench.root).headers["location"] == f"{bench.root}/statement"


@pytest.mark.parametrize(
    "name", ["crackers-with-dried-fruit", "crusty-loaf-in-plastic", "wafer-with-cream-in-chocolate"]
)
def test_every_page_answers_for_pieces_of_several_kinds_bread_and_filled_goods(
    client: Client, name: str
) -> None:
    with open(f"examples/{name}.yaml", "rb") as file:
        made = client.post("/new", files={"file": (f"{name}.yaml", file)})
    root = made.headers["location"].rpartition("/")[0]
    for each in (*STAGES, *OTHERS):
        answer = client.get(f"{root}/{each.slug}")
        assert answer.status_code == 200, each.slug
        assert "to mend</strong>" not in answer.text, each.slug
    statement = client.get(f"{root}/statement").text
    assert "Not judged" in statement
    for link in re.findall(r'href="(/p/[^"]*/why/failure/[^"]*)"', statement):
        assert "share" in client.get(unescape(link)).text


def test_a_better_film_moves_the_date_and_undo_moves_it_back(bench: Bench) -> None:
    before = sentence(bench.page("statement"))
    assert "on day 70" in before  # as `hardtack keep` says of the same file
    bench.send("pack", **{"v:pack/film": "metallised BOPP"})
    after = sentence(bench.page("statement"))
    assert after != before
    compared = bench.page("compare")
    assert "OPP 20 um" in compared
    assert "metallised BOPP" in compared
    assert re.search(r"\+\d+\.\d days", compared)
    undone = bench.client.post(f"{bench.root}/undo", data={"back": "pack"})
    assert undone.headers["location"] == f"{bench.root}/pack"
    assert sentence(bench.page("statement")) == before
    bench.client.post(f"{bench.root}/redo", data={"back": "../../evil"})
    assert sentence(bench.page("statement")) == after
    bench.send("history", state="1")
    assert bench.text == starter("cracker")


def test_two_people_changing_different_fields_keep_both(bench: Bench) -> None:
    base = str(bench.seq)
    bench.send("pack", seq=base, **{"v:pack/area": "0.05 m2", "v:pack/headspace": "120 mL"})
    bench.send("pack", seq=base, **{"v:pack/area": "0.045 m2", "v:pack/headspace": "90 mL"})
    pack = loads(bench.text).pack
    assert pack is not None
    assert (pack.area.written, pack.headspace.written) == ("0.05 m2", "90 mL")


def test_a_mistake_is_kept_told_beside_its_field_and_the_last_good_answer_stays(bench: Bench) -> None:
    before = sentence(bench.page("statement"))
    bench.send("piece", **{"v:piece/layers/0/moisture": "2.6", "v:piece/mass": "heavy"})
    text = bench.page("piece")
    for id in ("at-piece-layers-0-moisture", "at-piece-mass"):
        assert re.search(rf'id="{id}"[^>]*aria-invalid="true"', text)
        assert re.search(rf'<ul class="wrong" id="{id}-wrong">\s*<li>', text)
    assert sentence(text) == before  # of the last state in order
    assert "state 1" in text
    assert "2.6" in bench.text  # nothing typed is lost
    assert "2 things to mend" in bench.page("file")


def test_lists_grow_move_and_shrink_by_buttons(bench: Bench) -> None:
    def legs() -> list[str]:
        return [leg.leg for leg in loads(bench.text).journey]

    assert bench.send("journey", act="add:journey:0").endswith("#at-journey")
    assert legs() == ["warehouse", "sea container", "new leg", "shop on the coast"]
    bench.send("journey", act="up:journey/2")
    bench.send("journey", act="again:journey/1", **{"v:journey/1/leg": "van"})
    assert legs() == ["warehouse", "van", "van", "sea container", "shop on the coast"]
    bench.send("journey", act="out:journey/1")
    assert legs() == ["warehouse", "van", "sea container", "shop on the coast"]
    bench.send("pack", act="open:pack/film:0")
    assert "transmission" in bench.page("pack")
    assert sentence(bench.page("statement")).startswith("Invented lean cracker loses its snap")
    bench.send("pack", act="out:pack/film")
    assert "&#39;film&#39; is missing" in bench.page("pack")
    for deed in ("add:journey:9", "fly:away", "up:journey/99", "add:name:0"):
        answer = bench.client.post(f"{bench.root}/journey", data={"act": deed})
        assert answer.status_code == 422


def test_a_pasted_formula_comes_to_an_isotherm_and_a_date(bench: Bench) -> None:
    bench.send("product", act="name:formulas", **{"n:formulas": "dough"})
    place = "formulas/dough/ingredients"
    rows = "Ingredient\tAmount\nwater\t28\npalm oil\t12,5 %\nsugar\t4\nsalt\t1.5"
    bench.send("product", act=f"paste:{place}", **{f"p:{place}": rows})
    layer = "piece/layers/0"
    bench.send(
        "piece",
        **{f"v:{layer}/formula": "dough", f"v:{layer}/isotherm": "", f"v:{layer}/activity": "", f"v:{layer}/activity at": ""},
    )  # fmt: skip
    product = loads(bench.text)
    lines = product.formulas["dough"].ingredients
    assert [(line.ingredient, line.amount.written) for line in lines] == [
        ("bread flour", "100 %"), ("water", "28 %"), ("palm oil", "12.5 %"), ("sugar", "4 %"), ("salt", "1.5 %"),
    ]  # fmt: skip
    assert "loses its snap" in sentence(bench.page("statement"))
    assert "palm oil" in bench.page("water")


def test_every_number_opens_to_its_source(bench: Bench) -> None:
    page = bench.page("statement")
    links = re.findall(r'href="(/p/[^"]*/why/[^"]*)"', page)
    assert len(links) > 15
    for link in links:
        text = bench.client.get(unescape(link)).text
        for word in ("Equation", "Source", "How it is known"):
            assert f"<dt>{word}</dt>" in text
    first = bench.client.get(unescape(links[0])).text
    assert "What went into it" in first
    assert bench.client.get(f"{bench.root}/why/used/9999").status_code == 404
    assert bench.client.get(f"{bench.root}/why/nothing/0").status_code == 404


def test_pictures_come_as_svg_with_their_words(bench: Bench) -> None:
    for slug in ("ladder", "journey", "life", "isotherms"):
        answer = bench.client.get(f"{bench.root}/figure/{slug}.json")
        assert answer.json()["description"]
    svg = bench.client.get(f"{bench.root}/figure/life.svg")
    assert svg.headers["content-type"] == "image/svg+xml"
    assert 'role="img"' in svg.text
    page = bench.page("statement")
    # ladder, journey, profile and shares; a cracker has no two kinds of stale
    assert page.count("<noscript><img") == page.count("<figure") == 4
    assert bench.client.get(f"{bench.root}/figure/nothing.json").status_code == 404


def test_a_file_saved_on_an_old_state_is_refused_and_not_lost(bench: Bench) -> None:
    text = bench.text
    bench.send("file", text=text.replace("26 ", "27 "))
    answer = bench.client.post(f"{bench.root}/file", data={"seq": "1", "text": text + "# mine"})
    assert answer.status_code == 409
    assert "# mine" in answer.text
    assert "changed meanwhile" in answer.text
    bench.send("file", text="name: [unfinished")
    assert edit_at(bench.ledger, bench.id, bench.seq).text == "name: [unfinished"
    for name in ("file", "statement", "product", "compare", "history", "water"):
        assert bench.client.get(f"{bench.root}/{name}").status_code == 200
    download = bench.client.get(f"{bench.root}/file/download")
    assert download.text == "name: [unfinished"


def test_a_product_file_can_be_brought(client: Client) -> None:
    with open(SANDWICH, "rb") as file:
        answer = client.post("/new", files={"file": ("mine.yaml", file)})
    assert answer.status_code == 303
    for data in (b"\xff\xfe\x00", b"a\x00b", b"x" * 500_000):
        refused = client.post("/new", files={"file": ("mine.yaml", data)})
        assert refused.status_code == 422
    assert client.post("/new", data={"kind": "no such"}).status_code == 422


def test_what_is_not_there_is_told_in_words(client: Client) -> None:
    for path in ("/p/0000000000/statement", "/p/0000000000/piece", "/nothing", "/p/0000000000/nothing"):
        answer = client.get(path)
        assert answer.status_code == 404
        assert "To mend" in answer.text
    for path in ("/p/0000000000/undo", "/p/0000000000/piece", "/p/0000000000/file"):
        assert client.post(path, data={"seq": "1"}).status_code == 404


def brought(client: Client, name: str) -> str:
    """An example on the page; gives its address."""
    with open(f"examples/{name}.yaml", "rb") as file:
        made = client.post("/new", files={"file": (f"{name}.yaml", file)})
    return str(made.headers["location"]).rpartition("/")[0]


def test_the_bake_is_told_drawn_and_each_of_its_numbers_opens(client: Client) -> None:
    from hardtack.oven.baking import bake
    from hardtack.oven.words import headline

    root = brought(client, "bake-cracker")
    said = unescape(client.get(f"{root}/bake").text)
    with open("examples/bake-cracker.yaml", encoding="utf-8") as file:
        baked = bake(loads(file.read()))
    assert headline(baked) in said  # as `hardtack oven` says
    assert client.get(f"{root}/figure/bake.svg").text.startswith("<svg")
    for slug in ("bake", "dough", "water"):
        links = re.findall(rf'href="(/p/[^"]*/why/{slug}/[^"]*)"', client.get(f"{root}/{slug}").text)
        assert links, slug
        opened = client.get(unescape(links[0])).text
        assert "How it is known" in opened
        assert f'href="{root}/{slug}"' in opened
    assert client.get(f"{root}/why/bake/9999").status_code == 404
    assert client.get(f"{root}/why/nothing/0").status_code == 404
    assert 'name="v:oven/' in client.get(f"{root}/oven").text


def test_a_product_without_an_oven_is_told_what_is_missing(bench: Bench) -> None:
    for slug, stage in (("bake", "oven"), ("dough", "product")):
        page = bench.page(slug)
        assert "nothing to work out here" in page
        assert f'write it on <a href="{bench.root}/{stage}">' in page
        assert "to mend" not in page
    assert "work it out" in bench.page("where")  # slow answers are worked out when asked for


def test_two_products_are_compared(bench: Bench) -> None:
    other = Bench(bench.client, bench.ledger, "biscuit")
    page = bench.client.get(f"{bench.root}/compare", params={"other": other.id})
    assert page.status_code == 200
    shown = unescape(page.text)
    for each in (bench, other):
        assert loads(each.text).name in shown
        assert sentence(each.page("statement")) in shown  # each as it is alone
    links = re.findall(r'data-spec="([^"]+)"', page.text)
    assert bench.client.get(unescape(links[0])).json()["$schema"]
    assert bench.client.get(unescape(links[0]).replace(".json", ".svg")).text.startswith("<svg")
    assert re.search(r"[+-]\d+\.\d days", shown)  # crispness of one layer beside that of the other
    assert bench.client.get(f"{bench.root}/compare", params={"other": "nobody"}).status_code == 404


def test_the_report_is_read_and_taken_along(bench: Bench) -> None:
    statement = bench.page("statement")
    forms = dict(re.findall(r'href="(/p/[^"]*/report/(?:html|pdf|xlsx)\?state=1)">(\w+)<', statement))
    assert list(forms.values()) == ["read", "PDF", "workbook"]
    html, pdf, xlsx = (bench.client.get(address) for address in forms)
    assert sentence(statement) in unescape(html.text)
    assert "sandbox" in html.headers["content-security-policy"]  # nothing in it runs
    assert pdf.content.startswith(b"%PDF-")
    assert xlsx.content.startswith(b"PK")
    assert ".xlsx" in xlsx.headers["content-disposition"]
    assert bench.client.get(f"{bench.root}/report/exe").status_code == 404
