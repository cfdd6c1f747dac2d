"""Requests at the door: retained, stale, repeated, malformed, for another run or beyond one's rights go no further."""

from __future__ import annotations

import json
from dataclasses import fields
from datetime import UTC, datetime, timedelta
from typing import Any, get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dryward.core.inputs import Ask
from dryward.doors.mqtt.asks import COMMON, LONGEST, VERBS, Asked, TurnedAway, judge
from dryward.settings import MqttSettings

NOW_S = 1_760_000_000.0
RIGHTS = MqttSettings().requests


def moment(ahead_s: float) -> str:
    return (datetime.fromtimestamp(NOW_S, UTC) + timedelta(seconds=ahead_s)).isoformat()


def message(**more: Any) -> dict[str, Any]:
    return {"id": "nonce-0001", "run": "run-1", "expires": moment(30.0), "who": "Ines", **more}


def judged(verb: str = "stop", payload: bytes | dict[str, Any] | None = None, **more: Any) -> Asked | TurnedAway:
    given: dict[str, Any] = {
        "retained": False,
        "rights": RIGHTS,
        "run_id": "run-1",
        "seen": (),
        "now_utc_s": NOW_S,
    } | more
    raw = payload if isinstance(payload, bytes) else json.dumps(message() if payload is None else payload).encode()
    return judge(verb, raw, **given)


def why(*args: Any, **more: Any) -> str:
    outcome = judged(*args, **more)
    assert isinstance(outcome, TurnedAway), outcome
    return outcome.why


def test_a_request_in_order_is_handed_in_as_the_command_line_would_put_it() -> None:
    assert judged("weigh", message(piece="loin-1", weight_g=612)) == Asked(
        "nonce-0001", {"verb": "weigh", "piece": "loin-1", "weight_g": 612}, "Ines"
    )
    assert judged("stop", message(reason="fire")) == Asked("nonce-0001", {"verb": "stop", "reason": "fire"}, "Ines")


def test_the_rights_left_out_are_those_of_the_issue() -> None:
    assert set(RIGHTS) == {"stop", "hold", "ack", "weigh", "pull"}


@pytest.mark.parametrize("verb", sorted(set(VERBS) - set(RIGHTS)))
def test_heat_and_silence_are_not_to_be_had_from_afar_without_the_owners_word(verb: str) -> None:
    needed: dict[str, Any] = {"program": {}, "pieces": [], "alarm": "x", "hours": 1.0}
    ask = message(**{k: needed[k] for k, f in VERBS[verb].items() if f.needed})
    assert "may not be asked for from afar" in why(verb, ask)
    assert isinstance(judged(verb, ask, rights=(*RIGHTS, verb)), Asked)


@pytest.mark.parametrize("ahead_s", [0.0, -1.0, -86_400.0])
def test_a_stale_one_is_refused(ahead_s: float) -> None:
    assert "has expired" in why(payload=message(expires=moment(ahead_s)))


def test_one_that_would_be_valid_for_ever_is_refused() -> None:
    """Else a request recorded once could be kept for a day when it does harm."""
    assert "at most 600 s" in why(payload=message(expires=moment(601.0)))
    assert isinstance(judged(payload=message(expires=moment(599.0))), Asked)


@pytest.mark.parametrize(
    "expires",
    [None, "", "soon", 1.76e9, "2025-10-09T08:53:50", "9" * 400, "2025-10-09", [], "9999-12-31T23:59:59+00:00"],
)
def test_a_time_that_is_none_is_never_taken_for_later(expires: object) -> None:
    assert judged(payload=message(expires=expires)).__class__ is TurnedAway


def test_a_retained_one_is_refused() -> None:
    assert "retained" in why(retained=True)


def test_a_repeated_one_is_refused() -> None:
    assert "has been here before" in why(seen={"nonce-0001"})


@pytest.mark.parametrize("run", ["run-0", "", None, 1])
def test_one_for_another_run_is_refused(run: object) -> None:
    assert "meant for run" in why(payload=message(run=run))


def test_before_the_first_run_its_name_is_empty() -> None:
    assert isinstance(judged(payload=message(run=""), run_id=""), Asked)


@pytest.mark.parametrize("nonce", [None, "", "short", "x" * 65, "with space 1", "späck-0001", 12345678, "a/b/c/d/e"])
def test_a_nonce_has_its_form(nonce: object) -> None:
    assert why(payload=message(id=nonce)).startswith("id is ")


@pytest.mark.parametrize("who", [None, "", "  ", 5, "x" * 61])
def test_nobody_asks_without_a_name(who: object) -> None:
    assert why(payload=message(who=who)).startswith("who is ")


@pytest.mark.parametrize(
    "raw",
    [b"", b"stop", b"[]", b"\xff\xfe", b"{", b'{"id":1,"id":2}', b'{"weight_g":NaN}', b"[" * 5000, b"{" * 5000, b"x" * (LONGEST + 1), b'"' + b"a" * 99],
    ids=range(11),
)  # fmt: skip
def test_what_is_not_one_plain_json_object_is_refused(raw: bytes) -> None:
    assert isinstance(judged(payload=raw), TurnedAway)


@pytest.mark.parametrize(
    "more", [{"verb": "start"}, {"at_utc_s": 1.0}, {"run_id": "x"}, {"origin": "socket"}, {"request_id": "x"}]
)
def test_a_field_that_is_not_its_own_is_refused(more: dict[str, Any]) -> None:
    assert "takes no" in why(payload=message(**more))


def test_a_missing_field_is_named() -> None:
    assert why("weigh", message(piece="a")).startswith("weight_g is missing")


def test_an_answer_repeats_little_of_what_was_sent_and_no_control_characters() -> None:
    said = why(payload=message(run="x\n\x1b[31m" + "y" * 5000))
    assert len(said) < 300
    assert said.isprintable()


def test_what_goes_on_record_is_short_and_drives_no_terminal() -> None:
    said = judged("hold", message(who="In\x1b[2Jes", reason="a\nb\x1b[31m\ud800" + "y" * 60_000))
    assert isinstance(said, Asked)
    assert said.who == "In?[2Jes"
    assert said.ask["reason"].startswith("a?b?[31m?yyy")
    assert len(said.ask["reason"]) < 500
    nested = judged("load", message(pieces=[{"name": "a\x07"}]), rights=("load",))
    assert isinstance(nested, Asked)
    assert nested.ask["pieces"] == [{"name": "a?"}]


@pytest.mark.parametrize("depth", [100, 400, 900, 5000])
def test_however_deep_it_is_nested_it_is_answered(depth: int) -> None:
    judged("stop", b'{"reason": ' + b"[" * depth + b"]" * depth + b"}")


def test_the_fields_are_those_of_the_engines_own_requests() -> None:
    """The same dataclasses as the command line's, so that none is missing and none is new."""
    engine = {fields(cls)[0].default: {f.name for f in fields(cls)} for cls in get_args(Ask)}
    # A relay test heats for hours and its figures steer the heat: only somebody at the chamber may ask for them.
    assert set(VERBS) == set(engine) - {"tune", "adopt"}
    for verb, wanted in VERBS.items():
        assert set(wanted) == engine[verb] - {"verb", "run_id"}
    assert not set(COMMON) & {name for wanted in VERBS.values() for name in wanted}


near = st.fixed_dictionaries(
    {},
    optional={
        "id": st.sampled_from(["nonce-0001", "nonce-0002", "", "x"]) | st.text(max_size=9),
        "run": st.sampled_from(["run-1", ""]) | st.none(),
        "expires": st.sampled_from([moment(30.0), moment(-5.0), "x"]),
        "who": st.sampled_from(["Ines", ""]),
        "piece": st.sampled_from(["a", "zz"]) | st.integers(),
        "weight_g": st.floats() | st.text(max_size=3),
        "alarm": st.text(max_size=5),
        "reason": st.text(max_size=5),
        "program": st.dictionaries(st.text(max_size=3), st.integers(), max_size=2),
        "extra": st.none(),
    },
)


@settings(max_examples=300)
@given(
    verb=st.sampled_from([*VERBS, "explode", "", "$state"]),
    payload=near.map(lambda v: json.dumps(v).encode()) | st.binary(max_size=80),
    retained=st.booleans(),
)
def test_whatever_is_sent_nothing_passes_that_should_not(verb: str, payload: bytes, retained: bool) -> None:
    outcome = judged(verb, payload, retained=retained, seen={"nonce-0002"})
    if isinstance(outcome, TurnedAway):
        assert outcome.why
        return
    assert verb in RIGHTS
    assert not retained
    sent = json.loads(payload)
    assert (sent["id"], sent["run"], sent["expires"], sent["who"]) == ("nonce-0001", "run-1", moment(30.0), "Ines")
    assert outcome.ask["verb"] == verb
    assert set(outcome.ask) - {"verb"} <= set(VERBS[verb])
