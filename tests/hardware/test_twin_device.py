"""The twin as devices: time, outputs, hooks, pieces, determinism."""

from __future__ import annotations

import pytest

from dryward_hardware.ports import Batch, DeviceError, Hung
from dryward_hardware.twin import Twin

HOT = frozenset({"heater", "fan"})
FOUR = [Hung(name=f"p{n}", green_g=600.0 + 50.0 * n, channel=f"sim/hook-{n}") for n in range(4)]


def run(
    options: dict[str, object], *, poll_s: float = 5.0, until_s: float = 1800.0, from_s: float = 0.0
) -> list[Batch]:
    twin = Twin("sim", options)
    twin.hang(FOUR)
    batches, now_s = [], from_s
    while now_s <= from_s + until_s:
        batches.append(twin.poll(now_s))
        twin.want(HOT if now_s % 120.0 < 60.0 else frozenset({"fan"}), now_s)
        now_s += poll_s
    return batches


def newest(batch: Batch) -> dict[str, float | None]:
    return {sample.channel: sample.value for sample in batch.samples}


def test_the_same_seed_gives_the_same_readings_and_another_seed_others() -> None:
    options = {"seed": 5, "sensing": {"failed_share": 0.3}}
    assert run(options) == run(options)
    assert run(options) != run({**options, "seed": 6})


def test_the_first_poll_is_second_zero_wherever_the_callers_clock_stands() -> None:
    early, late = run({}, until_s=60.0), run({}, until_s=60.0, from_s=987_000.0)
    assert [newest(b) for b in early] == [newest(b) for b in late]
    assert late[0].samples[0].sampled_s == 987_000.0


def test_a_poll_in_the_past_or_at_the_same_time_changes_nothing() -> None:
    twin = Twin("sim", {})
    twin.poll(100.0)
    twin.poll(160.0)
    before = twin.truth()
    assert twin.poll(160.0) == Batch()
    twin.poll(40.0)
    twin.want(HOT, 0.0)
    assert twin.truth().elapsed_s == before.elapsed_s == 60.0


def test_every_channel_comes_at_its_own_pace() -> None:
    twin = Twin(
        "sim",
        {"sensing": {"temperature_s": 2.0, "humidity_s": 4.0, "weight_s": 30.0, "room_s": 60.0}, "hooks": ["hook-1"]},
    )
    seen: dict[str, list[float]] = {}
    for now_s in range(121):
        for sample in twin.poll(float(now_s)).samples:
            seen.setdefault(sample.channel, []).append(sample.sampled_s)
    assert seen["sim/air"] == seen["sim/limit"] == seen["sim/core"] == [2.0 * n for n in range(61)]
    assert seen["sim/humidity"] == [4.0 * n for n in range(31)]
    assert seen["sim/hook-1"] == seen["sim/rack"] == [0.0, 30.0, 60.0, 90.0, 120.0]
    assert seen["sim/ambient"] == seen["sim/ambient-humidity"] == seen["sim/scale-temperature"] == [0.0, 60.0, 120.0]
    assert seen["sim/door"] == seen["sim/fan"] == [float(n) for n in range(121)]


def test_a_slow_poll_gets_the_newest_of_each_only() -> None:
    twin = Twin("sim", {})
    twin.poll(0.0)
    samples = twin.poll(600.0).samples
    assert len(samples) == len({s.channel for s in samples})
    assert {s.sampled_s for s in samples} == {600.0}


def test_hooks_weigh_their_piece_and_the_rack_weighs_all() -> None:
    twin = Twin("sim", {"hooks": ["empty"]})
    twin.hang(FOUR)
    twin.poll(0.0)
    shown = newest(twin.poll(60.0))
    for piece in FOUR:
        assert shown[str(piece.channel)] == pytest.approx(piece.green_g, abs=2.0)
    assert shown["sim/rack"] == pytest.approx(sum(p.green_g for p in FOUR), abs=4.0)
    assert shown["sim/empty"] == pytest.approx(0.0, abs=2.0)


def test_a_piece_taken_off_leaves_its_hook_empty_and_comes_back_on_another() -> None:
    twin = Twin("sim", {})
    twin.hang(FOUR)
    twin.poll(0.0)
    twin.take_off("p1")
    shown = newest(twin.poll(120.0))
    assert shown["sim/hook-1"] == pytest.approx(0.0, abs=2.0)
    assert shown["sim/rack"] == pytest.approx(600.0 + 700.0 + 750.0, abs=4.0)
    assert [p.hanging for p in twin.truth().pieces] == [True, False, True, True]
    twin.put_back("p1", "hook-9")
    shown = newest(twin.poll(240.0))
    assert shown["sim/hook-9"] == pytest.approx(650.0, abs=2.0)
    assert shown["sim/hook-1"] == pytest.approx(0.0, abs=2.0)
    assert twin.truth().pieces[1].channel == "sim/hook-9"


def test_pieces_without_a_cell_weigh_on_the_rack_alone() -> None:
    twin = Twin("sim", {})
    twin.hang([Hung(name="a", green_g=500.0)])
    twin.poll(0.0)
    shown = newest(twin.poll(60.0))
    assert shown["sim/rack"] == pytest.approx(500.0, abs=2.0)
    assert twin.truth().pieces[0].channel is None


def test_a_twin_without_a_rack_cell_sends_no_rack_weight() -> None:
    assert "sim/rack" not in newest(Twin("sim", {"sensing": {"rack": False}}).poll(0.0))


def test_handling_that_makes_no_sense_is_refused_with_the_cure() -> None:
    twin = Twin("sim", {})
    twin.hang(FOUR)
    with pytest.raises(DeviceError, match="p0 hangs already or comes twice"):
        twin.hang([FOUR[0]])
    with pytest.raises(DeviceError, match="q hangs already or comes twice"):
        twin.hang([Hung(name="q", green_g=1.0), Hung(name="q", green_g=2.0)])
    with pytest.raises(DeviceError, match="no piece ham; hung here: p0, p1, p2, p3"):
        twin.take_off("ham")
    with pytest.raises(DeviceError, match="p0 hangs already"):
        twin.put_back("p0")
    twin.take_off("p0")
    with pytest.raises(DeviceError, match="put it back first"):
        twin.take_off("p0")
    with pytest.raises(DeviceError, match="no hook can be called air"):
        twin.hang([Hung(name="r", green_g=500.0, channel="sim/air")])


def test_outputs_say_what_is_on_and_unknown_ones_do_no_harm() -> None:
    twin = Twin("sim", {})
    assert twin.actual() == frozenset()
    twin.want(frozenset({"heater", "buzzer"}), 0.0)
    assert twin.actual() == {"heater", "buzzer"}
    twin.poll(60.0)
    assert twin.truth().heating
    twin.close()


def test_without_its_contactor_a_fitted_chamber_has_no_heat() -> None:
    twin = Twin("sim", {"dryer": {"contactor": True}})
    twin.want(HOT, 0.0)
    assert not twin.truth().heating
    twin.want(HOT | {"contactor"}, 1.0)
    assert twin.truth().heating


def test_a_fan_wired_to_the_mains_turns_always() -> None:
    assert newest(Twin("sim", {"dryer": {"fan": "always"}}).poll(0.0))["sim/fan"] == 1.0
    assert newest(Twin("sim", {}).poll(0.0))["sim/fan"] == 0.0


def test_the_door_can_be_opened_by_hand() -> None:
    twin = Twin("sim", {"start_c": 70.0})
    twin.poll(0.0)
    twin.open_door()
    assert newest(twin.poll(60.0))["sim/door"] == 1.0
    assert twin.truth().door_open
    assert twin.truth().air_c < 60.0
    twin.close_door()
    assert newest(twin.poll(61.0))["sim/door"] == 0.0


def test_the_core_probe_sits_in_the_heaviest_piece_or_the_one_named() -> None:
    for wanted, piece in (("", "p3"), ("p0", "p0")):
        twin = Twin("sim", {"sensing": {"core_piece": wanted, "temperature_noise_k": 0.0, "core_lag_s": 0.0}})
        twin.hang(FOUR)
        twin.want(HOT, 0.0)
        shown = newest(twin.poll(3600.0))["sim/core"]
        core_c = next(p.core_c for p in twin.truth().pieces if p.name == piece)
        assert shown == pytest.approx(core_c, abs=0.06)


def test_asking_for_the_truth_changes_nothing() -> None:
    asked, left = Twin("sim", {}), Twin("sim", {})
    for twin in (asked, left):
        twin.hang(FOUR)
        twin.want(HOT, 0.0)
        for now_s in range(0, 600, 5):
            twin.poll(float(now_s))
            if twin is asked:
                twin.truth()
    assert asked.truth() == left.truth()


def test_wrong_options_name_the_device() -> None:
    with pytest.raises(DeviceError, match=r"^sim: seed is -1, the least is 0$"):
        Twin("sim", {"seed": -1})


def test_the_next_batch_may_use_the_names_again() -> None:
    twin = Twin("sim", {})
    twin.hang(FOUR)
    twin.poll(0.0)
    twin.clear()
    twin.hang(FOUR)
    twin.poll(5.0)
    assert [p.name for p in twin.truth().pieces] == [p.name for p in FOUR]
