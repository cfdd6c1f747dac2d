"""Inputs and decisions come out of the file exactly as they went in."""

from __future__ import annotations

import struct
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from dryward.core.commands import Commands, Event, Reply
from dryward.core.inputs import Ack, Hold, Inputs, Notice, Reading, Request, Stop, Weigh, Weighing
from dryward.record.queries import Record
from tests.record.scene import air, began, ended, event, put, writer

words = st.text(st.characters(exclude_categories=["Cs"]), max_size=6)
times = st.floats(min_value=-1.0, max_value=1e9).map(lambda x: x + 0.0)
asks = st.one_of(
    st.builds(Weigh, piece=words, weight_g=st.floats()),
    st.builds(Hold, reason=words),
    st.builds(Stop, reason=words),
    st.builds(Ack, alarm=words),
)
inputs = st.builds(
    Inputs,
    readings=st.lists(st.builds(Reading, words, st.none() | st.floats(), times, words), max_size=3).map(tuple),
    weighings=st.lists(st.builds(Weighing, words, st.floats(), times), max_size=2).map(tuple),
    requests=st.lists(st.builds(Request, request_id=words, ask=asks, who=words), max_size=2).map(tuple),
    notices=st.lists(
        st.builds(Notice, st.sampled_from(["restarted", "clock-stepped"]), st.floats(), words), max_size=2
    ).map(tuple),
)
commands = st.builds(
    Commands,
    on=st.frozensets(st.sampled_from(["heater", "fan", "vent"])),
    events=st.lists(
        st.builds(
            Event, kind=words, subject=words, text=words, meaning=words, advice=words, value=st.none() | st.floats()
        ),
        max_size=2,
    ).map(tuple),
    replies=st.lists(st.builds(Reply, request_id=words, accepted=st.booleans(), text=words), max_size=2).map(tuple),
)


def exact(value: Any) -> str:
    """A text in which two values are the same only when every float has the same bits (all NaN count as one)."""
    if isinstance(value, float):
        return "nan" if value != value else struct.pack(">d", value).hex()
    if isinstance(value, tuple):
        return "(" + ",".join(map(exact, value)) + ")"
    if isinstance(value, frozenset):
        return repr(sorted(value))
    if hasattr(value, "__dataclass_fields__"):
        return type(value).__name__ + exact(tuple(getattr(value, name) for name in value.__dataclass_fields__))
    return repr(value)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(inputs, commands, st.integers(0, 2)), min_size=1, max_size=6))
def test_a_recorded_run_comes_back_bit_for_bit(ticks: list[tuple[Inputs, Commands, int]]) -> None:
    with TemporaryDirectory() as folder:
        book = writer(Path(folder) / "r.sqlite", commit_s=1e9)
        put(book, 0, marks=[began()])
        expected, at = [(0, Inputs(), Commands())], 0
        for told, decided, gap in ticks:
            at += 1 + gap
            put(book, at, told, decided)
            expected.append((at, told, decided))
        put(book, at + 1, marks=[ended()])
        expected.append((at + 1, Inputs(), Commands()))
        assert book.close()
        assert book.health().refused == 0
        with Record(Path(folder) / "r.sqlite") as record:
            assert [(t, exact(i)) for t, i in record.inputs("r1")] == [(t, exact(i)) for t, i, _ in expected]
            assert [(t, exact(c)) for t, c in record.decisions("r1")] == [(t, exact(c)) for t, _, c in expected]


def test_a_run_over_a_restart_has_a_stretch_for_each_session_with_its_start_state(tmp_path: Path) -> None:
    path = tmp_path / "r.sqlite"
    book = writer(path)
    put(book, 0)
    put(book, 1, air(1), Commands(on=frozenset({"heater"})), marks=[began(state={"tick": 0})])
    put(book, 2, air(2), Commands(on=frozenset({"heater"}), keep=True))
    book._store.close()  # killed: nothing more is written
    book = writer(path, first_tick=9, start_state={"tick": 2})
    put(book, 9, air(9))
    put(book, 10, air(10), Commands(on=frozenset({"fan"})), marks=[ended(state="stopped", reason="stopped by ann")])
    book.close()
    with Record(path) as record:
        parts = record.stretches("r1")
        assert [(p.first_tick, p.last_tick, p.start_state) for p in parts] == [
            (1, 2, '{"tick":0}'),
            (9, 10, '{"tick":2}'),
        ]
        assert [t for t, _ in record.inputs("r1")] == [1, 2, 9, 10]
        assert [set(c.on) for _, c in record.decisions("r1")] == [{"heater"}, {"heater"}, set(), {"fan"}]
        assert record.output_changes("r1") == [(1, "heater", True), (3, "heater", False), (10, "fan", True)]


def test_ticks_that_were_not_executed_are_not_replayed(tmp_path: Path) -> None:
    book = writer(tmp_path / "r.sqlite")
    put(book, 0, marks=[began()])
    put(book, 5, air(5))
    put(book, 6, commands=Commands(events=(event(),)), marks=[ended()])
    book.close()
    with Record(tmp_path / "r.sqlite") as record:
        assert [t for t, _ in record.inputs("r1")] == [0, 5, 6]
