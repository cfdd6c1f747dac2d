"""The devices of a chamber: one small table of options per kind."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Annotated, Any, Literal

from annotated_types import Ge, Gt, Le, MaxLen, MinLen, doc

from dryward.core.units import Gpio
from dryward.settings.mistakes import meant

Free = dict[str, Any]
ZeroCount = Annotated[
    float, Ge(-8_388_608.0), Le(8_388_607.0), doc("Count of the empty cell. From 'dryward calibrate'.")
]
GramsPerCount = Annotated[
    float,
    Ge(-1000.0),
    Le(1000.0),
    doc("What one count weighs, in g. From 'dryward calibrate'; 0: not calibrated, the cell tells no weight."),
]
CalibrationId = Annotated[str, MaxLen(60), doc("Which calibration the two figures are of. From 'dryward calibrate'.")]
Root = Annotated[
    str,
    MinLen(1),
    MaxLen(200),
    doc("Folder in which the kernel shows its devices. Change it only for a rehearsal with files of your own."),
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Twin:
    """The simulated chamber: one device gives all its sensors and cells. Its inner tables are checked by the twin itself."""

    model: Annotated[
        Literal["dryer", "cabinet", "small-fan-box", "slow-box", "overpowered"],
        doc("'dryer' dries meat hot, 'cabinet' cool and slowly; the three boxes only heat air, to try the control on."),
    ] = "dryer"
    seed: Annotated[
        int, Ge(0), Le(2_147_483_647), doc("Start of the random noise: the same number gives the same run again.")
    ] = 1
    start_c: Annotated[
        float | None, Ge(-30.0), Le(120.0), doc("Temperature inside at the start. Left out: that of the room.")
    ] = None
    room: Annotated[Free | None, doc("The room around it, such as { air_c = 18.0, rh_pct = 60.0 }.")] = None
    meat: Annotated[Free | None, doc("What the pieces are made of, such as { water_share = 0.72 }.")] = None
    dryer: Annotated[Free | None, doc("The body of the dryer, such as { heater_w = 700.0, leak_m3_h = 6.0 }.")] = None
    cabinet: Annotated[Free | None, doc("The body of the cabinet, such as { cooler_w = 90.0, volume_m3 = 0.3 }.")] = (
        None
    )
    body: Annotated[Free | None, doc("Figures of a plain heated body in place of the model's own.")] = None
    sensing: Annotated[Free | None, doc("How it is measured, such as { failed_share = 0.3 }.")] = None
    faults: Annotated[
        tuple[Free, ...], doc('What goes wrong and when, such as [{ at_s = 3600.0, kind = "fan-stopped" }].')
    ] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Recorded:
    """A CSV file played as if it were measured now: readings of sensors, or weighings of named pieces."""

    file: Annotated[
        str,
        MinLen(1),
        MaxLen(400),
        doc("CSV file with a line of column names: beside the chamber file, or a full path."),
    ]
    holds: Annotated[
        Literal["readings", "weighings"],
        doc("'readings': one row per moment, a column per sensor. 'weighings': one row per weighing of a piece."),
    ] = "readings"
    time_column: Annotated[str, doc("Column with the time.")] = "t_s"
    time_unit: Annotated[
        Literal["s", "min", "h", "epoch-s", "rfc3339"] | None,
        doc(
            "Unit of that column; epoch-s: seconds since 1970. Left out: by its name (t_s, t_min, t_h, epoch_s, time_utc)."
        ),
    ] = None
    starts_at: Annotated[
        str,
        doc(
            "Moment with which the playing begins, written as in the time column; one for all files. Empty: the first row."
        ),
    ] = ""
    gap_s: Annotated[float, Gt(0.0), Le(1e9), doc("A longer time without a row is told in a note.")] = 3600.0
    columns: Annotated[
        dict[str, str] | None,
        doc(
            'Readings: the value a column plays: { "T in C" = "temperature" }. Left out: every column under its own name.'
        ),
    ] = None
    piece_columns: Annotated[
        tuple[str, ...], MinLen(1), doc("Weighings: the columns that together name the piece.")
    ] = ("piece",)
    weight_column: Annotated[str, doc("Weighings: column with the weight in g.")] = "weight_g"


@dataclass(frozen=True, slots=True, kw_only=True)
class Dht:
    """A DHT11 or DHT22 on one line: temperature and humidity."""

    gpio: Annotated[Gpio, doc("BCM number of the data line, with a pull-up of 4.7-10 kohm to 3.3 V.")]


@dataclass(frozen=True, slots=True, kw_only=True)
class OneWire:
    """A DS18B20 or relative on the one-wire bus: temperature."""

    id: Annotated[
        str,
        MinLen(4),
        MaxLen(20),
        doc(
            "Folder name under /sys/bus/w1/devices, such as 28-0123456789ab: wire one at a time and look which appears."
        ),
    ]
    root: Root = "/sys"


@dataclass(frozen=True, slots=True, kw_only=True)
class Hwmon:
    """A sensor that the kernel shows under class/hwmon, found by the name the kernel gives it."""

    name: Annotated[str, MinLen(1), MaxLen(60), doc("What stands in the device's 'name' file, such as sht4x or sht3x.")]
    root: Root = "/sys"


@dataclass(frozen=True, slots=True, kw_only=True)
class Iio:
    """A sensor that the kernel shows under bus/iio, found by its name, its label or what the device tree calls it."""

    name: Annotated[
        str,
        MinLen(1),
        MaxLen(60),
        doc(
            "What stands in the device's 'name' or 'label' file, such as dht11; of a chip for probes its own name, such as max31865, max31855, max6675."
        ),
    ]
    root: Root = "/sys"
    reference_ohm: Annotated[
        float,
        Gt(0.0),
        Le(100_000.0),
        doc(
            "Of a max31865: the reference resistor on its board. Most boards have 430 ohm for a PT100, 4300 ohm for a PT1000."
        ),
    ] = 430.0
    zero_ohm: Annotated[
        float,
        Gt(0.0),
        Le(10_000.0),
        doc("Of a max31865: what the probe has at 0 degC: 100 ohm for a PT100, 1000 ohm for a PT1000."),
    ] = 100.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Hx711:
    """A load-cell amplifier HX711 read by the kernel's driver. What a count weighs is found by 'dryward calibrate'."""

    name: Annotated[
        str,
        MinLen(1),
        MaxLen(60),
        doc("What stands in the device's 'name' or 'label' file. Several amplifiers need labels of their own."),
    ] = "hx711"
    root: Root = "/sys"
    zero_count: ZeroCount = 0.0
    g_per_count: GramsPerCount = 0.0
    calibration: CalibrationId = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Nau7802:
    """A load-cell amplifier NAU7802 on I2C. What a count weighs is found by 'dryward calibrate'."""

    bus: Annotated[int, Ge(0), Le(20), doc("Number of the I2C bus: 1 on the pins 3 and 5 of the header.")] = 1
    address: Annotated[
        int, Ge(0x08), Le(0x77), doc("I2C address: 0x2A for every NAU7802; several need a bus or a multiplexer each.")
    ] = 0x2A
    zero_count: ZeroCount = 0.0
    g_per_count: GramsPerCount = 0.0
    calibration: CalibrationId = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Contact:
    """A door switch, a feedback contact, a button: state 1 or 0."""

    gpio: Annotated[Gpio, doc("BCM number of the line.")]
    pull: Annotated[
        Literal["up", "down", "none"],
        doc(
            "'up' for a contact to ground (the usual way), 'down' for one to 3.3 V, 'none' with a resistor of your own."
        ),
    ] = "up"
    active_high: Annotated[
        bool,
        doc(
            "true when a high level means 1 (open, turning, closed, pressed); false for a contact to ground that is shut then."
        ),
    ] = False


Options = Twin | Recorded | Dht | OneWire | Iio | Hwmon | Hx711 | Nau7802 | Contact
KINDS: Mapping[str, type[Options]] = MappingProxyType(
    {
        "twin": Twin,
        "recorded": Recorded,
        "dht22": Dht,
        "dht11": Dht,
        "w1": OneWire,
        "iio": Iio,
        "hwmon": Hwmon,
        "hx711": Hx711,
        "nau7802": Nau7802,
        "input": Contact,
    }
)
_CHIPS = (("sht", "hwmon"), ("ds18", "w1"), ("max31", "iio"), ("max6675", "iio"))  # as hardware/README.md lists them


def read_as(word: str) -> str:
    """Return the cure for an unknown kind: how a chip of this name is read, or which kind was meant."""
    kind = next((kind for chip, kind in _CHIPS if word.lower().startswith(chip)), None)
    return f'Such a chip is read with kind = "{kind}".' if kind else meant(word, KINDS)
