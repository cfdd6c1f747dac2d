"""What differs between the three walks: how to prepare, what a reference is, what follows from the points."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, Protocol

from dryward.core.chamber import Scale as ScaleSettings
from dryward.core.chamber import Sensor
from dryward.doors.calibration_book import Kind
from dryward.doors.measuring import Subject
from dryward.doors.tables import table
from dryward.science.calibration import (
    ICE_C,
    OffsetFit,
    Point,
    boiling_c,
    fit_offset,
    fit_scale,
    most_error_g,
    rh_over_salt_pct,
)
from dryward.science.figures import BadFigures, outside, refuse
from dryward.settings import Device

SUSPICIOUS_K, SUSPICIOUS_PCT = 2.0, 6.0  # a correction larger than this says that something else is wrong (no source)


class Task(Protocol):
    """One walk. ``reference`` turns what was typed into a figure and a note; raises BadFigures."""

    kind: Kind
    unit: str
    subject: Subject
    guide: str
    question: str

    def reference(self, text: str) -> tuple[float, str]: ...

    def result(self, points: Sequence[Point], calibration: str) -> Result:
        """Draw the result. Raises BadFigures."""
        ...


class Result:
    """What a walk found: figures for the book, text for people, one line for the list."""

    def __init__(self, values: dict[str, Any], text: str, short: str) -> None:
        self.values = values
        self.text = text
        self.short = short


class Scale:
    """Known weights on a load cell."""

    kind: Kind = "scale"
    unit = "g"
    question = "Known weight on the scale in g (0: empty; Enter alone: done)"
    guide = """Let cell and amplifier be on for half an hour, at the temperature at which they will work, the fan off.
Begin with the empty hook, tray or rack (0): what hangs then is part of the zero, and tare_g is 0. Then known weights
up to what you will hang, at least three, up and down again, each more than once, without a jolt. Weights of class M1
or a kitchen scale that you trust; bottles filled by it will do. Between two weighings take everything off."""

    def __init__(self, subject: Subject, scale: ScaleSettings, device: Device) -> None:
        self.subject = subject
        self._scale = scale
        self._device = device
        self._counts = subject.reads == "counts"

    def reference(self, text: str) -> tuple[float, str]:
        load_g = number(text, "the weight in g, such as 500")
        if not 0.0 <= load_g <= self._scale.max_g:
            raise BadFigures(
                [
                    f"{load_g:g} g is not between 0 and {self._scale.max_g:g} g, the capacity of {self._scale.name} (max_g)"
                ]
            )
        return load_g, "empty" if load_g == 0.0 else ""

    def result(self, points: Sequence[Point], calibration: str) -> Result:
        fit = fit_scale(points)
        top_g = max(p.reference for p in points)
        rows = [
            [f"{p.reference:g}", f"{p.shown:.0f}" if self._counts else f"{p.shown:.1f}", f"{e:+.2f}"]
            for p, e in zip(points, fit.errors_g, strict=True)
        ]
        linearity = (
            "not known: weigh a third load"
            if fit.linearity_g is None
            else f"{fit.linearity_g:.2f} g, {100.0 * fit.linearity_g / top_g:.3f} % of {top_g:g} g"
        )
        repeat = (
            "not known: weigh one load twice"
            if fit.repeatability_g is None
            else f"{fit.repeatability_g:.2f} g (standard deviation)"
        )
        most_g = most_error_g(top_g, interval_g=fit.interval_g)
        judged = fit.linearity_g is not None or fit.repeatability_g is not None  # two points lie on any line
        expected = (
            [
                f"Expect of a single reading: +-{fit.tolerance_g:g} g.",
                f"For orientation, this is no verification: the points keep what OIML R 76 allows a class III scale with e = {fit.interval_g:g} g (there +-{most_g:g} g at {top_g:g} g).",
            ]
            if judged
            else ["How far a single reading may be off is not known: two points fit any scale, a bad one too."]
        )
        text = [
            table(["g", "shown", "error g"], rows, left=0),
            f"Linearity: {linearity}. Repeatability: {repeat}.",
            *expected,
            *self._toml(fit.zero_count, fit.g_per_count, calibration),
        ]
        values = {
            name: getattr(fit, name)
            for name in ("zero_count", "g_per_count", "linearity_g", "repeatability_g", "tolerance_g", "interval_g")
        }
        if not judged:
            values |= {"tolerance_g": None, "interval_g": None}
        short = (
            f"+-{fit.tolerance_g:g} g up to {top_g:g} g" if judged else f"two points up to {top_g:g} g, error not known"
        )
        return Result(values | {"errors": list(fit.errors_g)}, "\n".join(text), short)

    def _toml(self, zero_count: float, g_per_count: float, calibration: str) -> list[str]:
        if not self._counts:
            return [
                f"{self._device.name} ({self._device.kind}) tells grams, not counts: there is nothing to put into the chamber file but tare_g."
            ]
        lines = [
            f"Put into the chamber file, and set tare_g of [scales.{self._scale.name}] to 0 if 0 was the empty hook:",
            "",
            f"[devices.{self._device.name}]",
        ]
        lines += [
            f"zero_count = {zero_count:.1f}",
            f"g_per_count = {g_per_count:.8g}",
            f'calibration = "{calibration}"',
        ]
        before = float(str(self._device.options.get("g_per_count") or 0.0))
        if before:
            lines += [
                "",
                f"A count weighs {100.0 * (g_per_count / before - 1.0):+.2f} % more than under {self._device.options.get('calibration') or 'the last calibration'}.",
            ]
        return lines


class Thermometer:
    """Ice, boiling water, or a better thermometer."""

    kind: Kind = "thermometer"
    unit = "degC"
    question = "Reference: ice, boiling, or degC of a better thermometer (Enter alone: done)"
    guide = """Ice: crushed ice from clean water, just covered with water, in an insulated cup, stirred for some minutes.
Boiling: a rolling boil, the sensor in the water and off the bottom. MIND STEAM AND SCALDING WATER, and mains: only a
sensor whose cable and sleeve are made for it may go into water; others go into a thin bag, or beside a better
thermometer in moving air. Wait until the reading stands still."""

    def __init__(self, subject: Subject, sensor: Sensor, pressure_pa: float, at_c: float | None) -> None:
        self.subject = subject
        self._sensor = sensor
        self._pressure_pa = pressure_pa
        self._at_c = at_c

    def reference(self, text: str) -> tuple[float, str]:
        match text.strip().lower():
            case "ice":
                celsius, note = ICE_C, "ice water"
            case "boiling":
                celsius = boiling_c(self._pressure_pa)
                note = f"boiling water at {self._pressure_pa:.0f} Pa"
            case other:
                celsius, note = number(other, "ice, boiling, or degC such as 60.3"), "another thermometer"
        if not self._sensor.rated_low <= celsius <= self._sensor.rated_high:
            raise BadFigures(
                [
                    f"{note} is {celsius:.1f} degC; {self._sensor.name} is rated {self._sensor.rated_low:g} to {self._sensor.rated_high:g} degC. Use a reference inside that"
                ]
            )
        return celsius, note

    def result(self, points: Sequence[Point], calibration: str) -> Result:
        return offset_result(
            self._sensor, points, fit_offset(points, at=self._at_c), unit="degC", suspicious=SUSPICIOUS_K
        )


class Humidity:
    """Jars with saturated salts."""

    kind: Kind = "humidity"
    unit = "%RH"
    question = "Reference: salt and its degC such as NaCl@20.5, or %RH of a better sensor (Enter alone: done)"
    guide = """Put salt into a tight jar and wet it to a slurry, more salt than water; hang the sensor above it, close the lid,
keep it where the temperature stands still, and wait: 4 to 12 hours for a good figure. Table salt (NaCl) stands at 75 %RH;
MgCl2 at 33, KCl at 85, K2SO4 at 97 %RH. No salt may touch the sensor. Note the temperature in the jar."""

    def __init__(self, subject: Subject, sensor: Sensor, at_pct: float | None) -> None:
        self.subject = subject
        self._sensor = sensor
        self._at_pct = at_pct

    def reference(self, text: str) -> tuple[float, str]:
        salt, at, celsius = text.strip().partition("@")
        if not at:
            rh_pct = number(text, "salt and degC such as NaCl@20.5, or %RH")
            refuse(outside("relative humidity", rh_pct, "%RH", low=0.0, high=100.0))
            return rh_pct, "another sensor"
        at_c = number(celsius, "the jar's temperature after @, such as NaCl@20.5")
        return rh_over_salt_pct(salt, at_c=at_c), f"{salt} at {at_c:g} degC (OIML R 121)"

    def result(self, points: Sequence[Point], calibration: str) -> Result:
        return offset_result(
            self._sensor, points, fit_offset(points, at=self._at_pct), unit="%RH", suspicious=SUSPICIOUS_PCT
        )


def offset_result(sensor: Sensor, points: Sequence[Point], fit: OffsetFit, *, unit: str, suspicious: float) -> Result:
    """Put the correction of a thermometer or humidity sensor into words."""
    rows = [[f"{p.reference:.2f}", f"{p.shown:.2f}", f"{e:+.2f}"] for p, e in zip(points, fit.errors, strict=True)]
    worst = max(map(abs, fit.errors))
    text = [
        table(["true", "shown", "error left"], rows, left=0),
        f"Correction {fit.offset:+.2f} {unit}, for where it shows {fit.at:.1f} {unit}; the largest error left at the points is {worst:.2f} {unit}.",
    ]
    low, high = min(p.shown for p in points), max(p.shown for p in points)
    if not low - suspicious <= fit.at <= high + suspicious:
        where = f"at {low:.1f}" if low == high else f"from {low:.1f} to {high:.1f}"
        text.append(
            f"NO POINT LIES NEAR {fit.at:.1f} {unit}: it was compared {where} {unit} only, and there the correction is a guess. Take a point there."
        )
    if len(points) > 1 and worst > 0.5 * suspicious:
        text.append("The error changes along the range: give with --at the value at which your program runs.")
    if abs(fit.offset) > suspicious:
        text.append(
            f"More than {suspicious:g} {unit} is a lot: before you trust it, repeat it, and think of a damaged sensor."
        )
    text += ["Put into the chamber file:", "", f"[sensors.{sensor.name}]", f"offset = {fit.offset:.2f}"]
    if sensor.offset:
        text.append(f"# in place of {sensor.offset:g}")
    values = {"offset": fit.offset, "at": fit.at, "errors": list(fit.errors)}
    return Result(values, "\n".join(text), f"offset {fit.offset:+.2f} {unit}, error left {worst:.2f}")


def number(text: str, wanted: str) -> float:
    """Read a number. Raises BadFigures naming what was wanted."""
    convert: Callable[[str], float] = float
    try:
        value = convert(text.strip().replace(",", "."))
    except ValueError:
        value = float("nan")
    if value != value or value in (float("inf"), float("-inf")):
        raise BadFigures([f"{text.strip()!r} is no figure; type {wanted}"])
    return value
