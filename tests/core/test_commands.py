"""Commands say nothing and switch nothing on unless told to."""

from __future__ import annotations

from dryward.core.commands import Commands, Event


def test_the_default_is_everything_off() -> None:
    assert Commands().on == frozenset()
    assert not Commands().keep


def test_an_event_is_only_a_log_line_unless_it_is_said_to_be_more() -> None:
    assert Event(kind="x", text="y").severity == "log"
