"""Reader killed, read hung, sensor gone, while the real service heats; in short. By the command: a hundred kills."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.hardware.faked_faults import Told, session


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> Told:
    return session(tmp_path_factory.mktemp("faults") / "dryer", 4)


def test_control_goes_on_fresh_readings_and_heat_ends_with_them_and_comes_back(run: Told) -> None:
    assert run.faults() == []
    assert run.kills == 4
    assert len(run.back_s) == 2


def test_what_was_wrong_is_said(run: Told) -> None:
    bad = replace(run, longest_gap_s=11.0, heated_on_s=14.0, hung_s=3.0, back_s=[99.0], trips=["air-stale"], orphans=1)
    assert len(bad.faults()) == 6
    assert "air-stale" in bad.table()
