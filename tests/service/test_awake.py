"""Waking up: what is gone on with, how long it was away, whether it wakes too often (F16, F20, F24)."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dryward.core.alarms import tripped
from dryward.core.inputs import Notice
from dryward.core.state import State
from dryward.record.checkpoint import from_json, to_json
from dryward.record.moments import Stamp
from dryward.service import awake as module
from dryward.service.awake import UNKNOWN_S, StateCopy, Unsure, count_starts, forgive_starts, left_behind, wake
from tests.core.bench_chamber import Bench
from tests.service.awake_scene import (
    BOOT,
    NOW_BOOTTIME_S,
    NOW_UTC_S,
    copy,
    on,
    record,
    running,
    stamp,
    tripped_bench,
    woken,
)


@pytest.fixture(autouse=True)
def machine(monkeypatch: pytest.MonkeyPatch) -> pytest.MonkeyPatch:
    """A machine whose clocks a test sets."""
    on(monkeypatch)
    return monkeypatch


def test_the_first_start_begins_afresh(tmp_path: Path) -> None:
    bench = Bench.of()
    found = woken(tmp_path, bench)
    assert (found.fresh, found.why, found.notices, found.first_tick) == (True, "", (), 1)
    assert found.state.run.phase == "idle"


def test_the_copy_of_the_last_second_beats_the_record_of_the_last_commit(tmp_path: Path) -> None:
    bench = running()
    record(tmp_path / "r.db", bench, ago_s=10.0)
    bench.turns(8, 22.0)
    copy(tmp_path, bench, ago_s=2.0)
    found = woken(tmp_path, bench)
    assert found.state.run.step_s == bench.state.run.step_s
    assert found.first_tick == bench.tick + 1 + 2


def test_a_copy_that_is_older_than_the_record_never_wins(tmp_path: Path) -> None:
    bench = running()
    copy(tmp_path, bench, ago_s=30.0)
    bench.turns(20, 22.0)
    record(tmp_path / "r.db", bench, ago_s=10.0)
    assert woken(tmp_path, bench).state.run.step_s == bench.state.run.step_s


def test_where_both_are_of_one_tick_the_record_counts(tmp_path: Path) -> None:
    bench = running()
    record(tmp_path / "r.db", bench, ago_s=5.0)
    copy(tmp_path, bench, ago_s=9.0)
    assert woken(tmp_path, bench).notices == (Notice("restarted", 5.0),)


@pytest.mark.parametrize("harm", ["garbage", "missing", "a folder"])
def test_trips_are_kept_when_the_record_is_lost(tmp_path: Path, harm: str) -> None:
    bench = tripped_bench()
    record(tmp_path / "r.db", bench)
    copy(tmp_path, bench)
    path = tmp_path / "r.db"
    path.unlink()
    if harm == "garbage":
        path.write_bytes(b"this is no record" * 1000)
    elif harm == "a folder":
        path.mkdir()
    found = woken(tmp_path, bench)
    assert [a.key for a in tripped(found.state.alarms)] == [a.key for a in tripped(bench.state.alarms)]
    assert bool(found.why) is (harm != "missing")


def test_trips_are_kept_when_the_disk_of_the_record_was_full(tmp_path: Path) -> None:
    bench = running()
    record(tmp_path / "r.db", bench)
    bench.turn(22.0, notices=[Notice("keeper-lost", 3.0, "died")])
    copy(tmp_path, bench)  # the record could not be written any more
    assert tripped(woken(tmp_path, bench).state.alarms)


@pytest.mark.parametrize("kept", ["record", "copy"])
def test_trips_are_kept_over_a_boot(tmp_path: Path, machine: pytest.MonkeyPatch, kept: str) -> None:
    bench = tripped_bench()
    record(tmp_path / "r.db", bench) if kept == "record" else copy(tmp_path, bench)
    on(machine, boot="boot-2", boottime_s=10.0, utc_s=0.0, right=False)
    assert tripped(woken(tmp_path, bench).state.alarms)


def test_a_trip_withholds_heat_after_waking_until_it_is_acknowledged_and_reset(tmp_path: Path) -> None:
    bench = tripped_bench()
    copy(tmp_path, bench)
    found = woken(tmp_path, bench)
    again = Bench(bench.layout, found.state, tick=found.first_tick - 1)
    again.turn(22.0, notices=found.notices)
    again.turns(600, 22.0)
    assert not again.heating
    assert again.state.no_heat


# ---- how long it was away


def test_within_a_boot_the_wall_clock_does_not_count(tmp_path: Path, machine: pytest.MonkeyPatch) -> None:
    bench = running()
    copy(tmp_path, bench, ago_s=42.0, right=False)
    for utc_s, right in ((0.0, True), (NOW_UTC_S + 3.15e8, True), (NOW_UTC_S, False)):
        on(machine, utc_s=utc_s, right=right)
        assert woken(tmp_path, bench).notices == (Notice("restarted", 42.0),)


@pytest.mark.parametrize(
    ("then", "now", "utc_s", "away_s"),
    [
        (True, True, NOW_UTC_S + 600.0, 602.0),
        (True, True, NOW_UTC_S - 600.0, UNKNOWN_S),  # back in time
        (True, False, NOW_UTC_S + 600.0, UNKNOWN_S),
        (False, True, NOW_UTC_S + 600.0, UNKNOWN_S),
    ],
)
def test_over_a_boot_only_a_clock_that_was_right_both_times_counts(
    tmp_path: Path, machine: pytest.MonkeyPatch, then: bool, now: bool, utc_s: float, away_s: float
) -> None:
    bench = running()
    copy(tmp_path, bench, right=then)
    on(machine, boot="boot-2", boottime_s=20.0, utc_s=utc_s, right=now)
    found = woken(tmp_path, bench)
    assert found.notices == (Notice("restarted", away_s),)
    assert found.first_tick == bench.tick + 1 + max(0, int(away_s))


def test_a_chamber_without_a_run_has_no_outage(tmp_path: Path) -> None:
    bench = Bench.of()
    bench.turn(22.0)
    copy(tmp_path, bench)
    assert woken(tmp_path, bench).notices == ()


@settings(max_examples=60)
@given(
    ticks=st.integers(1, 30),
    period_s=st.sampled_from([0.5, 1.0, 2.0, 5.0]),
    ago_s=st.floats(-1e9, 1e9),
    right=st.booleans(),
    booted=st.booleans(),
)
def test_the_chamber_clock_never_goes_back(
    tmp_path_factory: pytest.TempPathFactory, ticks: int, period_s: float, ago_s: float, right: bool, booted: bool
) -> None:
    """Whatever the machine's clocks say, and also when the period was changed in the chamber file."""
    folder = tmp_path_factory.mktemp("w")
    bench = running(ticks)
    copy(folder, bench, ago_s=ago_s)
    layout = replace(bench.layout, chamber=replace(bench.layout.chamber, period_s=period_s))
    with pytest.MonkeyPatch.context() as patch:
        on(patch, boot="boot-2" if booted else BOOT, right=right)
        found = wake(layout, folder / "r.db", StateCopy(folder / "c.state"))
    assert found.first_tick * period_s > bench.state.now


# ---- a clock that is set only after waking


def test_an_outage_is_learnt_when_the_clock_is_set(tmp_path: Path, machine: pytest.MonkeyPatch) -> None:
    bench = running()
    copy(tmp_path, bench)
    on(machine, boot="boot-2", boottime_s=20.0, utc_s=0.0, right=False)
    unsure = woken(tmp_path, bench).unsure
    assert unsure is not None
    assert unsure.learn(Stamp(utc_s=30.0, boottime_s=50.0)) is None
    # Set 40 s after waking: 1000 s have passed since the power went, 40 of them awake.
    set_now = Stamp(utc_s=NOW_UTC_S - 2.0 + 1000.0, boottime_s=60.0, synchronised=True)
    assert unsure.learn(set_now) == pytest.approx(960.0)
    assert unsure.learn(Stamp(utc_s=0.0, boottime_s=60.0, synchronised=True)) == UNKNOWN_S
    assert unsure.learn(Stamp(utc_s=0.0, boottime_s=700.0)) == UNKNOWN_S


@pytest.mark.parametrize("case", ["same boot", "clock was not right before", "no heat was wanted"])
def test_nothing_is_learnt_where_nothing_is_in_doubt(tmp_path: Path, machine: pytest.MonkeyPatch, case: str) -> None:
    bench = Bench.of() if case == "no heat was wanted" else running()
    bench.turn(22.0)
    copy(tmp_path, bench, right=case != "clock was not right before")
    on(machine, boot=BOOT if case == "same boot" else "boot-2", boottime_s=NOW_BOOTTIME_S, utc_s=0.0, right=False)
    assert woken(tmp_path, bench).unsure is None


def test_unsure_is_about_the_moment_of_waking() -> None:
    assert (
        Unsure(gone_utc_s=1000.0, woke_boottime_s=10.0).learn(Stamp(utc_s=1100.0, boottime_s=10.0, synchronised=True))
        == 100.0
    )


# ---- states of other versions


def test_an_alarm_of_another_version_holds_the_run_and_breaks_nothing(tmp_path: Path) -> None:
    bench = tripped_bench()
    told = json.loads(to_json(bench.state))
    told["alarms"].append({**told["alarms"][0], "key": "from-the-future"})
    strange = from_json(State, json.dumps(told))
    StateCopy(tmp_path / "c.state").write(bench.tick, stamp(2.0), strange)
    found = woken(tmp_path, bench)
    assert "from-the-future" not in {a.key for a in found.state.alarms}
    assert tripped(found.state.alarms)
    assert found.notices == (Notice("restarted", UNKNOWN_S),)


def test_a_state_that_cannot_be_read_gives_way_to_the_next_older(tmp_path: Path) -> None:
    bench = tripped_bench()
    record(tmp_path / "r.db", bench)
    made = StateCopy(tmp_path / "c.state")
    made.write(bench.tick + 5, stamp(), bench.state)
    head_and_body = (tmp_path / "c.state.0").read_bytes()
    told = json.loads(head_and_body.split(b"\n", 1)[1]) | {"state": '{"now": "yesterday"}'}
    body = json.dumps(told).encode()
    (tmp_path / "c.state.0").write_bytes(b"%08x\n%s" % (module.crc32(body), body))
    found = woken(tmp_path, bench)
    assert tripped(found.state.alarms)
    assert "could not be read" in found.why
    assert not found.lost


def test_where_no_state_can_be_read_that_is_said_in_one_line(tmp_path: Path) -> None:
    bench = tripped_bench()
    StateCopy(tmp_path / "c.state").write(bench.tick, stamp(), bench.state)
    body = json.loads((tmp_path / "c.state.0").read_bytes().split(b"\n", 1)[1])
    state = json.loads(body["state"])
    del state["food"]
    text = json.dumps(body | {"state": json.dumps(state)}).encode()
    (tmp_path / "c.state.0").write_bytes(b"%08x\n%s" % (module.crc32(text), text))
    found = woken(tmp_path, bench)
    assert found.fresh
    assert found.lost == f"the state of tick {bench.tick} could not be read (food: Field required)"


def test_a_record_damaged_without_a_copy_is_a_lost_state_and_a_first_start_is_none(tmp_path: Path) -> None:
    assert woken(tmp_path, running()).lost == ""
    (tmp_path / "r.db").write_bytes(b"no database at all " * 2000)
    found = woken(tmp_path, running())
    assert "set aside" in found.lost == found.why


# ---- starts


def test_the_third_start_within_ten_minutes_is_a_crash_loop(tmp_path: Path, machine: pytest.MonkeyPatch) -> None:
    path = tmp_path / "run" / "starts.json"
    assert count_starts(path) is None
    on(machine, boottime_s=NOW_BOOTTIME_S + 200.0)
    assert count_starts(path) is None
    on(machine, boottime_s=NOW_BOOTTIME_S + 599.0)
    assert count_starts(path) == Notice("crash-loop", 3.0)
    on(machine, boottime_s=NOW_BOOTTIME_S + 700.0)  # the first is forgotten now
    assert count_starts(path) == Notice("crash-loop", 3.0)
    on(machine, boottime_s=NOW_BOOTTIME_S + 5000.0)
    assert count_starts(path) is None


def test_starts_that_ended_in_order_or_before_this_boot_do_not_count(
    tmp_path: Path, machine: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "starts.json"
    for _ in range(5):
        assert count_starts(path) is None
        forgive_starts(path)
    forgive_starts(path)  # twice does no harm
    for n in range(5):
        on(machine, boot=f"boot-{n}")
        assert count_starts(path) is None


@pytest.mark.parametrize("text", ["", "{", "[]", '{"boot_id": "boot-1"}', '{"boot_id": "boot-1", "starts_s": "abc"}'])
def test_a_count_that_cannot_be_read_begins_again(tmp_path: Path, text: str) -> None:
    path = tmp_path / "starts.json"
    path.write_text(text)
    assert count_starts(path) is None
    assert count_starts(path) is None
    assert count_starts(path) is not None


def test_an_end_in_the_middle_of_a_run_says_what_becomes_of_the_meat() -> None:
    bench = Bench.of()
    bench.turn(22.0)
    assert left_behind(bench.layout, bench.state) == ""
    bench.begin()
    said = left_behind(bench.layout, bench.state)
    assert "RUN r1 IS NOT AT ITS END (running)" in said
    assert "within 60 min" in said
