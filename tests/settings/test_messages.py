"""What reaches beyond this machine: no plain text over a network, no file that others may change."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from dryward.settings import SettingsError, read_settings
from dryward.settings.messages import is_loopback
from tests.settings.conftest import CHAMBER, Told


def with_table(text: str) -> str:
    return f"{CHAMBER}{text}\n"


def test_nothing_leaves_the_machine_unless_the_owner_names_a_broker(file: Callable[[str], Path]) -> None:
    made = read_settings(file(CHAMBER))
    assert made.mqtt.host == ""
    assert made.alerts.to == ""


def test_the_rights_left_out_bring_no_heat_back_and_silence_nothing(file: Callable[[str], Path]) -> None:
    made = read_settings(file(with_table('[mqtt]\nhost = "broker"')))
    assert set(made.mqtt.requests) == {"stop", "hold", "ack", "weigh", "pull"}
    assert made.mqtt.tls


@pytest.mark.parametrize("host", ["192.168.1.5", "broker.lan", "10.0.0.1", "::2"])
def test_plain_text_to_another_machine_is_refused(mistakes: Callable[..., Told], host: str) -> None:
    wrong = mistakes(read_settings, with_table(f'[mqtt]\nhost = "{host}"\ntls = false'))
    assert "another machine" in wrong["mqtt.tls"].limit
    assert "allow_plain_text" in wrong["mqtt.tls"].cure


@pytest.mark.parametrize("more", ["tls = true", "tls = false\nallow_plain_text = true"])
def test_tls_or_the_owners_word_is_enough(file: Callable[[str], Path], more: str) -> None:
    assert read_settings(file(with_table(f'[mqtt]\nhost = "broker.lan"\n{more}'))).mqtt.host == "broker.lan"


@pytest.mark.parametrize("host", ["127.0.0.1", "localhost", "::1", "127.8.8.8", "[::1]"])
def test_plain_text_stays_within_this_machine(file: Callable[[str], Path], host: str) -> None:
    assert is_loopback(host)
    assert not read_settings(file(with_table(f'[mqtt]\nhost = "{host}"\ntls = false'))).mqtt.tls


@pytest.mark.parametrize(
    ("table", "key"),
    [
        ('[mqtt]\nhost = "b"\npassword_file = "p"', "mqtt.user"),
        ('[mqtt]\nhost = "b"\ncertificate_file = "c"', "mqtt.key_file"),
        ('[mqtt]\nhost = "b"\nkey_file = "k"', "mqtt.certificate_file"),
        ('[mqtt]\nhost = "::1"\ntls = false\nkey_file = "k"\ncertificate_file = "c"', "mqtt.certificate_file"),
        ('[mqtt]\nhost = "b"\nrequests = ["stop", "explode"]', "mqtt.requests.2"),
        ('[alerts]\nquiet_from = "22:00"', "alerts.quiet_to"),
        ('[alerts]\nquiet_from = "10 pm"\nquiet_to = "06:30"', "alerts.quiet_from"),
        ('[alerts]\nquiet_from = "22:00"\nquiet_to = "24:00"', "alerts.quiet_to"),
        ('[alerts]\nsummary_at = "7 am"', "alerts.summary_at"),
        ('[alerts]\nsummary_at = "0\u0667:00"', "alerts.summary_at"),
        ('[alerts]\nurgent_to = "u"', "alerts.to"),
    ],
)
def test_what_does_not_fit_together_is_named(mistakes: Callable[..., Told], table: str, key: str) -> None:
    assert key in mistakes(read_settings, with_table(table))


@pytest.mark.parametrize(
    ("table", "key", "cure"),
    [
        ('[alerts]\nsummary_at = "7:00"', "alerts.summary_at", 'Write it as "07:00".'),
        ('[alerts]\nsummary_at = "7 am"', "alerts.summary_at", "Write hours and minutes with two digits each"),
        ('[mqtt]\nhost = "mqtt://broker:1883"', "mqtt.host", 'Write host = "broker" and port = 1883.'),
        ('[mqtt]\nhost = "mqtts://broker.lan/x"', "mqtt.host", 'Write host = "broker.lan".'),
        ('[mqtt]\nhost = " broker"', "mqtt.host", 'Write host = "broker".'),
        ('[mqtt]\nhost = "b"\nrequests = "stop"', "mqtt.requests", 'Write it in brackets: requests = ["stop"].'),
        ('[mqtt]\nhost = "b"\nrequests = ["strat"]', "mqtt.requests.1", "Did you mean 'start'?"),
    ],
)
def test_the_cure_is_what_to_write(mistakes: Callable[..., Told], table: str, key: str, cure: str) -> None:
    assert mistakes(read_settings, with_table(table))[key].cure.startswith(cure)


def test_an_address_is_a_host(file: Callable[[str], Path]) -> None:
    assert read_settings(file(with_table('[mqtt]\nhost = "fd00::20"'))).mqtt.host == "fd00::20"


def test_a_chamber_on_a_broker_has_a_name_that_fits_a_topic(mistakes: Callable[..., Told]) -> None:
    """Homie 5: a topic level must not end with a hyphen."""
    text = with_table('[mqtt]\nhost = "b"').replace('name = "shed"', 'name = "shed-"', 1)
    assert mistakes(read_settings, text)["chamber.name"].cure == "Call it 'shed'."


@pytest.mark.parametrize("mode", [0o664, 0o646, 0o666])
@pytest.mark.parametrize("table", ['[mqtt]\nhost = "b"', '[alerts]\nto = "a"', '[alerts]\nheartbeat_file = "h"'])
def test_a_file_that_others_may_change_gives_no_rights(file: Callable[[str], Path], mode: int, table: str) -> None:
    path = file(with_table(table))
    path.chmod(mode)
    with pytest.raises(SettingsError, match=f"mode {mode:04o}") as refused:
        read_settings(path)
    assert f"chmod go-w {path}" in str(refused.value)


def test_a_chamber_without_a_broker_may_lie_in_a_shared_folder(file: Callable[[str], Path]) -> None:
    path = file(CHAMBER)
    path.chmod(0o664)
    assert read_settings(path).chamber.name == "shed"


def test_files_count_from_the_folder_of_the_chamber_file(file: Callable[[str], Path]) -> None:
    path = file(
        with_table(
            '[mqtt]\nhost = "b"\nuser = "shed"\npassword_file = "secret"\nca_file = "/etc/ca.pem"\n[alerts]\nto = "who"'
        )
    )
    made = read_settings(path)
    assert made.mqtt.password_file == str(path.parent / "secret")
    assert made.mqtt.ca_file == "/etc/ca.pem"
    assert made.alerts.to == str(path.parent / "who")
    assert made.alerts.urgent_to == ""
