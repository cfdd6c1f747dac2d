"""The preflight by chamber file and program alone."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from dryward.core.program import Ends, Program, Step
from dryward.service.check import CAUTIONS, configured, heats_for_real, mistaken, needed_roles, programmed
from dryward.settings import Mistake, Settings, SettingsError, read_settings
from dryward.settings.mistakes import NOTHING
from tests.faults_live.stand import write_chamber


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    return read_settings(write_chamber(tmp_path))


def step(name: str, **more: object) -> Step:
    return Step(name=name, ends=Ends(dwell_h=1.0), **more)  # type: ignore[arg-type]


def program(*steps: Step) -> Program:
    return Program(name="try", cap_h=10.0, steps=steps)


def test_what_the_chamber_lacks_is_a_warning_with_a_cure(settings: Settings) -> None:
    found = list(configured(settings))
    assert found[0].verdict == "pass"
    assert {f.verdict for f in found[1:]} == {"warn"}
    assert all(f.cure for f in found[1:])
    told = " ".join(f.text for f in found)
    assert "no contactor" in told
    assert "mock" in told
    chamber = replace(
        settings.chamber,
        sensors=tuple(s for s in settings.chamber.sensors if s.role not in ("limit-air", "fan-feedback")),
    )
    poorer = " ".join(f.text for f in configured(replace(settings, chamber=chamber)))
    assert "one air sensor only" in poorer
    assert "whether the fan really turns" in poorer
    limits = replace(settings.chamber.limits, commissioning=True)
    assert "commissioning is on" in " ".join(
        f.text for f in configured(replace(settings, chamber=replace(settings.chamber, limits=limits)))
    )


def test_a_chamber_without_a_heater_is_not_told_about_heat(settings: Settings) -> None:
    chamber = replace(settings.chamber, outputs=tuple(o for o in settings.chamber.outputs if o.name != "heater"))
    service = replace(settings.service, pin_factory="lgpio")
    assert [f.verdict for f in configured(replace(settings, chamber=chamber, service=service))] == ["pass"]


def test_only_a_wired_heater_on_real_lines_heats_for_real(settings: Settings) -> None:
    assert not heats_for_real(settings)
    assert heats_for_real(replace(settings, service=replace(settings.service, pin_factory="lgpio")))


def test_every_step_is_judged_by_itself(settings: Settings) -> None:
    found = list(
        programmed(
            settings,
            program(step("mild", air_c=60.0), step("wild", air_c=95.0), step("rest", watch_only=True)),
            Path("p.toml"),
        )
    )
    assert [(f.verdict, f.text.split(",")[0].split(" =")[0]) for f in found] == [
        ("pass", "step mild"),
        ("pass", "step rest"),
        ("fail", "p.toml: steps.wild.air_c"),
    ]
    assert all(f.cure for f in found if f.verdict == "fail")


def test_a_sensor_that_is_not_rated_for_a_step_fails_it(settings: Settings) -> None:
    """A DHT22 ends at 80 degC (its datasheet): it has no margin at an 80 degC step."""
    sensors = tuple(replace(s, rated_high=80.0) if s.role == "control-air" else s for s in settings.chamber.sensors)
    weak = replace(settings, chamber=replace(settings.chamber, sensors=sensors))
    (found,) = programmed(weak, program(step("hot", air_c=80.0)), Path("p.toml"))
    assert found.verdict == "fail"
    assert "rated to 80" in found.text


def test_a_program_names_the_sensors_it_cannot_do_without() -> None:
    assert needed_roles(program(step("a", air_c=60.0))) == {"control-air"}
    assert needed_roles(program(step("a", rh_pct=70.0, safe_air_high_c=15.0))) == {"control-air", "humidity"}
    assert needed_roles(program(Step(name="a", ends=Ends(core_c=60.0), watch_only=True))) == {"core"}
    assert needed_roles(program(step("a", watch_only=True))) == frozenset()


def test_mistakes_of_a_file_become_findings(tmp_path: Path) -> None:
    path = tmp_path / "chamber.toml"
    path.write_text('[chamber]\nname = "x"\nperiod_s = 99\n')
    with pytest.raises(SettingsError) as error:
        read_settings(path)
    (found,) = mistaken("config", error.value.mistakes)
    assert (found.name, found.verdict) == ("config", "fail")
    assert "chamber.period_s = 99" in found.text
    assert found.cure
    path.write_bytes(b"\xff")
    with pytest.raises(SettingsError) as error:
        read_settings(path)
    (found,) = mistaken("config", error.value.mistakes)
    assert found.text == f"{path}; limit: the file must be text in UTF-8"
    (found,) = mistaken("program", [Mistake(file="p.toml", key="cap_h", value=NOTHING, limit="needed", cure="Add it.")])
    assert found.text == "p.toml: cap_h is missing; limit: needed"


@pytest.mark.parametrize(
    "word",
    [
        "cut-out",
        "manual reset",
        "fuse",
        "residual-current device",
        "licensed electrician",
        "unattended",
        "IEC 60730",
        "class A",
    ],
)
def test_the_cautions_name_what_software_is_not(word: str) -> None:
    assert word in " ".join(CAUTIONS)
