"""The copy of the state beside the socket: what it holds, and that a death at any moment leaves one whole."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dryward.core.commands import Event
from dryward.core.state import State
from dryward.record.checkpoint import from_json
from dryward.service import awake as module
from dryward.service.awake import StateCopy
from tests.service.awake_scene import (
    copy,
    running,
    stamp,
)


def test_a_copy_says_what_was_written(tmp_path: Path) -> None:
    bench = running()
    found = copy(tmp_path, bench).read()
    assert [c.tick for c in found] == [bench.tick]
    assert from_json(State, found[0].state) == bench.state


def test_what_was_said_stays_in_the_copy_for_a_minute_and_over_another_death(tmp_path: Path) -> None:
    said = Event(kind="trip", subject="air", severity="trip", text="hot", meaning="m", advice="a", value=91.5)
    bench = running()
    made = StateCopy(tmp_path / "c.state")
    made.write(7, stamp(), bench.state, (said,))
    made.write(8, stamp(), bench.state)
    for tick in (9, 10):  # a life that ends with its first tick, and another
        made = StateCopy(tmp_path / "c.state")
        made.read()
        assert [(tick, event) for tick, _, event in made.said] == [(7, said)]
        made.write(tick, stamp(), bench.state)
    for tick in range(11, 11 + module.SAID_WRITES):
        made.write(tick, stamp(), bench.state)
    made = StateCopy(tmp_path / "c.state")
    made.read()
    assert made.said == ()


def test_what_is_said_in_the_copy_is_bounded(tmp_path: Path) -> None:
    bench = running()
    made = StateCopy(tmp_path / "c.state")
    for tick in range(module.SAID_MOST):
        made.write(tick, stamp(), bench.state, [Event(kind="x", severity="log", text=f"{tick}-{n}") for n in "ab"])
    made = StateCopy(tmp_path / "c.state")
    made.read()
    assert len(made.said) == module.SAID_MOST
    assert made.said[-1][2].text == f"{module.SAID_MOST - 1}-b"


@settings(max_examples=150)
@given(data=st.data())
def test_a_copy_that_was_torn_while_it_was_written_gives_way_to_the_one_before(
    tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    """A write that a kill cut short has left the head of the new one and the tail of what was there before."""
    folder = tmp_path_factory.mktemp("torn")
    bench = running(2)
    made = StateCopy(folder / "c.state")
    for _ in range(3):
        made.write(bench.tick, stamp(), bench.state)
        bench.turn(22.0)
    path = folder / "c.state.1"  # the next to be overwritten
    before = path.read_bytes()
    made.write(bench.tick, stamp(), bench.state)
    whole = path.read_bytes()
    cut = data.draw(st.integers(0, len(whole)))
    path.write_bytes(whole[:cut] + before[cut:])
    ticks = {c.tick for c in StateCopy(folder / "c.state").read()}
    assert bench.tick - 1 in ticks
    assert ticks <= {bench.tick - 2, bench.tick - 1, bench.tick}


def test_the_newest_copy_is_left_alone_by_the_next_write(tmp_path: Path) -> None:
    bench = running()
    for _ in range(5):
        made = StateCopy(tmp_path / "c.state")
        newest = max((c.tick for c in made.read()), default=None)
        bench.turn(22.0)
        made.write(bench.tick, stamp(), bench.state)
        after = {c.tick for c in StateCopy(tmp_path / "c.state").read()}
        assert newest is None or newest in after


@pytest.mark.parametrize("text", [b"", b"\n", b"00000000\n", b"zz\n{}", b"\xff" * 50, b"[]"])
def test_a_file_that_is_no_copy_is_passed_over(tmp_path: Path, text: bytes) -> None:
    (tmp_path / "c.state.0").write_bytes(text)
    assert StateCopy(tmp_path / "c.state").read() == []


def test_a_copy_that_cannot_be_written_is_nobodys_matter(tmp_path: Path) -> None:
    bench = running()
    StateCopy(tmp_path / "nowhere" / "c.state").write(bench.tick, stamp(), bench.state)
