"""``python -m tests.bench.twin``: what the simulated dryer costs, per poll of 5 s with four pieces over 78 h."""

from __future__ import annotations

import statistics
from time import thread_time

from dryward_hardware.ports import Hung
from dryward_hardware.twin import Twin

GREEN_G = (690.0, 730.0, 770.0, 810.0)
POLL_S = 5.0
CHUNK = 360  # polls that are timed together: half an hour


def main() -> None:
    """Run the common batch under simple switching and print the processor time of a poll with its switching."""
    twin = Twin("sim", {})
    twin.hang([Hung(name=f"p{n}", green_g=green_g, channel=f"hook-{n}") for n, green_g in enumerate(GREEN_G)])
    heating, now_s = False, 0.0
    spent_us: list[float] = []
    while now_s < 78 * 3600.0:
        setpoint_c = 80.0 if now_s < 24 * 3600.0 else 70.0
        began_s = thread_time()
        for _ in range(CHUNK):
            batch = twin.poll(now_s)
            twin.want(frozenset({"heater", "fan"}) if heating else frozenset({"fan"}), now_s)
            for sample in batch.samples:
                if sample.channel == "sim/air" and sample.value is not None:
                    heating = sample.value < setpoint_c + (0.5 if heating else -0.5)
            now_s += POLL_S
        spent_us.append((thread_time() - began_s) / CHUNK * 1e6)
    quick, slow = min(spent_us), max(spent_us)
    print(
        f"twin: {statistics.mean(spent_us):.1f} us of processor time per poll (best half hour {quick:.1f}, worst {slow:.1f}), goal 30"
    )
    print(
        f"twin: 78 h in {sum(spent_us) * CHUNK / 1e6:.2f} s, {78 * 3600 / (sum(spent_us) * CHUNK / 1e6):,.0f} times real time"
    )
    truth = twin.truth()
    losses = ", ".join(f"{piece.loss_pct:.1f}" for piece in truth.pieces)
    book = truth.ledger
    print(
        f"twin: losses {losses} %; {truth.energy_j / 3.6e6:.1f} kWh; water balance off by {1e6 * (book.brought_kg - book.lost_kg - book.stored_kg):.3f} mg"
    )


if __name__ == "__main__":
    main()
