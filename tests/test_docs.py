"""The pages say what the code does."""

from __future__ import annotations

import re
from pathlib import Path

from click import Context

from dryward.core.phases import TABLE
from dryward.doors.cli import main

TOP = Path(__file__).parent.parent
README = (TOP / "README.md").read_text()
DEVELOPERS = (TOP / "DEVELOPERS.md").read_text()


def test_the_readme_opens_with_the_job_in_one_paragraph() -> None:
    title, job = README.split("\n\n")[:2]
    assert title == "# dryward"
    assert "each piece" in job


def test_both_commands_are_one_line_and_set_themselves_up() -> None:
    lines = [line for line in README.splitlines() if line.startswith("python3 -m venv .venv && ")]
    assert len(lines) == 2
    assert lines[0].endswith("dryward demo")
    assert lines[1].endswith("pytest")


def test_every_command_named_in_the_readme_exists() -> None:
    context = Context(main)
    for name in set(re.findall(r"\bdryward ([a-z]+)\b(?=[ `\n])", README)) - {"does", "is", "states"}:
        assert main.get_command(context, name) is not None, name


def test_the_diagram_is_the_table() -> None:
    drawn = re.findall(r"^    (\w+) --> (\w+) : (\w+)$", DEVELOPERS, flags=re.MULTILINE)
    assert {(a, c): b for a, b, c in drawn} == dict(TABLE)


def test_links_lead_somewhere() -> None:
    for page in (README, DEVELOPERS):
        for target in re.findall(r"\]\(([^)#]+)\)", page):
            assert (TOP / target).exists(), target
