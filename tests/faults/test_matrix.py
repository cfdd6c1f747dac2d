"""Fault contract, F1 to F24, in six states of a run on four chambers: noticed in the table's time in every cell."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.faults.cell import Cell
from tests.faults.matrix import HEAD, line, measure, shown
from tests.faults.rows import ROWS, Row
from tests.faults.states import CASES

CONTRACT = [f"F{n}" for n in range(1, 25)]


def test_every_row_of_the_contract_is_in_the_matrix() -> None:
    assert sorted({r.row for r in ROWS}, key=lambda f: int(f[1:])) == CONTRACT


@pytest.mark.parametrize("row", [r for r in ROWS if r.experiment is None], ids=lambda r: r.row)
def test_what_only_real_processes_can_prove_names_a_test_that_exists(row: Row) -> None:
    named = row.elsewhere.rsplit(" ", 1)[-1]
    assert (Path(__file__).parents[2] / named).is_file(), named


@pytest.mark.parametrize(
    "row", [r for r in ROWS if r.experiment is not None], ids=lambda r: f"{r.row}-{r.what.replace(' ', '-')}"
)
def test_a_fault_is_noticed_in_time_and_rightly_answered(row: Row, capsys: pytest.CaptureFixture[str]) -> None:
    found = {case.name: measure(row, case) for case in CASES}
    with capsys.disabled():
        print(("\n" + HEAD + "\n" if row is ROWS[3] else "") + line(row, [shown(f) for f in found.values()]))
    cells = [
        (state, model, cell)
        for state, by_model in found.items()
        for model, cell in by_model.items()
        if isinstance(cell, Cell)
    ]
    assert cells, "nowhere tried"
    late = [
        f"{state}, {model}: {cell.took:.0f} of {cell.limit:.0f} {cell.unit} {cell.wrong}"
        for state, model, cell in cells
        if not cell.good
    ]
    assert not late, "\n".join(late)
