"""The keeper's rules, as plain cases and as what must hold whatever is wanted and however time passes."""

from __future__ import annotations

from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dryward_hardware.keeper.rules import Change, Keeping, Standing, begin, decide, lapse, objections, renew
from dryward_hardware.ports import LineSpec

LEASE_S = 3.0
HEATER = LineSpec(name="heater", gpio=17)
FAN = LineSpec(name="fan", gpio=18, safe_on=True)
PLAIN_FAN = LineSpec(name="fan", gpio=18)
CONTACTOR = LineSpec(name="contactor", gpio=27)
COOLER = LineSpec(name="cooler", gpio=22, min_on_s=120, min_off_s=300)
HEARTBEAT = LineSpec(name="heartbeat", gpio=23)

LONG_RESTED = {name: Standing(False, -inf) for name in ("heater", "fan", "contactor", "cooler", "vent")}


class Bench:
    """The rules with lines, in a time of the test's own."""

    def __init__(self, *lines: LineSpec, remembered: dict[str, Standing] | None = None, now_s: float = 1000.0) -> None:
        self.lines = lines
        self.now_s = now_s
        self.keeping, self.changes = begin(lines, LONG_RESTED if remembered is None else remembered, now_s)

    def want(self, *names: str, after_s: float = 0.0) -> frozenset[str]:
        self.now_s += after_s
        self.keeping = renew(self.keeping, frozenset(names), lease_ends_s=self.now_s + LEASE_S)
        return self.wait(0.0)

    def wait(self, seconds: float) -> frozenset[str]:
        self.now_s += seconds
        self.keeping, self.changes = decide(self.lines, self.keeping, self.now_s)
        return self.keeping.on

    def hold(self, *names: str, seconds: float) -> frozenset[str]:
        """Want the same every second for so long."""
        for _ in range(round(seconds)):
            self.want(*names, after_s=1.0)
        return self.keeping.on


def test_before_anything_is_wanted_every_output_is_and_stays_in_its_safe_state() -> None:
    bench = Bench(HEATER, FAN, CONTACTOR)
    assert bench.keeping.on == {"fan"}
    assert bench.wait(1.0) == {"fan"}


def test_the_start_names_every_line_so_that_the_trace_is_whole() -> None:
    bench = Bench(FAN, HEATER)
    assert bench.changes == (Change("heater", False, "start"), Change("fan", True, "start"))


def test_on_lasts_as_long_as_the_lease_and_no_longer() -> None:
    bench = Bench(HEATER)
    assert bench.want("heater") == {"heater"}
    assert bench.wait(2.999) == {"heater"}
    assert bench.wait(0.001) == frozenset()
    assert bench.changes == (Change("heater", False, "lease"),)


def test_a_renewed_lease_keeps_on_what_is_on() -> None:
    bench = Bench(HEATER)
    assert bench.hold("heater", seconds=600) == {"heater"}


def test_what_is_not_wanted_goes_off_at_once() -> None:
    bench = Bench(HEATER)
    bench.want("heater")
    assert bench.want() == frozenset()
    assert bench.changes == (Change("heater", False, "unwanted"),)


def test_a_lapse_takes_all_to_safety_and_says_why() -> None:
    bench = Bench(HEATER, FAN, CONTACTOR)
    bench.want("heater", "fan", "contactor")
    bench.keeping = lapse(bench.keeping, "pipe-end")
    assert bench.wait(0.0) == {"fan"}
    assert bench.changes == (Change("heater", False, "pipe-end"), Change("contactor", False, "pipe-end"))


def test_a_name_without_a_line_is_ignored() -> None:
    assert Bench(HEATER).want("heater", "humidifier") == {"heater"}


def test_a_compressor_rests_its_whole_time_after_it_went_off() -> None:
    bench = Bench(COOLER)
    assert bench.want("cooler") == {"cooler"}
    bench.hold("cooler", seconds=120)
    assert bench.want() == frozenset()
    assert bench.hold("cooler", seconds=299) == frozenset()
    assert bench.hold("cooler", seconds=1) == {"cooler"}


def test_a_compressor_runs_its_least_time_once_it_runs() -> None:
    bench = Bench(COOLER)
    bench.want("cooler")
    assert bench.hold(seconds=119) == {"cooler"}
    assert bench.hold(seconds=1) == frozenset()


def test_safety_does_not_wait_for_a_least_time_on() -> None:
    bench = Bench(COOLER)
    bench.want("cooler")
    assert bench.wait(LEASE_S) == frozenset()


def test_a_compressor_that_safety_stopped_rests_too() -> None:
    bench = Bench(COOLER)
    bench.want("cooler")
    bench.wait(LEASE_S)
    assert bench.hold("cooler", seconds=299) == frozenset()


@pytest.mark.parametrize("name", ["heater", "contactor"])
def test_heat_is_never_held_on(name: str) -> None:
    """Only the main process knows whether it takes heat away for comfort or for safety."""
    bench = Bench(LineSpec(name=name, gpio=17, min_on_s=60))
    bench.want(name)
    assert bench.want() == frozenset()


def test_an_output_that_is_not_remembered_waits_as_if_it_had_just_gone_off() -> None:
    bench = Bench(COOLER, remembered={})
    assert bench.hold("cooler", seconds=299) == frozenset()
    assert bench.hold("cooler", seconds=1) == {"cooler"}


def test_a_remembered_rest_counts() -> None:
    bench = Bench(COOLER, remembered={"cooler": Standing(False, 800.0)})
    assert bench.hold("cooler", seconds=99) == frozenset()
    assert bench.hold("cooler", seconds=1) == {"cooler"}


def test_a_compressor_found_running_is_stopped_and_rests_from_now() -> None:
    bench = Bench(COOLER, remembered={"cooler": Standing(True, 0.0)})
    assert bench.hold("cooler", seconds=299) == frozenset()


def test_a_memory_from_the_future_counts_as_now() -> None:
    bench = Bench(COOLER, remembered={"cooler": Standing(False, 1e9)})
    assert bench.hold("cooler", seconds=299) == frozenset()
    assert bench.hold("cooler", seconds=1) == {"cooler"}


def test_no_heat_without_the_fan_being_wanted() -> None:
    bench = Bench(HEATER, PLAIN_FAN)
    assert bench.want("heater") == frozenset()
    assert bench.want("heater", "fan") == {"heater", "fan"}
    assert bench.want("heater") == frozenset()
    assert bench.changes[0] == Change("heater", False, "no-fan")


def test_a_fan_that_only_runs_out_its_time_gives_no_leave_to_heat() -> None:
    bench = Bench(HEATER, LineSpec(name="fan", gpio=18, min_on_s=60))
    bench.want("heater", "fan")
    assert bench.want("heater") == {"fan"}


def test_a_fan_that_still_rests_gives_no_leave_to_heat() -> None:
    bench = Bench(HEATER, LineSpec(name="fan", gpio=18, min_off_s=10), remembered={})
    assert bench.hold("heater", "fan", seconds=9) == frozenset()
    assert bench.hold("heater", "fan", seconds=1) == {"heater", "fan"}


def test_no_heat_with_the_contactor_open() -> None:
    bench = Bench(HEATER, CONTACTOR)
    assert bench.want("heater") == frozenset()
    assert bench.want("heater", "contactor") == {"heater", "contactor"}
    assert bench.want("heater") == frozenset()


def test_a_chamber_without_fan_and_contactor_heats_without_them() -> None:
    assert Bench(HEATER).want("heater") == {"heater"}


def test_heat_and_cold_never_meet() -> None:
    bench = Bench(HEATER, COOLER)
    assert bench.want("heater", "cooler") == {"cooler"}
    assert bench.hold("heater", seconds=119) == {"cooler"}, "the compressor runs its least time, and heat waits for it"
    assert bench.hold("heater", seconds=1) == {"heater"}


def test_the_contactor_switches_without_current() -> None:
    """A contactor that makes or breaks the heater's current wears; the heater goes first off and last on."""
    bench = Bench(CONTACTOR, HEATER, PLAIN_FAN)
    bench.want("heater", "fan", "contactor")
    assert bench.changes[-1] == Change("heater", True, "wanted")
    bench.want()
    assert bench.changes[0] == Change("heater", False, "unwanted")


def test_the_heartbeat_beats_once_with_each_renewal_and_with_nothing_else() -> None:
    bench = Bench(HEARTBEAT)
    beats = []
    for _ in range(4):
        beats.append("heartbeat" in bench.want(after_s=1.0))
        assert ("heartbeat" in bench.wait(0.5)) == beats[-1]
    assert beats == [True, False, True, False]


def test_the_heartbeat_stops_low_when_the_lease_ends() -> None:
    bench = Bench(HEARTBEAT)
    bench.want("heartbeat")
    assert bench.wait(LEASE_S) == frozenset()
    assert bench.wait(LEASE_S) == frozenset()


@pytest.mark.parametrize("name", ["heater", "contactor", "cooler", "humidifier", "vent", "heartbeat"])
def test_only_harmless_outputs_may_be_safe_when_on(name: str) -> None:
    (text,) = objections([LineSpec(name=name, gpio=17, safe_on=True)])
    assert name in text
    assert "set it to false" in text


def test_all_objections_come_at_once_and_name_the_culprits() -> None:
    found = objections([HEATER, HEATER, LineSpec(name="two words", gpio=17, safe_on=True)])
    assert len(found) == 4
    assert any("gpio 17 is used by heater, heater, two words" in text for text in found)
    assert objections([HEATER, FAN, CONTACTOR, COOLER, LineSpec(name="lamp", gpio=None)]) == []


NAMES = ("heater", "fan", "contactor", "cooler", "vent", "lamp", "heartbeat")


@st.composite
def lines_of_a_chamber(draw: st.DrawFn) -> tuple[LineSpec, ...]:
    names = draw(st.lists(st.sampled_from(NAMES), unique=True, min_size=1))
    least = st.sampled_from([0.0, 1.0, 5.0, 300.0])
    return tuple(
        LineSpec(
            name=name,
            gpio=None,
            safe_on=name in ("fan", "lamp") and draw(st.booleans()),
            min_on_s=draw(least),
            min_off_s=draw(least),
        )
        for name in names
    )


WANTS = st.frozensets(st.sampled_from([*NAMES, "unknown"]))
DEEDS = st.one_of(WANTS, st.just("wait"), st.just("lapse"))
STEPS = st.lists(st.tuples(st.sampled_from([0.0, 0.25, 1.0, 2.9, 3.0, 60.0, 400.0]), DEEDS), max_size=40)


@given(lines_of_a_chamber(), STEPS, st.booleans())
def test_whatever_is_wanted_the_rules_hold(
    lines: tuple[LineSpec, ...], steps: list[tuple[float, object]], rested: bool
) -> None:
    now_s = 1000.0
    keeping, _ = begin(lines, LONG_RESTED if rested else {}, now_s)
    for gap_s, deed in steps:
        now_s += gap_s
        if isinstance(deed, frozenset):
            keeping = renew(keeping, deed, lease_ends_s=now_s + LEASE_S)
        elif deed == "lapse":
            keeping = lapse(keeping, "test")
        before = keeping
        keeping, changes = decide(lines, before, now_s)
        assert_rules(lines, before, keeping, changes, now_s)
        assert decide(lines, keeping, now_s) == (keeping, ()), "what is decided is settled"


def assert_rules(
    lines: tuple[LineSpec, ...], before: Keeping, after: Keeping, changes: tuple[Change, ...], now_s: float
) -> None:
    names = {line.name for line in lines}
    leased = now_s < after.lease_ends_s
    assert set(after.standings) == names
    assert {change.output for change in changes} == after.on ^ before.on
    if not leased:
        assert after.on == {line.name for line in lines if line.safe_on}
        return
    if "heater" in after.on:
        assert "heater" in after.wanted
        assert "cooler" not in after.on
        for helper in {"fan", "contactor"} & names:
            assert helper in after.on & after.wanted
    for line in lines:
        was, is_now = before.standings[line.name], after.standings[line.name]
        if line.name == "heartbeat":
            assert is_now.on == after.beat
        elif is_now.on and not was.on:
            assert line.name in after.wanted
            assert now_s - was.since_s >= line.min_off_s
        elif was.on and not is_now.on and line.name not in ("heater", "contactor"):
            assert line.name not in after.wanted
            assert now_s - was.since_s >= line.min_on_s
    assert not (after.on - after.wanted) & {"heater", "contactor"}, "unwanted heat is off at once"
    on = [change.on for change in changes]
    assert on == sorted(on), "off before on"
