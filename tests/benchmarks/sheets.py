"""How long sheets take: the first one, the next ones, and a hundred different ones with all their maps; and a link with its twins.

``nice python tests/benchmarks/sheets.py [FOLDER ...] [--check]``; a FOLDER is one that ``rollroute route`` or the demo wrote
(the tests' own route of 1.7 km if there is none). ``--check`` ends with 1 if a bar is missed: a sheet with maps in under 1.0 s
after the first, a hundred in under 40 s on two cores. It judges seconds of processor, which neighbours on the machine do not
lengthen: the wall clock of idle cores can't be longer than theirs. Both are printed.
"""

from __future__ import annotations

import argparse
import dataclasses
import os
import sys
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rollroute.output.itinerary import Itinerary

sys.path.insert(0, str(Path(__file__).parent.parent / "output"))

N_SHEETS, N_CORES = 100, 2
NEXT_BAR_S, HUNDRED_BAR_S = 1.0, 40.0


def main() -> int:
    """Print what was measured; 1 if a bar is missed and was asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folders", nargs="*", type=Path)
    parser.add_argument("--check", action="store_true")
    asked = parser.parse_args()
    missed = [not _measured(folder) for folder in asked.folders or [None]]
    return int(asked.check and any(missed))


def _measured(folder: Path | None) -> bool:
    """Measure one route; whether it holds both bars."""
    print(f"{folder or 'the route of the tests'}:")
    with tempfile.TemporaryDirectory() as name:
        work = Path(name)
        begin = time.perf_counter()
        _write(folder, 0, work)
        print(f"  first sheet, imports included: {time.perf_counter() - begin:.2f} s, {(work / '0.pdf').stat().st_size / 1000:.0f} kB")
        laps = [_timed(_write, folder, n, work) for n in range(1, 6)]
        slowest_s = max(processor_s for _, processor_s in laps)
        print(f"  next sheets: {min(laps)[0]:.2f} to {max(laps)[0]:.2f} s, at most {slowest_s:.2f} s of processor")
        link = [_timed(_write_link, folder, n, work) for n in range(3)]
        kinds = ", ".join(f"{kind} {(work / f'0.{kind}').stat().st_size / 1000:.0f} kB" for kind in ("html", "png", "pdf"))
        print(f"  link with both twins: {min(link)[0]:.2f} to {max(link)[0]:.2f} s, {min(s for _, s in link):.2f} s of processor; {kinds}")
        begin = time.perf_counter()
        with ProcessPoolExecutor(N_CORES, mp_context=get_context("spawn")) as pool:  # typst has threads: forked, it waits for ever
            processor_s = sum(pool.map(_share, [(folder, first, work) for first in range(N_CORES)]))
        hundred_s = time.perf_counter() - begin
    print(f"  {N_SHEETS} different sheets on {N_CORES} processes: {hundred_s:.1f} s, {processor_s:.1f} s of processor; load {_load()}")
    return slowest_s < NEXT_BAR_S and processor_s / N_CORES < HUNDRED_BAR_S


def _share(task: tuple[Path | None, int, Path]) -> float:
    """Write every second sheet of the hundred; give this process's seconds of processor."""
    folder, first, work = task
    begin = time.process_time()
    for n in range(first, N_SHEETS, N_CORES):
        _write(folder, n, work)
    return time.process_time() - begin


def _timed(write: Callable[[Path | None, int, Path], None], folder: Path | None, n: int, work: Path) -> tuple[float, float]:
    begin, processor = time.perf_counter(), time.process_time()
    write(folder, n, work)
    return time.perf_counter() - begin, time.process_time() - processor


def _route(folder: Path | None, n: int) -> Itinerary:
    """A route of its own: other code and start, and the reading of the route's file where there is one."""
    from rollroute.output.itinerary import read_itinerary

    if folder is None:
        from sample_itinerary import sample

        route = sample()
    else:
        route = read_itinerary(folder)
    return dataclasses.replace(route, code=f"K{n}", start=dataclasses.replace(route.start, label=f"{n} Mill Street"))


def _write(folder: Path | None, n: int, work: Path) -> None:
    """One sheet, with a link of its own, on one paper and the other in turn."""
    from rollroute.output.sheet import write_sheet
    from rollroute.output.words import Words

    write_sheet(_route(folder, n), work / f"{n}.pdf", words=Words(), link=f"https://example.org/s/{n}", paper=("a4", "letter")[n % 2])


def _write_link(folder: Path | None, n: int, work: Path) -> None:
    """One link with picture and paper, as ``rollroute link`` writes it."""
    from rollroute.output.link import write_link
    from rollroute.output.sheet import write_sheet
    from rollroute.output.words import Words

    write_link(_route(folder, n), work / f"{n}.html", words=Words(), sheet=lambda shown, path: write_sheet(shown, path, words=Words()))


def _load() -> str:
    return f"{os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else "not known"


if __name__ == "__main__":
    sys.exit(main())
