"""Which readings are believed: fault contract F4 and F5, sample by sample."""

from __future__ import annotations

from math import inf, nan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dryward.core.chamber import Sensor
from dryward.core.inputs import Reading
from dryward.core.layout import Layout, lay_out
from dryward.core.trust import SensorState, trust
from tests.core.bench_chamber import AIR, DOOR, HUMIDITY, chamber

DS18B20 = Sensor(
    name="air", role="control-air", device="top", rated_low=-55.0, rated_high=125.0, reset_value=85.0, fresh_s=10.0
)


class Probe:
    """One chamber's sensors, fed sample by sample."""

    def __init__(self, *sensors: Sensor) -> None:
        self.layout: Layout = lay_out(chamber(sensors=sensors or (AIR,)))
        self.states = tuple(SensorState() for _ in self.layout.chamber.sensors)

    def at(
        self, now: float, *readings: tuple[str, float | None], sampled_s: float | None = None, fault: str = ""
    ) -> SensorState:
        """Feed readings and return the first sensor's state."""
        at_s = now if sampled_s is None else sampled_s
        self.states = trust(self.layout, self.states, tuple(Reading(n, v, at_s, fault) for n, v in readings), now)
        return self.states[0]

    def feed(self, *values: float | None, every_s: float = 2.0, start_s: float = 0.0) -> SensorState:
        """Feed one value after the other to the air's sensor."""
        for k, value in enumerate(values):
            self.at(start_s + every_s * k, ("air", value))
        return self.states[0]


def test_a_good_sample_is_fresh_at_once() -> None:
    state = Probe().feed(22.0)
    assert (state.value, state.quality, state.good) == (22.0, "fresh", 22.0)


def test_before_the_first_sample_nothing_is_known() -> None:
    state = Probe().at(1.0)
    assert (state.value, state.quality, state.good) == (None, "stale", None)


def test_silence_makes_a_value_stale_after_its_time_and_not_before() -> None:
    """F4: the age of the last good sample counts."""
    probe = Probe()
    probe.at(0.0, ("air", 22.0))
    assert probe.at(10.0).quality == "fresh"
    assert probe.at(10.5).quality == "stale"
    assert probe.at(10.5).good is None
    assert probe.at(11.0, ("air", 22.0)).quality == "fresh"


def test_failed_reads_only_let_the_value_grow_old() -> None:
    """F4: cheap sensors fail one time in three; that is no reason to cut heat before ten seconds are over."""
    probe = Probe()
    probe.feed(22.0, None, None, None, None)
    assert probe.states[0].good == 22.0
    assert probe.at(10.0, ("air", None)).quality == "fresh"
    state = probe.at(11.0, ("air", None))
    assert (state.quality, state.why) == ("failed", "no value")


def test_a_named_failure_keeps_its_name() -> None:
    probe = Probe()
    state = probe.at(1.0, ("air", 22.0), fault="checksum")
    assert (state.quality, state.why, state.value) == ("failed", "checksum", None)


@pytest.mark.parametrize("value", [nan, inf, -inf, 126.0, -56.0, 85.0])
def test_what_cannot_be_true_is_refused_at_once_and_three_in_a_row_are_no_reading(value: float) -> None:
    """F5."""
    probe = Probe(DS18B20)
    probe.at(0.0, ("air", 22.0))
    assert probe.at(2.0, ("air", value)).good == 22.0
    assert probe.at(4.0, ("air", value)).good == 22.0
    state = probe.at(6.0, ("air", value))
    assert (state.quality, state.good, state.value) == ("implausible", None, 22.0)
    assert state.why
    assert probe.at(8.0, ("air", 22.1)).good == 22.1


def test_a_failed_read_between_does_not_pardon_what_cannot_be_true() -> None:
    probe = Probe()
    probe.feed(22.0, nan, None, nan, None, nan)
    assert probe.states[0].quality == "implausible"


def test_a_good_sample_between_does() -> None:
    probe = Probe()
    state = probe.feed(22.0, nan, nan, 22.0, nan, nan)
    assert state.good == 22.0
    assert state.refused == 2


def test_the_ends_of_the_rating_are_inside_it() -> None:
    assert Probe(DS18B20).feed(-55.0).good == -55.0
    assert Probe(DS18B20).feed(125.0).good == 125.0


def test_the_offset_is_added_before_the_rating_is_looked_at() -> None:
    sensor = Sensor(name="air", role="control-air", device="top", rated_high=80.0, offset=1.5)
    assert Probe(sensor).feed(78.0).good == 79.5
    assert Probe(sensor).feed(78.6).good is None


def test_85_after_a_loss_of_power_is_not_believed_but_air_of_85_degrees_is() -> None:
    """DS18B20: 85.000 is the value of its register after power-on (its datasheet). Air that comes there is another matter."""
    assert Probe(DS18B20).feed(85.0).value is None
    assert Probe(DS18B20).feed(83.0, 85.0).good == 83.0
    assert Probe(DS18B20).feed(83.0, 84.5, 85.0).good == 85.0


def test_a_sensor_without_such_a_value_may_show_85() -> None:
    assert Probe().feed(85.0).good == 85.0


def test_zero_and_zero_from_one_device_is_an_empty_frame() -> None:
    """adafruit_dht: a frame of zeros passes its checksum as 0.0 degC with 0.0 %RH."""
    probe = Probe(AIR, HUMIDITY)
    probe.at(0.0, ("air", 0.0), ("rh", 0.0))
    assert [s.value for s in probe.states] == [None, None]
    assert probe.states[0].why == "exactly 0.0 degC with 0.0 %RH"


@pytest.mark.parametrize(
    "readings", [(("air", 0.0), ("rh", 45.0)), (("air", 2.0), ("rh", 0.0)), (("air", 0.0), ("door", 0.0))]
)
def test_one_zero_alone_may_be_true(readings: tuple[tuple[str, float], ...]) -> None:
    probe = Probe(AIR, HUMIDITY, DOOR)
    probe.at(0.0, *readings)
    known = {s.name: state.value for s, state in zip(probe.layout.chamber.sensors, probe.states, strict=True)}
    assert all(known[name] == value for name, value in readings)


def test_zeros_of_two_devices_may_be_true() -> None:
    other = Sensor(name="rh", role="humidity", device="elsewhere", rated_low=0.0, rated_high=100.0)
    probe = Probe(AIR, other)
    probe.at(0.0, ("air", 0.0), ("rh", 0.0))
    assert [s.value for s in probe.states] == [0.0, 0.0]


def test_a_jump_of_more_than_five_kelvin_is_refused() -> None:
    """F5."""
    assert Probe().feed(60.0, 65.0).good == 65.0
    assert Probe().feed(60.0, 65.1).good == 60.0
    assert Probe().feed(60.0, 54.9).good == 60.0


def test_five_samples_that_agree_with_each_other_are_the_air() -> None:
    probe = Probe()
    assert probe.feed(60.0, 20.0, 20.5, 19.8, 20.1).quality == "implausible"
    assert probe.at(10.0, ("air", 20.3)).good == 20.3


def test_candidates_that_do_not_agree_are_never_the_air() -> None:
    probe = Probe()
    probe.feed(60.0, *([20.0, 30.0] * 20))
    assert probe.states[0].value == 60.0


def test_what_cannot_be_true_breaks_the_agreement_and_a_failed_read_does_not() -> None:
    probe = Probe()
    probe.feed(60.0, 20.0, 20.0, 20.0, 20.0, nan, 20.0)
    assert probe.states[0].value == 60.0
    probe = Probe()
    probe.feed(60.0, 20.0, None, 20.0, None, 20.0, None, 20.0, 20.0)
    assert probe.states[0].value == 20.0


def test_a_jump_is_a_jump_however_long_the_sensor_was_silent() -> None:
    """After a minute there is a trip; the first sample after it is no more credible than another."""
    probe = Probe()
    probe.at(0.0, ("air", 60.0))
    assert probe.at(3600.0, ("air", 0.0)).good is None


def test_what_is_no_temperature_may_jump() -> None:
    probe = Probe(HUMIDITY)
    probe.at(0.0, ("rh", 20.0))
    assert probe.at(2.0, ("rh", 90.0)).good == 90.0


def test_an_old_sample_is_not_a_new_one() -> None:
    probe = Probe()
    probe.at(5.0, ("air", 22.0))
    assert probe.at(6.0, ("air", 25.0), sampled_s=5.0).value == 22.0
    assert probe.at(6.0, ("air", 25.0), sampled_s=4.0).value == 22.0


def test_a_sample_from_the_future_is_not_believed() -> None:
    assert Probe().at(5.0, ("air", 22.0), sampled_s=5.5).value is None


def test_a_sample_that_comes_late_is_as_old_as_it_is() -> None:
    probe = Probe()
    state = probe.at(20.0, ("air", 22.0), sampled_s=8.0)
    assert (state.value, state.quality) == (22.0, "stale")


def test_heat_that_climbs_out_of_the_rating_stays_known_to_the_limits() -> None:
    """A sensor rated to 80 degC in air that gets hotter: not believed, yet the two newest samples stand (F11)."""
    sensor = Sensor(name="air", role="control-air", device="top", rated_high=80.0)
    state = Probe(sensor).feed(79.0, 80.5, 82.0)
    assert (state.raw, state.raw_before, state.value) == (82.0, 80.5, 79.0)
    assert Probe(sensor).feed(79.0, 250.0).raw == 79.0
    assert Probe(sensor).feed(250.0).raw is None
    assert Probe(sensor).feed(-39.0, -41.0).raw == -39.0


def test_unknown_channels_are_nobody_s_matter() -> None:
    probe = Probe()
    before = probe.states
    probe.at(0.0, ("hook-1", 900.0))
    assert probe.states == before


def test_without_change_the_states_are_the_same_objects() -> None:
    probe = Probe()
    probe.at(0.0, ("air", 22.0))
    before = probe.states
    probe.at(1.0)
    assert probe.states is before


@given(
    st.lists(
        st.tuples(
            st.sampled_from([1.0, 2.0, 7.0, 30.0]),
            st.one_of(st.none(), st.floats(-80.0, 150.0), st.just(nan), st.just(85.0)),
        ),
        max_size=60,
    )
)
def test_fresh_always_means_young_rated_finite_and_seen(samples: list[tuple[float, float | None]]) -> None:
    probe, now = Probe(DS18B20), 0.0
    seen: set[float] = set()
    for step_s, value in samples:
        now += step_s
        if value is not None:
            seen.add(value)
        state = probe.at(now, ("air", value))
        if state.good is not None:
            assert now - state.sampled_s <= 10.0
            assert -55.0 <= state.good <= 125.0
            assert state.good in seen
            assert state.refused < 3
