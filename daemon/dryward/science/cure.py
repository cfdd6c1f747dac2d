"""Curing salt: nitrite and nitrate that go into the meat, ppm of its green weight, and the limits they are held against.

Formulas of FSIS Directive 7620.3 (Processing Inspectors' Calculations Handbook). Limits are data with a source and a country;
the owner chooses, and without a choice the strictest one listed for the method is used. Other countries differ, and so do
other products: local food codes decide.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from dryward.science.figures import fraction_mix_up, not_above_zero, outside, refuse

Method = Literal["dry", "pumped", "immersion"]


@dataclass(frozen=True, slots=True, kw_only=True)
class CuringSalt:
    """Per cent by weight of sodium nitrite and sodium nitrate; the rest is salt (NaCl). Blends differ: read the packet."""

    name: str
    nitrite_pct: float
    nitrate_pct: float = 0.0

    @property
    def salt_pct(self) -> float:
        return 100.0 - self.nitrite_pct - self.nitrate_pct


TYPE_1 = CuringSalt(name="type 1", nitrite_pct=6.25)
TYPE_2 = CuringSalt(name="type 2", nitrite_pct=6.25, nitrate_pct=4.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """An upper limit, ppm; ``methods`` it applies to, ``product`` it is made for."""

    key: str
    nitrite_ppm: float
    nitrate_ppm: float | None
    methods: tuple[Method, ...]
    product: str
    country: str
    source: str
    by_default: bool = True


_CFR_9 = "9 CFR 424.21(c)"
LIMITS = (
    Limit(key="us-dry", nitrite_ppm=625.0, nitrate_ppm=None, methods=("dry",), product="dry-cured meat, going in (1 oz per 100 lb)", country="United States", source=_CFR_9),
    Limit(
        key="us-chopped", nitrite_ppm=156.25, nitrate_ppm=None, methods=("dry",), product="chopped meat, going in (1/4 oz per 100 lb)",
        country="United States", source=_CFR_9, by_default=False,
    ),  # dryward is for whole muscle: chosen by name only
    Limit(key="us-finished", nitrite_ppm=200.0, nitrate_ppm=None, methods=("dry", "pumped", "immersion"), product="finished product", country="United States", source=_CFR_9),
    Limit(
        key="us-home", nitrite_ppm=200.0, nitrate_ppm=500.0, methods=("dry", "pumped", "immersion"), product="home curing, finished product",
        country="United States", source="21 CFR 172.170",
    ),
    Limit(key="us-bacon-pumped", nitrite_ppm=120.0, nitrate_ppm=None, methods=("pumped",), product="pumped bacon, going in", country="United States", source=_CFR_9),
    Limit(key="us-bacon-dry", nitrite_ppm=200.0, nitrate_ppm=None, methods=("dry",), product="dry-cured bacon, going in", country="United States", source=_CFR_9),
)  # fmt: skip

NITRATE_DEFAULT = LIMITS[3]
"""The only nitrate figure listed here: it is used wherever the chosen limit names none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ingoing:
    """What goes into the meat, ppm, as sodium nitrite and sodium nitrate."""

    nitrite_ppm: float
    nitrate_ppm: float


def dry(*, cure_g: float, green_g: float, salt: CuringSalt) -> Ingoing:
    """Rubbed on or mixed in: ``cure x share / green weight``. Raises BadFigures."""
    refuse(
        *_salt_mistakes(salt),
        _whole("green weight", green_g),
        _cure_mistake(cure_g, of_g=green_g, of="green weight", most=0.2),
    )
    return _ingoing(salt, cure_g / green_g)


def pumped(*, cure_g: float, pickle_g: float, pump_pct: float, salt: CuringSalt) -> Ingoing:
    """Injected: ``cure x share x pump / pickle``; ``pickle_g`` is all of the pickle with the cure in it. Raises BadFigures."""
    pump = outside(
        "pump", pump_pct, "% of the green weight", low=1.0, high=100.0, cure=fraction_mix_up(pump_pct, low_pct=1.0)
    )
    refuse(
        *_salt_mistakes(salt),
        _whole("pickle", pickle_g),
        _cure_mistake(cure_g, of_g=pickle_g, of="pickle", most=0.5),
        pump,
    )
    return _ingoing(salt, cure_g * pump_pct / 100.0 / pickle_g)


def immersion(*, cure_g: float, pickle_g: float, green_g: float, salt: CuringSalt) -> Ingoing:
    """Left in the pickle until meat and pickle are even: ``cure x share / (green weight + pickle)``. Raises BadFigures."""
    cure = _cure_mistake(cure_g, of_g=pickle_g, of="pickle", most=0.5)
    refuse(*_salt_mistakes(salt), _whole("pickle", pickle_g), _whole("green weight", green_g), cure)
    return _ingoing(salt, cure_g / (green_g + pickle_g))


def limit_for(method: Method, *, key: str = "") -> Limit:
    """Give the limit of that key, or the strictest one listed for the method. Raises KeyError for an unknown key."""
    if key:
        return {limit.key: limit for limit in LIMITS}[key]
    return min(
        (limit for limit in LIMITS if limit.by_default and method in limit.methods),
        key=lambda limit: (limit.nitrite_ppm, limit.nitrate_ppm is None),
    )


def within(ingoing: Ingoing, limit: Limit) -> bool:
    """Say whether both figures keep to the limit; a figure equal to it does."""
    nitrate_limit = nitrate_limit_ppm(limit)
    return ingoing.nitrite_ppm <= limit.nitrite_ppm * (1 + 1e-9) and ingoing.nitrate_ppm <= nitrate_limit * (1 + 1e-9)


def most_cure_g(cure_g: float, ingoing: Ingoing, limit: Limit) -> float:
    """Largest dose that keeps to the limit, from one dose and what it gave: ppm are linear in the cure."""
    shares = [limit.nitrite_ppm / ingoing.nitrite_ppm]
    if ingoing.nitrate_ppm:
        shares.append(nitrate_limit_ppm(limit) / ingoing.nitrate_ppm)
    return cure_g * min(shares)


def nitrate_limit_ppm(limit: Limit) -> float:
    return limit.nitrate_ppm if limit.nitrate_ppm is not None else NITRATE_DEFAULT.nitrate_ppm or 0.0


def _ingoing(salt: CuringSalt, share: float) -> Ingoing:
    return Ingoing(
        nitrite_ppm=salt.nitrite_pct / 100.0 * share * 1e6, nitrate_ppm=salt.nitrate_pct / 100.0 * share * 1e6
    )


def _salt_mistakes(salt: CuringSalt) -> list[str | None]:
    return [
        outside("nitrite in the curing salt", salt.nitrite_pct, "%", low=0.1, high=100.0, cure=fraction_mix_up(salt.nitrite_pct, low_pct=0.1)),
        None if salt.nitrate_pct == 0.0 else outside(
            "nitrate in the curing salt", salt.nitrate_pct, "%", low=0.1, high=100.0, cure=fraction_mix_up(salt.nitrate_pct, low_pct=0.1)
        ),
        f"nitrite and nitrate together are {salt.nitrite_pct + salt.nitrate_pct:g} %; they must be at most 100 %" if salt.nitrite_pct + salt.nitrate_pct > 100.0 else None,
    ]  # fmt: skip


def _whole(thing: str, grams: float) -> str | None:
    """Refuse a weight of meat or pickle that is likely in kg."""
    return outside(
        thing,
        grams,
        "g",
        low=20.0,
        high=1e6,
        cure=f"If that was kg, write {grams * 1000:g}" if 0.0 < grams < 20.0 else "",
    )


def _cure_mistake(cure_g: float, *, of_g: float, of: str, most: float) -> str | None:
    """Refuse more curing salt than such a share of what it goes into: no blend is so weak."""
    if cure_g > most * of_g > 0.0:
        return f"curing salt is {cure_g:g} g in {of_g:g} g of {of}; at most {100 * most:g} % of it is believed. Check both weights and their units"
    return not_above_zero("curing salt", cure_g, "g", high=1e6)
