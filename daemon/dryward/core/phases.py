"""The states of a run, by the names of ISA-88, and the table of what leads from one to the next.

The table is data: the engine follows it and the diagram in DEVELOPERS.md is drawn from it.
"""

from __future__ import annotations

from typing import Literal

Phase = Literal[
    "idle", "running", "holding", "held", "restarting", "stopping", "stopped", "aborting", "aborted", "complete"
]
Trigger = Literal["start", "hold", "resume", "stop", "abort", "settled", "finished", "clear"]

TABLE: dict[tuple[Phase, Trigger], Phase] = {
    ("idle", "start"): "running",
    ("running", "hold"): "holding",
    ("restarting", "hold"): "holding",
    ("holding", "settled"): "held",
    ("held", "resume"): "restarting",
    ("restarting", "settled"): "running",
    ("running", "finished"): "complete",
    ("running", "stop"): "stopping",
    ("holding", "stop"): "stopping",
    ("held", "stop"): "stopping",
    ("restarting", "stop"): "stopping",
    ("stopping", "settled"): "stopped",
    ("running", "abort"): "aborting",
    ("holding", "abort"): "aborting",
    ("held", "abort"): "aborting",
    ("restarting", "abort"): "aborting",
    ("stopping", "abort"): "aborting",
    ("aborting", "settled"): "aborted",
    ("complete", "clear"): "idle",
    ("stopped", "clear"): "idle",
    ("aborted", "clear"): "idle",
}
ACTIVE: frozenset[Phase] = frozenset({"running", "holding", "held", "restarting", "stopping", "aborting"})
HELD: frozenset[Phase] = frozenset({"holding", "held"})
ENDED: frozenset[Phase] = frozenset({"complete", "stopped", "aborted"})
MAY_HEAT: frozenset[Phase] = frozenset({"running", "restarting"})


def follow(phase: Phase, trigger: Trigger) -> Phase | None:
    """Return the phase that ``trigger`` leads to, or None when it leads nowhere from here."""
    return TABLE.get((phase, trigger))
