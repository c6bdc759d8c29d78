"""Sweeps: the numbers are `keep`'s own, the same wherever they are worked out, and none is lost or mixed when a run ends
early. All products are invented."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import psutil
import pytest
from scipy.stats import norm, truncnorm, uniform
from xarray import Dataset

import hardtack
from hardtack.errors import HardtackError
from hardtack.keeping import keep
from hardtack.keeping.draws import drawn, quantiles
from hardtack.keeping.input_kinds import kind_of
from hardtack.keeping.inputs import inputs_of
from hardtack.keeping.sweeping import Progress, read_plan, run_sweep, summary_of, sweep_json
from hardtack.keeping.sweeping.designs import recipe_of
from hardtack.keeping.sweeping.store import FINISHED, RESULTS, parts_of
from hardtack.keeping.sweeping.work import FAILURES, Portion, program, work
from hardtack.pictures.render import svg
from hardtack.pictures.sweep import description, sweep_picture, table
from hardtack.product import load, loads
from hardtack.sourced import Sourced
from tests.cli.running import run
from tests.keeping.sweeps import BISCUIT, PLAN, dask_cluster, same_bits, written

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The plan of these tests with its uninterrupted sweep in `whole`, in this process."""
    folder = tmp_path_factory.mktemp("sweep")
    written(folder)
    run_sweep(read_plan(folder / "plan.yaml"), folder / "whole")
    return folder


@pytest.fixture(scope="module")
def whole(folder: Path) -> Dataset:
    return hardtack.open_sweep(folder / "whole")


def lines(folder: Path) -> list[int]:
    """Numbers of the portions on the list of finished ones, as often as they stand there."""
    path = folder / FINISHED
    text = path.read_text("utf-8") if path.exists() else ""
    return [json.loads(line)["portion"] for line in text.splitlines() if line.endswith("}")]


# What the numbers are


def test_a_scenario_is_what_keep_says_of_the_file_with_its_numbers(whole: Dataset) -> None:
    """The drawn numbers are found here from the quantiles by scipy's distributions, written into the file's text, and
    the file is kept as any other."""
    one = whole.isel(design=4, place=0, sample=7)
    at = dict(zip(whole["input"].values, one["quantile"].values, strict=True))
    stated = inputs_of(loads(BISCUIT))
    moisture = next(each.amount for each in stated if each.name == "biscuit: moisture")
    X = norm.ppf(at["biscuit: moisture"], moisture.value, moisture.sd)
    area = uniform.ppf(at["pack: area"], 0.055, 0.010)
    text = BISCUIT.replace("2.2 ± 0.2 %wb", f"{100 * X:.15g} %db").replace("OPP 30 um", "OPP 20 um")
    text = text.replace("{low: 0.055 m2, high: 0.065 m2}", f"{area:.15g} m2").replace("180 mL", "250 mL")
    statement = keep(loads(text))
    assert one["days"].item() == pytest.approx(statement.days, rel=1e-9)
    assert one["film"].item() == "OPP 20 um"
    assert one["pack: headspace"].item() == pytest.approx(250e-6)
    assert one["first_failure"].item() == statement.courses[0].name
    end = int(np.searchsorted(statement.history.times, statement.end))
    assert one["activity_at_the_end"].item() == pytest.approx(statement.history.activity[end, 0], rel=1e-9)
    assert one["moisture_at_the_end"].item() == pytest.approx(statement.history.moisture[end, 0], rel=1e-9)


def test_as_stated_at_places_is_what_keep_says_with_the_place_in_the_file(tmp_path: Path) -> None:
    plan = written(tmp_path, "hardtack sweep: 1\nproducts: [biscuit.yaml]\nplaces: [london, Mumbai]\n")
    data = hardtack.sweep(plan, tmp_path / "out")
    for place in ("London", "Mumbai"):
        text = BISCUIT.replace("temperature: 30 degC, humidity: 70 %", f"climate: {place}")
        assert data["days"].sel(place=place).item() == pytest.approx(keep(loads(text)).days, rel=1e-5)


def test_paired_choices_go_side_by_side_and_crossed_ones_with_every_other(tmp_path: Path) -> None:
    designs = (
        "designs:\n  crossed: {film: [OPP 20 um, OPP 30 um]}\n"
        '  paired: {"pack: area": [0.06 m2, 0.07 m2, 0.08 m2], "pack: headspace": [180 mL, 200 mL, 220 mL]}\n'
    )
    plan = read_plan(
        written(tmp_path, f"hardtack sweep: 1\nproducts: [biscuit.yaml, biscuit.yaml]\n{designs}")
    )
    assert [factor.name for factor in plan.factors] == ["film", "pack: area", "pack: headspace"]
    of_one = [(film, row, row) for film in (0, 1) for row in (0, 1, 2)]
    assert [(one.product, one.choices) for one in plan.designs] == [
        (n, row) for n in (0, 1) for row in of_one
    ]


def test_a_product_that_does_not_fail_on_its_journey_is_told(tmp_path: Path) -> None:
    plan = written(tmp_path, biscuit=BISCUIT.replace("lasts: until it fails", "lasts: 3 days"))
    plan.write_text("hardtack sweep: 1\nproducts: [biscuit.yaml]\n", encoding="utf-8")
    data = hardtack.sweep(plan)  # beside the plan
    assert np.isposinf(data["days"].values).all()
    assert data["first_failure"].item() == data["failing_layer"].item() == ""
    (row,) = sweep_json(summary_of(tmp_path / "plan-sweep"))["rows"]
    assert row["days"] is None
    assert row["fails_first"] is None
    assert row["samples_computed"] == 1


def test_a_sample_that_cannot_be_computed_is_told_and_the_others_stay(tmp_path: Path) -> None:
    """A spread so wide that some draws leave no room for the isotherm's stated pair."""
    biscuit = BISCUIT.replace(
        "moisture: 2.2 ± 0.2 %wb", "moisture: 2.2 %wb, activity: 0.22 ± 0.2, activity at: 25 degC"
    )
    plan = written(tmp_path, biscuit=biscuit)
    plan.write_text("hardtack sweep: 1\nproducts: [biscuit.yaml]\nsamples: 16\n", encoding="utf-8")
    data = hardtack.sweep(plan)
    missing = np.isnan(data["days"].values[0, 0])
    assert 0 < missing.sum() < 16
    told = data.attrs["not_computed"]
    assert [int(re.findall(r"sample (\d+):", line)[0]) - 1 for line in told] == np.flatnonzero(
        missing
    ).tolist()
    assert summary_of(tmp_path / "plan-sweep").rows[0].computed == 16 - missing.sum()


def test_the_data_set_has_names_and_units(whole: Dataset) -> None:
    assert dict(whole.sizes) == {"design": 6, "place": 1, "sample": 32, "layer": 1, "input": 2, "failure": 1}
    assert whole["days"].attrs["units"] == "day"
    assert whole["pack: headspace"].attrs["units"] == "m3"
    assert whole["moisture_at_the_end"].attrs["units"] == "kg/kg"
    assert whole["failure"].item() == "crispness"
    np.testing.assert_allclose(whole["share_of_life"].values, 1.0)
    assert whole.attrs["finished"] == 1.0


def test_every_failure_of_the_house_can_come_first() -> None:
    from hardtack.failures import names

    assert sorted(FAILURES) == sorted(value for name, value in vars(names).items() if name.isupper())


# Draws


def test_draws_have_the_stated_distribution() -> None:
    """Against scipy's own normal, cut normal and even distributions."""
    points = quantiles(2, 4096, seed=3)
    plain = Sourced(0.30, "", "invented", sd=0.02)
    cut = Sourced(0.05, "", "invented", sd=0.05)  # a share is never below 0
    even = Sourced(2.0, "kg", "invented", low=1.0, high=3.0)
    for amount, kind, law in (
        (plain, "share", norm(0.30, 0.02)),
        (cut, "share", truncnorm(-1.0, 19.0, 0.05, 0.05)),
        (even, "mass", uniform(1.0, 2.0)),
    ):
        values = np.array([drawn(amount, kind, float(point)).value for point in points[:, 0]])
        np.testing.assert_allclose(values, law.ppf(points[:, 0]), rtol=1e-9)
        assert values.mean() == pytest.approx(law.mean(), abs=0.002 * law.std())
        assert values.std() == pytest.approx(law.std(), rel=0.005)
    assert drawn(plain, "share", 0.9).sd is None
    assert drawn(replace(plain, sd=None), "share", 0.9).value == 0.30


def test_draws_repeat_with_their_seed_and_begin_alike() -> None:
    assert np.array_equal(quantiles(3, 20, seed=1), quantiles(3, 32, seed=1)[:20])
    assert not np.array_equal(quantiles(3, 20, seed=1), quantiles(3, 20, seed=2))
    assert quantiles(0, 5, seed=1).shape == (5, 0)


def test_every_number_of_the_examples_has_its_kind() -> None:
    """The stated value, read again as its kind, is within the kind's range: so is every number's place found."""
    from hardtack.units import KINDS

    for file in sorted((ROOT / "examples").glob("*.yaml")):
        product = load(file)
        for one in inputs_of(product):
            kind = KINDS[kind_of(product, one.path)]
            assert one.amount.unit == kind.si or kind.name == "positive number", (file.name, one.name)
            assert kind.low <= one.amount.value <= kind.high, (file.name, one.name)


def test_portions_hold_every_scenario_once() -> None:
    for shape in ((1, 1, 1), (7, 3, 50), (250, 14, 16), (3, 2, 40_000)):
        seen = np.zeros(shape, dtype=int)
        chunk, parts = parts_of(shape)
        for part in parts:
            seen[part] += 1
            assert all(one.start % size == 0 for one, size in zip(part, chunk, strict=True))
        assert (seen == 1).all()


# Wherever it runs, and whenever it is stopped


def test_on_a_cluster_with_a_worker_killed_the_numbers_are_the_same(folder: Path, whole: Dataset) -> None:
    with dask_cluster(2) as (address, workers):
        killed: list[int] = []

        def told(progress: Progress) -> None:
            if progress.done and not killed:
                workers[0].kill()
                killed.append(progress.done)

        run_sweep(read_plan(folder / "plan.yaml"), folder / "cluster", cluster=address, told=told)
        assert workers[0].wait() != 0
        assert workers[1].poll() is None
    assert killed[0] < whole["days"].size
    same_bits(hardtack.open_sweep(folder / "cluster"), whole)
    assert sorted(lines(folder / "cluster")) == list(range(6))


def test_killed_outright_it_goes_on_without_loss_or_repetition(folder: Path, whole: Dataset) -> None:
    out = folder / "killed"
    command = [
        sys.executable,
        "-m",
        "hardtack",
        "sweep",
        str(folder / "plan.yaml"),
        "-o",
        str(out),
        "--workers",
        "2",
    ]
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        while not lines(out):
            assert process.poll() is None
            time.sleep(0.005)
        children = psutil.Process(process.pid).children()
    finally:
        process.kill()
        process.wait()
    before = lines(out)
    assert 0 < len(before) < 6, "killed too late to tell"
    partly = hardtack.open_sweep(out)
    assert 0 < partly.attrs["finished"] < 1
    assert np.isnan(partly["days"].values).any()
    with (out / FINISHED).open("a", encoding="utf-8") as stream:
        stream.write('{"portion": 5, "dig')  # what a crash in the midst of a line leaves
    seen: list[Progress] = []
    run_sweep(read_plan(folder / "plan.yaml"), out, told=seen.append)
    assert seen[0].done == 32 * len(before)
    same_bits(hardtack.open_sweep(out), whole)
    text = (out / FINISHED).read_text("utf-8")
    assert sorted(int(number) for number in re.findall(r'"portion": (\d+), "digest": "\w+"', text)) == list(
        range(6)
    )
    _gone(children)


def _gone(processes: list[psutil.Process]) -> None:
    """The workers of a process that was killed end by themselves."""
    assert processes
    _, alive = psutil.wait_procs(processes, timeout=20)
    assert [one for one in alive if one.status() != psutil.STATUS_ZOMBIE] == []


def test_interrupted_it_says_so_and_goes_on(
    folder: Path, whole: Dataset, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    from hardtack.keeping.sweeping.store import Store

    out, write = folder / "interrupted", Store.write

    def stopped(store: Store, worked: object) -> None:
        write(store, worked)  # type: ignore[arg-type]
        if len(store.finished) == 2:
            raise KeyboardInterrupt

    monkeypatch.setattr(Store, "write", stopped)
    code, _, err = run(capsys, "sweep", str(folder / "plan.yaml"), "-o", str(out), "--workers", "1")
    assert code == 130
    assert "the same command goes on" in err
    monkeypatch.undo()
    code, said, err = run(capsys, "sweep", str(folder / "plan.yaml"), "-o", str(out), "--workers", "1")
    assert (code, "100% finished" in said) == (0, True)
    assert "192 of 192 scenarios (100 %)" in err
    same_bits(hardtack.open_sweep(out), whole)
    assert len(lines(out)) == 6


def test_a_chunk_that_is_gone_or_spoilt_is_worked_out_again(folder: Path, whole: Dataset) -> None:
    out = folder / "spoilt"
    shutil.copytree(folder / "whole", out)
    chunks = out / RESULTS / "days" / "c"
    (chunks / "1" / "0" / "0").unlink()
    (chunks / "3" / "0" / "0").write_bytes(b"no chunk")
    run_sweep(read_plan(folder / "plan.yaml"), out)
    same_bits(hardtack.open_sweep(out), whole)
    assert sorted(lines(out)) == [0, 1, 1, 2, 3, 3, 4, 5]


def test_nothing_is_mixed(folder: Path, tmp_path: Path) -> None:
    written(tmp_path)
    plan = tmp_path / "plan.yaml"
    out = tmp_path / "out"
    plan.write_text("hardtack sweep: 1\nproducts: [biscuit.yaml]\n", encoding="utf-8")
    hardtack.sweep(plan, out)
    plan.write_text("hardtack sweep: 1\nproducts: [biscuit.yaml]\nplaces: [London]\n", encoding="utf-8")
    with pytest.raises(HardtackError, match=r"another plan.*\n.*another folder"):
        hardtack.sweep(plan, out)
    plan.write_text("hardtack sweep: 1\nproducts: [biscuit.yaml]\n", encoding="utf-8")
    (tmp_path / "biscuit.yaml").write_text(BISCUIT.replace("180 mL", "181 mL"), encoding="utf-8")
    with pytest.raises(HardtackError, match=r"other contents of biscuit\.yaml"):
        hardtack.sweep(plan, out)
    (tmp_path / "biscuit.yaml").write_text(BISCUIT, encoding="utf-8")
    manifest = json.loads((out / "sweep.json").read_text("utf-8"))
    manifest["program"]["numpy"] = "1.0"
    (out / "sweep.json").write_text(json.dumps(manifest), encoding="utf-8")
    with pytest.raises(HardtackError, match=r"another program: numpy 1\.0"):
        hardtack.sweep(plan, out)
    with pytest.raises(HardtackError, match=r"holds other things, such as biscuit\.yaml"):
        hardtack.sweep(plan, tmp_path)
    assert (tmp_path / "biscuit.yaml").read_text("utf-8") == BISCUIT


def test_one_process_writes_at_a_time(folder: Path) -> None:
    from hardtack.keeping.sweeping.store import _held

    with (
        _held(folder / "whole"),
        pytest.raises(HardtackError, match="another sweep is writing to this folder"),
    ):
        run_sweep(read_plan(folder / "plan.yaml"), folder / "whole")


def test_a_worker_of_another_program_is_refused(folder: Path) -> None:
    recipe, _ = recipe_of(read_plan(folder / "plan.yaml"))
    part = (slice(0, 1), slice(0, 1), slice(0, 1))
    portion = Portion(0, part, recipe, np.full((1, 2), 0.5), ("biscuit",), {**program(), "numpy": "1.0"})
    with pytest.raises(HardtackError, match=r"numpy .* instead of 1\.0"):
        work(portion)


def test_a_cluster_that_is_not_there_is_said(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from hardtack.keeping.sweeping import run as room

    monkeypatch.setattr(room, "PATIENCE", "300ms")
    with pytest.raises(HardtackError, match=r"no Dask cluster answers at tcp://127\.0\.0\.1:9"):
        run_sweep(read_plan(folder / "plan.yaml"), folder / "unanswered", cluster="tcp://127.0.0.1:9")


# Plans that are not right

SLIPS = [
    # old, new, what is said, how to mend it, line
    ("hardtack sweep: 1", "hardtack sweep: 2", "no whole number from 1 to 1", "1", 2),
    ("hardtack sweep: 1\n", "", "'hardtack sweep' is missing", "add 'hardtack sweep: 1'", 2),
    ("products: [biscuit.yaml]", "products: biscuit.yaml", "a list belongs here", "- ", 3),
    ("products: [biscuit.yaml]", "products: [buiscit.yaml]", "there is no such file", "biscuit.yaml", 3),
    ("products: [biscuit.yaml]", "products: []", "no product file is named", "products: [", 3),
    ("film: [OPP 30 um,", "film: [OPP 31 um,", "nothing by the name 'OPP 31 um'", "OPP 30 um", 6),
    ("film: [OPP 30 um, OPP 20 um]", "film: [OPP 20 um, OPP 20 um]", "stands twice", "keep one", 6),
    ("film: [OPP 30 um, OPP 20 um]", "film: OPP 20 um", "neither a list of choices nor a range", "[2 %wb", 6),
    ("film: [", "pack style: [bagg, ", "nothing by the name 'bagg'", "'bag'", 6),
    ('"pack: headspace"', '"pack: headroom"', "no number called 'pack: headroom'", "pack: headspace", 7),
    ('"pack: headspace"', '"pack"', "'pack' may mean", "write more of the name", 7),
    ("from: 200 mL", "from: 200 g", "no two numbers of one unit", "from: 2 %wb", 7),
    ("from: 200 mL", "from: -200 mL", "too small for a volume", "", 7),
    ("{from: 200 mL, to: 300 mL, steps: 3}", "[200 mL, 250 g]", "'g' is not a unit of volume", "mL", 7),
    ("steps: 3", "steps: few", "'steps: few' is no whole number", "steps: 5", 7),
    ("steps: 3", "step: 3", "neither a list of choices nor a range", "steps: 5", 7),
    ("samples: 32", "samples: many", "'many' is no whole number", "", 8),
    ("samples: 32", "places: [Lundon]\nsamples: 32", "nothing by the name 'Lundon'", "London", 8),
    (
        "samples: 32",
        "places: [London, london]\nsamples: 32",
        "the place 'London' stands twice",
        "keep one",
        8,
    ),
    ("seed: 5", "sead: 5", "unknown key 'sead'", "perhaps 'seed'", 9),
    ("keep: [days, ", "keep: [dates, ", "'dates' is not known here", "first failure", 10),
    ("keep: [days, first failure, ", "keep: days # ", "a list belongs here", "[days]", 10),
]


@pytest.mark.parametrize(("old", "new", "what", "mend", "line"), SLIPS)
def test_a_slip_in_the_plan_is_told_with_line_and_mend(
    tmp_path: Path, old: str, new: str, what: str, mend: str, line: int
) -> None:
    assert PLAN.count(old) == 1
    path = written(tmp_path, PLAN.replace(old, new))
    with pytest.raises(HardtackError) as caught:
        read_plan(path)
    problem = caught.value.problems[0]
    assert (what in problem.what, mend in problem.mend, problem.line) == (True, True, line), problem
    assert problem.file == str(path)


def test_all_slips_are_told_at_once(tmp_path: Path) -> None:
    plan = PLAN.replace("OPP 30 um", "OPP 31 um").replace("headspace", "headroom") + "places: [Lundon]\n"
    with pytest.raises(HardtackError) as caught:
        read_plan(written(tmp_path, plan))
    assert [problem.line for problem in caught.value.problems] == [6, 7, 11]


def test_a_slip_in_the_product_file_is_told_with_its_own_line(tmp_path: Path) -> None:
    with pytest.raises(HardtackError) as caught:
        read_plan(written(tmp_path, biscuit=BISCUIT.replace("count: 25", "count: 2.5")))
    assert caught.value.problems[0].where == f"{tmp_path / 'biscuit.yaml'}:7"


def test_a_design_that_cannot_be_built_is_told_before_the_sweep(tmp_path: Path) -> None:
    plan = PLAN.replace("film: [OPP 30 um, OPP 20 um]", '"biscuit: moisture": [2 %wb, 60 %wb]')
    path = written(tmp_path, plan)
    with pytest.raises(HardtackError, match=r"plan.yaml:6: design 4 .*moisture 60 %wb"):
        run_sweep(read_plan(path), tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_samples_of_nothing_unsure_are_refused(tmp_path: Path) -> None:
    biscuit = BISCUIT.replace(" ± 0.2", "").replace("{low: 0.055 m2, high: 0.065 m2}", "0.06 m2")
    with pytest.raises(HardtackError, match=r"plan.yaml:8 · samples: there is nothing to draw"):
        run_sweep(read_plan(written(tmp_path, biscuit=biscuit)), tmp_path / "out")


def test_a_number_the_plan_sets_has_the_spread_the_plan_gives_it(tmp_path: Path) -> None:
    plan = PLAN.replace("film: [OPP 30 um, OPP 20 um]", '"biscuit: moisture": [2 %wb, 3 %wb]')
    assert recipe_of(read_plan(written(tmp_path, plan)))[1] == ("pack: area",)
    plan = plan.replace("3 %wb", "3 ± 0.1 %wb")
    assert recipe_of(read_plan(written(tmp_path, plan)))[1] == ("biscuit: moisture", "pack: area")


# Shown


def test_a_folder_is_shown(
    folder: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path, whole: Dataset
) -> None:
    out = tmp_path / "sweep.svg"
    code, said, _ = run(capsys, "sweep", "--show", str(folder / "whole"), "--picture", str(out))
    assert code == 0
    assert "plan.yaml: 6 designs, 1 place, 32 samples; 100% finished." in said
    assert out.read_text("utf-8").count("moisture") == 0
    code, said, _ = run(capsys, "sweep", "--show", str(folder / "whole"), "--json")
    told = json.loads(said)
    assert told["schema"] == "hardtack sweep 1"
    days = np.sort(whole["days"].values[2, 0])
    row = told["rows"][2]
    assert row["settings"] == {"film": "OPP 30 um", "pack: headspace": "300 mL"}
    assert row["days"] == days[15]  # 16 of 32 do not outlast it
    assert row["days_nine_in_ten_outlast"] == days[3]  # 28.8 of 32, so the fourth
    assert row["days_one_in_ten_outlasts"] == days[28]


def test_the_picture_says_what_the_table_says(folder: Path) -> None:
    summary = summary_of(folder / "whole")
    drawn_rows = sorted(table(summary), key=lambda row: float(str(row["days"])))
    picture = svg(sweep_picture(summary))
    at = [picture.rindex(f"film {row['film']} · headspace {row['pack: headspace']}") for row in drawn_rows]
    assert at == sorted(at)  # the soonest to fail on top
    assert f"Shortest: film {drawn_rows[0]['film']}" in description(summary)
    never = replace(summary, rows=tuple(replace(row, days=np.inf, high=np.inf) for row in summary.rows))
    assert svg(sweep_picture(never)).count("nothing fails") >= 6


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        ((), "name a plan to carry out, or a folder to show"),
        (("plan.yaml", "--show", "x"), "name a plan to carry out, or a folder to show"),
        (("--show", "nowhere"), "this folder holds no sweep"),
        (("none.yaml",), "there is no such file"),
        (("plan.yaml", "--workers", "-3"), "-3 workers cannot work"),
        (("plan.yaml", "-o", "plan.yaml"), "cannot be written"),
    ],
)
def test_a_slip_on_the_command_line_is_told(
    arguments: tuple[str, ...],
    told: str,
    folder: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.chdir(folder)
    code, _, err = run(capsys, "sweep", *arguments)
    assert code == 2
    assert told in err
    assert os.listdir(folder).count("none-sweep") == 0
