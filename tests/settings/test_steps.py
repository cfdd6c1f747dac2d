"""A step can end, holds what it says, and has its turn."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dryward.core.program import Ends, Step
from dryward.settings.mistakes import Findings, Mistake
from dryward.settings.steps import check_order, check_step, conditions, is_certain, least_h

GOOD = Step(name="dry", air_c=70.0, ends=Ends(dwell_h=10.0))


def _step(step: Step) -> dict[str, Mistake]:
    found = Findings("p.toml")
    check_step(step, "steps.dry", found)
    return {key.removeprefix("steps.dry."): mistake for key, mistake in found.mistakes.items()}


def _order(*all_ends: Ends, cap_h: float = 1000.0) -> dict[str, Mistake]:
    found = Findings("p.toml")
    steps = {f"steps.s{i}": Step(name=f"s{i}", air_c=70.0, ends=ends) for i, ends in enumerate(all_ends, 1)}
    check_order(steps, cap_h, found)
    return found.mistakes


def test_a_good_step_is_not_complained_of() -> None:
    assert _step(GOOD) == {}
    assert _step(Step(name="rest", watch_only=True, safe_air_high_c=4.4, ends=Ends(dwell_h=72.0))) == {}
    assert _step(replace(GOOD, safe_air_low_c=60.0, safe_air_high_c=75.0, rh_pct=0.0)) == {}
    assert _step(replace(GOOD, ends=Ends(cap_h=5.0, when="all"))) == {}
    assert _step(replace(GOOD, rh_pct=78.0, rh_follow_low_pct=70.0, rh_follow_high_pct=80.0)) == {}


def test_a_humidity_that_follows_begins_from_one_and_lies_between_its_bounds() -> None:
    assert "held" in _step(replace(GOOD, rh_follow_low_pct=70.0))["rh_follow_low_pct"].limit
    assert "rh_pct" in _step(replace(GOOD, rh_pct=65.0, rh_follow_low_pct=70.0))


@pytest.mark.parametrize(
    ("step", "key", "value", "limit", "cure"),
    [
        (
            replace(GOOD, ends=Ends()),
            "ends",
            "(missing)",
            "at least one of dwell_h, loss_pct, own_target, core_c, cap_h; else the step can never end",
            "dwell_h = ...",
        ),
        (
            replace(GOOD, ends=Ends(dwell_h=10.0, cap_h=9.0)),
            "ends.dwell_h",
            "10",
            "at most cap_h = 9; else the dwell is never reached",
            "Raise cap_h",
        ),
        (
            replace(GOOD, ends=Ends(core_c=70.0)),
            "ends.core_c",
            "70",
            "below air_c = 70; a core never gets hotter than the air",
            "Lower core_c",
        ),
        (
            replace(GOOD, ends=Ends(loss_pct=20.0, own_target=True)),
            "ends.loss_pct",
            "20",
            "only one of loss_pct and own_target",
            "take own_target out",
        ),
        (
            replace(GOOD, air_c=None),
            "air_c",
            "(missing)",
            "needed in a step that is not watch-only",
            "watch_only = true",
        ),
        (replace(GOOD, watch_only=True), "air_c", "70", "nothing to hold in a watch-only step", "Take this line out"),
        (
            replace(GOOD, watch_only=True, air_c=None, rh_pct=70.0),
            "rh_pct",
            "70",
            "nothing to hold in a watch-only step",
            "Take this line out",
        ),
        (
            replace(GOOD, watch_only=True, air_c=None, ramp_k_per_h=5.0),
            "ramp_k_per_h",
            "5",
            "nothing to hold in a watch-only step",
            "Take this line out",
        ),
        (
            replace(GOOD, safe_air_high_c=70.0),
            "air_c",
            "70",
            "inside the step's own safe band: below 70",
            "widen the safe band",
        ),
        (
            replace(GOOD, safe_air_low_c=71.0, safe_air_high_c=80.0),
            "air_c",
            "70",
            "inside the step's own safe band: above 71 and below 80",
            "widen the safe band",
        ),
        (
            replace(GOOD, safe_air_low_c=80.0, safe_air_high_c=60.0),
            "safe_air_high_c",
            "60",
            "above safe_air_low_c = 80",
            "Swap the two",
        ),
        (
            replace(GOOD, rh_pct=60.0, safe_rh_low_pct=65.0),
            "rh_pct",
            "60",
            "inside the step's own safe band: above 65",
            "widen the safe band",
        ),
        (
            replace(GOOD, safe_rh_low_pct=80.0, safe_rh_high_pct=80.0),
            "safe_rh_high_pct",
            "80",
            "above safe_rh_low_pct = 80",
            "Swap the two",
        ),
        (replace(GOOD, rh_pct=0.78), "rh_pct", "0.78", "per cent, above 1", "0.78 looks like a fraction: write 78."),
    ],
)
def test_each_contradiction_inside_a_step_is_told(step: Step, key: str, value: str, limit: str, cure: str) -> None:
    told = _step(step)
    assert list(told) == [key]
    assert (told[key].value, told[key].limit) == (value, limit)
    assert cure in told[key].cure


def test_what_is_mistyped_is_not_called_missing() -> None:
    """An ending that could not be read is no ending, but that is not the mistake."""
    found = Findings("p.toml")
    found.add("steps.dry.ends.dwell_h", "24", limit="", cure="")
    check_step(replace(GOOD, ends=Ends()), "steps.dry", found)
    check_order({"steps.dry": replace(GOOD, ends=Ends())}, 1.0, found)
    assert list(found.mistakes) == ["steps.dry.ends.dwell_h"]


def test_no_step_stands_after_the_one_that_ends_the_run() -> None:
    told = _order(Ends(own_target=True), Ends(dwell_h=2.0))
    assert list(told) == ["steps.s2"]
    assert (
        told["steps.s2"].limit == "no step after steps.s1, which ends only when every piece has reached its own target"
    )
    assert "loss_pct" in told["steps.s2"].cure


@pytest.mark.parametrize(
    "first",
    [Ends(own_target=True, pieces="any"), Ends(own_target=True, dwell_h=10.0), Ends(own_target=True, cap_h=20.0)],
)
def test_a_step_that_may_end_before_every_piece_is_done_may_be_followed(first: Ends) -> None:
    assert _order(first, Ends(dwell_h=2.0)) == {}


@pytest.mark.parametrize(
    ("first", "second", "over"),
    [
        (Ends(loss_pct=20.0), Ends(loss_pct=20.0), True),
        (Ends(loss_pct=20.0), Ends(loss_pct=15.0, pieces="any"), True),
        (Ends(loss_pct=20.0, dwell_h=3.0, when="all"), Ends(loss_pct=15.0), True),
        (Ends(loss_pct=20.0, pieces="any"), Ends(loss_pct=15.0, pieces="any"), True),
        (Ends(loss_pct=20.0), Ends(loss_pct=25.0), False),
        (Ends(loss_pct=20.0, pieces="any"), Ends(loss_pct=15.0), False),
        (Ends(loss_pct=20.0, dwell_h=3.0), Ends(loss_pct=15.0), False),
        (Ends(loss_pct=20.0, cap_h=30.0), Ends(loss_pct=15.0, cap_h=30.0), True),
    ],
)
def test_a_loss_that_an_earlier_step_has_reached_for_certain_is_told(first: Ends, second: Ends, over: bool) -> None:
    told = _order(first, second)
    assert list(told) == (["steps.s2.ends.loss_pct"] if over else [])
    if over:
        assert told["steps.s2.ends.loss_pct"].limit == "above 20, the loss that ends steps.s1"
        assert "swap the steps" in told["steps.s2.ends.loss_pct"].cure


def test_dwells_longer_than_the_cap_of_the_program_are_told_with_their_sum() -> None:
    told = _order(Ends(dwell_h=24.0), Ends(dwell_h=48.0, cap_h=50.0), Ends(loss_pct=10.0), Ends(cap_h=3.0), cap_h=75.0)
    assert told["cap_h"].value == "75"
    assert told["cap_h"].limit == "above 75 h, the time the steps take at the least"
    assert _order(Ends(dwell_h=24.0), Ends(dwell_h=48.0), cap_h=73.0) == {}


ends = st.builds(
    Ends,
    dwell_h=st.none() | st.floats(0.5, 50.0),
    loss_pct=st.none() | st.floats(1.0, 90.0),
    own_target=st.booleans(),
    core_c=st.none() | st.floats(30.0, 60.0),
    cap_h=st.none() | st.floats(0.5, 80.0),
    when=st.sampled_from(["first", "all"]),
)


@given(ends)
def test_the_least_time_is_a_time_in_which_the_step_cannot_end_sooner(given_ends: Ends) -> None:
    """Against the rule itself: the cap always ends; 'first' ends on any condition, 'all' on every one."""
    least = least_h(given_ends)
    sooner = least * 0.999
    met_at_once = {
        "loss_pct": True,
        "own_target": True,
        "core_c": True,
        "dwell_h": given_ends.dwell_h is not None and sooner >= given_ends.dwell_h,
    }
    held = [met_at_once[c] for c in conditions(given_ends)]
    over = (bool(held) and (all(held) if given_ends.when == "all" else any(held))) or (
        given_ends.cap_h is not None and sooner >= given_ends.cap_h
    )
    assert least == 0.0 or not over


@given(ends)
def test_a_certain_condition_is_one_the_step_waits_for(given_ends: Ends) -> None:
    for condition in conditions(given_ends):
        others = [c for c in conditions(given_ends) if c != condition]
        assert is_certain(given_ends, condition) is (given_ends.when == "all" or not others)
    assert not is_certain(given_ends, "nothing")
