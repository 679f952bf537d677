"""How long slips take and how much memory: `python -m tests.scanner.reports.bench [--slips 500]`.

Seconds are told beside what Python with NumPy takes to start on the same machine at the same time: that ratio means the
same on any machine. Memory is the peak of what Python itself allocates while the pages are written, by tracemalloc.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import time
import tracemalloc
from collections.abc import Iterator
from io import BytesIO
from itertools import permutations

from scanner.reports.page import ReportPage
from scanner.reports.report_pdf import About, write_report
from scanner.reports.slip import slip
from tests.scanner.reports.made import ENGLISH, page_of, table_of, taster, writing


class Counter:
    """A file that counts what is written to it, and keeps nothing."""

    def __init__(self) -> None:
        self.octets = 0

    def write(self, octets: bytes) -> None:
        self.octets += len(octets)


def slips(count: int) -> Iterator[ReportPage]:
    """Yield the pages of so many tasters, each with notes of their own and handwriting for every drink."""
    orders = list(permutations(range(1, 6)))
    table = table_of([taster(orders[0], orders[number], number) for number in range(8)])
    for number in range(count):
        one = taster(orders[number % 120], orders[(number * 7) % 120], number, name=f"Taster {number}")
        yield page_of(slip(one, [one], table, None), hands=writing(number % 5))


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--slips", type=int, default=500)
    count = parser.parse_args().slips
    write_report(BytesIO(), slips(5), About("warm", "warm"), ENGLISH)
    began = time.perf_counter()
    subprocess.run([sys.executable, "-c", "import numpy"], check=True)
    start_s = time.perf_counter() - began
    began, cpu = time.perf_counter(), time.process_time()
    file = Counter()
    write_report(file, slips(count), About("Slips", "Slips", count), ENGLISH)
    took_s, cpu_s = time.perf_counter() - began, time.process_time() - cpu
    print(f"{count} slips: {took_s:.1f} s, {cpu_s:.1f} s of the processor, {file.octets / 1e6:.1f} MB on the disk")
    print(f"Python with NumPy starts in {start_s:.2f} s: {took_s / start_s:.0f} times that")
    for pages in (count // 10, count):
        tracemalloc.start()
        write_report(Counter(), slips(pages), About("Slips", "Slips", pages), ENGLISH)
        print(f"{pages} slips: {tracemalloc.get_traced_memory()[1] / 1e6:.1f} MB at the peak")
        tracemalloc.stop()


if __name__ == "__main__":
    main()
