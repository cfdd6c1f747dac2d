"""The verdict of a review: what finished, how it ended, what needs attention."""

from __future__ import annotations

import json
from dataclasses import asdict, replace
from typing import Any

import pytest

from dryward.record.band import Sample
from dryward.record.facts import Facts
from dryward.record.lines import EventLine, PieceLine, Run, StepLine, WeighInLine
from dryward.record.review import judge
from tests.record.scene import CHAMBER, PIECES, PROGRAM, UTC_S, event

RUN = Run(
    run_id="r1", program=PROGRAM, pieces=PIECES, chamber=CHAMBER, period_s=1.0, start_tick=100, start_utc="2025-10-09T08:55:00.000Z",
    end_tick=7300, end_utc="2025-10-09T10:55:00.000Z", end_state="complete", end_reason="every piece has reached its target", last_tick=7300, start_state=None,
)  # fmt: skip
DONE = PieceLine("loin-a", 1000.0, 35.0, 650.0, None, "", 648.0, 6000, "2025-10-09T10:33:20.000Z", 5950.5, None, None)
SHORT = PieceLine("loin-b", 812.5, 38.0, 503.75, None, "", 560.0, None, None, None, None, None)
OUT = SHORT._replace(name="loin-c", out_tick=5000, out_utc="2025-10-09T10:16:40.000Z")


def facts(run: Run = RUN, *, pieces: tuple[PieceLine, ...] = (DONE,), **more: Any) -> Facts:
    plain = Facts(
        run=run, pieces=pieces, steps=(StepLine(0, "warm", 100, "2025-10-09T08:55:00.000Z", 7300, None, "its cap"),), events=(), weigh_ins=(), setpoints=(), totals={},
        samples={}, extremes={}, anchors=((0, UTC_S), (5000, UTC_S + 5000.0)), lost=0,
    )  # fmt: skip
    return replace(plain, **more)


def test_a_finished_run_says_so_and_needs_no_attention() -> None:
    review = judge(facts())
    assert (review.verdict, review.headline) == ("complete", "COMPLETE: the piece reached its target.")
    assert review.attention == ()
    piece = review.pieces[0]
    assert piece.loss_pct == pytest.approx(35.2)  # 1000 g to 648 g
    assert piece.finished_utc == "2025-10-09T10:32:30.500Z"  # 5950.5 s after 08:53:20


@pytest.mark.parametrize("state", ["aborted", "stopped", ""])
def test_a_run_that_did_not_finish_never_looks_finished(state: str) -> None:
    """Even when every piece had reached its target."""
    review = judge(facts(replace(RUN, end_state=state, end_reason="tripped: over-limit" if state else "")))
    assert "COMPLETE" not in review.headline
    assert review.headline.startswith(
        {"aborted": "ABORTED, NOT FINISHED", "stopped": "STOPPED", "": "NO END YET"}[state]
    )
    assert any("come to its end" in line for line in review.attention) == (state != "stopped")


def test_pieces_of_a_run_under_way_are_drying_and_not_short_of_anything() -> None:
    open_run = replace(RUN, end_state="", end_reason="", end_tick=None, end_utc=None, last_tick=7200)
    review = judge(facts(open_run, pieces=(DONE, SHORT, SHORT._replace(name="loin-d", final_g=None))))
    assert [p.outcome for p in review.pieces] == ["reached", "drying", "not weighed yet"]
    assert review.headline == "NO END YET: still under way, or cut off. So far 1 of 3 pieces reached their target."
    assert len(review.attention) == 1
    assert review.until_utc == "2025-10-09T10:53:20.000Z"


def test_pieces_short_of_their_target_are_in_the_headline_and_named() -> None:
    review = judge(facts(pieces=(DONE, SHORT, OUT)))
    assert review.headline == "COMPLETE, BUT SHORT: 1 of 3 pieces reached their target."
    assert review.attention == (
        "loin-b is short of its target: 560 g, target 504 g.",
        "loin-c was taken out before its target: 560 g, target 504 g.",
    )


@pytest.mark.parametrize(("last", "utc", "told"), [(7300, "t", True), (600, "t", False), (7300, None, False)])
def test_a_step_that_ended_without_the_air_in_its_band_needs_attention(last: int, utc: str | None, told: bool) -> None:
    """Not while it is still warming up, nor when it was over before that could matter."""
    step = StepLine(0, "warm", 100, "2025-10-09T08:55:00.000Z", last, utc, "its cap")
    review = judge(facts(steps=(step,), samples={"air": [Sample(100, 7200, 30.0, 30.0, 30.0)]}))
    assert (review.attention == ("Step warm: the air was never seen in its band.",)) is told


def test_trips_alarms_and_lost_readings_are_told() -> None:
    events = (
        EventLine(200, "2025-10-09T08:56:40.000Z", event("just a line")),
        EventLine(
            300, "2025-10-09T08:58:20.000Z", event("The fan stands.", severity="trip", advice="Look at the fan.")
        ),
    )
    review = judge(facts(events=events, lost=12))
    assert [t.text for t in review.told] == ["The fan stands."]
    assert review.attention == (
        "Trip at 2025-10-09T08:58:20.000Z: The fan stands.",
        "12 readings could not be kept: the figures above miss them.",
    )


def test_energy_operations_and_weigh_ins_come_from_what_was_recorded() -> None:
    review = judge(
        facts(
            totals={"energy_kwh": 1.5, "heater_operations": 42.0},
            weigh_ins=(WeighInLine(4000, "loin-a", 700.5, "ann", "weigh"),),
        )
    )
    assert (review.energy_kwh, dict(review.operations), review.water_g) == (1.5, {"heater": 42}, 352.0)
    assert review.weigh_ins == (("2025-10-09T10:00:00.000Z", "loin-a", 700.5, "ann"),)


def test_a_review_is_plain_json() -> None:
    text = json.dumps(asdict(judge(facts(pieces=(DONE, SHORT)))), allow_nan=False)
    assert json.loads(text)["pieces"][1]["outcome"] == "short"
