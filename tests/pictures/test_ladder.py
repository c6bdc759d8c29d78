"""The activity ladder: water runs down, tanks are to scale, words keep clear of each other."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import combinations, pairwise

import pytest

from hardtack.keeping.statement import Flow, KeepingStatement
from hardtack.pictures import ladder
from hardtack.pictures.ladder_layout import NARROWEST_TANK, UNIT, arrows, columns, words
from hardtack.pictures.style import VIEW_WIDTH
from tests.pictures import invented

ALL: list[Callable[[], KeepingStatement]] = [
    invented.cracker,
    invented.sandwich,
    invented.four_layers,
    invented.never_fails,
    invented.unpacked,
]


@pytest.fixture(params=ALL)
def statement(request: pytest.FixtureRequest) -> KeepingStatement:
    made: KeepingStatement = request.param()
    return made


def test_arrows_end_lower_than_they_start_whoever_is_named_first(statement: KeepingStatement) -> None:
    turned = replace(
        statement, flows=tuple(Flow(flow.sink, flow.source, flow.rate) for flow in statement.flows)
    )
    starts = {rung.name: rung.start for rung in statement.ladder}
    for told in (statement, turned):
        running = arrows(told, columns(told))
        assert len(running) == len(statement.flows)
        for arrow in running:
            assert arrow.source.rung.start > arrow.sink.rung.start
            assert arrow.corners[0][1] == pytest.approx(UNIT * starts[arrow.source.rung.name])
            assert arrow.corners[-1][1] == pytest.approx(UNIT * starts[arrow.sink.rung.name])
            assert arrow.corners[-1][1] < arrow.corners[0][1]


def test_an_arrowhead_points_the_way_its_arrow_runs(statement: KeepingStatement) -> None:
    """Both strokes of a head go back from the tip, against the last stretch of the shaft."""
    running = arrows(statement, columns(statement))
    strokes = [
        part["data"]["values"]
        for part in ladder.view(statement)["layer"]
        if _is_heads(part["data"]["values"])
    ]
    (heads,) = strokes
    assert len(heads) == 2 * len(running)
    for k, arrow in enumerate(running):
        (x1, y1), (x2, y2) = arrow.corners[-2:]
        for head in heads[2 * k : 2 * k + 2]:
            assert (head["x"], head["y"] * UNIT) == pytest.approx((x2, y2))
            back = ((head["x2"] - head["x"]) * (x1 - x2), (head["y2"] - head["y"]) * UNIT * (y1 - y2))
            assert sum(back) > 0


def _is_heads(rows: list[dict[str, float]]) -> bool:
    return (
        bool(rows)
        and all(
            {"x", "y", "x2", "y2"} <= row.keys() and row["x"] != row["x2"] and row["y"] != row["y2"]
            for row in rows
        )
        and len({round(_length(row), 3) for row in rows}) == 1
    )


def _length(row: dict[str, float]) -> float:
    return ((row["x2"] - row["x"]) ** 2 + ((row["y2"] - row["y"]) * UNIT) ** 2) ** 0.5


def test_equal_levels_have_no_arrow() -> None:
    statement = invented.cracker()
    level = tuple(replace(rung, start=0.4) for rung in statement.ladder)
    still = replace(statement, ladder=level)
    assert arrows(still, columns(still)) == []
    assert "nowhere" in ladder.description(still)


def test_tanks_are_to_scale_and_in_order(statement: KeepingStatement) -> None:
    placed = columns(statement)
    assert [column.rung for column in placed] == list(statement.ladder)
    wide = [column for column in placed if not column.unlimited and column.tank > NARROWEST_TANK]
    scales = [column.tank / column.rung.capacity for column in wide]
    assert scales == pytest.approx([scales[0]] * len(scales))
    for left, right in pairwise(placed):
        assert right.left - left.right >= 60  # room for an arrow
    assert placed[0].left >= 0
    assert placed[-1].right <= VIEW_WIDTH


def test_words_keep_clear_of_each_other(statement: KeepingStatement) -> None:
    placed = columns(statement)
    said = words(statement, placed, arrows(statement, placed))
    labels = [*said.packed, *said.ended, *said.limits, *said.flows]
    touching = [(a.text, b.text) for a, b in combinations(labels, 2) if a.box.overlap(b.box) > 12]
    assert touching == []
    assert [label.text.replace("\n", " ") for label in said.limits] == [
        f"limit {limit.activity:.2f}" for limit in statement.limits
    ]


def test_the_table_gives_the_statements_numbers(statement: KeepingStatement) -> None:
    rows = ladder.table(statement)
    limits = {limit.layer: limit.activity for limit in statement.limits}
    for row, rung in zip(rows, statement.ladder, strict=True):
        assert row["place"] == rung.name
        assert row["water activity when packed"] == rung.start
        assert row["water activity at the end"] == rung.end
        assert row["limit"] == limits.get(rung.name)
        assert row["moisture"] == rung.moisture
    flows = {(flow.source, flow.sink): flow.rate * 1e6 * 86400 for flow in statement.flows}
    given = {(row["place"], to): rate for row in rows for to, rate in row["gives [mg/day]"].items()}  # type: ignore[attr-defined]
    assert given == pytest.approx(flows)
