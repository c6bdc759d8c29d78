"""A fitted value into a product file: in its place, comments kept, nothing lost."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from hardtack.errors import HardtackError
from hardtack.measurements import into
from hardtack.measurements.into import amount_text, write_into
from hardtack.product import kinds, load, starter
from hardtack.units import parse_quantity


@pytest.mark.parametrize(
    ("value", "sd", "unit", "text"),
    [
        (4.2345, 0.312, "g/m2/day", "4.23 ± 0.31 g/m2/day [measured here, cup test]"),
        (3.3951, 0.0221, "%db", "3.395 ± 0.022 %db [measured here, cup test]"),
        (12345.6, 120.0, "Pa", "12350 ± 120 Pa [measured here, cup test]"),
        (1.2345e-11, 3.2e-13, "m2/s", "1.235e-11 ± 3.2e-13 m2/s [measured here, cup test]"),
        (0.4218, None, "", "0.4218 [measured here, cup test]"),
    ],
)
def test_amounts_as_people_write_them(value: float, sd: float | None, unit: str, text: str) -> None:
    assert amount_text(value, sd, unit, source="cup test") == text


@given(value=st.floats(1e-9, 1e6), share=st.floats(1e-4, 0.5), words=st.text("abc [](),: ", max_size=12))
def test_amounts_can_be_read_again(value: float, share: float, words: str) -> None:
    text = amount_text(value, value * share, "", source=words)
    read = parse_quantity(text, "positive number")
    assert read.sd is not None
    assert read.value == pytest.approx(value, abs=0.06 * value * share)
    assert read.sd == pytest.approx(value * share, rel=0.06)
    assert read.provenance == "measured here"


def test_amounts_that_are_none() -> None:
    with pytest.raises(HardtackError, match="is no quantity"):
        amount_text(float("nan"), 0.1, "g")
    with pytest.raises(HardtackError, match="is no quantity"):
        amount_text(1.0, float("inf"), "g")


def product(folder: Path, kind: str = "biscuit") -> Path:
    file = folder / "product.yaml"
    file.write_bytes(starter(kind).encode("utf-8"))
    return file


def test_one_line_changes_and_nothing_else(tmp_path: Path) -> None:
    file = product(tmp_path)
    before = file.read_text("utf-8").splitlines()
    text = amount_text(2.87, 0.14, "%wb", source="oven 105 degC, 3 pans")
    assert write_into(file, "piece / layers / biscuit / moisture", text) == "2.4 ± 0.2 %wb"
    after = file.read_text("utf-8").splitlines()
    changed = [(a, b) for a, b in zip(before, after, strict=True) if a != b]
    assert len(changed) == 1
    assert "2.87 ± 0.14 %wb [measured here, oven 105 degC, 3 pans]" in changed[0][1]
    layer = load(file).piece.layers[0]
    assert layer.moisture is not None
    assert layer.moisture.provenance == "measured here"
    assert layer.moisture.value == pytest.approx(0.0287 / (1 - 0.0287))
    assert sorted(p.name for p in tmp_path.iterdir()) == ["product.yaml"]


@pytest.mark.parametrize("kind", kinds())
def test_every_starter_keeps_its_comments(tmp_path: Path, kind: str) -> None:
    file = product(tmp_path, kind)
    before = file.read_text("utf-8")
    write_into(file, "piece / mass", "7.1 ± 0.1 g [measured here]")
    after = file.read_text("utf-8")
    assert before.count("#") == after.count("#")
    assert len(before.splitlines()) == len(after.splitlines())
    assert load(file).piece is not None


def test_line_ends_and_the_mark_at_the_beginning_stay(tmp_path: Path) -> None:
    file = product(tmp_path)
    file.write_bytes(b"\xef\xbb\xbf" + file.read_bytes().replace(b"\n", b"\r\n"))
    write_into(file, "piece / mass", "12.1 g")
    data = file.read_bytes()
    assert data.startswith(b"\xef\xbb\xbf")
    assert data.count(b"\n") == data.count(b"\r\n")
    assert b"\r\r" not in data


@pytest.mark.parametrize(
    ("path", "text", "says"),
    [
        ("piece / layers / biscuit / moisture", "2.9", "on which basis"),
        ("piece / layers / crust / moisture", "2.9 %wb", "there is no 'crust'"),
        ("piece / thickness / deeper", "1 mm", "nothing below it"),
        ("piece / colour", "brown", "colour"),
        ("", "1 mm", "names no place"),
    ],
)
def test_what_would_not_hold_is_not_written(tmp_path: Path, path: str, text: str, says: str) -> None:
    file = product(tmp_path)
    before = file.read_bytes()
    with pytest.raises(HardtackError, match=says):
        write_into(file, path, text)
    assert file.read_bytes() == before
    assert sorted(p.name for p in tmp_path.iterdir()) == ["product.yaml"]


def test_a_crash_on_the_way_loses_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = product(tmp_path)
    before = file.read_bytes()

    def full(_: int) -> None:
        raise OSError(28, "no space left")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(HardtackError, match="cannot be written"):
        write_into(file, "piece / mass", "12.1 g")
    assert file.read_bytes() == before
    assert sorted(p.name for p in tmp_path.iterdir()) == ["product.yaml"]


def test_a_file_changed_meanwhile_is_left_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = product(tmp_path)
    real = into.loads

    def meanwhile(*given: object) -> object:
        file.write_text("# somebody else was here\n", "utf-8")
        return real(*given)  # type: ignore[arg-type]

    monkeypatch.setattr(into, "loads", meanwhile)
    with pytest.raises(HardtackError, match="changed meanwhile"):
        write_into(file, "piece / mass", "12.1 g")
    assert file.read_text("utf-8") == "# somebody else was here\n"


@settings(
    max_examples=40, deadline=None, database=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    data=st.one_of(
        st.binary(max_size=80), st.text("ab:-#[]{}\"'\n ,*&!|>%", max_size=60).map(lambda s: s.encode())
    )
)
def test_any_file_is_left_whole(tmp_path: Path, data: bytes) -> None:
    file = tmp_path / "any.yaml"
    file.write_bytes(data)
    with pytest.raises(HardtackError):
        write_into(file, "piece / mass", "12.1 g")
    assert file.read_bytes() == data
