"""What the page of a month costs: ``python -m tests.bench.page [DAYS]``. 12 pieces, ten channels at 10 s; goals beside the figures."""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

from tests.bench.record import write_month

ONE_PAGE = """
import resource, sys, time
began, used = time.perf_counter(), time.process_time()
sys.modules.update(numpy=None, pandas=None)
from pathlib import Path
from dryward.record.page import page
from dryward.record.queries import Record
with Record(Path(sys.argv[1])) as record:
    text = page(record, "month")
print(f"{time.perf_counter() - began:.2f} s ({time.process_time() - used:.2f} s of processor), {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB, {len(text.encode()) / 1000:.0f} kB")
"""


def main() -> None:
    days = int(sys.argv[1]) if len(sys.argv) > 1 else 30
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "r.sqlite"
        write_month(path, days)
        for _ in range(3):
            done = subprocess.run(
                [sys.executable, "-c", ONE_PAGE, str(path)], check=True, capture_output=True, text=True
            )
            print(f"page of {days} days, imports and all: {done.stdout.strip()}; goals 2 s, 100 MB, 300 kB")


if __name__ == "__main__":
    main()
