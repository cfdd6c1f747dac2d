"""The life of alarms against ISA-18.2 / IEC 62682, debounce, dead band, latch, shelving, two messages a cause."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import get_args

from hypothesis import given
from hypothesis import strategies as st

from dryward.core.alarms import (
    TABLE,
    Alarm,
    AlarmPhase,
    AlarmTrigger,
    Condition,
    acknowledge,
    reset,
    shelve,
    tripped,
    update,
)
from dryward.core.commands import Event
from dryward.core.faults import FAULTS

TELL, SLOW, TRIP = "door-open", "sensor-missing", "fan-stopped"
"""An alarm without on-delay, one with 50 s of it, a trip. All clear after 30 s."""


@dataclass
class Panel:
    """Alarms in time, one tick a second."""

    alarms: tuple[Alarm, ...] = ()
    now: float = 0.0
    said: list[Event] = field(default_factory=list)

    def tick(self, *conditions: Condition | str, seconds: int = 1) -> Panel:
        for _ in range(seconds):
            self.now += 1.0
            raised = update(self.alarms, tuple(Condition(c) if isinstance(c, str) else c for c in conditions), self.now)
            self.alarms = raised.alarms
            self.said.extend(raised.events)
        return self

    def ack(self, key: str = "all", who: str = "Ines") -> Panel:
        self.alarms, _ = acknowledge(self.alarms, key, who)
        return self

    def reset(self) -> str | None:
        self.alarms, why = reset(self.alarms)
        return why

    def shelve(self, key: str, hours: float) -> str | None:
        self.alarms, why = shelve(self.alarms, key, hours, self.now)
        return why

    def phase(self, key: str) -> AlarmPhase:
        return next((a.phase for a in self.alarms if a.key == key), "normal")

    @property
    def aloud(self) -> list[tuple[str, str]]:
        return [(e.subject, e.severity) for e in self.said if e.severity != "log"]


def test_the_table_names_phases_and_triggers_that_exist() -> None:
    assert {p for p, _ in TABLE} | set(TABLE.values()) == set(get_args(AlarmPhase))
    assert {t for _, t in TABLE} == set(get_args(AlarmTrigger))


def test_no_trigger_but_reset_leads_a_latched_trip_to_normal() -> None:
    """ISA-18.2: a latched alarm is cleared by the operator only."""
    latched: set[AlarmPhase] = {"latched", "latched-acked"}
    assert {t for (p, t), after in TABLE.items() if p in latched and after not in latched | {"active"}} == {"reset"}
    assert TABLE.get(("latched", "reset")) is None
    assert TABLE.get(("latched", "shelve")) is None


def test_nothing_wrong_makes_nothing() -> None:
    empty: tuple[Alarm, ...] = ()
    assert update(empty, (), 1.0).alarms is empty


# --- a mere alarm


def test_an_alarm_is_raised_told_cleared_and_kept_until_it_is_acknowledged() -> None:
    panel = Panel().tick(TELL)
    assert panel.phase(TELL) == "active"
    assert panel.aloud == [(TELL, "alarm")]
    panel.tick(seconds=30)
    assert panel.phase(TELL) == "active"
    panel.tick()
    assert panel.phase(TELL) == "cleared"
    assert panel.ack().phase(TELL) == "normal"
    assert panel.alarms == ()


def test_an_acknowledged_alarm_is_over_with_its_condition() -> None:
    panel = Panel().tick(TELL).ack()
    assert panel.phase(TELL) == "active-acked"
    assert panel.alarms[0].acked_by == "Ines"
    assert panel.tick(TELL, seconds=100).phase(TELL) == "active-acked"
    assert panel.tick(seconds=31).alarms == ()


def test_a_condition_must_last_for_its_on_delay() -> None:
    panel = Panel().tick(Condition(SLOW, "rh"), seconds=50)
    assert panel.phase(SLOW) == "pending"
    assert panel.said == []
    assert panel.tick(Condition(SLOW, "rh")).phase(SLOW) == "active"
    assert panel.alarms[0].since_s == 1.0


def test_a_condition_that_goes_away_before_begins_anew() -> None:
    panel = Panel().tick(Condition(SLOW, "rh"), seconds=50).tick().tick(Condition(SLOW, "rh"), seconds=50)
    assert panel.phase(SLOW) == "pending"
    assert panel.alarms[0].since_s == 52.0


def test_a_condition_that_comes_back_within_its_off_delay_was_never_gone() -> None:
    panel = Panel().tick(TELL).tick(seconds=20)
    assert panel.alarms[0].gone_s == 2.0
    panel.tick(TELL)
    assert panel.alarms[0].gone_s is None
    panel.tick(seconds=29)
    assert panel.phase(TELL) == "active"
    assert len(panel.said) == 1


def test_an_alarm_that_comes_back_before_it_was_seen_is_not_told_again() -> None:
    """One root cause, one warning: a chattering door does not ring all night."""
    panel = Panel().tick(TELL).tick(seconds=31).tick(TELL)
    assert panel.phase(TELL) == "active"
    assert panel.aloud == [(TELL, "alarm")]


def test_an_alarm_that_comes_back_after_it_was_seen_is_told_again() -> None:
    panel = Panel().tick(TELL).tick(seconds=31).ack().tick(TELL)
    assert panel.aloud == [(TELL, "alarm")] * 2


def test_a_standing_alarm_keeps_the_figures_it_was_raised_with() -> None:
    panel = Panel().tick(Condition(TELL, "", 5.0)).tick(Condition(TELL, "", 9.0))
    assert panel.alarms[0].value == 5.0
    assert "5 minutes" in panel.alarms[0].say()[0]


def test_what_is_raised_carries_its_figures_and_its_words() -> None:
    panel = Panel().tick(Condition("record-failing", "", 0.0, "disk full"))
    event = panel.said[0]
    assert (event.kind, event.subject, event.severity) == ("alarm", "record-failing", "alarm")
    assert (event.text, event.meaning, event.advice) == panel.alarms[0].say()
    assert "disk full" in event.text


def test_the_subject_stands_beside_the_key() -> None:
    panel = Panel().tick(Condition("relay-worn", "heater", 71.0))
    assert panel.said[0].subject == "relay-worn:heater"
    assert panel.said[0].value == 71.0


def test_the_end_of_an_alarm_is_on_record_and_troubles_nobody() -> None:
    panel = Panel().tick(TELL).tick(seconds=31)
    assert [(e.kind, e.severity) for e in panel.said] == [("alarm", "alarm"), ("alarm-cleared", "log")]


def test_how_loudly_an_alarm_is_told_stands_in_the_table() -> None:
    panel = Panel().tick(Condition("relay-worn", "fan", 70.0), "keeper-lost")
    assert panel.aloud == [("relay-worn:fan", "notice"), ("keeper-lost", "warning")]


def test_without_change_the_alarms_are_the_same_object() -> None:
    panel = Panel().tick(TELL)
    before = panel.alarms
    assert panel.tick(TELL).alarms is before


# --- the dead band


def test_within_the_dead_band_an_alarm_goes_on_but_does_not_begin() -> None:
    near = Condition(TELL, near=True)
    assert Panel().tick(near, seconds=100).alarms == ()
    panel = Panel().tick(TELL).tick(near, seconds=100)
    assert panel.phase(TELL) == "active"


def test_within_the_dead_band_a_pending_alarm_is_forgotten() -> None:
    panel = Panel().tick(Condition(SLOW, "rh"), seconds=10).tick(Condition(SLOW, "rh", near=True))
    assert panel.alarms == ()


# --- trips


def test_a_trip_latches_whatever_becomes_of_its_condition() -> None:
    panel = Panel().tick(TRIP)
    assert panel.aloud == [(TRIP, "trip")]
    assert panel.said[0].kind == "trip"
    panel.tick(seconds=100_0)
    assert panel.phase(TRIP) == "latched"
    assert [a.key for a in tripped(panel.alarms)] == [TRIP]


def test_a_trip_needs_both_acknowledgement_and_reset_in_this_order() -> None:
    panel = Panel().tick(TRIP).tick(seconds=31)
    why = panel.reset()
    assert why is not None
    assert "acknowledged" in why
    assert panel.phase(TRIP) == "latched"
    panel.ack()
    assert panel.phase(TRIP) == "latched-acked"
    assert panel.tick(seconds=1000).phase(TRIP) == "latched-acked"
    assert panel.reset() is None
    assert panel.alarms == ()


def test_a_trip_whose_condition_stands_cannot_be_reset() -> None:
    panel = Panel().tick(TRIP).ack()
    why = panel.reset()
    assert why is not None
    assert "still there" in why
    assert panel.phase(TRIP) == "active-acked"
    panel.tick(seconds=31)
    assert panel.phase(TRIP) == "latched-acked"
    assert panel.reset() is None


def test_one_trip_that_cannot_be_reset_keeps_all() -> None:
    panel = Panel().tick(TRIP, "crash-loop").tick(TRIP, seconds=31).ack()
    assert panel.phase("crash-loop") == "latched-acked"
    assert panel.reset() is not None
    assert panel.phase("crash-loop") == "latched-acked"


def test_a_trip_that_comes_back_has_to_be_acknowledged_again() -> None:
    panel = Panel().tick(TRIP).tick(seconds=31).ack().tick(TRIP)
    assert panel.phase(TRIP) == "active"
    assert panel.alarms[0].acked_by == ""
    panel.tick(seconds=31)
    assert panel.phase(TRIP) == "latched"
    assert panel.tick(TRIP).phase(TRIP) == "active"


def test_reset_leaves_other_alarms_alone() -> None:
    panel = Panel().tick(TRIP, TELL).tick(TELL, seconds=31).ack()
    assert panel.reset() is None
    assert [a.key for a in panel.alarms] == [TELL]


def test_a_pending_trip_is_not_in_force() -> None:
    panel = Panel().tick("contactor-welded")
    assert panel.phase("contactor-welded") == "pending"
    assert tripped(panel.alarms) == ()
    assert [a.key for a in tripped(panel.tick("contactor-welded", seconds=10).alarms)] == ["contactor-welded"]


def test_a_pending_trip_that_goes_away_is_none() -> None:
    assert Panel().tick("contactor-welded", seconds=5).tick().alarms == ()


# --- acknowledging


def test_one_key_is_acknowledged_or_all() -> None:
    panel = Panel().tick(TELL, TRIP)
    alarms, changed = acknowledge(panel.alarms, TRIP, "Ines")
    assert [a.key for a in changed] == [TRIP]
    assert {a.key: a.phase for a in alarms} == {TELL: "active", TRIP: "active-acked"}
    assert len(acknowledge(panel.alarms, "all", "Ines")[1]) == 2


def test_what_is_seen_already_or_not_raised_yet_is_not_acknowledged() -> None:
    panel = Panel().tick(Condition(SLOW, "rh"), TELL).ack()
    assert acknowledge(panel.alarms, "all", "Ines")[1] == ()


# --- at most two messages a cause


def test_one_cause_is_told_once_as_a_warning_and_once_as_a_trip() -> None:
    panel = Panel().tick("below-band", seconds=5).tick("below-band", "below-band-long", seconds=5)
    panel.tick("below-band", "below-band-long", "no-heat-response", "no-heat-near-target", seconds=5)
    assert panel.aloud == [("below-band", "alarm"), ("below-band-long", "trip")]
    assert [e.subject for e in panel.said] == [
        "below-band",
        "below-band-long",
        "no-heat-response",
        "no-heat-near-target",
    ]


def test_who_is_told_of_a_trip_need_not_be_told_the_smaller_thing() -> None:
    panel = Panel().tick("below-band", "below-band-long")
    assert panel.aloud == [("below-band-long", "trip")]


def test_who_was_told_that_it_is_too_hot_is_still_told_to_pull_the_plug() -> None:
    """F12 is the loudest alarm there is: no other may have used up its message."""
    panel = Panel().tick("over-limit", seconds=5).tick("over-limit", "heat-while-off", seconds=5)
    assert panel.aloud == [("over-limit", "trip"), ("heat-while-off", "trip")]
    assert "PULL THE PLUG NOW" in panel.said[-1].advice


def test_a_cause_stays_told_while_any_alarm_of_it_is_there() -> None:
    """The first is seen and over, the second still stands: a third of the same cause is no news."""
    panel = Panel().tick("air-missing-is-slow") if False else Panel()
    panel.tick("too-hot-for-step").tick("too-hot-for-step", "over-setpoint").tick("over-setpoint", seconds=31)
    panel.ack("too-hot-for-step")
    assert [a.key for a in panel.alarms] == ["over-setpoint"]
    panel.tick("over-setpoint", "too-hot-for-step", Condition("over-limit", "air", 90.0))
    assert panel.aloud == [("too-hot-for-step", "warning"), ("over-setpoint", "trip")]


def test_a_silent_alarm_knows_what_was_told_before_it() -> None:
    panel = (
        Panel().tick("below-band").tick("below-band", "contactor-open", seconds=11).tick("contactor-open", seconds=31)
    )
    panel.ack("below-band")
    panel.tick("contactor-open", "below-band")
    assert panel.aloud == [("below-band", "alarm")]


def test_after_a_reset_a_trip_of_the_same_cause_is_told_again() -> None:
    panel = Panel().tick("below-band", "below-band-long").tick("below-band", seconds=31).ack()
    assert panel.reset() is None
    panel.tick("below-band").tick("below-band", "no-heat-response")
    assert panel.aloud[0] == ("below-band-long", "trip")


def test_two_subjects_are_two_causes_where_the_table_says_so() -> None:
    panel = Panel().tick(Condition(SLOW, "rh"), Condition(SLOW, "core"), seconds=51)
    assert panel.aloud == [("sensor-missing:rh", "warning"), ("sensor-missing:core", "warning")]
    assert [a.cause for a in panel.alarms] == ["sensor-rh", "sensor-core"]


# --- any sequence


KEYS = sorted(FAULTS)
steps = st.one_of(
    st.tuples(st.just("tick"), st.sets(st.sampled_from(KEYS), max_size=4), st.sampled_from([1, 31, 400])),
    st.tuples(st.just("ack"), st.sampled_from([*KEYS, "all"])),
    st.tuples(st.just("reset")),
    st.tuples(st.just("shelve"), st.sampled_from(KEYS), st.sampled_from([0.01, 1.0])),
)


@given(st.lists(steps, max_size=40))
def test_a_trip_ends_only_by_reset_after_acknowledgement(sequence: list[tuple[object, ...]]) -> None:
    panel = Panel()
    for what in sequence:
        before = {a.key: a.phase for a in tripped(panel.alarms)}
        match what:
            case ("tick", conditions, seconds):
                panel.tick(*conditions, seconds=1)  # type: ignore[misc]
                panel.now += seconds - 1  # type: ignore[operator]
            case ("ack", key):
                panel.ack(key)  # type: ignore[arg-type]
            case ("shelve", key, hours):
                panel.shelve(key, hours)  # type: ignore[arg-type]
            case _:
                if panel.reset() is None:
                    assert set(before.values()) <= {"latched-acked"}
                    continue
        assert set(before) <= {a.key for a in tripped(panel.alarms)}


@given(st.lists(st.tuples(st.sets(st.sampled_from(KEYS), max_size=5), st.sampled_from([1, 31, 700])), max_size=40))
def test_without_a_hand_on_it_no_cause_is_told_more_than_twice(sequence: list[tuple[set[str], int]]) -> None:
    panel = Panel()
    for conditions, seconds in sequence:
        panel.tick(*conditions)
        panel.now += seconds - 1
    told: dict[str, list[str]] = {}
    for subject, severity in panel.aloud:
        told.setdefault(FAULTS[subject].cause, []).append("trip" if severity == "trip" else "warning")
    for kinds in told.values():
        assert kinds in (["warning"], ["trip"], ["warning", "trip"])
