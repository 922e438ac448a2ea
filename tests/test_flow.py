"""Imports point left: a stage may use what comes before it, never what comes after."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import rollroute

PACKAGE = Path(rollroute.__file__).parent
STAGES = ["inputs", "network", "weights", "search", "planning", "output"]
EVERYWHERE = {"errors", "units", "standards", "whole"}
JOINTS = {"journey", "sockets"}  # one trip through weights and search: used by planning and output, knows nothing of them


def _modules() -> list[Path]:
    return sorted(p for p in PACKAGE.rglob("*.py") if p.relative_to(PACKAGE).parts[0] in STAGES)


def _imported(path: Path) -> set[str]:
    """First names below ``rollroute`` that a module imports, at its top or inside functions."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module and node.module.startswith("rollroute."):
            found.add(node.module.split(".")[1])
        elif isinstance(node, ast.Import):
            found |= {alias.name.split(".")[1] for alias in node.names if alias.name.startswith("rollroute.")}
    return found


@pytest.mark.parametrize("path", _modules(), ids=lambda p: str(p.relative_to(PACKAGE)))
def test_imports_point_left(path: Path) -> None:
    """A stage that knew a later one could not be read, tested or replaced alone."""
    stage = path.relative_to(PACKAGE).parts[0]
    allowed = EVERYWHERE | set(STAGES[: STAGES.index(stage) + 1])
    if stage in ("planning", "output"):
        allowed |= JOINTS
    assert _imported(path) <= allowed


def test_public_names_exist_and_are_the_documented_ones() -> None:
    """Every name in ``__all__`` loads, and is listed for type checkers too."""
    source = ast.parse((PACKAGE / "__init__.py").read_text(encoding="utf-8"))
    typed = {alias.asname for node in ast.walk(source) if isinstance(node, ast.ImportFrom) for alias in node.names if alias.asname}
    for name in rollroute.__all__:
        assert getattr(rollroute, name) is not None
    assert typed == set(rollroute.__all__)


def test_no_module_is_longer_than_400_lines() -> None:
    """A module that grows past that is reshaped, not waved through."""
    lengths = {str(p.relative_to(PACKAGE)): len(p.read_text(encoding="utf-8").splitlines()) for p in PACKAGE.rglob("*.py")}
    assert {name: n for name, n in lengths.items() if n > 400} == {}
