"""``calc lethality`` as typed, over records as probes write them."""

from __future__ import annotations

import json
import time
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from dryward.doors.calc import calc

WORKED_F = [40, 64, 82, 97, 113, 128, 138, 142, 145, 148, 145, 140, 137, 136, 135, 134]


def written(tmp_path: Path, rows: Iterable[tuple[object, ...]], header: str = "t_s,core_c") -> Path:
    path = tmp_path / "core.csv"
    path.write_text(header + "\n" + "".join(",".join(map(str, row)) + "\n" for row in rows), encoding="utf-8")
    return path


def run(path: Path, *options: str) -> Result:
    return CliRunner().invoke(calc, ["lethality", str(path), *options])


def answered(path: Path, *options: str) -> dict[str, Any]:
    result = run(path, *options, "--json")
    assert result.exit_code == 0, result.output
    values: dict[str, Any] = json.loads(result.output)
    return values


def held(core_c: float, minutes: int, *more: object) -> list[tuple[object, ...]]:
    return [(60 * minute, core_c, *more) for minute in range(minutes + 1)]


def test_the_published_worked_example(tmp_path: Path) -> None:
    """Process-lethality sheet: Tref 150 degF, z 10 degF, D 0.172 min: F 0.863 min (transcribed and recomputed)."""
    path = written(tmp_path, [(30 * place, (core_f - 32) / 1.8) for place, core_f in enumerate(WORKED_F)])
    values = answered(path, "--ref-c", str((150 - 32) / 1.8), "--z-c", str(10 / 1.8), "--d-min", "0.172")
    assert values["f_min"] == pytest.approx(0.863, abs=0.0006)
    assert values["log_reduction"] == pytest.approx(0.863 / 0.172, abs=0.004)
    assert answered(path, "--organism", "salmonella-patty")["f_min"] == pytest.approx(values["f_min"])


def test_without_d_there_is_no_reduction(tmp_path: Path) -> None:
    assert answered(written(tmp_path, held(65.0, 5)), "--ref-c", "65", "--z-c", "6")["log_reduction"] is None


@pytest.mark.parametrize(
    ("core_c", "minutes", "six", "seven"),
    [(60.0, 12, True, True), (60.0, 11, False, False), (54.4, 112, True, False), (54.4, 121, True, True)],
)
def test_appendix_a_by_its_table(tmp_path: Path, core_c: float, minutes: int, six: bool, seven: bool) -> None:
    """USDA FSIS Appendix A: 140 degF 12 min for both; 130 degF 112 min for 6.5 logs, 121 min for 7."""
    values = answered(written(tmp_path, held(core_c, minutes)), "--appendix-a")
    assert (values["meets_6_5"], values["meets_7"]) == (six, seven)
    assert values["logs_6_5_basis"] == pytest.approx(6.5 * minutes * 10 ** ((core_c * 1.8 + 32 - 130) / 10) / 112)


def test_without_a_humidity_condition_nothing_is_credited_and_it_says_why(tmp_path: Path) -> None:
    path = written(tmp_path, held(62.0, 30))
    assert answered(path, "--appendix-a")["credited"] is False
    assert "NOT CREDITED: there is no rh_pct column" in run(path, "--appendix-a").output


@pytest.mark.parametrize(("rh_pct", "credited"), [(95.0, True), (20.0, False)])
def test_measured_humidity_decides(tmp_path: Path, rh_pct: float, credited: bool) -> None:
    values = answered(written(tmp_path, held(62.0, 30, rh_pct), "t_s,core_c,rh_pct"), "--appendix-a")
    assert values["credited"] is credited


def test_the_owner_may_state_a_condition(tmp_path: Path) -> None:
    values = answered(written(tmp_path, held(62.0, 30)), "--appendix-a", "--humidity-condition", "sealed")
    assert values["credited"] is True
    assert "as the owner states" in values["humidity"]


def test_a_gap_credits_nothing_and_is_told(tmp_path: Path) -> None:
    whole = answered(written(tmp_path, held(60.0, 10)), "--appendix-a")["logs_6_5_basis"]
    path = written(tmp_path, [*held(60.0, 5), *((3600 + 60 * minute, 60.0) for minute in range(6))])
    values = answered(path, "--appendix-a")
    assert values["logs_6_5_basis"] == pytest.approx(whole)
    assert "Gap from 300 to 3600 s" in values["notes"][0]


def test_an_empty_cell_is_a_gap(tmp_path: Path) -> None:
    rows = [(60 * minute, "" if minute == 3 else 60.0) for minute in range(7)]
    values = answered(written(tmp_path, rows), "--appendix-a")
    assert values["logs_6_5_basis"] == pytest.approx(6.5 * 4 / 11.2)
    assert "Gap from 120 to 240 s" in values["notes"][0]


def test_a_probe_pulled_out_is_told_and_nothing_counts_after(tmp_path: Path) -> None:
    path = written(
        tmp_path, [*held(60.0, 5), (360, 25.0), (420, 22.0), *((480 + 60 * minute, 70.0) for minute in range(20))]
    )
    values = answered(path, "--appendix-a")
    assert values["logs_6_5_basis"] == pytest.approx(6.5 * 5 / 11.2)
    assert "pulled out" in values["notes"][0]


def test_every_bad_row_is_told_and_the_record_refused(tmp_path: Path) -> None:
    result = run(written(tmp_path, [(0, 60.0), (60, "hot"), (120, 60.0)]), "--appendix-a")
    assert result.exit_code == 1
    assert "row 3: core_c is 'hot'" in result.output
    result = run(written(tmp_path, [(0, 60.0), (120, 60.0), (60, 60.0), (180, 140.0)]), "--appendix-a")
    assert result.exit_code == 1
    assert "row 4: t_s is 60, earlier than 120" in result.output
    assert "row 5: core temperature is 140 degC" in result.output
    assert "If that was degF, it is 60.0 degC" in result.output


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ([], "--ref-c and --z-c together"),
        (["--ref-c", "65"], "--ref-c and --z-c together"),
        (["--appendix-a", "--d-min", "1"], "--ref-c and --z-c together"),
        (["--organism", "listeria-beef", "--z-c", "5"], "one or the other"),
        (["--ref-c", "150", "--z-c", "5.6"], "If that was degF, it is 65.6 degC"),
        (["--ref-c", "65", "--z-c", "30"], "divided by 1.8"),
    ],
)
def test_used_wrongly_says_how(tmp_path: Path, options: list[str], said: str) -> None:
    result = run(written(tmp_path, held(60.0, 5)), *options)
    assert result.exit_code == 2
    assert said in result.output


@pytest.mark.parametrize("gap_s", ["nan", "inf"])
def test_a_gap_that_is_no_number_is_refused_not_counted_over(tmp_path: Path, gap_s: str) -> None:
    path = written(tmp_path, [*held(62.0, 2), (9000, 62.0), (9060, 62.0)])
    assert run(path, "--appendix-a", "--gap-s", gap_s).exit_code == 2


def test_a_stated_condition_does_not_overrule_what_was_measured(tmp_path: Path) -> None:
    path = written(tmp_path, held(62.0, 30, 20.0), "t_s,core_c,rh_pct")
    result = run(path, "--appendix-a", "--humidity-condition", "rh90")
    assert result.exit_code == 2, result.output
    assert "what was measured decides" in result.output


def test_a_day_of_readings_each_second_is_added_up_in_linear_time(tmp_path: Path) -> None:
    """Ten times the rows may take twenty times as long, where comparing each with each would take a hundred."""

    def taken_s(rows: int) -> float:
        path = written(tmp_path, [(second, 60.0) for second in range(rows)])
        begun = time.process_time()
        assert run(path, "--appendix-a").exit_code == 0
        return time.process_time() - begun

    taken_s(100)
    assert taken_s(30_000) < 20.0 * taken_s(3_000)


def test_many_gaps_do_not_fill_the_screen(tmp_path: Path) -> None:
    path = written(tmp_path, [(60 * minute, "" if minute % 2 else 60.0) for minute in range(101)])
    assert len(answered(path, "--appendix-a")["notes"]) == 50
    output = run(path, "--appendix-a").output
    assert output.count("Gap from") == 12
    assert "... and 38 earlier ones" in output
