"""The JSON API: what it says of itself holds for whatever is sent."""

from __future__ import annotations

import contextlib
import json
import time
from pathlib import Path

import pytest
import schemathesis
from hypothesis import HealthCheck, given, settings
from hypothesis.errors import Unsatisfiable
from schemathesis import GenerationMode
from schemathesis.schemas import APIOperation
from schemathesis.specs.openapi.checks import positive_data_acceptance, unsupported_method
from sqlalchemy import Engine, create_engine

from hardtack.keeping import keep
from hardtack.keeping.as_json import statement_json
from hardtack.keeping.dough_as_json import dough_json
from hardtack.keeping.dough_report import dough_report
from hardtack.keeping.remedies import remedies
from hardtack.keeping.remedies_as_json import remedies_json
from hardtack.keeping.tradeoff import tradeoff, tradeoff_json
from hardtack.ledger import change, start_product
from hardtack.oven.as_json import bake_json
from hardtack.oven.baking import bake
from hardtack.oven.solving import across_the_band
from hardtack.product import json_schema, loads, starter
from hardtack.web.app import create_app
from hardtack.web.safety import door
from tests.web.conftest import Bench, Client

API = "/api/v1"


@pytest.fixture(scope="module")
def product(client: Client, ledger: Engine) -> str:
    """A product that is there."""
    return Bench(client, ledger).id


NOT_ASKED = [
    unsupported_method,  # the door refuses methods before there is an address
    positive_data_acceptance,  # a JSON Schema cannot tell a text that is a product file from one that is not
]
OPERATIONS = [
    found.ok()
    for found in schemathesis.openapi.from_dict(
        create_app(create_engine("sqlite://"), door("127.0.0.1", 80)).openapi()
    ).get_all_operations()
]


@pytest.mark.parametrize("mode", [GenerationMode.POSITIVE, GenerationMode.NEGATIVE], ids=["fit", "unfit"])
@pytest.mark.parametrize("operation", OPERATIONS, ids=[each.label for each in OPERATIONS])
def test_the_api_keeps_its_word_whatever_is_sent(
    client: Client, product: str, operation: APIOperation, mode: GenerationMode
) -> None:
    cases = operation.as_strategy(generation_mode=mode)

    @settings(
        max_examples=5,
        deadline=None,
        suppress_health_check=list(HealthCheck),
        derandomize=True,
        database=None,
    )
    @given(case=cases)
    def ask(case: schemathesis.Case) -> None:
        if mode is GenerationMode.POSITIVE and "product" in case.path_parameters:
            case.path_parameters["product"] = product
        case.call_and_validate(base_url=client.base, excluded_checks=NOT_ASKED)

    with contextlib.suppress(Unsatisfiable):  # nothing unfit can be sent where nothing is asked
        ask()


def test_the_statement_is_that_of_the_command_line(bench: Bench) -> None:
    expected = json.loads(json.dumps(statement_json(keep(loads(bench.text)))))
    assert bench.client.get(f"{API}/products/{bench.id}/statement").json() == expected
    assert bench.client.post(f"{API}/keep", json={"text": bench.text}).json() == expected


def test_a_product_goes_through_its_states(client: Client) -> None:
    text = starter("biscuit")
    made = client.post(f"{API}/products", json={"text": text})
    assert made.status_code == 201
    where = f"{API}/products/{made.json()['product']}"
    changed = client.patch(where, json={"changes": [{"path": "pack/area", "value": "0.03 m2"}]}).json()
    assert changed["state"] == 2
    assert changed["in_order"]
    assert "area: 0.03 m2" in changed["text"]
    assert client.post(f"{where}/undo").json()["text"] == text
    assert client.post(f"{where}/redo").json()["text"] == changed["text"]
    stale = client.put(where, json={"text": "name: x", "based_on": 1})
    assert stale.status_code == 422
    assert "changed meanwhile" in stale.json()["problems"][0]["what"]
    saved = client.put(where, json={"text": "name: x", "based_on": 4}).json()
    assert not saved["in_order"]
    assert saved["problems"][0]["mend"]
    assert client.get(f"{where}/statement").status_code == 422
    assert client.get(where, params={"state": 1}).json()["text"] == text
    assert [step["kind"] for step in client.get(f"{where}/history").json()] == [
        "change", "change", "undo", "redo", "change",
    ]  # fmt: skip
    compared = client.get(f"{where}/compare", params={"a": 1, "b": 2}).json()
    assert [each["where"] for each in compared["differences"]] == ["pack / area"]
    assert compared["failures"][0]["gained_days"] is not None


def test_dough_bake_and_report_are_those_of_the_command_line(client: Client) -> None:
    file = Path("examples/bake-cracker.yaml")
    text = file.read_text("utf-8")
    known = loads(text)
    where = f"{API}/products/{client.post(f'{API}/products', json={'text': text}).json()['product']}"
    dough = json.loads(json.dumps(dough_json(dough_report(known))))
    assert client.get(f"{where}/dough").json() == dough
    assert client.post(f"{API}/dough", json={"text": text}).json() == dough
    baked = json.loads(json.dumps(bake_json(bake(known), across_the_band(known))))
    assert client.get(f"{where}/bake").json() == baked
    assert client.post(f"{API}/bake", json={"text": text}).json() == baked
    wanted = client.get(f"{where}/bake", params={"moisture": "3 %wb"}).json()["wanted"]
    assert wanted["moisture_db"] == pytest.approx(0.03 / 0.97)
    assert client.get(f"{where}/bake", params={"moisture": "3"}).status_code == 422  # which basis?
    assert (
        client.get(f"{where}/bake", params={"calibrated": "true"}).status_code == 422
    )  # nothing was measured
    for form, begins in (("html", b"<!doctype html>"), ("pdf", b"%PDF-"), ("xlsx", b"PK")):
        answer = client.get(f"{where}/report/{form}")
        assert answer.status_code == 200
        assert answer.content.lower().startswith(begins.lower())
    assert client.get(f"{where}/report/exe").status_code == 422


def test_long_answers_are_those_of_the_command_line(bench: Bench) -> None:
    known, root = loads(bench.text), f"{API}/products/{bench.id}"

    def ended(address: str, **params: str) -> dict[str, object]:
        end = time.monotonic() + 240
        while (answer := bench.client.get(f"{root}/{address}", params=params)).status_code == 202:
            assert set(answer.json()) == {"state", "share", "before"}
            assert time.monotonic() < end
            time.sleep(0.2)
        assert answer.status_code == 200, answer.text
        found: dict[str, object] = answer.json()
        return found

    expected = json.loads(json.dumps(remedies_json(remedies(known, 90.0))))
    assert ended("remedies", days="90") == expected
    answer = tradeoff(known, "cracker: moisture", "pack: area", days=90.0)
    map_of = ended("tradeoff", a="cracker: moisture", b="pack: area", days="90")
    assert map_of == json.loads(json.dumps(tradeoff_json(answer)))
    report = bench.client.get(f"{root}/report/html", params={"days": "90"})
    assert "Specification lines for 90 days" in report.text
    assert bench.client.get(f"{root}/report/html", params={"days": "91"}).status_code == 422
    assert bench.client.get(f"{root}/remedies").status_code == 422
    refused = bench.client.post(f"{root}/complaint", json={"found": "day: 3"})
    while refused.status_code == 202:
        time.sleep(0.1)
        refused = bench.client.post(f"{root}/complaint", json={"found": "day: 3"})
    assert refused.status_code == 422
    assert "'hardtack complaint' is missing" in refused.json()["problems"][0]["what"]


def test_two_products_side_by_side(bench: Bench, client: Client, ledger: Engine) -> None:
    other = Bench(client, ledger, "biscuit")
    compared = client.get(f"{API}/products/{bench.id}/compare/{other.id}").json()
    assert {"where": "name", "first": loads(bench.text).name, "second": loads(other.text).name} in compared[
        "differences"
    ]
    assert {each["failure"] for each in compared["failures"]}
    assert client.get(f"{API}/products/{bench.id}/compare/{other.id}", params={"b": 9}).status_code == 404


def test_small_questions(client: Client) -> None:
    assert client.get(f"{API}/schema").json() == json.loads(json.dumps(json_schema()))
    rows = client.get(f"{API}/reference", params={"word": "cracker"}).json()
    assert all(row["source"]["citation"] for row in rows)
    assert client.post(f"{API}/validate", json={"text": starter("rusk")}).json() == {"problems": []}
    water = client.post(
        f"{API}/water", json={"text": Path("examples/formula-sandwich.yaml").read_text("utf-8")}
    )
    assert water.json()["schema"].startswith("hardtack water")
    for bad in (b"{", b'"x"', b'{"text": 5}', b'{"text": "a", "more": 1}', b'{"text": "\\ud800"}'):
        answer = client.post(f"{API}/keep", data=bad, headers={"content-type": "application/json"})
        assert answer.status_code in (400, 422), bad
        assert set(answer.json()["problems"][0]) == {"what", "mend", "path", "line"}
    assert client.get(f"{API}/nothing").status_code == 404


def test_a_state_of_a_logger_leg_finds_its_file(client: Client, ledger: Engine) -> None:
    edit = start_product(ledger, starter("cracker"), "begun")
    product = edit.step.product
    change(
        ledger,
        product,
        lambda text: text.replace("climate: zone IVb ", "logger: van.csv   ").replace(
            "lasts: until it fails", "lasts: 2 hours"
        ),
        "x",
    )
    where = f"{API}/products/{product}"
    assert not client.get(where).json()["in_order"]
    rows = "\n".join(f"2026-07-22 {h:02}:00,{25 + h / 10},6{h % 10}" for h in range(24))
    files = {"file": ("van.csv", f"time,temperature_degC,humidity_%\n{rows}\n".encode())}
    assert client.post(f"/p/{product}/measurements", files=files).status_code == 303
    assert client.get(where).json()["problems"] == []
