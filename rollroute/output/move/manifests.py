"""CSV files for spreadsheets and scripts: one for each van and each shelter, one for riders, escorts and outlets."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from rollroute.inputs.csv_cells import write_csv
from rollroute.output.move import rows
from rollroute.output.move.facts import MoveFacts, file_stems
from rollroute.output.move.rows import Row


def write_manifests(facts: MoveFacts, folder: Path) -> list[Path]:
    """Write ``riders.csv``, ``escorts.csv``, ``outlets.csv``, ``van-*.csv`` and ``shelter-*.csv`` to ``folder``.

    UTF-8 with a mark, so that spreadsheets read names in any script.
    """
    folder.mkdir(parents=True, exist_ok=True)
    plan = facts.plan
    made = [
        _write(folder / "riders.csv", rows.RIDER_COLUMNS, rows.rider_rows(facts)),
        _write(folder / "escorts.csv", rows.ESCORT_COLUMNS, rows.escort_rows(facts)),
        _write(folder / "outlets.csv", rows.OUTLET_COLUMNS, [row for s in plan.shelters for row in rows.outlet_rows(s)]),
    ]
    stems = file_stems([v.id for v in plan.vans])
    made += [_write(folder / f"van-{stems[v.id]}.csv", rows.VAN_COLUMNS, rows.van_rows(facts, v)) for v in facts.used_vans]
    stems = file_stems([s.name for s in plan.shelters])
    for s in facts.used_shelters:
        made.append(_write(folder / f"shelter-{stems[s.name]}.csv", rows.SHELTER_COLUMNS, rows.shelter_rows(facts, s)))
    return made


def _write(path: Path, columns: Sequence[str], found: Sequence[Row]) -> Path:
    return write_csv(path, columns, ([row[c] for c in columns] for row in found))
