"""The fault matrix: every row of the contract in every state on every chamber. ``python -m tests.faults.matrix``.

Prints one line a row with the worst time of the four chambers in each state; '-' where a fault cannot be in a state.
With the name of a row (F12) only that row, and every chamber for itself.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence

from tests.faults.cell import Cell
from tests.faults.rows import ROWS, Row
from tests.faults.stand import MODELS, Model
from tests.faults.states import CASES, Case

WIDTH = 13


def measure(row: Row, case: Case, models: Sequence[Model] = MODELS) -> dict[Model, Cell | str]:
    """Return what was measured on each chamber."""
    assert row.experiment is not None
    return {model: row.experiment(case, model) for model in models}


def shown(found: dict[Model, Cell | str]) -> str:
    """Return the worst cell as text."""
    cells = [c for c in found.values() if isinstance(c, Cell)]
    if not cells:
        return "-"
    worst = max(cells, key=lambda c: (not c.good, c.took / c.limit if c.limit else 0.0))
    return f"{worst.took:.0f}/{worst.limit:.0f} {worst.unit}{'' if worst.good else ' !!'}"


def line(row: Row, cells: Sequence[str]) -> str:
    """Return one line of the printed matrix."""
    return f"{row.row:<4}{row.what:<24}" + "".join(f"{c:<{WIDTH}}" for c in cells)


HEAD = f"{'':<28}" + "".join(f"{c.name:<{WIDTH}}" for c in CASES)


def main(wanted: Sequence[str]) -> int:
    """Print the matrix, or the rows named; return 1 when a cell fails."""
    failed = 0
    print("worst of four chambers: measured / allowed\n" + HEAD)
    for row in ROWS:
        if wanted and row.row not in wanted:
            continue
        if row.experiment is None:
            print(line(row, [row.elsewhere]))
            continue
        found = {case.name: measure(row, case) for case in CASES}
        print(line(row, [shown(f) for f in found.values()]), flush=True)
        for state, cells in found.items():
            for model, cell in cells.items():
                bad = isinstance(cell, Cell) and not cell.good
                failed += bad
                if bad or wanted:
                    print(
                        f"      {state}, {model}: {cell if isinstance(cell, str) else f'{cell.took:.0f} {cell.unit} {cell.noticed} {cell.wrong}'}"
                    )
    print("every cell in time" if not failed else f"{failed} cells FAILED")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
