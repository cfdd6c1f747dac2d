"""Names are spelled so that they can stand in topics, file names and commands."""

from __future__ import annotations

import pytest

from dryward.core.units import is_name


@pytest.mark.parametrize("name", ["a", "loin-1", "hook-12", "x9"])
def test_good_names(name: str) -> None:
    assert is_name(name)


@pytest.mark.parametrize("name", ["Loin", "loin 1", "-a", "a/b", "a+", "ä", "a#", "$x"])
def test_names_that_would_not_travel(name: str) -> None:
    assert not is_name(name)
