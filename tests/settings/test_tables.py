"""The tables beside the core's: careful defaults."""

from __future__ import annotations

from dryward.settings.options import options
from dryward.settings.tables import RecordSettings, ServiceSettings


def test_heat_is_refused_while_outputs_outlive_their_program_unless_the_owner_says_so() -> None:
    """A Pi's line keeps its level after the process that drove it has died (raspberrypi/linux pull 6117)."""
    assert ServiceSettings().allow_heat_while_outputs_persist is False


def test_the_real_lines_are_driven_unless_a_rehearsal_asks_for_none() -> None:
    assert ServiceSettings().pin_factory == "lgpio"
    assert options(ServiceSettings)["pin_factory"].choices == ("lgpio", "mock")


def test_readings_are_written_through_about_every_ten_seconds() -> None:
    assert RecordSettings().commit_s == 10.0


def test_a_socket_path_fits_what_a_socket_can_be_called() -> None:
    """A Unix socket's path has room for 107 bytes (unix(7))."""
    assert (options(ServiceSettings)["socket"].high or 0) <= 107
