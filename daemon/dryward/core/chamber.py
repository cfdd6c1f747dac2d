"""What the owner's chamber is: sensors, outputs, scales, limits, control figures. Pure data, read from chamber.toml.

Every option carries its reason and the way to choose its value in ``doc(...)``; the JSON Schema and the option table
in config/README.md are made from these words.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Annotated, Literal

from annotated_types import Ge, Gt, Le, doc

from dryward.core.units import AirC, BandK, Hours, Name, OutputGpio, RhPct, Seconds, Watts

SensorRole = Literal[
    "control-air",  # the air temperature that the program holds
    "limit-air",  # an independent air temperature, used for limits only
    "core",  # a probe inside a piece
    "humidity",  # relative humidity of the chamber's air
    "ambient",  # the room around the chamber
    "ambient-humidity",  # relative humidity of that room
    "scale-temperature",  # the load cell's own temperature
    "door",  # 1 open, 0 shut
    "fan-feedback",  # 1 turning, 0 standing
    "contactor-feedback",  # 1 closed, 0 open
    "ack-button",  # 1 pressed
]
TEMPERATURE_ROLES: frozenset[str] = frozenset({"control-air", "limit-air", "core", "ambient", "scale-temperature"})
HUMIDITY_ROLES: frozenset[str] = frozenset({"humidity", "ambient-humidity"})
CONTACT_ROLES: frozenset[str] = frozenset({"door", "fan-feedback", "contactor-feedback", "ack-button"})

OutputName = Literal[
    "heater",
    "fan",
    "vent",
    "cooler",
    "humidifier",
    "dehumidifier",
    "contactor",
    "buzzer",
    "lamp",
    "sensor-power",
    "heartbeat",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sensor:
    """One measured quantity: a role, the device it comes from, the range it is rated for."""

    name: Name
    role: Annotated[
        SensorRole,
        doc("What this value is used for. Exactly one 'control-air' is needed where there is a heater or a cooler."),
    ]
    device: Annotated[
        Name,
        doc(
            "The [devices.NAME] this value is read from. A device with two values (temperature and humidity) serves two sensors."
        ),
    ]
    reads: Annotated[
        Name | None,
        doc(
            "Which of the device's values. Left out: 'temperature', 'humidity' or 'state' by the role; of a twin, its value of that role."
        ),
    ] = None
    rated_low: Annotated[
        float,
        doc(
            "Lower end of the sensor's rating, from its datasheet (degC, or %RH for humidity). Left out: the figure of the device's kind."
        ),
    ] = -40.0
    rated_high: Annotated[
        float, doc("Upper end of the sensor's rating, from its datasheet. A program step that needs more is refused.")
    ] = 125.0
    fresh_s: Annotated[
        float,
        Gt(0.0),
        Le(7200.0),
        doc(
            "A reading older than this is stale. 10 s for anything that heat depends on; a slow logger may need its own interval plus a little."
        ),
    ] = 10.0
    reset_value: Annotated[
        float | None,
        doc(
            "Value the sensor shows after a loss of power, never believed (85 for the DS18B20 family). Left out: the figure of the device's kind."
        ),
    ] = None
    offset: Annotated[
        float,
        Ge(-20.0),
        Le(20.0),
        doc(
            "Added to each reading. From 'dryward calibrate', or: put the sensor in ice water and enter 0 minus what it shows."
        ),
    ] = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Output:
    """One switched line and how it must be treated."""

    name: OutputName
    gpio: Annotated[
        OutputGpio | None,
        doc("BCM number of the line, 9-27 (these are pulled low while the Pi boots). Left out: a simulated line."),
    ] = None
    active_high: Annotated[
        bool, doc("true when a high level switches on. Prefer such boards: an active-low board can pulse at start.")
    ] = True
    safe_on: Annotated[
        bool, doc("State when in doubt. Only a fan, lamp or buzzer may be safe when on; heat never is.")
    ] = False
    min_on_s: Annotated[
        Seconds,
        doc(
            "Shortest time on. Compressor: 120-300 s (its manual); mechanical relay: 5-10 s; solid-state relay: 0-1 s."
        ),
    ] = 0.0
    min_off_s: Annotated[
        Seconds,
        doc(
            "Shortest time off. Compressor: at least 300 s (its manual), which a cooler has where this is left out; relay: as for min_on_s. Switching off for safety never waits."
        ),
    ] = 0.0
    power_w: Annotated[
        Watts, doc("Power when on, from the rating plate; energy figures are this times the time on.")
    ] = 0.0
    rated_operations: Annotated[
        int,
        Ge(0),
        Le(1_000_000_000),
        doc(
            "Switching operations the relay is rated for at this load (its datasheet). 0: does not wear (solid state)."
        ),
    ] = 100_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """One load cell: a hook, a tray or the whole rack."""

    name: Name
    device: Annotated[Name, doc("The [devices.NAME] this cell is read from.")]
    reads: Annotated[
        Name | None, doc("Which of the device's values. Left out: 'weight'; of a twin, the cell of this name.")
    ] = None
    carries: Annotated[
        Literal["piece", "rack"],
        doc("'piece': one piece hangs on it (named at load). 'rack': it weighs everything at once."),
    ] = "piece"
    tare_g: Annotated[float, doc("Weight of the empty hook, tray or rack: weigh it empty once.")] = 0.0
    max_g: Annotated[
        float, Gt(0.0), Le(1_000_000.0), doc("Capacity of the cell, from its plate; a value above it is not believed.")
    ] = 10_000.0
    settle_s: Annotated[
        float,
        Ge(0.0),
        Le(7200.0),
        doc(
            "Longest averaging time of the weight; it is shortened by itself while drying changes. Longer rides out fan shake: 2700 s suits drying that takes days, 900 s what takes hours, 7200 s a cabinet."
        ),
    ] = 2700.0
    drift_g_per_k: Annotated[
        float | None,
        Ge(-10.0),
        Le(10.0),
        doc(
            "How much more the unloaded cell shows for each kelvin it gets warmer; used where a sensor has the role 'scale-temperature'. Leave it empty in the cold chamber, then in the hot one for two hours: the change of weight over the change of scale-temperature. Left out: not known, and a piece on its own cell is called done only when it would be even if the zero had wandered as a class C3 cell's may."
        ),
    ] = None
    tare_c: Annotated[
        float,
        Ge(-20.0),
        Le(120.0),
        doc(
            "The cell's temperature when tare_g was taken: what scale-temperature showed, or that of the room. Matters only where a sensor has the role 'scale-temperature'."
        ),
    ] = 20.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """Safety figures of the fault contract. The defaults are the careful choice; loosen one only with a reason."""

    max_air_c: Annotated[
        AirC,
        doc(
            "The chamber's own limit: never above what its plate, its walls and its cut-out allow. The cut-out stands 2-5 K above your hottest step."
        ),
    ] = 90.0
    over_top_step_k: Annotated[
        BandK,
        doc(
            "Trip when any air sensor is this far above the hottest step of the program. Twice the normal swing plus sensor error."
        ),
    ] = 8.0
    over_setpoint_k: Annotated[
        BandK, doc("Heat goes off this far above the setpoint. More than the normal overshoot, less than what harms.")
    ] = 5.0
    over_setpoint_s: Annotated[
        Seconds, doc("How long it may be that far above before heat goes off. Covers a door slam, not a fault.")
    ] = 30.0
    over_setpoint_trip_s: Annotated[Seconds, doc("How long before it is a trip.")] = 180.0
    heat_stale_s: Annotated[
        float, Gt(0.0), Le(10.0), doc("Heat goes off when the control reading is older. Never above 10 s.")
    ] = 10.0
    trip_stale_s: Annotated[
        float, Gt(0.0), Le(60.0), doc("A trip when the control reading has been missing so long.")
    ] = 60.0
    jump_k: Annotated[
        BandK,
        doc(
            "A change between two samples that no air can make. Well above the swing when a door opens, within your sample interval."
        ),
    ] = 5.0
    stuck_s: Annotated[Seconds, doc("A reading that does not move for so long while the heater changed is stuck.")] = (
        600.0
    )
    stuck_k: Annotated[BandK, doc("What counts as not moving: about the sensor's resolution.")] = 0.1
    response_s: Annotated[
        Seconds,
        doc(
            "Time at full power in which the air must have answered. At least twice the dead time that 'dryward tune' found."
        ),
    ] = 120.0
    response_k: Annotated[BandK, doc("Rise that is expected in that time before the chamber is tuned.")] = 2.0
    no_response_power_s: Annotated[
        Seconds, doc("Full-power seconds spent without 1 K of rise before it is a trip, near the target.")
    ] = 300.0
    below_band_k: Annotated[BandK, doc("How far below the setpoint counts as fallen out of the band.")] = 5.0
    below_band_ks: Annotated[
        float,
        Gt(0.0),
        Le(100_000.0),
        doc("Kelvin-seconds below the band before the alarm; three times that trips. 600 is two minutes at 5 K."),
    ] = 600.0
    off_rise_k: Annotated[
        BandK, doc("Rise with the heater off that means it is not off. Above the overshoot your walls can give.")
    ] = 2.0
    off_rise_s: Annotated[
        Seconds, doc("Time with the heater off before a further rise is judged. More than twice the dead time.")
    ] = 60.0
    reversed_k: Annotated[BandK, doc("Fall of the air at full power that means sensors or plugs are swapped.")] = 3.0
    reversed_s: Annotated[Seconds, doc("Time at full power over which that fall is judged.")] = 180.0
    disagree_k: Annotated[
        BandK,
        doc("Difference between two air sensors that needs a look. More than the normal spread between their places."),
    ] = 8.0
    disagree_s: Annotated[Seconds, doc("How long they must differ.")] = 60.0
    fan_feedback_s: Annotated[Seconds, doc("Time the fan has to report that it turns.")] = 10.0
    door_open_s: Annotated[Seconds, doc("Door open longer than this raises an alarm.")] = 300.0
    outage_go_on_s: Annotated[Seconds, doc("A power cut shorter than this: go on as if nothing was.")] = 300.0
    outage_ramp_s: Annotated[
        Seconds,
        doc(
            "A power cut up to this: heat back by ramp and tell the owner. Longer, or of unknown length: hold and ask."
        ),
    ] = 3600.0
    max_heating_h: Annotated[
        Hours,
        doc("Heating hours after which the run is ended, whatever the program says. A little over your longest run."),
    ] = 240.0
    relay_notice_pct: Annotated[
        float,
        Gt(0.0),
        Le(100.0),
        doc("Share of a relay's rated operations at which you are told to plan its replacement."),
    ] = 70.0
    commissioning: Annotated[
        bool, doc("true: every check is evaluated and shown, no heat is ever given. For wiring days.")
    ] = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Plant:
    """The chamber as a heated body: what ``dryward tune`` finds. First order with dead time."""

    gain_k: Annotated[
        float, Gt(1.0), Le(2000.0), doc("Rise above the room at full power, held for ever. From 'dryward tune'.")
    ]
    time_constant_s: Annotated[float, Gt(1.0), Le(100_000.0), doc("Time to 63 % of that rise. From 'dryward tune'.")]
    dead_time_s: Annotated[
        float, Ge(0.0), Le(3600.0), doc("Time before a change of the heater shows in the reading. From 'dryward tune'.")
    ]
    lag_s: Annotated[
        float,
        Ge(0.0),
        Le(3600.0),
        doc("Time the sensor itself, in its sleeve, takes to follow the air to 63 %. From 'dryward tune'."),
    ] = 0.0
    tuned_on: Annotated[str, doc("Date of the tuning (YYYY-MM-DD).")] = ""

    @property
    def delay_s(self) -> float:
        """Time after which a change of the heater has come to bear on the reading: dead time and lag, s."""
        return self.dead_time_s + self.lag_s


@dataclass(frozen=True, slots=True, kw_only=True)
class Control:
    """How heat, cold and humidity are switched."""

    cycle_s: Annotated[
        float,
        Ge(1.0),
        Le(600.0),
        doc(
            "Length of one heater cycle. Mechanical relay: 20 s or more (60 s gives about three times the relay life of 20 s); solid-state: 1-5 s."
        ),
    ] = 40.0
    pace: Annotated[
        Literal["calm", "tight"], doc("'calm' swings less and forgives a changed chamber; 'tight' follows faster.")
    ] = "calm"
    plant: Annotated[Plant | None, doc("Written by 'dryward tune'. Without it careful figures are used.")] = None
    cool_band_k: Annotated[
        BandK,
        doc(
            "The cooler starts this far above the setpoint and stops at it. Smaller holds closer and wears the compressor more."
        ),
    ] = 0.8
    heat_cool_gap_k: Annotated[
        BandK, doc("Dead zone between heating and cooling, so that they never work against each other.")
    ] = 0.5
    rh_band_pct: Annotated[
        float, Gt(0.0), Le(30.0), doc("Humidifier and dehumidifier start this far from the setpoint.")
    ] = 3.0
    fan_after_s: Annotated[Seconds, doc("The fan runs on so long after the heat, to carry it off the element.")] = 120.0
    stir_every_s: Annotated[
        Seconds,
        doc(
            "How often the fan comes on to stir the air of a cabinet. 0: it runs all the time, as a hot dryer needs. A cabinet that dries too fast: 1800."
        ),
    ] = 0.0
    stir_s: Annotated[
        Seconds, doc("How long it then runs. It also runs whenever heat, cold or humidity is switched.")
    ] = 300.0
    airing_every_s: Annotated[
        Seconds,
        doc(
            "How often the vent opens whatever the humidity, to change the air. 0: never. A mould-ripened cabinet: 21600-43200."
        ),
    ] = 0.0
    airing_s: Annotated[
        Seconds, doc("How long it then stays open: about the cabinet's volume over the vent's flow, twice.")
    ] = 180.0
    defrost_every_s: Annotated[
        Seconds,
        doc(
            "How often the cooler pauses so that frost melts off its coil. 0: never. Look at the coil: if it ices up in a day, 21600."
        ),
    ] = 0.0
    defrost_s: Annotated[
        Seconds, doc("How long it then pauses: until the coil has dripped off, by watching it once.")
    ] = 1200.0
    puff_s: Annotated[
        float,
        Gt(0.0),
        Le(3600.0),
        doc(
            "The humidifier works in puffs of this length, or its shortest time on, and waits for the sensor. Try it: the time in which it raises the humidity by the band. Reckoned: 1 %RH at 13 degC is 0.11 g of water in each m3; 150 g/h in 0.35 m3 raise it by 1 % a second."
        ),
    ] = 10.0
    dew_margin_k: Annotated[
        BandK,
        doc(
            "The air's dew point stays this far below the coldest surface, or nothing is moistened. Twice the error of dew point that your sensor gives: 1-2 K."
        ),
    ] = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Chamber:
    """The whole chamber. Times in seconds, temperatures in degC, weights in g."""

    name: Annotated[
        Name, doc("Short name, used in topics, file names and messages: lower-case letters, digits, hyphens.")
    ]
    sensors: tuple[Sensor, ...]
    outputs: tuple[Output, ...] = ()
    scales: tuple[Scale, ...] = ()
    limits: Limits = field(default_factory=Limits)
    control: Control = field(default_factory=Control)
    period_s: Annotated[
        float,
        Ge(0.5),
        Le(5.0),
        doc("Time between two decisions. 1 s is right for real chambers; rehearsals may use up to 5 s."),
    ] = 1.0
    pressure_pa: Annotated[
        float,
        Ge(50_000.0),
        Le(110_000.0),
        doc("Air pressure where the chamber stands: 101325 at sea level, about 12 Pa less per metre of height."),
    ] = 101_325.0
    humidity_low_pct: Annotated[RhPct, doc("Below this is an alarm unless a step says otherwise. 0: none.")] = 0.0
