"""A program file becomes a Program, or all its mistakes at once."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from dryward.core.program import AtEnd, Ends, Program, Step
from dryward.settings import read_program
from tests.settings.conftest import PROGRAM, Told

Mistakes = Callable[..., Told]


def test_a_program_is_read_with_its_steps_and_its_end(file: Callable[[str], Path]) -> None:
    text = PROGRAM + '[at_end]\naction = "keep-warm"\nair_c = 62\nmax_h = 2\n'
    assert read_program(file(text)) == Program(
        name="two-step",
        cap_h=160.0,
        steps=(
            Step(name="warm", air_c=80.0, ends=Ends(dwell_h=24.0)),
            Step(name="finish", air_c=70.0, ends=Ends(own_target=True)),
        ),
        at_end=AtEnd(action="keep-warm", air_c=62.0, max_h=2.0),
    )


@pytest.mark.parametrize(
    ("text", "key", "value", "limit", "cure"),
    [
        (
            PROGRAM.replace("cap_h = 160\n", ""),
            "cap_h",
            "(missing)",
            "needed: a number above 0, at most 4380",
            "twice the time you expect",
        ),
        (
            PROGRAM.replace("cap_h = 160", "cap_h = 9000"),
            "cap_h",
            "9000",
            "a number above 0, at most 4380",
            "twice the time you expect",
        ),
        (PROGRAM.replace('"two-step"', '"Two Step"'), "name", '"Two Step"', "1 to 32 lower-case letters", '"two-step"'),
        ("poltry = true\n" + PROGRAM, "poltry", "true", "no such option", "Did you mean 'poultry'?"),
        ("name = 'a'\ncap_h = 10\n", "steps", "(missing)", "at least one table [[steps]]", "double brackets"),
        (
            "name = 'a'\ncap_h = 10\n[steps]\nname = 'b'\n",
            "steps",
            "a table",
            "at least one table [[steps]]",
            "double brackets",
        ),
        (
            PROGRAM.replace("[steps.ends]\ndwell_h = 24", ""),
            "steps.warm.ends",
            "(missing)",
            "needed: a table",
            "a table [steps.ends] with at least one condition",
        ),
        (
            PROGRAM.replace('name = "warm"\n', ""),
            "steps.1.name",
            "(missing)",
            "needed: 1 to 32",
            "Add a line 'name = ...'",
        ),
        (PROGRAM.replace('"finish"', '"warm"'), "steps.2.name", '"warm"', "a name that stands only once", "Rename"),
        (
            PROGRAM.replace("air_c = 80", "air_c = 176"),
            "steps.warm.air_c",
            "176",
            "a number from -10 to 120",
            "176 looks like degF: write 80.",
        ),
        (
            PROGRAM.replace("dwell_h = 24", "dwel_h = 24\ncap_h = 30"),
            "steps.warm.ends.dwel_h",
            "24",
            "no such option",
            "Did you mean 'dwell_h'?",
        ),
        (
            PROGRAM + '[at_end]\naction = "keep-warm"\n',
            "at_end.air_c",
            "(missing)",
            'needed with action = "keep-warm"',
            "60 degC",
        ),
        (PROGRAM + "[at_end]\nair_c = 60\n", "at_end.air_c", "60", 'only with action = "keep-warm"', "Take it out"),
        (
            PROGRAM + '[at_end]\naction = "warm"\n',
            "at_end.action",
            '"warm"',
            "one of: off, keep-warm",
            "Did you mean 'keep-warm'?",
        ),
        (
            "name = 'a'\ncap_h = 100\n"
            + "".join(f"[[steps]]\nname = 's{i}'\nair_c = 70\nends = {{ dwell_h = 1 }}\n" for i in range(25)),
            "steps",
            '["steps.s0", "steps.s1", "steps.s2", "steps.s3", "steps.s...',
            "at most 24 steps",
            "These are 25: join some",
        ),
    ],
)
def test_each_mistake_of_a_program_is_told(
    mistakes: Mistakes, text: str, key: str, value: str, limit: str, cure: str
) -> None:
    told = mistakes(read_program, text)
    assert list(told) == [key]
    assert told[key].value == value
    assert told[key].limit.startswith(limit)
    assert cure in told[key].cure


def test_every_mistake_of_a_program_is_told_at_once_in_its_order(mistakes: Mistakes) -> None:
    text = """
name = "hot two step"
cap_h = 30
[[steps]]
name = "hot"
air_c = 80
band_k = 0
[steps.ends]
dwell_h = "24"
[[steps]]
name = "wait"
watch_only = true
air_c = 4
safe_air_high_c = 4.4
[steps.ends]
[at_end]
action = "keep-warm"
"""
    assert list(mistakes(read_program, text)) == [
        "name",
        "steps.hot.band_k",
        "steps.hot.ends.dwell_h",
        "steps.wait.air_c",
        "steps.wait.ends",
        "at_end.air_c",
    ]
