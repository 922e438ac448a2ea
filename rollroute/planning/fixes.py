"""For whoever is left: why, and the cheapest change that would serve them, found by asking the assignment again with that change.

Changes in order of price: an answer on the phone, an escort, a place, an hour of a van, a van; a change that the quick model
finds enough is named, not promised.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import replace

from rollroute.planning.assignment import WHOLE_UP_TO_PARTIES, Way, assignment_ways, few_ways, solve_assignment
from rollroute.planning.calls import Call
from rollroute.planning.problem import NEVER, Problem, Schedule

ASKED_OF_LARGE, MOST_QUESTIONS = 10, 4
SERVES_NOBODY_MORE = ("consent", "drives_to_street")  # answers that make a plan surer, and are no way for somebody who has none
MORE_ESCORTS, MORE_PLACES, MORE_VAN_MIN, MORE_PATIENCE_MIN = 2, 2, 90, 30


def reasons_left(problem: Problem, schedule: Schedule, clock: Sequence[str | None]) -> dict[int, str]:
    """Why each party without a way has none although ways are listed. ``clock``: the binding limit of each party in words."""
    alone = {w.party for w in assignment_ways(problem)}
    listed = {r.party for r in problem.rolls} | {u for u, _ in problem.pickups}
    found = {}
    for u, leg in enumerate(schedule.legs):
        if leg is not None or u not in listed:
            continue
        if u not in alone:
            limit = clock[u]
            found[u] = f"even alone, no way gets there by {limit}" if limit else "even alone, no way fits the hours of vans and shelters"
        else:
            found[u] = "vans, escorts or places go to others who are more urgent, or together to more people"
    return found


class Fixes:
    """The cheapest fix for each party that is left; of a large move the first few are asked about."""

    def __init__(self, problem: Problem, calls: Sequence[Call]) -> None:
        self.problem, self.calls = problem, calls
        ways = assignment_ways(problem)
        self._served, self._reached = _served(problem, ways), {w.party for w in ways}
        self._asked: dict[tuple[str, int], tuple[set[int], int]] = {}
        self._left_to_ask = ASKED_OF_LARGE if len(problem.parties) > WHOLE_UP_TO_PARTIES else len(problem.parties)

    def cheapest(self, u: int) -> str | None:
        """The first change, in order of price, with which party ``u`` could be served beside all who are."""
        riders = self.problem.parties[u].riders
        ids = {f"rider {i}" for i in riders}
        asked = [c for c in self.calls if c.whom in ids and c.people > 0 and c.field not in SERVES_NOBODY_MORE]
        if asked:
            return f"ask {', '.join(riders)}: {_questions(asked)}"
        if self._left_to_ask <= 0:
            return None
        self._left_to_ask -= 1
        # An answer that serves somebody else is no fix: it has to give this party a way, or be about room that it lacks beside its way.
        others = [c for c in self.calls if not c.whom.startswith("rider ") and c.people > 0]
        others = [c for c in others if u in self._reached or c.opens.issuperset(riders)]
        for words, changed in _changes(self.problem, u):
            if self._is_enough(words, changed, u):
                return words
        if not others:
            return None
        asked = [c for c in others if c.whom == others[0].whom]
        return f"ask {others[0].whom}: {_questions(asked)}"

    def _is_enough(self, words: str, changed: Problem, u: int) -> bool:
        """Whether party ``u`` has a way then, and more people could be served; changes that are the same for all are asked once."""
        key = (words, u if changed.parties != self.problem.parties else -1)
        if key not in self._asked:
            ways = assignment_ways(changed)
            self._asked[key] = ({w.party for w in ways}, _served(changed, ways) if ways else 0)
        parties, served = self._asked[key]
        return u in parties and served > self._served


def _questions(calls: Sequence[Call]) -> str:
    return "; ".join(list(dict.fromkeys(c.question for c in calls))[:MOST_QUESTIONS])


def _served(problem: Problem, all_ways: Sequence[Way]) -> int:
    ways = few_ways(problem, all_ways)
    _, chosen = solve_assignment(problem, ways)
    return sum(problem.parties[ways[c].party].size for c in chosen if c is not None)


def _changes(problem: Problem, u: int) -> list[tuple[str, Problem]]:
    template = problem.escorts[0] if problem.escorts else None
    changes: list[tuple[str, Problem]] = []
    if template is not None:
        extra = tuple(replace(template, id=f"+{n}", starts=0, ends=problem.horizon) for n in range(MORE_ESCORTS))
        changes.append((f"{MORE_ESCORTS} more escorts", replace(problem, escorts=(*problem.escorts, *extra))))
    roomy = tuple(replace(s, places=s.places + MORE_PLACES) if s.places else s for s in problem.shelters)
    changes.append((f"{MORE_PLACES} more accessible places at a shelter", replace(problem, shelters=roomy)))
    sockets = tuple(replace(s, sockets=s.sockets + MORE_PLACES) if s.places else s for s in problem.shelters)
    changes.append((f"{MORE_PLACES} more powered outlets at a shelter", replace(problem, shelters=sockets)))
    longer = tuple(replace(v, ends=min(problem.horizon, v.ends + MORE_VAN_MIN)) for v in problem.vans)
    changes.append((f"the vans {MORE_VAN_MIN} min longer", replace(problem, vans=longer)))
    sooner = tuple(replace(v, starts=0) if v.starts < NEVER else v for v in problem.vans)
    changes.append(("the vans from the start", replace(problem, vans=sooner)))
    party = problem.parties[u]
    if party.socket_by < NEVER:
        patient = replace(party, socket_by=party.socket_by + MORE_PATIENCE_MIN)
        parties = tuple(patient if v == u else p for v, p in enumerate(problem.parties))
        changes.append(
            (f"{MORE_PATIENCE_MIN} min more until the latest time, for example by a spare battery", _with_parties(problem, parties))
        )
    return changes


def _with_parties(problem: Problem, parties: tuple[object, ...]) -> Problem:
    return dataclasses.replace(problem, parties=parties)  # type: ignore[arg-type]
