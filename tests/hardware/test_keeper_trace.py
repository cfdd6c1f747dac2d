"""The bounded trace file."""

from __future__ import annotations

from pathlib import Path
from time import monotonic_ns

from dryward_hardware.keeper.trace import Trace


def test_lines_carry_the_monotonic_clock(tmp_path: Path) -> None:
    before_ns = monotonic_ns()
    Trace(str(tmp_path / "trace")).write("heater 1 wanted")
    stamp, rest = (tmp_path / "trace").read_text().split(" ", 1)
    assert before_ns <= int(stamp) <= monotonic_ns()
    assert rest == "heater 1 wanted\n"


def test_an_existing_trace_goes_on(tmp_path: Path) -> None:
    for text in ("one", "two"):
        Trace(str(tmp_path / "trace")).write(text)
    assert [line.split()[1] for line in (tmp_path / "trace").read_text().splitlines()] == ["one", "two"]


def test_a_full_trace_makes_way_and_loses_nothing_recent(tmp_path: Path) -> None:
    trace = Trace(str(tmp_path / "trace"), keep_bytes=500)
    for number in range(100):
        trace.write(f"number {number}")
    kept = (tmp_path / "trace.1").read_text() + (tmp_path / "trace").read_text()
    numbers = [int(line.split()[2]) for line in kept.splitlines()]
    assert numbers == list(range(numbers[0], 100))
    assert len(numbers) >= 15
    assert len(kept) < 1100
