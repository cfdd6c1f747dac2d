"""The daemon's side of the socket: whatever is sent, it answers and nothing breaks."""

from __future__ import annotations

import grp
import json
import os
import stat
import threading
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from dryward.core.commands import Reply
from dryward.core.inputs import Request
from dryward.doors.socket_door import SocketDoor
from dryward.doors.wire import ask
from dryward.record.moments import NoteWritten
from dryward.record.notebook import BadNote


class Waiting:
    """A posted request, answered at once."""

    def __init__(self, request: Request) -> None:
        self.done = threading.Event()
        self.done.set()
        self.reply: Reply | None = Reply(request_id=request.request_id, accepted=True, text=f"did {request.ask.verb}")


class House:
    """Stands in for the loop: remembers what was posted."""

    def __init__(self, path: Path, group: str = "") -> None:
        self.posted: list[Request] = []
        self.notes: list[NoteWritten] = []
        self.kept = True
        self.door = SocketDoor(
            path,
            group=group,
            post=self.post,
            status=lambda: {"run": {"phase": "idle"}},
            flush=lambda: self.kept,
            plans=self,
            notes=self,
            name_run=lambda: "run-1",
        )

    def post(self, request: Request) -> Waiting:
        self.posted.append(request)
        return Waiting(request)

    def plan(self, **_: Any) -> str:
        return "planned"

    def drop(self, who: str) -> int:
        return 0

    def write(self, notes: Sequence[NoteWritten]) -> str:
        if any(note.run_id == "nope" for note in notes):
            raise BadNote("no run 'nope'")
        self.notes.extend(notes)
        return "Noted."


@pytest.fixture
def house(tmp_path: Path) -> Any:
    made = House(tmp_path / "d.sock")
    yield made
    made.door.close()


def test_a_request_is_answered(house: House, tmp_path: Path) -> None:
    answer = ask(tmp_path / "d.sock", {"ask": {"verb": "hold", "reason": "x"}, "who": "Ines"})
    assert answer == {"accepted": True, "text": "did hold", "recorded": True}
    assert house.posted[0].who == "Ines"


def test_the_caller_is_named_by_the_kernel_when_he_names_nobody(house: House, tmp_path: Path) -> None:
    ask(tmp_path / "d.sock", {"ask": {"verb": "resume"}})
    assert house.posted[0].who not in ("", "unknown")


def test_the_daemon_names_the_run(house: House, tmp_path: Path) -> None:
    program = {"name": "p", "cap_h": 5, "steps": [{"name": "s", "air_c": 60, "ends": {"cap_h": 1}}]}
    ask(tmp_path / "d.sock", {"ask": {"verb": "start", "program": program, "run_id": ""}})
    assert house.posted[0].ask.run_id == "run-1"  # type: ignore[union-attr]


def test_what_could_not_be_recorded_is_said(house: House, tmp_path: Path) -> None:
    house.kept = False
    answer = ask(tmp_path / "d.sock", {"ask": {"verb": "resume"}})
    assert answer["recorded"] is False
    assert "NOT" in answer["text"]


def test_a_group_that_cannot_be_let_in_is_told_and_its_own_needs_no_right(
    tmp_path: Path, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Under the shipped unit nobody may give files away (its filter of system calls)."""

    def forbidden(*_: object) -> None:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(os, "chown", forbidden)
    House(tmp_path / "a", grp.getgrgid(os.getgid()).gr_name).door.close()
    assert not caplog.records
    other = next(g.gr_name for g in grp.getgrall() if g.gr_gid != os.getgid())
    for group, why in ((other, "Operation not permitted"), ("nobody-has-this-one", "no such group")):
        House(tmp_path / "b", group).door.close()
        assert group in caplog.messages[-1]
        assert why in caplog.messages[-1]


def test_only_owner_and_group_may_talk(house: House, tmp_path: Path) -> None:
    assert stat.S_IMODE((tmp_path / "d.sock").stat().st_mode) == 0o660


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=200, deadline=None)
@given(
    line=st.one_of(
        st.binary(max_size=200),
        st.recursive(
            st.none() | st.booleans() | st.floats() | st.text(max_size=8),
            lambda c: (
                st.lists(c, max_size=3)
                | st.dictionaries(
                    st.sampled_from(["ask", "verb", "who", "request_id", "piece", "weight_g", "x"]), c, max_size=4
                )
            ),
            max_leaves=8,
        ).map(lambda v: json.dumps(v).encode()),
    )
)
def test_whatever_is_sent_is_answered_and_nothing_unknown_is_posted(house: House, line: bytes) -> None:
    house.posted.clear()
    answer = house.door.answer(line, "someone")
    assert isinstance(answer["accepted"], bool)
    for request in house.posted:
        assert request.ask.verb in (
            "load",
            "start",
            "hold",
            "resume",
            "stop",
            "weigh",
            "pull",
            "ack",
            "shelve",
            "reset",
        )


@pytest.mark.parametrize("weight", ["heavy", None, [], "700"])
def test_a_weight_that_is_no_number_is_refused(house: House, tmp_path: Path, weight: object) -> None:
    answer = ask(tmp_path / "d.sock", {"ask": {"verb": "weigh", "piece": "a", "weight_g": weight}})
    assert answer["accepted"] is False
    assert "weight_g" in answer["text"]
    assert not house.posted


@pytest.mark.parametrize("weight", ["1e400", "-1e400", "NaN", "Infinity"])
def test_an_endless_weight_reaches_no_table_of_the_record(house: House, weight: str) -> None:
    """SQLite's JSON knows none of them: one in the record once made every weight of it unreadable."""
    answer = house.door.answer(b'{"ask": {"verb": "weigh", "piece": "a", "weight_g": %s}}' % weight.encode(), "ann")
    assert answer["accepted"] is False
    assert "number" in answer["text"]
    assert not house.posted


def test_a_note_is_handed_on_and_its_writer_named(house: House, tmp_path: Path) -> None:
    note = {"run_id": "r1", "text": "fine", "who": "", "tags": ["tasting"]}
    assert ask(tmp_path / "d.sock", {"verb": "note", "notes": [note]})["accepted"]
    (kept,) = house.notes
    assert (kept.run_id, kept.text, kept.tags) == ("r1", "fine", ("tasting",))
    assert kept.who not in ("", "unknown")
    for bad in (None, [{"run_id": "r1"}], [{**note, "text": 3}], [{**note, "run_id": "nope"}]):
        answer = ask(tmp_path / "d.sock", {"verb": "note", "notes": bad})
        assert answer["accepted"] is False
        assert answer["text"]
    assert len(house.notes) == 1
    assert not house.posted


def test_a_note_that_could_not_be_recorded_is_said(house: House, tmp_path: Path) -> None:
    house.kept = False
    answer = ask(tmp_path / "d.sock", {"verb": "note", "notes": [{"run_id": "r1", "text": "x", "who": "a"}]})
    assert "NOT" in answer["text"]
