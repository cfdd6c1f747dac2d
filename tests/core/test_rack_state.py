"""What is remembered of scales survives a checkpoint without loss."""

from __future__ import annotations

from dataclasses import replace

from dryward.core.chamber import Scale
from dryward.core.layout import lay_out
from dryward.core.state import State, adopt, first_state
from dryward.record.checkpoint import from_json, to_json
from tests.core.bench_chamber import chamber, piece
from tests.core.weigh_stand import Stand

RACK = Scale(name="rack", device="frame", carries="rack", max_g=40_000.0)
HOOK = Scale(name="hook", device="amp")


def busy() -> Stand:
    """A rack in doubt, with a stranger on it, and a hook whose piece is off."""
    made = Stand(
        [piece("a", 600.0), piece("c", 1000.0), piece("d", 1003.0), piece("own", 700.0, scale="hook")], [RACK, HOOK]
    )
    made.run(1800.0)
    made.off("d", "own")
    made.run(90.0)
    made.extra_g["rack"] = 450.0
    made.run(100.0)
    return made


def test_racks_cells_doubts_and_strangers_go_through_json_without_loss() -> None:
    made = busy()
    assert made.racks[0].doubts
    assert made.racks[0].strangers
    state = replace(first_state(made.layout), pieces=made.states, racks=made.racks)
    assert from_json(State, to_json(state)) == state


def test_after_a_restart_weighing_goes_on_where_it_was() -> None:
    made = busy()
    layout = lay_out(chamber(scales=(RACK, HOOK)))
    again = adopt(layout, from_json(State, to_json(replace(first_state(layout), pieces=made.states, racks=made.racks))))
    assert again.racks == made.racks
    assert again.pieces == made.states


def test_an_older_checkpoint_without_racks_can_be_read() -> None:
    layout = lay_out(chamber())
    text = to_json(first_state(layout)).replace(',"racks":[]', "")
    assert "racks" not in text
    assert from_json(State, text).racks == ()
