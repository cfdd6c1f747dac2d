"""The states of a run against ISA-88.

Source: the procedural states and their transitions of ANSI/ISA-88.00.01 (IEC 61512-1), as commonly drawn: from memory.
"""

from __future__ import annotations

from typing import get_args

from hypothesis import given
from hypothesis import strategies as st

from dryward.core.phases import ACTIVE, ENDED, MAY_HEAT, TABLE, Phase, Trigger, follow

PHASES: tuple[Phase, ...] = get_args(Phase)
TRIGGERS: tuple[Trigger, ...] = get_args(Trigger)
PASSING = {"holding": "held", "restarting": "running", "stopping": "stopped", "aborting": "aborted"}


def test_every_state_is_idle_active_or_ended() -> None:
    assert {"idle"} | ACTIVE | ENDED == set(PHASES)
    assert not ACTIVE & ENDED


def test_heat_is_for_running_and_for_the_way_back_only() -> None:
    assert {"running", "restarting"} == MAY_HEAT


def test_a_passing_state_settles_in_the_state_it_is_named_after() -> None:
    assert {p: follow(p, "settled") for p in PASSING} == PASSING  # type: ignore[arg-type]


def test_hold_and_resume_go_round_by_the_way_back() -> None:
    assert follow("running", "hold") == "holding"
    assert follow("held", "resume") == "restarting"
    assert follow("held", "start") is None


def test_whatever_is_active_can_be_stopped_or_aborted_unless_it_is_ending_harder_already() -> None:
    for phase in ACTIVE - {"stopping", "aborting"}:
        assert follow(phase, "stop") == "stopping"
    for phase in ACTIVE - {"aborting"}:
        assert follow(phase, "abort") == "aborting"
    assert follow("aborting", "stop") is None


def test_only_a_running_run_can_be_complete() -> None:
    assert {p for p in PHASES if follow(p, "finished")} == {"running"}


def test_an_end_is_left_only_by_clearing_it() -> None:
    for phase in ENDED:
        assert {t: follow(phase, t) for t in TRIGGERS if follow(phase, t)} == {"clear": "idle"}


def test_every_line_of_the_table_names_states_and_triggers_that_exist() -> None:
    for (phase, trigger), after in TABLE.items():
        assert phase in PHASES
        assert trigger in TRIGGERS
        assert after in PHASES


@given(st.lists(st.sampled_from(TRIGGERS), max_size=60))
def test_no_sequence_of_triggers_leads_from_hold_or_end_back_to_heat_without_resume_or_start(
    triggers: list[Trigger],
) -> None:
    phase: Phase = "idle"
    asked = False
    for trigger in triggers:
        after = follow(phase, trigger)
        if after is None:
            continue
        if after in MAY_HEAT and phase not in MAY_HEAT:
            assert trigger in ("start", "resume")
            asked = True
        phase = after
    assert asked or phase not in MAY_HEAT
