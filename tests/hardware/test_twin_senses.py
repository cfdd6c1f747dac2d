"""The twin's channels: ranges, failures, contacts, the knock of a door."""

from __future__ import annotations

import statistics

import pytest

from dryward_hardware.ports import Hung, Sample
from dryward_hardware.twin import Twin


def samples(options: dict[str, object], channel: str, *, seconds: int, every_s: int = 5) -> list[Sample]:
    twin = Twin("sim", options)
    return [
        s
        for now_s in range(0, seconds, every_s)
        for s in twin.poll(float(now_s)).samples
        if s.channel == f"sim/{channel}"
    ]


def test_a_share_of_the_readings_fails_and_says_so() -> None:
    seen = samples({"sensing": {"failed_share": 0.3}}, "humidity", seconds=20_000)
    failed = [s for s in seen if s.value is None]
    assert len(failed) / len(seen) == pytest.approx(0.3, abs=0.03)
    assert {s.fault for s in failed} == {"no answer"}
    assert all(s.fault == "" for s in seen if s.value is not None)


def test_contacts_never_fail_by_chance() -> None:
    assert all(s.value is not None for s in samples({"sensing": {"failed_share": 0.9}}, "door", seconds=1000))


def test_noise_and_resolution_are_as_told() -> None:
    seen = [
        s.value
        for s in samples({"sensing": {"temperature_noise_k": 0.2, "temperature_step_k": 0.1}}, "air", seconds=20_000)
        if s.value is not None
    ]
    assert statistics.mean(seen) == pytest.approx(22.0, abs=0.02)
    assert statistics.stdev(seen) == pytest.approx(0.2, rel=0.06)
    assert all(round(value, 1) == value for value in seen)


def test_humidity_stays_between_its_ends_however_noisy() -> None:
    seen = [
        s.value
        for s in samples({"room": {"rh_pct": 99.0}, "sensing": {"humidity_noise_pct": 5.0}}, "humidity", seconds=5000)
        if s.value is not None
    ]
    assert max(seen) == 100.0
    assert min(seen) >= 0.0


def test_the_limit_sensor_feels_something_of_the_element() -> None:
    twin = Twin("sim", {"dryer": {"limit_share": 0.05}, "sensing": {"temperature_noise_k": 0.0}})
    twin.want(frozenset({"heater", "fan"}), 0.0)
    twin.poll(0.0)
    shown = {s.channel: s.value for s in twin.poll(300.0).samples}
    assert shown["sim/limit"] > shown["sim/air"] + 3.0  # type: ignore[operator]


def test_a_sensor_shows_a_step_of_the_air_after_its_dead_time_and_lag() -> None:
    twin = Twin(
        "sim",
        {
            "start_c": 80.0,
            "dryer": {"air_dead_s": 20.0},
            "sensing": {"temperature_noise_k": 0.0, "temperature_step_k": 0.0, "air_lag_s": 15.0, "temperature_s": 1.0},
        },
    )
    twin.want(frozenset({"fan"}), 0.0)
    twin.poll(0.0)
    twin.open_door()
    shown = {
        now_s: next(s.value for s in twin.poll(float(now_s)).samples if s.channel == "sim/air")
        for now_s in range(1, 60)
    }
    assert shown[19] == pytest.approx(80.0, abs=0.01)
    assert twin.truth().air_c + 3.0 < shown[50] < 78.0  # type: ignore[operator]


def test_moving_the_door_shakes_the_weights_for_seconds() -> None:
    twin = Twin("sim", {"sensing": {"weight_s": 1.0}})
    twin.hang([Hung(name="p", green_g=700.0, channel="hook")])
    weights = {}
    for now_s in range(300):
        if now_s == 200:
            twin.open_door()
        weights[now_s] = next(s.value for s in twin.poll(float(now_s)).samples if s.channel == "sim/hook")
    calm = [weights[n] for n in range(100, 200)]
    assert max(calm) - min(calm) < 3.0  # type: ignore[type-var, operator]
    assert max(abs(weights[n] - 700.0) for n in range(201, 206)) > 10.0  # type: ignore[operator]
    assert max(abs(weights[n] - 700.0) for n in range(250, 300)) < 3.0  # type: ignore[operator]
