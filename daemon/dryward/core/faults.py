"""Every alarm dryward knows, as a table: how grave, how long it must hold, what it does, what a person is told.

The keys F1 to F24 are the rows of the fault contract in DEVELOPERS.md. A trip latches: only a named acknowledgement
and a reset clear it. ``cause`` groups alarms with one root: one warning and one trip are told for it, no more.
Texts take ``{subject}`` and ``{value}``.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Effect = Literal["tell", "trip", "abort"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One row. ``on_s`` and ``off_s`` are the debounce; ``abort`` is a trip that ends the run and opens the contactor."""

    key: str
    row: str
    effect: Effect
    cause: str
    on_s: float = 0.0
    off_s: float = 30.0
    happened: str
    meaning: str
    advice: str


_CHECK_WIRING = "Look at the sensor and its plug. Then 'dryward ack', 'dryward reset', 'dryward resume'."
_HEAT_OFF = "The heat is off. Meat that cools between 60 and 4.4 degC does not keep for long: the clock of the danger zone runs."

FAULTS: dict[str, Fault] = {
    f.key: f
    for f in (
        Fault(
            key="air-missing",
            row="F4",
            effect="tell",
            cause="air-sensor",
            on_s=20.0,
            happened="No good reading of the air from {subject} for {value:.0f} s.",
            meaning="The heat is off until the reading is back. A short gap does no harm.",
            advice="Nothing yet. If it stays, look at the sensor and its cable.",
        ),
        Fault(
            key="air-lost",
            row="F4",
            effect="trip",
            cause="air-sensor",
            happened="The air temperature from {subject} has been missing for {value:.0f} s.",
            meaning=_HEAT_OFF,
            advice=_CHECK_WIRING,
        ),
        Fault(
            key="sensor-missing",
            row="F4",
            effect="tell",
            cause="sensor-{subject}",
            on_s=60.0,
            happened="{subject} gives no good reading.",
            meaning="The run goes on; what this sensor would have shown is not watched.",
            advice="Look at the sensor and its cable when you are there.",
        ),
        Fault(
            key="air-stuck",
            row="F6",
            effect="trip",
            cause="air-sensor",
            happened="{subject} has shown {value:.1f} degC without moving although the heater switched.",
            meaning="The true temperature is not known. " + _HEAT_OFF,
            advice="The sensor hangs. Take its power away and give it back. " + _CHECK_WIRING,
        ),
        Fault(
            key="no-heat-response",
            row="F7",
            effect="trip",
            cause="heating",
            happened="The heater is at full power and the air does not get warmer ({value:.1f} degC).",
            meaning=_HEAT_OFF,
            advice="Look at heater, fuse, relay, cut-out, and whether the sensor hangs in the chamber. Then ack, reset, resume.",
        ),
        Fault(
            key="no-heat-near-target",
            row="F8",
            effect="trip",
            cause="heating",
            happened="Full power for some minutes and the air has not risen by 1 K ({value:.1f} degC).",
            meaning=_HEAT_OFF,
            advice="Look at heater, fuse, relay, door seal, and whether the sensor has fallen out. Then ack, reset, resume.",
        ),
        Fault(
            key="below-band",
            row="F9",
            effect="tell",
            cause="heating",
            happened="The air has fallen out of its band: {value:.1f} degC.",
            meaning="The step's clock waits until it is back. Drying is slower meanwhile.",
            advice="Is the door shut, the fan running, the heater on? If it goes on falling, the heat will trip.",
        ),
        Fault(
            key="below-band-long",
            row="F9",
            effect="trip",
            cause="heating",
            happened="The air has stayed below its band: {value:.1f} degC.",
            meaning=_HEAT_OFF,
            advice="Look at heater, fuse, relay and door. Then ack, reset, resume.",
        ),
        Fault(
            key="over-setpoint",
            row="F10",
            effect="trip",
            cause="too-hot",
            happened="The air has stayed too far above its setpoint: {value:.1f} degC.",
            meaning="The heat is off. Hotter air makes a crust and may melt fat; the meat is not lost.",
            advice="Look at the relay (does it stick?) and at where the sensor hangs. Then ack, reset, resume.",
        ),
        Fault(
            key="over-limit",
            row="F11",
            effect="abort",
            cause="too-hot",
            happened="{subject} reads {value:.1f} degC: above the absolute limit.",
            meaning="The run is aborted, the contactor is open. The pieces have been hotter than the program allows.",
            advice="Pull the plug if it goes on rising. Find the cause before anything is switched on again.",
        ),
        Fault(
            key="heat-while-off",
            row="F12",
            effect="abort",
            cause="too-hot",
            happened="THE HEATER IS OFF AND IT IS STILL GETTING HOTTER: {value:.1f} degC.",
            meaning="The relay has probably welded shut. The run is aborted, the contactor is open.",
            advice="PULL THE PLUG NOW. Replace the relay before the chamber is used again.",
        ),
        Fault(
            key="reversed",
            row="F13",
            effect="abort",
            cause="air-sensor",
            happened="The air gets colder at full power: {value:.1f} degC.",
            meaning="Sensors or plugs are probably swapped: dryward cannot know what it heats. The run is aborted.",
            advice="Check which sensor hangs where, and which line switches what, with 'dryward check'.",
        ),
        Fault(
            key="air-disagrees",
            row="F14",
            effect="tell",
            cause="air-sensor",
            happened="Two air sensors differ by {value:.1f} K.",
            meaning="The hotter one counts for every limit. The true temperature is in doubt.",
            advice="Is one of them near the heater, in a draught, or fallen out? Put it right when you are there.",
        ),
        Fault(
            key="fan-stopped",
            row="F15",
            effect="trip",
            cause="fan",
            happened="The fan is switched on and reports that it stands still.",
            meaning=_HEAT_OFF,
            advice="Free or replace the fan. Never heat without it. Then ack, reset, resume.",
        ),
        Fault(
            key="power-was-out",
            row="F16",
            effect="tell",
            cause="outage",
            off_s=600.0,
            happened="Power or dryward was away for {value:.0f} s. The run goes on, the heat comes back slowly.",
            meaning="The pieces cooled a little; the record shows how far.",
            advice="Look at the core temperature if you have a probe. Nothing else is needed.",
        ),
        Fault(
            key="step-overrun",
            row="F17",
            effect="tell",
            cause="overrun",
            happened="Step {subject} takes much longer than planned ({value:.1f} h).",
            meaning="The air has probably not been in its band, or the pieces dry slowly.",
            advice="Compare air and setpoint in 'dryward status'; weigh a piece.",
        ),
        Fault(
            key="relay-worn",
            row="F18",
            effect="tell",
            cause="wear-{subject}",
            happened="The relay of {subject} has used {value:.0f} % of its rated operations.",
            meaning="Nothing for this batch. Worn relays weld shut.",
            advice="Plan to replace it between two runs.",
        ),
        Fault(
            key="record-failing",
            row="F20",
            effect="tell",
            cause="record",
            happened="The record cannot be written: {subject}.",
            meaning="Drying and safety go on. Readings wait in memory; a power cut now would lose them.",
            advice="Free space on the card or replace it.",
        ),
        Fault(
            key="broker-lost",
            row="F21",
            effect="tell",
            cause="broker",
            on_s=300.0,
            happened="The MQTT broker has not answered for five minutes.",
            meaning="Nothing for the meat. Messages wait on disk.",
            advice="Look at network and broker when you can.",
        ),
        Fault(
            key="door-open",
            row="F22",
            effect="tell",
            cause="door",
            happened="The door has been open for {value:.0f} s.",
            meaning="The chamber cools and the drying stands still.",
            advice="Shut the door.",
        ),
        Fault(
            key="air-out-of-safe-band",
            row="F22",
            effect="tell",
            cause="safe-air",
            on_s=120.0,
            off_s=120.0,
            happened="The air is at {value:.1f} degC, outside the safe band of step {subject}.",
            meaning="Warm meat that should be cold spoils; hot meat that should be dry stays wet.",
            advice="Put it right now; note how long it lasted. When in doubt, throw it away.",
        ),
        Fault(
            key="humidity-out-of-safe-band",
            row="F22",
            effect="tell",
            cause="safe-humidity",
            on_s=600.0,
            off_s=300.0,
            happened="The humidity is {value:.0f} %, outside the safe band of step {subject}.",
            meaning="Too dry makes a crust that locks water in; too moist lets mould and slime grow.",
            advice="Check water tank, vent and door.",
        ),
        Fault(
            key="too-hot-for-step",
            row="F10",
            effect="tell",
            cause="too-hot",
            on_s=0.0,
            happened="The air is {value:.1f} degC, too far above the setpoint.",
            meaning="The heat is off until it comes back.",
            advice="Nothing yet.",
        ),
        Fault(
            key="keeper-lost",
            row="F23",
            effect="tell",
            cause="keeper",
            off_s=600.0,
            happened="The process that holds the outputs died and was started again.",
            meaning="The heat was off for a moment.",
            advice="Nothing now. If it comes back, keep the record and report it.",
        ),
        Fault(
            key="keeper-dying",
            row="F23",
            effect="trip",
            cause="keeper",
            happened="The process that holds the outputs died {value:.0f} times in ten minutes.",
            meaning=_HEAT_OFF,
            advice="Look at power supply and wiring of the outputs. Then ack, reset, resume.",
        ),
        Fault(
            key="reader-lost",
            row="F4",
            effect="tell",
            cause="sensor-{subject}",
            off_s=300.0,
            happened="The reading of {subject} hung and was started again.",
            meaning="Nothing while other readings are fresh.",
            advice="If it comes back, look at the cable and the power of that sensor.",
        ),
        Fault(
            key="crash-loop",
            row="F24",
            effect="trip",
            cause="crash-loop",
            happened="dryward was started {value:.0f} times in ten minutes.",
            meaning=_HEAT_OFF,
            advice="Read the journal ('journalctl -u dryward'). When the cause is gone: ack, reset, resume.",
        ),
    )
}
