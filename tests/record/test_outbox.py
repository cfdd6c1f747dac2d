"""The outbox: at least once, in order, over restarts, kills, power cuts and full disks; bounded."""

from __future__ import annotations

import random
import sqlite3
import subprocess
import sys
from collections.abc import Collection, Iterator
from contextlib import closing
from pathlib import Path
from shutil import which
from time import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dryward.core.commands import Commands, Event, Severity
from dryward.core.inputs import NOTHING
from dryward.record import outbox as module
from dryward.record.outbox import GRAVITY, Draft, Outbox, missed_events
from dryward.record.writer import RecordWriter
from tests.bench.killing import ROOT, weigher_env
from tests.bench.powerloss import images, put_down, trace
from tests.faults_live.stand import until
from tests.record.poster import LANE
from tests.record.scene import session, stamp


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "out.db"


@pytest.fixture
def box(path: Path) -> Iterator[Outbox]:
    made = Outbox(path, [LANE, "phone"])
    yield made
    made.close()


def letter(text: str, severity: Severity = "notice", lane: str = LANE, due_utc_s: float = 0.0) -> Draft:
    return Draft(lane, severity, text, due_utc_s)


def bodies(box: Outbox, lane: str = LANE, *, after: int = 0) -> list[str]:
    return [x.draft.body for x in box.take(lane, after=after, most=10**6)]


def test_letters_come_out_in_the_order_they_were_put_each_lane_by_itself(box: Outbox) -> None:
    box.put([letter("a"), letter("x", lane="phone"), letter("b")])
    box.put([letter("c")])
    assert box.flush()
    assert bodies(box) == ["a", "b", "c"]
    assert bodies(box, "phone") == ["x"]
    assert [x.draft.body for x in box.take(LANE, most=2)] == ["a", "b"]


def test_a_letter_is_given_out_only_when_it_is_on_disk(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    box = Outbox(path, [LANE])
    monkeypatch.setattr(box, "_is_due", lambda: False)  # the writing thread sleeps
    try:
        box.put([letter("a")])
        assert bodies(box) == []
        monkeypatch.undo()
        assert box.flush()
        assert bodies(box) == ["a"]
    finally:
        monkeypatch.undo()
        box.close()


def test_what_has_not_arrived_is_there_after_a_restart_and_numbers_only_rise(path: Path) -> None:
    first = Outbox(path, [LANE])
    first.put([letter("a"), letter("b"), letter("c")], tick=41)
    assert first.flush()
    taken = first.take(LANE, most=3)
    first.done(LANE, [taken[0].seq, taken[2].seq])
    first.close()
    again = Outbox(path, [LANE])
    try:
        assert bodies(again) == ["b"]
        assert again.box == first.box
        assert again.last_tick == 41
        again.put([letter("d")])
        assert again.flush()
        assert [x.draft.body for x in again.take(LANE, after=taken[2].seq, most=9)] == ["d"]
    finally:
        again.close()


def test_a_lane_that_is_no_longer_named_is_cleared_away(path: Path) -> None:
    first = Outbox(path, [LANE, "old phone"])
    first.put([letter("a"), letter("b", lane="old phone"), letter("c", lane="never named")])
    first.close()
    second = Outbox(path, [LANE])
    second.put([letter("d")])
    second.close()
    with closing(sqlite3.connect(path)) as conn:
        assert conn.execute("SELECT lane, body FROM letter ORDER BY seq").fetchall() == [(LANE, "a"), (LANE, "d")]


def test_letters_to_a_destination_that_could_not_be_read_today_are_kept(path: Path) -> None:
    first = Outbox(path, [LANE, "phone"])
    first.put([letter("a", lane="phone")])
    first.close()
    second = Outbox(path, [LANE], all_known=False)
    second.put([letter("b")])
    second._whole = True  # as after a failed write
    second.close()
    third = Outbox(path, [LANE, "phone"])
    assert (bodies(third, "phone"), bodies(third)) == (["a"], ["b"])
    third.close()


def test_a_letter_for_later_lets_the_others_pass(box: Outbox) -> None:
    box.put([letter("in an hour", due_utc_s=time() + 3600.0), letter("now")])
    assert box.flush()
    assert bodies(box) == ["now"]


@settings(max_examples=30)
@given(st.lists(st.sampled_from(GRAVITY), max_size=40))
def test_a_full_lane_gives_up_its_least_grave_and_oldest(grave: list[Severity]) -> None:
    """Checked against the plain rule: sort by gravity and age, keep the ten best, in order."""
    box = Outbox(Path("/proc/nowhere/out.db"), [LANE], limit=10)  # a disk that never works: memory is bounded too
    try:
        for number, severity in enumerate(grave):
            box.put([letter(str(number), severity)])
        kept = [int(b) for b in bodies(box)]
        assert kept == sorted(kept)
        assert len(kept) == min(10, len(grave))
        left: list[int] = []
        for number in range(len(grave)):  # the rule, letter by letter
            left.append(number)
            if len(left) > 10:
                left.remove(min(left, key=lambda n: (GRAVITY.index(grave[n]), n)))
        assert kept == left
        assert box.waiting().dropped == max(0, len(grave) - 10)
    finally:
        box.close()


def test_while_the_disk_fails_letters_are_given_out_all_the_same_and_written_when_it_is_back(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "RETRY_S", 0.05)
    path.mkdir()  # no file can be opened here
    box = Outbox(path, [LANE])
    try:
        box.put([letter("a"), letter("b")])
        assert "cannot be" in box.waiting().why
        assert bodies(box) == ["a", "b"]
        path.rmdir()
        until(lambda: not box.waiting().why, within_s=5.0, what="the outbox is written again")
        assert box.flush()
    finally:
        box.close()
    with closing(sqlite3.connect(path)) as conn:
        assert conn.execute("SELECT body FROM letter ORDER BY seq").fetchall() == [("a",), ("b",)]


def test_letters_found_late_come_before_what_has_come_since(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A card that is mounted a minute after dryward started."""
    (tmp_path / "card").mkdir()
    first = Outbox(tmp_path / "card" / "out.db", [LANE])
    first.put([letter("old")])
    first.close()
    monkeypatch.setattr(module, "RETRY_S", 0.05)
    (tmp_path / "card").rename(tmp_path / "not mounted")
    (tmp_path / "out.db").symlink_to(tmp_path / "card" / "out.db")
    box = Outbox(tmp_path / "out.db", [LANE])
    try:
        box.put([letter("new")])
        assert bodies(box) == ["new"]
        (tmp_path / "not mounted").rename(tmp_path / "card")
        until(lambda: not box.waiting().why, within_s=5.0, what="the outbox is read")
        assert bodies(box) == ["old", "new"]
        assert box.box == first.box
    finally:
        box.close()


def test_a_file_deleted_under_it_is_written_anew(box: Outbox, path: Path) -> None:
    box.put([letter("a")])
    assert box.flush()
    path.unlink()
    box.put([letter("b")])
    assert box.flush()
    with closing(sqlite3.connect(path)) as conn:
        assert conn.execute("SELECT body FROM letter ORDER BY seq").fetchall() == [("a",), ("b",)]


def test_a_damaged_file_is_set_aside_never_deleted(path: Path) -> None:
    path.write_bytes(b"no database at all" * 100)
    box = Outbox(path, [LANE])
    box.put([letter("a")])
    assert box.flush()
    assert bodies(box) == ["a"]
    box.close()
    assert [p.name for p in path.parent.glob("out.db.damaged-*")] != []


def test_a_schema_that_is_no_text_is_set_aside_too(path: Path) -> None:
    box = Outbox(path, [LANE])
    box.put([letter("a")])
    assert box.flush()
    box.close()
    content = path.read_bytes()
    assert b"CREATE TABLE letter" in content
    path.write_bytes(content.replace(b"CREATE TABLE letter", b"CREATE T\xffBLE letter"))
    box = Outbox(path, [LANE])
    box.put([letter("b")])
    assert box.flush()
    assert bodies(box) == ["b"]
    box.close()
    assert [p.name for p in path.parent.glob("out.db.damaged-*")] != []


def test_put_never_waits_for_the_disk(box: Outbox, path: Path) -> None:
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN EXCLUSIVE")
        began = time()
        box.put([letter("a")])
        assert time() - began < 0.5  # the other holds the file for ever; the outbox waits 2 s for it, in its own thread
        other.execute("ROLLBACK")
    assert box.flush(10.0)


def wrong_after_crash(path: Path, acknowledged: Collection[int]) -> list[str]:
    """Return what is wrong: damage, a durable letter that was never delivered and is gone, disorder."""
    if not path.exists():
        return ["gone"] if acknowledged else []
    box = Outbox(path, [LANE])
    there = [int(b) for b in bodies(box)]
    why = box.waiting().why
    box.close()
    with closing(sqlite3.connect(path)) as conn:
        whole = conn.execute("PRAGMA integrity_check").fetchall()
    lost = {n for n in acknowledged if n % 2 == 0} - set(there)
    return [
        w
        for w in (
            why,
            whole != [("ok",)] and "damaged",
            lost and f"lost {lost}",
            there != sorted(set(there)) and "disorder",
        )
        if w
    ]


def test_kill_9_at_any_moment_loses_no_letter(path: Path) -> None:
    chance = random.Random(5)
    acknowledged: set[int] = set()
    for _ in range(5):
        command = [sys.executable, "-m", "tests.record.poster", str(path)]
        with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True, env=weigher_env()) as poster:
            assert poster.stdout is not None
            said = [poster.stdout.readline() for _ in range(chance.randrange(2, 30))]
            poster.kill()
            said += poster.stdout.read().splitlines()
        acknowledged |= {int(w[1]) for w in map(str.split, said) if w[0] == "ack" and len(w) == 2}
        assert wrong_after_crash(path, acknowledged) == []
    assert len(acknowledged) > 10


@pytest.mark.skipif(which("strace") is None, reason="strace is not installed")
def test_no_power_cut_loses_a_letter_and_a_lying_disk_would_be_noticed(tmp_path: Path) -> None:
    folder = tmp_path / "image"
    folder.mkdir()
    ops = trace(tmp_path / "r.sqlite", 12, "tests.record.poster")
    assert sum(op.what == "ack" for op in ops) == 12
    for honest, count in ((True, 60), (False, 30)):
        wrong = [
            w
            for files, acked in images(ops, {}, count, random.Random(2), honest=honest)
            for w in wrong_after_crash(put_down(folder, files), acked)
        ]
        assert (wrong == []) is honest


def test_events_that_reached_the_record_but_not_the_outbox_are_found(tmp_path: Path) -> None:
    path = tmp_path / "r.sqlite"
    writer = RecordWriter(path, session(), threaded=False)
    for tick in range(1, 6):
        event = Event(
            kind="step-begun", subject=f"s{tick}", severity="notice", text=f"{tick}", meaning="m", advice="a", value=1.5
        )
        writer.put(tick, stamp(tick), NOTHING, Commands(events=(event,), keep=True), None)
    writer.close()
    found = missed_events(path, 3)
    assert [(tick, event.subject) for tick, _, event in found] == [(4, "s4"), (5, "s5")]
    assert found[0][2] == Event(
        kind="step-begun", subject="s4", severity="notice", text="4", meaning="m", advice="a", value=1.5
    )
    assert [tick for tick, _, _ in missed_events(path, 0, most=2)] == [4, 5]
    assert missed_events(tmp_path / "none", 0) == []
