"""What is known of the pieces that the map shows, for whoever opens one."""

from __future__ import annotations

from rollroute.journey import Journey
from rollroute.weights.case import Case, case_of
from rollroute.weights.fact import Fact
from rollroute.weights.known import facts_of, verdict_of


def known_of(journey: Journey, edge: int) -> list[Fact]:
    """All facts about the piece of ``edge``, what they mean for this chair this way, and what the other way."""
    found = list(facts_of(_case(journey), edge // 2))
    return [*found, verdict_of(journey.weights, edge, "this_way"), verdict_of(journey.weights, edge ^ 1, "other_way")]


def _case(journey: Journey) -> Case:
    """The case under which the journey was weighed. Making one reads nothing: what it needs it works out when asked."""
    trip = journey.trip
    return case_of(journey.network, trip.chair, trip.conditions, trip.rules)
