"""Measurement files on the page: read, asked, fitted, put into the product, and never more than that."""

from __future__ import annotations

from pathlib import Path
from urllib.parse import urlencode

import pytest
from sqlalchemy import Engine

from hardtack.product import loads
from hardtack.web.fits import FITS
from tests.web.conftest import Bench, Client

DATA = Path("examples/data")


def bring(bench: Bench, name: str) -> str:
    """Bring an example file; gives its page."""
    answer = bench.client.post(
        f"{bench.root}/measurements", files={"file": (name, (DATA / name).read_bytes())}
    )
    assert answer.status_code == 303
    return str(answer.headers["location"])


@pytest.mark.parametrize(
    ("name", "fit", "given", "written"),
    [
        (
            "cups-film.csv", "film",
            {
                "ask.area of one cup or pouch": "50 cm2", "ask.temperature of the test": "38 degC",
                "ask.humidity outside": "90 %", "ask.humidity inside": "0 %", "ask.what was weighed": "cups of flat film",
            },
            "[measured here, cups-film.csv",
        ),
        ("force-cracker.csv", "crispness", {"ask.loss that counts as failure": "30 %"}, "measured here"),
        ("jars-crispbread.csv", "isotherm", {"say.temperature": "25 degC"}, "[measured here, jars-crispbread.csv"),
        (
            "peroxide-biscuit.csv", "oxidation",
            {
                "ask.value that counts as rancid": "10", "ask.temperature of the store": "20 degC", "ask.fat": "11 %",
                "ask.water activity in the test": "0.3", "ask.oxygen through the film": "1500 cm3/m2/day/atm",
            },
            "rancidity",
        ),
        (
            "steps-biscuit.csv", "diffusion",
            {
                "ask.shape of the sample": "slab", "ask.thickness, or radius of a round sample": "4 mm",
                "ask.surface open to the air": "25 cm2", "ask.dry mass": "2.4 g", "ask.temperature of the test": "25 degC",
                "ask.isotherm on the shelf": "hard-dough biscuit",
            },
            "measured here, steps-biscuit.csv",
        ),
        ("mould-cake.csv", "mould", {"ask.water activity wanted": "0.84", "ask.temperature wanted": "21 degC"}, "mould"),
        ("firmness-loaf.csv", "firmness", {"ask.firmness no longer accepted, N": "12"}, "firming"),
        (
            "panel-crackers.csv", "panel",
            {"ask.shares rejecting": "25 %, 50 % and 12,5 %", "ask.packs kept at": "21 degC", "ask.humidity they were kept in": "50 %"},
            "rejecting: \"25 % [measured here, panel-crackers.csv]\"",
        ),
        ("panel-crackers.csv", "panel", {"ask.shares rejecting": "25 %"}, None),
        ("bake-loss.csv", "bake", {}, None),
    ],
)  # fmt: skip
def test_a_file_is_fitted_and_put_into_the_product(
    bench: Bench, name: str, fit: str, given: dict[str, str], written: str | None
) -> None:
    page = bring(bench, name)
    answer = bench.client.get(f"{page}?{urlencode({**given, 'fit': fit})}")
    assert answer.status_code == 200
    assert "What was understood" in answer.text
    assert 'id="fit-spec"' in answer.text
    assert "hardtack-" not in answer.text  # no place on the disk is shown
    before = bench.text
    put = bench.client.post(page, data={**given, "fit": fit})
    if written is None:
        assert put.status_code == 422
        assert bench.text == before
        return
    assert put.status_code == 303
    assert written in bench.text
    assert loads(bench.text)
    assert [line for line in before.splitlines() if "#" in line][:20] == [
        line for line in bench.text.splitlines() if "#" in line
    ][:20]  # comments stay


def test_a_meters_log_corrects_the_readings(bench: Bench) -> None:
    page, log = bring(bench, "readings-biscuit.csv"), bring(bench, "salts-meter.csv")
    alone = bench.client.get(f"{page}?fit=isotherm").text
    assert f'<option value="{log.rpartition("/")[2]}">salts-meter.csv</option>' in alone
    given = {"fit": "isotherm", "ask.salt standards on the meter": log.rpartition("/")[2]}
    corrected = bench.client.get(f"{page}?{urlencode(given)}").text
    assert "Corrected activity" in corrected.split("What was understood")[0]
    assert "salts-meter.csv: 5 rows in" in corrected
    assert alone.split("</h1>")[1].split("</p>")[0] != corrected.split("</h1>")[1].split("</p>")[0]
    none = bench.client.get(f"{page}?fit=isotherm&ask.salt+standards+on+the+meter=none-such").text
    assert 'id="fit-spec"' not in none


def test_several_shares_in_one_panel_fit(bench: Bench) -> None:
    page = bring(bench, "panel-crackers.csv")
    text = bench.client.get(
        f"{page}?{urlencode({'fit': 'panel', 'ask.shares rejecting': '50 %, 25 %; 12,5 %'})}"
    ).text
    for share in ("50%", "25%", "12%"):
        assert f"days until {share} reject" in text
    assert "no shares between" in bench.client.get(f"{page}?fit=panel&ask.shares+rejecting=100+%25").text


def test_which_factors_a_trial_may_move(bench: Bench) -> None:
    page = bring(bench, "trial-biscuit.csv")
    given = {"fit": "trial", "ask.what may be moved": "diffusivity"}
    text = bench.client.get(f"{page}?{urlencode(given)}").text
    fitted = text.split("What was understood")[0]
    assert '<th scope="row">diffusivity</th>' in fitted
    assert '<th scope="row">permeance</th>' not in fitted  # which the readings would have chosen
    assert "<option selected>diffusivity</option>" in text


def test_a_suppliers_sheet_needs_no_area(bench: Bench) -> None:
    sheet = 'Film,WVTR,Conditions\nInvented A,0.35 g/100 in2/day,"100 °F, 90 % RH"\nInvented B,4.2 g/m2/24 h,38 °C / 90 %\n'
    files = {"file": ("sheet.csv", sheet.encode())}
    page = bench.client.post(f"{bench.root}/measurements", files=files).headers["location"]
    assert "Of 2 films" in bench.client.get(f"{page}?fit=film").text
    put = bench.client.post(page, data={"fit": "film", "ask.film of a supplier's sheet": "Invented B"})
    assert put.status_code == 303
    assert "4.2 g/m2/day [seen, sheet.csv]" in bench.text
    assert "which film" in bench.client.post(page, data={"fit": "film"}).text


def test_what_a_fit_needs_and_does_not_get_is_asked_all_at_once(bench: Bench) -> None:
    page = bring(bench, "cups-film.csv")
    text = bench.client.get(f"{page}?{urlencode({'fit': 'film', 'ask.humidity outside': 'wet'})}").text
    for missing in (
        "area of one cup or pouch is missing",
        "temperature of the test is missing",
        "humidity outside",
    ):
        assert missing in text
    assert bench.client.get(f"{page}?fit=nothing").status_code == 200
    assert bench.client.post(page, data={"fit": "nothing"}).status_code == 404
    assert "answers no question" in bench.client.get(f"{page}?say.colour=blue").text


def test_other_products_do_not_see_the_file(bench: Bench, client: Client, ledger: Engine) -> None:
    page = bring(bench, "cups-film.csv")
    other = Bench(client, ledger)
    assert client.get(page.replace(bench.id, other.id)).status_code == 404
    refused = client.post(f"{bench.root}/measurements", files={"file": ("a.exe", b"MZ")})
    assert refused.status_code == 422
    assert client.post(f"{bench.root}/measurements", data={"x": "1"}).status_code == 422


def test_every_fit_says_what_it_is() -> None:
    assert len({fit.slug for fit in FITS}) == len(FITS) >= 9
    assert all(fit.title for fit in FITS)


def test_the_dough_page_begins_with_a_sentence(client: Client) -> None:
    with open("examples/formula-soda-cracker.yaml", "rb") as file:
        root = client.post("/new", files={"file": ("mine.yaml", file)}).headers["location"].rpartition("/")[0]
    text = client.get(f"{root}/dough").text
    assert text.index('class="sentence"') < text.index("<figure")
    assert "bread flour" in text
    assert client.get(f"{root}/figure/dough.json").json()["description"]


def test_a_product_without_formulas_is_told_so_on_the_dough_page(bench: Bench) -> None:
    assert "formula" in bench.page("dough")
