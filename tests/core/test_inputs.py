"""What the engine is told travels as JSON and comes back the same."""

from __future__ import annotations

import pytest

from dryward.core.inputs import (
    NOTHING,
    Ack,
    Ask,
    Hold,
    Inputs,
    Load,
    Pull,
    Request,
    Reset,
    Resume,
    Shelve,
    Start,
    Stop,
    Weigh,
)
from dryward.record.checkpoint import from_json, to_json
from tests.core.bench_chamber import piece, program

ASKS: tuple[Ask, ...] = (
    Load(pieces=(piece("a"), piece("b", 500.5))), Start(program=program(), run_id="r"), Hold(reason="x"), Resume(),
    Stop(), Weigh(piece="a", weight_g=1.5), Pull(piece="a"), Ack(alarm="door-open"), Shelve(alarm="x", hours=2.0), Reset(),
)  # fmt: skip


@pytest.mark.parametrize("ask", ASKS, ids=lambda a: a.verb)
def test_a_request_comes_back_as_it_went(ask: Ask) -> None:
    request = Request(request_id="q", ask=ask, who="Ines")
    assert from_json(Request, to_json(request)) == request


def test_nothing_is_nothing() -> None:
    assert Inputs() == NOTHING
    assert not NOTHING.readings
