"""The room's front door opens quickly and leads to everything it names."""

from __future__ import annotations

import subprocess
import sys

import pytest

import dryward.settings


def test_every_name_it_offers_is_there() -> None:
    for name in dryward.settings.__all__:
        assert getattr(dryward.settings, name).__name__ == name


def test_an_unknown_name_is_refused() -> None:
    with pytest.raises(AttributeError, match="no attribute 'read_settigns'"):
        dryward.settings.read_settigns  # noqa: B018


def test_finding_the_socket_does_not_wait_for_pydantic() -> None:
    """Commands such as status answer at once; only reading a whole file costs the import."""
    code = "import sys, dryward.settings.places; print('pydantic' in sys.modules); from dryward.settings import read_settings; print('pydantic' in sys.modules)"
    run = subprocess.run(
        [sys.executable, "-c", code], env={"PYTHONPATH": ":".join(sys.path)}, capture_output=True, text=True, check=True
    )
    assert run.stdout.split() == ["False", "True"]
