"""Hostile requests: what is no business of ours is turned away before anything is read."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator

import pytest
import requests
from sqlalchemy import Engine

from hardtack.ledger import brought_files
from hardtack.web.safety import MOST_BYTES
from tests.web.conftest import Bench, Client, place_of, serving


@pytest.mark.parametrize(
    "host",
    [
        "evil.example",
        "127.0.0.1.evil.example",
        "127.0.0.1:9",
        "",
        "localhost@evil.example",
        "evil.example:8714",
    ],
)
def test_a_foreign_name_pointed_at_this_computer_gets_nothing(client: Client, host: str) -> None:
    answer = client.get("/", headers={"host": host})
    assert answer.status_code in (400, 421)
    assert "<html" not in answer.text


@pytest.mark.parametrize("name", ["127.0.0.1", "localhost", "[::1]", "LOCALHOST"])
def test_this_computers_own_names_are_answered(client: Client, name: str) -> None:
    port = client.base.rpartition(":")[2]
    assert client.get("/", headers={"host": f"{name}:{port}"}).status_code == 200


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://evil.example"},
        {"origin": "null"},
        {"origin": "http://127.0.0.1:9999"},
        {"origin": "https://127.0.0.1"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
    ],
)
def test_other_pages_cannot_change_anything(client: Client, headers: dict[str, str]) -> None:
    before = client.get("/api/v1/products").json()
    assert client.post("/new", data={"kind": "cracker"}, headers=headers).status_code == 403
    assert client.get("/api/v1/products").json() == before


def test_odd_methods_are_refused(client: Client) -> None:
    for method in ("TRACE", "CONNECT", "DELETE", "OPTIONS", "PROPFIND"):
        assert client.request(method, "/").status_code == 405


def test_too_much_is_refused_by_its_header_and_by_its_bytes(bench: Bench) -> None:
    where = f"{bench.root}/measurements"
    said = {"content-length": str(MOST_BYTES + 1), "connection": "close"}
    assert bench.client.post(where, data=b"", headers=said).status_code == 413

    def pieces() -> Iterator[bytes]:
        for _ in range(MOST_BYTES // 1_000_000 + 2):
            yield b"x" * 1_000_000

    kind = {"content-type": "multipart/form-data; boundary=b"}
    try:
        answer = bench.client.post(where, data=pieces(), headers=kind)
        assert answer.status_code in (400, 413)
    except requests.RequestException:
        pass  # the door was shut while we were still sending
    assert brought_files(bench.ledger, bench.id) == ()


def test_pages_load_nothing_from_elsewhere_and_run_no_foreign_script(bench: Bench) -> None:
    answer = bench.client.get(f"{bench.root}/product")
    policy = dict(part.strip().split(" ", 1) for part in answer.headers["content-security-policy"].split(";"))
    assert policy["default-src"] == "'none'"
    assert policy["script-src"] == policy["style-src"] == policy["form-action"] == "'self'"
    assert policy["frame-ancestors"] == "'none'"
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert answer.headers["cache-control"] == "no-store"
    assert " style=" not in answer.text  # no inline style or script that the policy would refuse
    assert "onclick" not in answer.text
    assert "http://" not in answer.text.replace("http://www.w3.org", "")


def test_what_is_written_is_shown_and_never_run(bench: Bench) -> None:
    bad = '"><script>alert(1)</script>'
    bench.send("product", **{"v:name": bad, "v:notes": "</textarea><img src=x onerror=alert(1)>"})
    for name in ("product", "piece", "statement", "history", "compare", "file", "water", "measurements"):
        text = bench.page(name)
        assert "<script>alert" not in text
        assert "<img src=x" not in text
    assert "alert(1)" in bench.page("file")
    assert "<script>alert" not in bench.client.get("/").text
    assert "<script>alert" not in bench.client.get("/reference", params={"word": bad}).text
    saved = bench.client.get(f"{bench.root}/file/download").headers["content-disposition"]
    assert saved == 'attachment; filename="script-alert-1---script.yaml"'


@pytest.mark.parametrize(
    "path",
    [
        "/static/x/../../app.py",
        "/static/x/%2e%2e%2fapp.py",
        "/static/x/app.py",
        "/p/../../etc/passwd",
        "/p/%2e%2e/statement",
        "/reference?topic=../../pyproject",
        "/p/0123456789/figure/../../x.svg",
        "/p/0123456789/measurements/..%2f..%2fledger.sqlite",
    ],
)
def test_no_address_reaches_a_file(client: Client, path: str) -> None:
    assert client.raw(path) in (404, 422)


@pytest.mark.parametrize("name", ["../../evil.csv", "C:\\evil.csv", "/evil.csv", "nul.csv", "a\x00b.csv"])
def test_no_file_name_reaches_the_disk(bench: Bench, name: str) -> None:
    folder = place_of(bench.ledger)
    before = set(folder.parent.rglob("*"))
    files = {"file": (name, b"activity,moisture %db\n0.1,2\n0.3,4\n0.5,6\n0.7,9\n")}
    answer = bench.client.post(f"{bench.root}/measurements", files=files)
    if answer.status_code == 303:
        assert bench.client.get(answer.headers["location"]).status_code == 200
    assert set(folder.parent.rglob("*")) == before
    bench.send("journey", **{"v:journey/0/logger": "../../../etc/hosts"})
    assert "plain name" in bench.page("journey")


def test_a_zip_bomb_and_its_relatives_are_refused(bench: Bench) -> None:
    bomb = io.BytesIO()
    with zipfile.ZipFile(bomb, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/worksheets/sheet1.xml", b"0" * 50_000_000)
    assert len(bomb.getvalue()) < 100_000
    answer = bench.client.post(f"{bench.root}/measurements", files={"file": ("bomb.xlsx", bomb.getvalue())})
    text = bench.client.get(answer.headers["location"]).text
    assert "unpacks beyond all measure" in text
    yaml = "a: &a [x,x,x,x,x,x,x,x,x]\n" + "".join(
        f"{c}: &{c} [{','.join(['*' + chr(ord(c) - 1)] * 9)}]\n" for c in "bcdefgh"
    )
    answer = bench.client.post("/api/v1/keep", json={"text": yaml})
    assert answer.status_code == 422
    assert "far more values" in answer.text


@pytest.mark.parametrize("cell", ["=cmd|' /C calc'!A0", "+1+1", "-2+3", "@SUM(A1)"])
def test_a_spreadsheets_formula_is_text_here(bench: Bench, cell: str) -> None:
    bench.send("product", act="name:formulas", **{"n:formulas": "dough"})
    place = "formulas/dough/ingredients"
    bench.send("product", act=f"paste:{place}", **{f"p:{place}": f"{cell}\t10 %"})
    assert cell in bench.page("file").replace("&#39;", "'").replace("&#34;", '"')
    assert bench.client.get(f"{bench.root}/statement").status_code == 200


def test_beyond_this_computer_a_token_is_demanded(ledger: Engine) -> None:
    name = {"host": "bakery.test"}
    with serving(ledger, "192.0.2.7", ("bakery.test",), "secret") as client:

        def status(path: str = "/", **headers: str) -> int:
            return client.get(path, headers={**name, **headers}).status_code

        assert status() == 401
        assert status("/api/v1/products") == 401
        assert status("/?token=wrong") == 401
        assert status(cookie="hardtack_token=wrong") == 401
        assert status(host="127.0.0.1") == 421
        assert status("/api/v1/products", authorization="Bearer secret") == 200
        first = client.get("/?token=secret&x=1", headers=name)
        assert first.status_code == 303
        assert first.headers["location"] == "/?x=1"
        assert "HttpOnly" in first.headers["set-cookie"]
        assert "samesite=strict" in first.headers["set-cookie"].lower()
        assert status() == 200  # by the cookie
        foreign = {**name, "origin": "http://evil.example"}
        assert client.post("/new", data={"kind": "cracker"}, headers=foreign).status_code == 403
