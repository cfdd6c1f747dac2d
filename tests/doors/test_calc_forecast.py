"""``calc forecast``: a notebook and a scale are enough."""

from __future__ import annotations

import json
import math
import re
import time
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from dryward.doors.cli import main

KEYS = {"piece", "green_g", "last_g", "loss_pct", "target_g", "reached", "finish_s", "finish_lo_s", "finish_hi_s"}


def notebook(folder: Path, rows: str, name: str = "notebook.csv") -> str:
    (folder / name).write_text(rows)
    return str(folder / name)


def run(*words: str) -> Result:
    return CliRunner().invoke(main, ["calc", "forecast", *words])


def curve(hours: float, green_g: float = 1000.0) -> float:
    return round(green_g * (0.55 + 0.45 * math.exp(-0.03 * hours)), 1)


TWO = "t_s,piece,weight_g\n" + "".join(
    f"{3600 * h},{piece},{curve(h, green_g)}\n"
    for h in range(0, 33, 4)
    for piece, green_g in (("loin", 900.0), ("neck", 700.0))
)


def test_json_has_what_was_agreed(tmp_path: Path) -> None:
    result = run(notebook(tmp_path, TWO), "--target-pct", "35", "--json")
    assert result.exit_code == 0, result.output
    answers = json.loads(result.output)
    assert [a["piece"] for a in answers] == ["loin", "neck"]
    exact_s = -math.log(0.1 / 0.45) / 0.03 * 3600.0
    for answer in answers:
        assert set(answer) == KEYS
        assert answer["target_g"] == pytest.approx(0.65 * answer["green_g"])
        assert not answer["reached"]
        assert answer["finish_lo_s"] <= exact_s <= answer["finish_hi_s"]


def test_the_text_says_when_and_how_sure(tmp_path: Path) -> None:
    output = run(notebook(tmp_path, TWO), "--target-pct", "35").output
    assert "loin" in output
    assert "nine times out of ten" in output
    assert "not a safety proof" in output


def test_a_plan_of_milder_air_makes_it_later(tmp_path: Path) -> None:
    rows = "t_s,piece,weight_g,air_c,rh_pct\n" + "".join(f"{3600 * h},a,{curve(h)},80,10\n" for h in range(0, 25, 4))
    log = notebook(tmp_path, rows)
    plan = notebook(tmp_path, "t_s,air_c,rh_pct\n86400,65,15\n130000,55,25\n", "plan.csv")
    (same,) = json.loads(run(log, "--target-pct", "35", "--json").output)
    (later,) = json.loads(run(log, "--target-pct", "35", "--plan", plan, "--json").output)
    assert later["finish_s"] is None or later["finish_s"] > same["finish_s"]


def test_the_green_weight_can_be_given(tmp_path: Path) -> None:
    log = notebook(tmp_path, "t_s,piece,weight_g\n0,a,950\n36000,a,900\n72000,a,860\n")
    (answer,) = json.loads(run(log, "--target-pct", "35", "--green", "a=1000", "--json").output)
    assert answer["green_g"] == 1000.0
    assert answer["loss_pct"] == pytest.approx(14.0)


def test_rows_may_come_in_any_order_and_a_reached_target_is_said(tmp_path: Path) -> None:
    log = notebook(tmp_path, "t_s,piece,weight_g\n200,a,600\n0,a,1000\n100,a,700\n")
    (answer,) = json.loads(run(log, "--target-pct", "35", "--json").output)
    assert answer["reached"]
    assert answer["finish_s"] == pytest.approx(150.0)


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ("t_s,piece,weight_g\n0,a,1000\n", "at different times"),
        ("t_s,piece,weight_g\n0,a,1000\n0,a,990\n", "at different times"),
        ("t_s,piece,weight_g\n0,a,1000\n100,a,1500\n", "green weight"),
        ("t_s,piece,weight_g\n0,a,0\n100,a,-5\n", "weight_g"),
        ("t_s,piece,weight_g\n0,a,heavy\n100,a,900\n", "heavy"),
        ("t_s,weight_g\n0,1000\n", "piece"),
        ("t_s,piece,weight_g,air_c\n0,a,1000,176\n100,a,900,176\n", "air_c"),
    ],
)
def test_a_bad_file_is_told_and_ends_with_one(tmp_path: Path, rows: str, said: str) -> None:
    result = run(notebook(tmp_path, rows), "--target-pct", "35")
    assert result.exit_code == 1
    assert said in result.output


@pytest.mark.parametrize(
    "words", [("--target-pct", "0.35"), ("--target-pct", "100"), ("--target-pct", "35", "--green", "b=5"), ()]
)
def test_wrong_use_ends_with_two(tmp_path: Path, words: tuple[str, ...]) -> None:
    assert run(notebook(tmp_path, TWO), *words).exit_code == 2


def test_a_hundred_thousand_rows_take_seconds(tmp_path: Path) -> None:
    rows = "t_s,piece,weight_g\n" + "".join(f"{i * 0.1:.1f},a,{curve(i / 36_000.0 * 12.0)}\n" for i in range(100_000))
    log = notebook(tmp_path, rows)
    began = time.process_time()
    assert run(log, "--target-pct", "35", "--json").exit_code == 0
    assert time.process_time() - began <= 3.0


def test_a_piece_that_weighs_its_target_has_reached_it(tmp_path: Path) -> None:
    """34 % off 200 g are 132 g on the scale, not a hair less."""
    log = notebook(tmp_path, "t_s,piece,weight_g\n0,a,200\n3600,a,160\n7200,a,132\n")
    assert json.loads(run(log, "--target-pct", "34", "--json").output)[0]["reached"] is True


def test_a_weight_typed_in_kilograms_is_no_finished_piece(tmp_path: Path) -> None:
    log = notebook(tmp_path, "t_s,piece,weight_g\n0,a,900\n3600,a,850\n7200,a,0.81\n")
    result = run(log, "--target-pct", "35")
    assert result.exit_code == 1, result.output
    assert "row 4: weight is 0.81 g" in result.output
    assert "If that was kg, write 810" in result.output


def test_a_green_weight_is_understood_with_a_decimal_comma_or_refused_as_it_was_typed(tmp_path: Path) -> None:
    log = notebook(tmp_path, "t_s,piece,weight_g\n3600,a,850\n7200,a,810\n")
    assert json.loads(run(log, "--target-pct", "35", "--green", "a=900,5", "--json").output)[0]["green_g"] == 900.5
    refused = run(log, "--target-pct", "35", "--green", "a=heavy")
    assert refused.exit_code == 2
    assert "'heavy' is no number of grams" in refused.output


def test_times_that_count_from_1970_are_told_by_the_clock_on_the_wall(tmp_path: Path) -> None:
    began = 1_760_000_000
    rows = "".join(f"{began + 3600 * h},loin,{curve(h)}\n" for h in range(0, 30, 3))
    told = run(notebook(tmp_path, "t_s,piece,weight_g\n" + rows), "--target-pct", "35").output
    assert re.search(
        r"expected at \w{3} \d\d \w{3} \d\d:\d\d, \d+\.\d\d h after the last weighing; nine times out of ten between \w{3} ",
        told,
    )
    assert "4888" not in told
