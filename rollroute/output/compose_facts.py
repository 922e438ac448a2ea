"""What is known of the pieces that the map shows, and how firm the assumed chances are."""

from __future__ import annotations

from rollroute.journey import Journey
from rollroute.output.itinerary import Checked
from rollroute.standards import doubts_of, load_doubts
from rollroute.weights.case import Case, case_of
from rollroute.weights.fact import Fact
from rollroute.weights.known import facts_of, verdict_of


def known_of(journey: Journey, edge: int) -> list[Fact]:
    """All facts about the piece of ``edge``, what they mean for this chair this way, and what the other way."""
    found = list(facts_of(_case(journey), edge // 2))
    return [*found, verdict_of(journey.weights, edge, "this_way"), verdict_of(journey.weights, edge ^ 1, "other_way")]


def prior_checks(journey: Journey) -> float:
    """How many checks the assumed chances count as, the weakest of them (rows of the table of doubts are Beta distributions)."""
    rows = _case(journey).doubts.rows.values()
    return min(row.bad + row.good - row.n_checks for row in rows)


def checked_of(journey: Journey) -> list[Checked]:
    """The rows of the table of doubts that checks in this town have moved."""
    before, after = load_doubts(), doubts_of(journey.network.about)
    moved = [(before.rows[name], row) for name, row in after.rows.items() if row.n_checks]
    return [
        Checked(
            fact=row.fact,
            place=row.place,
            good=round(row.good - old.good),
            bad=round(row.bad - old.bad),
            before=old.probability,
            after=row.probability,
        )
        for old, row in moved
    ]


def _case(journey: Journey) -> Case:
    """The case under which the journey was weighed. Making one reads nothing: what it needs it works out when asked."""
    trip = journey.trip
    return case_of(journey.network, trip.chair, trip.conditions, trip.rules)
