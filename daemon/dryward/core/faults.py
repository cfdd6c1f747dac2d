"""Every alarm dryward knows, as a table: how grave, how long it must hold, what it does, what a person is told.

The rows F1 to F24 are those of the fault contract in DEVELOPERS.md; a row without a number is no fault of the chamber. A trip latches: only a named acknowledgement and
a reset clear it. ``cause`` groups alarms with one root: one warning and one trip are told for it, no more. Texts take
``{subject}``, ``{value}`` and ``{detail}``. They are read by tired people at night: what happened, what it means for
the meat, what to do.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from dryward.core.commands import Severity

Effect = Literal["tell", "trip", "abort"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One row. ``on_s`` and ``off_s`` are the debounce, ``dead_band`` the room inside the limit in which an alarm goes on.

    A ``trip`` takes the heat away and holds the run; an ``abort`` is a trip that ends it. ``severity`` is how loudly a
    mere ``tell`` is told.
    """

    key: str
    row: str
    effect: Effect
    cause: str
    severity: Severity = "alarm"
    on_s: float = 0.0
    off_s: float = 30.0
    dead_band: float = 0.0
    happened: str
    meaning: str
    advice: str

    @property
    def trips(self) -> bool:
        """Whether it latches and takes the heat away."""
        return self.effect != "tell"


_COOLS = "The heat is off and the meat cools. Between 60 and 4.4 degC it does not keep for long."
_GO_ON = "Then 'dryward ack', 'dryward reset', 'dryward resume'."
_MAINS = "The mains side is for an electrician."

FAULTS: dict[str, Fault] = {
    f.key: f
    for f in (
        # --- the air's own reading
        Fault(
            key="air-missing",
            row="F4",
            effect="tell",
            cause="air-sensor",
            severity="warning",
            on_s=20.0,
            happened="No good temperature from {subject} for {value:.0f} seconds.",
            meaning="The heat is off until it is back. A short gap does the meat no harm.",
            advice="Nothing yet. If it lasts, look at the sensor, its plug and its cable.",
        ),
        Fault(
            key="air-lost",
            row="F4",
            effect="trip",
            cause="air-sensor",
            happened="No good temperature from {subject} for {value:.0f} seconds: nobody knows how warm it is in there.",
            meaning=_COOLS,
            advice=f"Look at the sensor, its plug and its cable. {_GO_ON}",
        ),
        Fault(
            key="air-stuck",
            row="F6",
            effect="trip",
            cause="air-sensor",
            happened="{subject} says {value:.1f} degC and never moves, not even with the heat taken away.",
            meaning=f"The true temperature is not known. {_COOLS}",
            advice=f"Unplug the sensor and plug it in again. If it sticks again, replace it. {_GO_ON}",
        ),
        Fault(
            key="reversed",
            row="F13",
            effect="trip",
            cause="air-sensor",
            happened="At full heat the air gets colder: {value:.1f} degC.",
            meaning=f"Sensors or plugs are probably swapped: nobody knows what is heated. {_COOLS}",
            advice=f"See which sensor hangs where and which line switches what: 'dryward check' goes through them. {_GO_ON}",
        ),
        Fault(
            key="air-disagrees",
            row="F14",
            effect="tell",
            cause="air-sensor",
            dead_band=1.0,
            happened="Two air sensors differ by {value:.1f} degrees.",
            meaning="The hotter one now counts for every limit. How warm the meat's air really is, is in doubt.",
            advice="Has one fallen down, or come close to the heater or a draught? Put it right.",
        ),
        Fault(
            key="sensor-missing",
            row="F4",
            effect="tell",
            cause="sensor-{subject}",
            severity="warning",
            on_s=50.0,
            happened="{subject} gives no good reading.",
            meaning="The drying goes on, but what {subject} would show is not watched.",
            advice="Look at that sensor and its cable when you are there.",
        ),
        Fault(
            key="reader-lost",
            row="F4",
            effect="tell",
            cause="sensor-{subject}",
            severity="notice",
            off_s=300.0,
            happened="Reading {subject} got stuck and was started again.",
            meaning="Nothing, as long as its readings come.",
            advice="If it happens again and again, look at the cable and the power of that sensor.",
        ),
        # --- heat that does not arrive
        Fault(
            key="no-heat-response",
            row="F7",
            effect="trip",
            cause="heating",
            happened="Full heat, and the air does not get warmer: {value:.1f} degC.",
            meaning=_COOLS,
            advice=f"Look at cut-out, fuse, relay and heater, and whether the sensor still hangs in the chamber. {_MAINS} {_GO_ON}",
        ),
        Fault(
            key="no-heat-near-target",
            row="F8",
            effect="trip",
            cause="heating",
            happened="Much heat given, and the air has not risen by one degree: {value:.1f} degC.",
            meaning=_COOLS,
            advice=f"Is the sensor in its place and the door tight? Then look at cut-out, fuse, relay and heater. {_MAINS} {_GO_ON}",
        ),
        Fault(
            key="below-band",
            row="F9",
            effect="tell",
            cause="heating",
            happened="The air has fallen too far below its setpoint: {value:.1f} degC.",
            meaning="The step's clock waits until it is back. The meat dries more slowly meanwhile.",
            advice="Is the door shut, does the fan run, does the heater get warm?",
        ),
        Fault(
            key="below-band-long",
            row="F9",
            effect="trip",
            cause="heating",
            happened="The air stays too far below its setpoint: {value:.1f} degC.",
            meaning=_COOLS,
            advice=f"Look at door, fan, cut-out, fuse, relay and heater. {_MAINS} {_GO_ON}",
        ),
        Fault(
            key="heater-changed",
            row="",
            effect="tell",
            cause="answer-heater",
            severity="warning",
            happened="The heater is not what it was: {detail}.",
            meaning="Nothing yet, as long as the air keeps its setpoint.",
            advice=f"Look at the element, its fuse and terminals, at door, vent and the sensor's place. {_MAINS} Then tune again.",
        ),
        Fault(
            key="air-slower",
            row="",
            effect="tell",
            cause="answer-air",
            severity="warning",
            happened="The fan seems to be failing: heat reaches the sensor {detail}.",
            meaning="With little moving air the pieces dry unevenly and the heater gets too hot.",
            advice="Look at the fan first, then at filters and blocked air ways. Did the sensor move? Then tune again.",
        ),
        Fault(
            key="contactor-open",
            row="F7",
            effect="tell",
            cause="heating",
            on_s=10.0,
            happened="The master contactor should be closed and reports that it is open.",
            meaning="The heater gets no power. The meat cools.",
            advice=f"Has the cut-out tripped? Find out why before you put it back. {_MAINS}",
        ),
        # --- too much heat
        Fault(
            key="too-hot-for-step",
            row="F10",
            effect="tell",
            cause="too-hot",
            severity="warning",
            happened="The air is too far above its setpoint: {value:.1f} degC.",
            meaning="The heat is off until it has come down. A short while does the meat no harm.",
            advice="Nothing yet. If it goes on rising, pull the plug.",
        ),
        Fault(
            key="over-setpoint",
            row="F10",
            effect="trip",
            cause="too-hot",
            happened="The air stays too far above its setpoint: {value:.1f} degC.",
            meaning="The heat is off. Air that is too hot dries a crust and melts fat; the pieces are not lost yet.",
            advice=f"If it goes on rising, pull the plug: the relay sticks. If not, see where the sensor hangs. {_GO_ON}",
        ),
        Fault(
            key="over-limit",
            row="F11",
            effect="abort",
            cause="too-hot",
            happened="TOO HOT: {subject} says {value:.1f} degC, above the limit that nothing may pass.",
            meaning="The run has been ended and all heat cut. The pieces have been hotter than their program allows.",
            advice=f"If it goes on rising, PULL THE PLUG. Heat nothing again before the cause is found. {_MAINS}",
        ),
        Fault(
            key="heat-while-off",
            row="F12",
            effect="abort",
            cause="too-hot",
            happened="THE HEATER IS SWITCHED OFF AND IT STILL GETS HOTTER: {value:.1f} degC.",
            meaning="Its relay has probably welded shut. The run has been ended; nothing here may be able to stop the heat.",
            advice="PULL THE PLUG NOW. Replace the relay before anything is heated again.",
        ),
        Fault(
            key="contactor-welded",
            row="F12",
            effect="trip",
            cause="contactor",
            on_s=10.0,
            happened="The master contactor should be open and reports that it is closed.",
            meaning="The last switch that could cut the heat does not open. Heat is refused; the meat cools.",
            advice=f"Pull the plug and have the contactor replaced. {_MAINS} {_GO_ON}",
        ),
        Fault(
            key="fan-stopped",
            row="F15",
            effect="trip",
            cause="fan",
            happened="The fan is switched on and stands still.",
            meaning=_COOLS,
            advice=f"Free the fan or replace it; without it the heater overheats. {_GO_ON}",
        ),
        # --- the run
        Fault(
            key="power-was-out",
            row="F16",
            effect="tell",
            cause="outage",
            off_s=600.0,
            happened="Power or dryward was away for {value:.0f} minutes. The run goes on.",
            meaning="The pieces have cooled a little. The heat comes back slowly.",
            advice="Nothing. If you have a core probe, see how far the pieces have cooled.",
        ),
        Fault(
            key="state-lost",
            row="F20",
            effect="tell",
            cause="state",
            off_s=600.0,
            happened="dryward does not know any longer what it was doing: {detail}.",
            meaning="It has begun afresh, with the heat off. If a run was under way its pieces have been cooling since.",
            advice="Look at the pieces, and find with 'dryward runs' what was going on. Load and start again, or take them out and keep them cold.",
        ),
        Fault(
            key="step-overrun",
            row="F17",
            effect="tell",
            cause="overrun",
            happened="Step {subject} takes much longer than planned: {value:.1f} hours so far.",
            meaning="The air has not been in its band for long enough. The pieces are not where the plan has them.",
            advice="Compare air and setpoint in 'dryward status', and weigh a piece.",
        ),
        Fault(
            key="door-open",
            row="F22",
            effect="tell",
            cause="door",
            happened="The door has been open for {value:.0f} minutes.",
            meaning="The heat is off, the chamber cools, and the meat hardly dries.",
            advice="Shut the door. If it is shut, look at its switch.",
        ),
        Fault(
            key="air-out-of-safe-band",
            row="F22",
            effect="tell",
            cause="safe-air",
            on_s=120.0,
            off_s=120.0,
            dead_band=0.3,
            happened="The air is at {value:.1f} degC, outside the safe band of step {subject}.",
            meaning="Meat that should be cold spoils when it is warm; meat that should be warm stays wet when it is cold.",
            advice="Put it right and note for how long. When in doubt, throw it away.",
        ),
        Fault(
            key="humidity-out-of-safe-band",
            row="F22",
            effect="tell",
            cause="safe-humidity",
            severity="warning",
            on_s=600.0,
            off_s=300.0,
            dead_band=1.0,
            happened="The humidity is {value:.0f} %, outside the safe band of step {subject}.",
            meaning="Too dry, and a crust locks the water in. Too moist, and mould and slime grow.",
            advice="Look at water tank, vent and door.",
        ),
        # --- the pieces' drying curves
        Fault(
            key="stalled",
            row="",
            effect="tell",
            cause="curve-{subject}",
            severity="warning",
            happened="{subject} has all but stopped drying, short of its target.",
            meaning="It may be as dry as this air can make it, or a crust may shut the water in.",
            advice="Feel it. Hard outside and soft inside: moister or cooler air for some hours evens it out. Else drier or warmer air is needed.",
        ),
        Fault(
            key="crust-risk",
            row="",
            effect="tell",
            cause="curve-{subject}",
            severity="warning",
            happened="{subject} dries more and more slowly while its core is still wet.",
            meaning="Its surface may have dried to a crust that shuts the water in.",
            advice="Feel it. If the rim is hard, give moister or cooler air for some hours, or less moving air. See also that vent and fan are free.",
        ),
        Fault(
            key="out-of-reach",
            row="",
            effect="tell",
            cause="curve-{subject}",
            severity="warning",
            happened="{subject} will not reach its target with this program.",
            meaning="When the program is over it will still weigh too much.",
            advice="Weigh it to be sure. Then dry it longer, or in warmer or drier air, or be content with less loss.",
        ),
        # --- dryward itself
        Fault(
            key="relay-worn",
            row="F18",
            effect="tell",
            cause="wear-{subject}",
            severity="notice",
            happened="The relay of the {subject} has used {value:.0f} % of its rated life.",
            meaning="Nothing for this batch. A worn relay welds shut one day.",
            advice="Plan to replace it between two runs.",
        ),
        Fault(
            key="record-failing",
            row="F20",
            effect="tell",
            cause="record",
            happened="The record cannot be written: {detail}.",
            meaning="Drying and safety go on. What was measured waits in memory; a power cut now would lose it.",
            advice="Make room on the card, or replace it.",
        ),
        Fault(
            key="broker-lost",
            row="F21",
            effect="tell",
            cause="broker",
            severity="warning",
            on_s=300.0,
            happened="The message broker has not answered for five minutes.",
            meaning="Nothing for the meat. Messages to your phone wait until it is back.",
            advice="Look at network and broker. Until then only lamp and buzzer can call you.",
        ),
        Fault(
            key="keeper-lost",
            row="F23",
            effect="tell",
            cause="keeper",
            severity="warning",
            off_s=600.0,
            happened="The part of dryward that holds the switches died and was started again.",
            meaning="Everything was switched off for a moment. Nothing for the meat.",
            advice="Nothing now. If it happens again, keep the record and report it.",
        ),
        Fault(
            key="keeper-dying",
            row="F23",
            effect="trip",
            cause="keeper",
            happened="The part of dryward that holds the switches died {value:.0f} times in ten minutes.",
            meaning=_COOLS,
            advice=f"Look at the power supply and the wiring of relays and board. {_GO_ON}",
        ),
        Fault(
            key="crash-loop",
            row="F24",
            effect="trip",
            cause="crash-loop",
            happened="dryward was started {value:.0f} times in ten minutes.",
            meaning=_COOLS,
            advice=f"See why with 'journalctl -u dryward'. When the cause is gone: {_GO_ON.removeprefix('Then ')}",
        ),
    )
}
