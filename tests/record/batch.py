"""An invented run on record, made in a moment: two hours, two pieces, one step up, a trip and whatever end is wanted."""

from __future__ import annotations

from pathlib import Path

from dryward.core.commands import Commands, Event, Reply
from dryward.core.inputs import Inputs, Reading, Request, Weigh
from dryward.record.moments import Mark, NoteWritten, PieceReached, StepBegan
from tests.record.scene import began, ended, event, put, writer

LAST = 7200
NASTY = "</script><script>window.bad=1</script>"


def write_batch(path: Path, run_id: str = "r1", *, end: str = "complete", first: int = 0, hot: bool = False) -> None:
    """Write it; ``end`` empty leaves it open. The air is 50 degC for an hour, then 60; a hold from minute 40 to 50."""
    book = writer(path, first_tick=first)
    for n in range(LAST + 1):
        tick = first + n
        inputs, commands, marks = Inputs(), Commands(on=frozenset({"fan"})), list[Mark]()
        if n % 10 == 0:
            air = (50.0 if n < 3600 else 60.0) + (35.0 if hot and n > 7000 else 0.0)
            rows = {"air": air + 0.25 * (n % 20 - 5) / 10, "top": air + 1.0, "damp": 40.0}
            inputs = Inputs(readings=tuple(Reading(name, value, float(tick)) for name, value in rows.items()))
        figures = (
            {
                "air_setpoint_c": 50.0 if n < 3600 else 60.0,
                "heater_duty_pct": 40.0,
                "energy_kwh": n / 7200.0,
                "weight_g:loin-a": 1000.0 - 360.0 * n / LAST,
                "heater_operations": n / 60.0,
            }
            if n % 60 == 0
            else None
        )
        told: tuple[Event, ...] = ()
        if n == 0:
            marks.append(began(run_id))
        if n == 2400:
            told = (
                event("The fan stands.", kind="trip", severity="trip", advice="Look at the fan."),
                event("held", kind="run-held"),
            )
        if n == 3000:
            told = (event("The run went from restarting to running.", kind="phase"),)
        if n == 3600:
            marks.append(StepBegan(run_id=run_id, step_no=1, name="dry", why="an hour in band"))
        if n == 7000:
            marks.append(PieceReached(run_id=run_id, piece="loin-a", weight_g=650.0, crossed_s=float(first + 7000)))
        if n == 4000:
            asked = Request(request_id=f"w{tick}", ask=Weigh(piece="loin-b", weight_g=700.0), who="ann")
            inputs = Inputs(readings=inputs.readings, requests=(asked,))
            told = (event("ann (socket): loin-b weighed", kind="asked-weigh", subject="ann"),)
            commands = Commands(
                on=frozenset({"fan"}), replies=(Reply(request_id=f"w{tick}", accepted=True, text="taken"),)
            )
        if n == LAST - 1:
            marks.append(NoteWritten(run_id=run_id, text=NASTY, who="ann"))
        if n == LAST and end:
            marks.append(ended(run_id, state=end, reason="=tripped & over", loin_a=640.0, loin_b=700.0))
        if told:
            commands = Commands(on=commands.on, events=told, replies=commands.replies)
        put(book, tick, inputs, commands, marks=marks, figures=figures)
    assert book.close()
