"""Whatever bytes come, the answer is a product or a list of problems, each with words; never a traceback."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from hardtack.errors import HardtackError, Problem
from hardtack.product import LoggerRecord, Product, load, loads, read_logger

HERE = Path(__file__).parent
FILES = [(HERE / name).read_bytes() for name in ("cracker.yaml", "sandwich.yaml", "mix.yaml")]
ODD = [
    *b": - # { } [ ] , | > ' \" % @ -1 1e999 .inf 0x1F 1_000 null true **9 .. --- ...".split(),
    *b"name barrier layers temperature &a *a !!int ? <<: g/0 [measured".split(),
    *(b"\t", b"\n", b"- ", b": ", b"---\n", b"\x00", b"\xff", b"\xc2\xb0", b"\xe2\x88\x92", b"\xef\xbb\xbf"),
    *(b"\xe2\x80\xa8", b" \xc2\xb1 ", b"until it fails", b"7" * 400, b"{" * 60),
]
TEXT = st.text(st.characters(codec="ascii", exclude_characters="\n\r"), max_size=8).map(repr)
PLAIN = st.sampled_from(["~", "true", "[]", "{}", "25 degC", "3 %wb", "'1 mm ± 2'", "0.5", "-4 g"])
KEYS = st.sampled_from(["value", "sd", "low", "high", "at", "form", "mean", "layer"])
ROWS = st.sampled_from([b"2026-06-01T08:00", b",", b"25", b"-", b"\n", b"60", b'"', b";", b"1e5", b"\x00"])
FEW = settings(
    max_examples=200,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
    derandomize=True,
)
Outcome = TypeVar("Outcome")


def outcome(read: Callable[[], Outcome]) -> Outcome | tuple[Problem, ...]:
    """What was read, or the problems. Any other exception fails the test."""
    try:
        return read()
    except HardtackError as error:
        return error.problems


def holds(path: Path, data: bytes) -> None:
    path.write_bytes(data)
    found = outcome(lambda: load(path))
    if isinstance(found, Product):
        return
    assert found
    for problem in found:
        assert problem.what
        assert problem.file
        assert problem.line is None or 1 <= problem.line <= data.count(b"\n") + data.count(b"\r") + 2
        assert len(str(problem)) < 4000


@st.composite
def mutated(draw: st.DrawFn) -> bytes:
    """A good file after one to four slips: a piece cut, doubled, moved, or something odd put in."""
    data = draw(st.sampled_from(FILES))
    for _ in range(draw(st.integers(1, 4))):
        start = draw(st.integers(0, len(data)))
        end = min(len(data), start + draw(st.integers(0, 60)))
        kind = draw(st.sampled_from(("cut", "double", "odd", "odd", "replace", "move")))
        chunk = data[start:end]
        if kind == "cut":
            data = data[:start] + data[end:]
        elif kind == "double":
            data = data[:end] + chunk + data[end:]
        elif kind == "odd":
            data = data[:start] + draw(st.sampled_from(ODD)) + data[start:]
        elif kind == "replace":
            data = data[:start] + draw(st.binary(max_size=6)) + data[end:]
        else:
            rest = data[:start] + data[end:]
            to = draw(st.integers(0, len(rest)))
            data = rest[:to] + chunk + rest[to:]
    return data


def flow(items: dict[str, str]) -> str:
    return "{" + ", ".join(f"{key}: {value}" for key, value in items.items()) + "}"


VALUES = st.recursive(
    TEXT | PLAIN | st.integers().map(str) | st.floats().map(str),
    lambda inner: (
        st.lists(inner, max_size=3).map(lambda items: f"[{', '.join(items)}]")
        | st.dictionaries(KEYS, inner).map(flow)
    ),
    max_leaves=5,
)


@st.composite
def odd_values(draw: st.DrawFn) -> bytes:
    """A good file with one to three values replaced by something else that is good YAML."""
    rows = draw(st.sampled_from(FILES)).decode().splitlines()
    for _ in range(draw(st.integers(1, 3))):
        at = draw(st.integers(0, len(rows) - 1))
        key, colon, _ = rows[at].partition(":")
        rows[at] = f"{key}{colon} {draw(VALUES)}"
    return "\n".join(rows).encode()


@FEW
@given(st.binary(max_size=200))
def test_random_bytes(tmp_path: Path, data: bytes) -> None:
    holds(tmp_path / "x.yaml", data)
    holds(tmp_path / "x.yaml", b"hardtack: 1\n" + data)


@FEW
@given(mutated())
def test_slips_of_the_hand(tmp_path: Path, data: bytes) -> None:
    holds(tmp_path / "x.yaml", data)


@FEW
@given(odd_values())
def test_values_of_another_kind(tmp_path: Path, data: bytes) -> None:
    holds(tmp_path / "x.yaml", data)


@FEW
@given(
    st.text(max_size=60), st.sampled_from(["mass: 7.6 g", "activity: 0.17", "name: cracker\n", "zone IVb"])
)
def test_text_given_directly(text: str, at: str) -> None:
    assert outcome(lambda: loads(FILES[0].decode().replace(at, f"{at} {text}")))


@FEW
@given(st.binary(max_size=80), st.lists(ROWS))
def test_any_logger_file(tmp_path: Path, data: bytes, rows: list[bytes]) -> None:
    path = tmp_path / "van.csv"
    for content in (data, b"time,temperature_degC,humidity_%\n" + b"".join(rows) + data):
        path.write_bytes(content)
        found = outcome(lambda: read_logger(path, "van.csv"))
        assert found
        if isinstance(found, LoggerRecord):
            assert ((found.humidity >= 0) & (found.humidity <= 1)).all()


@pytest.mark.parametrize(
    "unit", ["9**9**9**9", "g^9^9^9^9", "g**99999999", "g**(9**9**9)", "(" * 290, "g*" * 140]
)
def test_units_that_would_keep_the_reader_busy(unit: str) -> None:
    with pytest.raises(HardtackError):
        loads(FILES[0].decode().replace("mass: 7.6 g", f"mass: 7.6 {unit}"))
