"""``python -m tests.bench.footprint [SECONDS]``: memory and idle processor time of main, keeper and reader together.

Serves a hot dryer as people wire it on a faked /sys and mock pins: two air sensors and humidity, three contacts, four load
cells, five outputs. Memory is the proportional set size: what several processes share is counted once. The goals: 100 MB
together, 3 % of one core.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from tests.hardware.kernel_tree import W1_GOOD, KernelTree, w1_slave

MOST_MB = 100.0
MOST_CORE_PCT = 3.0
SETTLE_S = 20.0
TOP = Path(__file__).parents[2]
HOOKS = (1, 2, 3, 4)
CHAMBER = """
[chamber]
name = "footprint"
[devices.top]
kind = "hwmon"
name = "sht4x"
root = "{root}"
[devices.rear]
kind = "w1"
id = "28-000000000001"
root = "{root}"
[sensors.air]
role = "control-air"
device = "top"
[sensors.rear]
role = "limit-air"
device = "rear"
[sensors.humidity]
role = "humidity"
device = "top"
[outputs]
heater = {{ gpio = 17, power_w = 900 }}
contactor = {{ gpio = 22 }}
fan = {{ gpio = 27, safe_on = true }}
vent = {{ gpio = 23 }}
buzzer = {{ gpio = 24 }}
[record]
path = "record.db"
[service]
socket = "dryward.sock"
socket_group = ""
pin_factory = "mock"
"""
CONTACTS = {"door": ("door", 5), "fan-turns": ("fan-feedback", 6), "contactor-closed": ("contactor-feedback", 16)}
CONTACT = """
[devices.{name}-contact]
kind = "input"
gpio = {gpio}
[sensors.{name}]
role = "{role}"
device = "{name}-contact"
"""
CELL = """
[devices.cell-{n}]
kind = "hx711"
name = "hook-{n}"
root = "{root}"
g_per_count = 0.01
[scales.hook-{n}]
device = "cell-{n}"
"""


def faked_chamber(folder: Path) -> Path:
    """Write /sys and chamber file; return the latter."""
    tree = KernelTree(folder / "sys")
    tree.hwmon(0, "sht4x", temperature=21500, humidity=45000)
    tree.w1(w1_slave(W1_GOOD))
    for n in HOOKS:
        tree.iio(n, "hx711", label=f"hook-{n}", voltage0_raw=8388608 + 100_000 * n)
    text = CHAMBER.format(root=tree.root)
    text += "".join(CONTACT.format(name=name, role=role, gpio=gpio) for name, (role, gpio) in CONTACTS.items())
    text += "".join(CELL.format(n=n, root=tree.root) for n in HOOKS)
    chamber = folder / "chamber.toml"
    chamber.write_text(text)
    return chamber


def descendants(pid: int) -> list[int]:
    """Return a process and all that it has started, in order of their ids."""
    parents: dict[int, int] = {}
    for entry in os.listdir("/proc"):
        if entry.isdigit():
            try:
                fields = Path(f"/proc/{entry}/stat").read_text().rpartition(")")[2].split()
            except OSError:
                continue
            parents[int(entry)] = int(fields[1])
    family = {pid}
    while more := {child for child, parent in parents.items() if parent in family} - family:
        family |= more
    return sorted(family)


def pss_mb(pid: int) -> float:
    """Return a process's proportional set size, MB."""
    lines = Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith("Pss:")) / 1000.0


def processor_s(pid: int) -> float:
    """Return the processor time that a process and its ended children have taken, s."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return sum(map(int, fields[11:15])) / os.sysconf("SC_CLK_TCK")


def named(pid: int, main: int) -> str:
    command = Path(f"/proc/{pid}/cmdline").read_bytes().replace(b"\0", b" ").decode()
    return "main" if pid == main else "keeper" if "keeper" in command else "reader"


def main(seconds: float) -> int:
    """Serve, wait, measure, print. Returns 0 when both goals are met."""
    with tempfile.TemporaryDirectory() as folder:
        chamber = faked_chamber(Path(folder))
        log = (Path(folder) / "log").open("w+")
        environment = {**os.environ, "PYTHONPATH": os.pathsep.join([str(TOP / "daemon"), str(TOP / "hardware")])}
        daemon = subprocess.Popen(
            [sys.executable, "-m", "dryward", "serve", "--config", str(chamber)],
            env=environment,
            stderr=log,
            stdout=log,
        )
        try:
            time.sleep(SETTLE_S)
            before = {pid: processor_s(pid) for pid in descendants(daemon.pid)}
            time.sleep(seconds)
            after = {pid: processor_s(pid) for pid in descendants(daemon.pid)}
            memory = {pid: pss_mb(pid) for pid in after}
            names = {pid: named(pid, daemon.pid) for pid in after}
        finally:
            ended_early = daemon.poll() is not None
            daemon.send_signal(signal.SIGTERM)
            daemon.wait(20.0)
            log.seek(0)
            if ended_early:
                print(log.read(), file=sys.stderr)
            log.close()
    for name in ("main", "keeper", "reader"):
        pids = [pid for pid in after if names[pid] == name]
        core_pct = 100.0 * sum(after[p] - before.get(p, 0.0) for p in pids) / seconds
        print(
            f"{name:7} {len(pids)} processes  {sum(memory[p] for p in pids):6.1f} MB PSS  {core_pct:5.2f} % of a core"
        )
    total_mb, total_pct = sum(memory.values()), 100.0 * (sum(after.values()) - sum(before.values())) / seconds
    print(f"all     {len(after)} processes  {total_mb:6.1f} MB PSS  {total_pct:5.2f} % of a core")
    print(f"goals: {MOST_MB:g} MB and {MOST_CORE_PCT:g} %")
    return 0 if total_mb <= MOST_MB and total_pct <= MOST_CORE_PCT else 1


if __name__ == "__main__":
    sys.exit(main(float(sys.argv[1]) if len(sys.argv) > 1 else 60.0))
