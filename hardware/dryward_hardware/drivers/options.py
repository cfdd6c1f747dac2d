"""What each kind that the reader reads can be told, and its limits. Used by the main process to check, never by the reader."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Annotated, Literal

from annotated_types import Ge, Gt, Le, MaxLen, MinLen

Gpio = Annotated[int, Ge(0), Le(27)]
Name = Annotated[str, MinLen(1), MaxLen(60)]
Root = Annotated[str, MinLen(1), MaxLen(200)]
GramsPerCount = Annotated[float, Ge(-1000.0), Le(1000.0)]
ZeroCount = Annotated[float, Ge(-8_388_608.0), Le(8_388_607.0)]


@dataclass(frozen=True, slots=True, kw_only=True)
class DhtOptions:
    gpio: Gpio


@dataclass(frozen=True, slots=True, kw_only=True)
class W1Options:
    id: Annotated[str, MinLen(4), MaxLen(20)]
    root: Root = "/sys"


@dataclass(frozen=True, slots=True, kw_only=True)
class HwmonOptions:
    name: Name
    root: Root = "/sys"


@dataclass(frozen=True, slots=True, kw_only=True)
class IioOptions:
    name: Name
    root: Root = "/sys"
    reference_ohm: Annotated[float, Gt(0.0), Le(100_000.0)] = 430.0
    zero_ohm: Annotated[float, Gt(0.0), Le(10_000.0)] = 100.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Hx711Options:
    name: Name = "hx711"
    root: Root = "/sys"
    zero_count: ZeroCount = 0.0
    g_per_count: GramsPerCount = 0.0
    calibration: Annotated[str, MaxLen(60)] = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Nau7802Options:
    bus: Annotated[int, Ge(0), Le(20)] = 1
    address: Annotated[int, Ge(0x08), Le(0x77)] = 0x2A
    zero_count: ZeroCount = 0.0
    g_per_count: GramsPerCount = 0.0
    calibration: Annotated[str, MaxLen(60)] = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class InputOptions:
    gpio: Gpio
    pull: Literal["up", "down", "none"] = "up"
    active_high: bool = False


OPTIONS: Mapping[str, type] = MappingProxyType(
    {
        "dht22": DhtOptions,
        "dht11": DhtOptions,
        "w1": W1Options,
        "iio": IioOptions,
        "hwmon": HwmonOptions,
        "hx711": Hx711Options,
        "nau7802": Nau7802Options,
        "input": InputOptions,
    }
)
