"""Time to read a long log against a bare pass of the standard library's csv reader over the same file.

    python tests/bench_log.py [rows]

The log holds seven channels with decimal commas, as a control unit of that tongue exports it; the second has a hole in
one channel of every fifth row and one odd cell in its middle, the third is in UTF-16.
"""

from __future__ import annotations

import csv
import resource
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from ingest.log import read_log

HEAD = "Zeit [s];Drehzahl [1/min];Ladedruck Ist [bar rel];Ladedruck Soll [bar rel];Raildruck Ist [bar];Raildruck Soll [bar];Vordruck [bar]\n"


def write(path: Path, rows: int, *, holes: bool = False, encoding: str = "cp1252") -> None:
    """A pull of every hour: engine speed rises through each, thousands of samples long."""
    time_stamps = 0.01 * np.arange(rows)
    speed = 2500.0 + 4000.0 * (np.arange(rows) % 60_000) / 60_000.0
    noise = np.random.default_rng(4).normal(0.0, 0.01, rows)
    with path.open("w", encoding=encoding) as file:
        file.write(HEAD)
        for k in range(rows):
            low = "" if holes and k % 5 == 0 else f"{5.5 + noise[k]:.2f}"
            if holes and k == rows // 2:
                low = "ERR"
            line = (
                f"{time_stamps[k]:.2f};{speed[k]:.1f};{1.5 + noise[k]:.3f};1.500;{200.0 + noise[k]:.1f};200.0;{low}\n"
            )
            file.write(line.replace(".", ","))


def bare(path: Path, encoding: str) -> tuple[float, float]:
    """Seconds, and seconds of the processor, for the csv reader alone: rows parted, nothing turned into a number."""
    started, work = time.perf_counter(), time.process_time()
    with path.open(encoding=encoding, newline="") as file:
        count = sum(1 for _ in csv.reader(file, delimiter=";"))
    assert count > 1
    return time.perf_counter() - started, time.process_time() - work


def main() -> None:
    """Print the figures."""
    rows = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    with tempfile.TemporaryDirectory() as folder:
        for name, holes, encoding in (
            ("plain", False, "cp1252"),
            ("with holes", True, "cp1252"),
            ("utf-16", False, "utf-16"),
        ):
            path = Path(folder) / "log.csv"
            write(path, rows, holes=holes, encoding=encoding)
            base = bare(path, encoding)
            started, work = time.perf_counter(), time.process_time()
            book = read_log(path)
            took, worked = time.perf_counter() - started, time.process_time() - work
            assert book.reading.pull is not None
            peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
            print(
                f"{name:10} {rows} rows, {path.stat().st_size / 2**20:.0f} MB: {took:.2f} s ({worked:.2f} s of the processor); "
                f"csv reader alone {base[0]:.2f} s ({base[1]:.2f} s); "
                f"{len(book.problems)} defects; peak memory so far {peak:.0f} MB"
            )


if __name__ == "__main__":
    main()
