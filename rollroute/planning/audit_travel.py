"""The auditor's look at a plan from the map: every roll driven again, every drive, walk and loading zone asked for anew.

Travel estimates are claims here, not facts. Only the inputs, the network and the weights of its edges are believed; nothing is imported
from the modules that made the estimates or the plan (``tests/planning/test_audit_imports.py``).
"""

from __future__ import annotations

from rollroute.inputs.move_folder import Move
from rollroute.network.network import Network
from rollroute.planning.audit_book import Book, Violation
from rollroute.planning.audit_map import AuditMap
from rollroute.planning.audit_roads import Roads, drive_violations, walk_violations
from rollroute.planning.audit_rolls import roll_violations
from rollroute.planning.audit_zones import zone_violations
from rollroute.planning.plan import Plan
from rollroute.planning.travel import TravelTable


def travel_violations(plan: Plan, move: Move, travel: TravelTable, network: Network) -> list[Violation]:
    """Claims of ``plan`` and of the estimates it uses that the map does not bear out; an empty list if there is none."""
    book = Book(plan, move, travel)
    if book.unreadable:
        return []  # said by ``audit``
    chart = AuditMap(network, book)
    roads = Roads(chart)
    return [
        *chart.place_violations(),
        *drive_violations(book, roads),
        *zone_violations(book, chart, roads),
        *walk_violations(book, chart),
        *roll_violations(book, chart),
    ]
