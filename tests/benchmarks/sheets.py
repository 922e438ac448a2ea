"""How long sheets take: the first one, the next ones, and a hundred different ones. Run it by hand; it asserts nothing.

``nice python tests/benchmarks/sheets.py``
"""

from __future__ import annotations

import dataclasses
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent / "output"))

N_SHEETS = 100


def main() -> None:
    """Print seconds of wall clock and of this process's processor time."""
    begin = time.perf_counter()
    from sample_itinerary import sample

    from rollroute.output.sheet import write_sheet
    from rollroute.output.words import Words

    words, route = Words(), sample()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "sheet.pdf"
        write_sheet(route, path, words=words, link="https://example.org/s/abc")
        print(f"first sheet, imports included: {time.perf_counter() - begin:.2f} s, {path.stat().st_size / 1000:.0f} kB")
        begin = time.perf_counter()
        write_sheet(dataclasses.replace(route, code="B1"), path, words=words, link="https://example.org/s/abd")
        print(f"next sheet: {time.perf_counter() - begin:.3f} s")
        begin, processor = time.perf_counter(), time.process_time()
        for n in range(N_SHEETS):
            one = dataclasses.replace(route, code=f"K{n}", start=dataclasses.replace(route.start, label=f"{n} Mill Street"))
            write_sheet(one, Path(folder) / f"{n}.pdf", words=words, link=f"https://example.org/s/{n}", paper=("a4", "letter")[n % 2])
        print(f"{N_SHEETS} sheets: {time.perf_counter() - begin:.1f} s wall clock, {time.process_time() - processor:.1f} s of processor")


if __name__ == "__main__":
    main()
