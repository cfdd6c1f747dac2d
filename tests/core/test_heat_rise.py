"""Reading a rise from cold: what kind of chamber it is, and which share of power holds the setpoint."""

from __future__ import annotations

import pytest

from dryward.core.chamber import Control, Plant
from dryward.core.heat_rise import Outlook, look_ahead
from dryward.core.heat_state import UNTUNED, Climb, Learned, Trace, followed
from tests.bench.plants import REFERENCE, ROOM_C, TARGET_C, Box, Figures, Thermometer, tuned


def rise(
    figures: Figures,
    *,
    plant: Plant | None = None,
    learned: Learned | None = None,
    start_c: float = ROOM_C,
    load_k: float = 0.0,
) -> tuple[Outlook, float, Box]:
    """Heat at full power until the reading says that it arrives; return that, the time and the box."""
    box, sensor = Box(figures, start_c=start_c), Thermometer(seed=5)
    box.load_k = load_k
    trace: Trace | None = None
    climb: Climb | None = None
    now = 0.0
    while True:
        trace = followed(trace, sensor.read(box.sensor_c, now), 1.0)
        outlook = look_ahead(
            Control(plant=plant),
            plant or UNTUNED,
            learned or Learned(),
            climb,
            trace,
            aim_c=TARGET_C,
            ambient_c=ROOM_C,
            holds=0.5,
            now=now,
        )
        if outlook.arrives:
            return outlook, now, box
        climb = outlook.climb
        box.step(on=True, dt_s=1.0, now=now)
        now += 1.0


@pytest.mark.parametrize("figures", REFERENCE[:2], ids=lambda f: f.name)
def test_a_rise_from_cold_tells_the_plant(figures: Figures) -> None:
    outlook, _, _ = rise(figures)
    assert outlook.seen is not None
    assert outlook.seen.gain_k == pytest.approx(figures.gain_k, rel=0.15)
    assert outlook.seen.gain_k / outlook.seen.time_constant_s == pytest.approx(
        figures.gain_k / figures.time_constant_s, rel=0.06
    )
    assert outlook.seen.dead_time_s == pytest.approx(figures.dead_time_s + figures.lag_s, rel=0.35)


@pytest.mark.parametrize("figures", REFERENCE, ids=lambda f: f.name)
@pytest.mark.parametrize("gain", [0.7, 1.0, 1.3])
def test_the_share_that_holds_is_told_before_arriving(figures: Figures, gain: float) -> None:
    """Even when the tuned gain is 30 % off, the first share is within 8 points of what the plant needs."""
    changed = figures.changed(gain=gain)
    outlook, _, _ = rise(changed, plant=tuned(figures))
    assert outlook.need == pytest.approx((TARGET_C - ROOM_C) / changed.gain_k, abs=0.08)


@pytest.mark.parametrize("figures", REFERENCE, ids=lambda f: f.name)
def test_power_is_cut_back_so_that_the_rest_arrives_on_its_own(figures: Figures) -> None:
    """With the right share from then on, the reading comes to the setpoint and not 1.5 K over it."""
    _, now, box = rise(figures, plant=tuned(figures))
    duty = (TARGET_C - ROOM_C) / figures.gain_k
    highest = 0.0
    for _ in range(1200):
        # The share in tenths of a second, so fine that it has no ripple.
        box.step(on=True, dt_s=duty * 0.1, now=now)
        box.step(on=False, dt_s=(1.0 - duty) * 0.1, now=now + duty * 0.1)
        now += 0.1
        highest = max(highest, box.sensor_c)
    assert TARGET_C - 4.0 < highest < TARGET_C + 1.5


def test_wet_meat_shows_in_the_share() -> None:
    """A load that pulls the air down by 20 K at rest takes more power to hold, and the rise shows it."""
    figures = REFERENCE[0]
    outlook, _, _ = rise(figures, plant=tuned(figures), load_k=20.0)
    assert outlook.need > (TARGET_C - ROOM_C) / figures.gain_k + 0.05


def test_a_short_rise_teaches_nothing() -> None:
    outlook, _, _ = rise(REFERENCE[0], start_c=70.0)
    assert outlook.seen is None
    assert outlook.need == 0.5


@pytest.mark.parametrize("figures", REFERENCE, ids=lambda f: f.name)
def test_a_short_rise_gives_about_what_it_lacks(figures: Figures) -> None:
    """Begun 5 K too low, it must not be over before it gave something, nor go on until the reading is there."""
    lacks_k = 5.0
    _, given_s, box = rise(figures, plant=tuned(figures), learned=Learned(known=True), start_c=TARGET_C - lacks_k)
    full = (figures.gain_k - (TARGET_C - ROOM_C)) / figures.time_constant_s
    assert 0.6 * lacks_k < full * given_s < 1.4 * lacks_k
    assert box.sensor_c < TARGET_C - 0.3
