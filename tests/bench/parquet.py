"""``python -m tests.bench.parquet``: real Parquet files, read back and compared row by row with the export. Needs pyarrow."""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

from dryward.record.export import rows
from dryward.record.moments import utc_text
from dryward.record.parquet import NoArrow, write_parquet
from dryward.record.queries import Record
from tests.record.batch import write_batch


def main() -> int:
    """Print what was compared; 0 when every row is the same."""
    with tempfile.TemporaryDirectory() as folder:
        write_batch(Path(folder) / "r.db")
        different = count = 0
        for anonymous in (False, True):
            out = Path(folder) / f"out-{anonymous}"
            with Record(Path(folder) / "r.db") as record:
                began = time.perf_counter()
                try:
                    counts = write_parquet(record, "r1", out, anonymous=anonymous)
                except NoArrow as error:
                    print(error, file=sys.stderr)
                    return 1
                took_s = time.perf_counter() - began
                wanted = list(rows(record, "r1", anonymous=anonymous))
            from pyarrow import parquet

            found = {table: parquet.read_table(out / f"{table}.parquet").to_pylist() for table in counts}
            for table, row in wanted:
                read = found[table].pop(0)
                read = {key: utc_text(v.timestamp()) if hasattr(v, "timestamp") else v for key, v in read.items()}
                count += 1
                different += any(read[key] != value for key, value in row.items())
            different += sum(map(len, found.values()))
            size = sum(f.stat().st_size for f in out.iterdir())
            print(f"{'anonymous' if anonymous else 'named'}: {counts}, {size / 1000:.0f} kB in {took_s:.2f} s")
    print(f"{count} rows compared, {different} differ")
    return 1 if different else 0


if __name__ == "__main__":
    sys.exit(main())
