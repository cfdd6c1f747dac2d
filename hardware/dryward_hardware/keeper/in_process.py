"""The keeper's rules in the caller's own time, for the demo, rehearsals and tests."""

from __future__ import annotations

from collections.abc import Sequence

from dryward_hardware.keeper import rules
from dryward_hardware.ports import DeviceError, LineSpec, Outputs


class InProcessKeeper:
    """The keeper's rules in the caller's own time, round other outputs such as those of the simulated dryer.

    Where ticks are further apart than a real lease, give a ``lease_s`` longer than the period. At the start every
    output has just gone off, as after a power cut: a compressor waits its ``min_off_s``.
    """

    def __init__(
        self,
        outputs: Outputs,
        lines: Sequence[LineSpec],
        *,
        lease_s: float = 3.0,
        now_s: float = 0.0,
    ) -> None:
        if found := rules.objections(lines):
            raise DeviceError("keeper", "; ".join(found))
        self._outputs = outputs
        self._lines = tuple(lines)
        self._lease_s = lease_s
        self._now_s = now_s
        self._names = frozenset(line.name for line in lines)
        self._settled = False
        self._keeping, _ = rules.begin(lines, {}, now_s)
        self.pass_time(now_s)

    def want(self, on: frozenset[str], now_s: float) -> None:
        """Renew the lease from ``now_s`` on and switch what is due."""
        keeping = self._keeping
        if on == keeping.wanted and self._settled and now_s < keeping.lease_ends_s:
            # Nothing can change but the end of the lease; a rehearsal asks this a hundred thousand times.
            self._keeping = rules.extend(keeping, lease_ends_s=now_s + self._lease_s)
            self._now_s = now_s
            return
        self.pass_time(now_s)
        self._keeping = rules.renew(self._keeping, on, lease_ends_s=now_s + self._lease_s)
        self.pass_time(now_s)
        wanted = on & self._names
        self._settled = self._keeping.on == wanted and rules.HEARTBEAT not in self._names

    def pass_time(self, now_s: float) -> None:
        """Let time pass without renewing: a lease that has run out takes every output to its safe state."""
        self._now_s = now_s
        self._keeping, _ = rules.decide(self._lines, self._keeping, now_s)
        self._outputs.want(self._keeping.on, now_s)

    def actual(self) -> frozenset[str]:
        """Return what the outputs inside say is on."""
        return self._outputs.actual()

    def close(self) -> None:
        """Make every output safe, then close the outputs inside."""
        self._keeping = rules.lapse(self._keeping, "pipe-end")
        self.pass_time(self._now_s)
        self._outputs.close()
