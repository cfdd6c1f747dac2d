"""The commands of the page were run: here they run again, in a folder of their own, against a broker they have set up."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tomllib
from dataclasses import replace
from pathlib import Path
from shutil import which
from typing import Any

import pytest

from dryward.settings import MqttSettings
from tests.doors.mqtt_house import house
from tests.doors.mqtt_stand import broker, free_port, needs_broker
from tests.faults_live.stand import until

TOP = Path(__file__).parents[2]
PAGE = (TOP / "daemon" / "dryward" / "doors" / "mqtt" / "README.md").read_text()
BLOCKS = re.findall(r"```sh\n(.*?)```", PAGE, flags=re.DOTALL)
pytestmark = [
    needs_broker,
    pytest.mark.skipif(which("mosquitto_pub") is None, reason="mosquitto-clients is not installed"),
]


def here(text: str, folder: Path, port: int) -> str:
    """Return commands of the page with their places moved into ``folder`` and nothing that needs a system of its own."""
    moved = (
        ("/opt/dryward/share/dryward/config", str(TOP / "config")),
        ("/etc/", f"{folder}/etc/"),
        ("broker.lan", "localhost"),
        ("8883", str(port)),
        ("sudo ", ""),
    )
    for old, new in moved:
        text = text.replace(old, new)
    foreign = r"^(apt|systemctl) .*$" if os.geteuid() == 0 else r"^(apt|systemctl|chown) .*$"
    return re.sub(foreign, "", text, flags=re.MULTILINE)


def run(script: str, folder: Path) -> str:
    path = f"{Path(sys.executable).parent}:{os.environ['PATH']}"
    environ = {**os.environ, "PATH": path, "PYTHONPATH": f"{TOP / 'daemon'}:{TOP / 'hardware'}"}
    done = subprocess.run(
        ["bash", "-euc", script], cwd=folder, env=environ, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, f"{script}\n{done.stdout}\n{done.stderr}"
    return done.stdout


def test_broker_chamber_and_clients_are_wired_as_the_page_says(tmp_path: Path) -> None:
    port = free_port()
    mosquitto = tmp_path / "etc" / "mosquitto"
    (mosquitto / "conf.d").mkdir(parents=True)
    (tmp_path / "etc" / "dryward").mkdir()
    wire, on_the_pi, look, listen, ask = (here(block, tmp_path, port) for block in BLOCKS)
    run(wire, mosquitto)
    run(on_the_pi, mosquitto)
    written: dict[str, Any] = tomllib.loads(
        here(re.findall(r"```toml\n(.*?)```", PAGE, flags=re.DOTALL)[0], tmp_path, port)
    )["mqtt"]
    settings = replace(MqttSettings(**written), port=port)
    with (
        broker(tmp_path / "broker", port=port, conf=(mosquitto / "conf.d" / "dryward.conf").read_text()),
        house(tmp_path / "h", settings, run=()) as shed,
    ):
        shed.turn(40.0)
        until(
            lambda: "shed" in run(look.splitlines()[0] + "\n" + look.splitlines()[1], mosquitto),
            within_s=15.0,
            what="status lists it",
        )
        shown = run(look, mosquitto)
        assert re.search(r"^shed +ready +running", shown, flags=re.MULTILINE)
        assert "shed: RUNNING" in shown
        heard = run(listen.replace("-W 3", "-W 1 || true"), mosquitto)
        assert "homie/5/shed/program/phase running" in heard
        run(ask, mosquitto)
        until(lambda: [r.ask.verb for r in shed.requests] == ["stop"], within_s=10.0, what="the request arrives")
        assert shed.requests[0].who == "Ines"
