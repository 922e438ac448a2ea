"""The auditor shares no code with what it checks."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import rollroute.planning
from rollroute.network.kinds import WayKind
from rollroute.planning import audit_roads, audit_zones, loading_zones, roads

HERE = Path(rollroute.planning.__file__).parent
MODULES = sorted(HERE.glob("audit*.py"))
STAGES = {"errors", "units", "standards", "inputs", "network", "weights"}
DATA = {"plan", "travel"}  # of planning: the documents that are checked, no verbs that make them


def _imports(path: Path) -> set[str]:
    """Dotted names below ``rollroute``, at the top and inside functions."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom):
            assert node.level == 0
            names = (
                [node.module or ""] if (node.module or "") != "rollroute.planning" else [f"rollroute.planning.{a.name}" for a in node.names]
            )
            found |= set(names)
        elif isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
    return {name.removeprefix("rollroute.") for name in found if name.startswith("rollroute")}


@pytest.mark.parametrize("path", MODULES, ids=lambda p: p.stem)
def test_the_auditor_imports_no_planner_and_no_search(path: Path) -> None:
    """Inputs, network and weights are believed; of planning only the two documents and the auditor's own modules are read."""
    for name in _imports(path):
        stage, _, module = name.partition(".")
        assert stage in STAGES or (stage == "planning" and (module in DATA or module.startswith("audit"))), name


@pytest.mark.parametrize("name", sorted(DATA))
def test_the_documents_bring_no_planner_along(name: str) -> None:
    """What the auditor reads may not import a solver either, but for type checkers."""
    assert {n.partition(".")[2] for n in _imports(HERE / f"{name}.py") if n.startswith("planning")} <= {"travel", "needs"}


def test_there_are_modules_to_look_at() -> None:
    """A pattern that matches nothing would pass every check above."""
    assert len(MODULES) >= 9


def test_the_planner_is_nowhere_quicker_than_the_auditor_believes() -> None:
    """Speeds and reaches stand written down twice, so that a slip in one place is seen."""
    assert {WayKind[name]: kmh for name, kmh in audit_roads.BELIEVED_KMH.items()} == roads.VAN_KMH
    assert audit_roads.NIGHT_WALK == roads.WALK_DELAY
    assert audit_zones.KERB_M == loading_zones.KERB_REACH_M
