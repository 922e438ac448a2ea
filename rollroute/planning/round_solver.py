"""Rounds of all vans by the routing library of OR-Tools: pairs of loading and unloading, hours, room, time aboard.

The library knows nothing of intake by the hour, of people who walk along, of rooms at a shelter, or of closings with time.
So its rounds are played in a ``Draft`` afterwards, which refuses what breaks a rule, and whoever falls out is put in again there.
Guided local search (Voudouris and Tsang, European Journal of Operational Research 113, 1999; from memory) is ended after a number of
solutions, not by a clock.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt

from rollroute.planning.objective import service_weights
from rollroute.planning.problem import NEVER, Leg, Problem, RideLeg, RollLeg, Schedule

LEFT_BEHIND = (10**9, 10**8, 10**7)  # penalty by service tier, times the weight there, which is capped: above any sum of minutes
WEIGHT_MOST = 80
Matrix = npt.NDArray[np.int64]
Stop = tuple[int, bool]


def library_rounds(problem: Problem, start: Schedule, *, solutions: int) -> Schedule | None:
    """A schedule with the rounds that the library makes of ``start``, times not yet filled in; ``None`` where it finds nothing to do.

    Who rolls in ``start`` still rolls; who is left there may be taken along, to the shelter that is nearest.
    ``solutions``: how many the search may go through; same input, same rounds.
    """
    rides = _Rides(problem, start)
    if not rides.parties or not problem.vans:
        return None
    tours = _Model(rides).solve(solutions)
    if tours is None:
        return None
    legs: list[Leg | None] = [leg if isinstance(leg, RollLeg) else None for leg in start.legs]
    for k, tour in enumerate(tours):
        for u, _ in tour:
            legs[u] = RideLeg(van=k, shelter=rides.shelter[u, k], load=0, unload=0)
    return Schedule(legs=tuple(legs), tours=tuple(tuple(tour) for tour in tours))


@dataclass
class _Rides:
    """Who may ride, and where to: one shelter for each party and van."""

    problem: Problem
    start: Schedule
    parties: list[int] = field(init=False)
    shelter: dict[tuple[int, int], int] = field(init=False)

    def __post_init__(self) -> None:
        problem, legs = self.problem, self.start.legs
        self.shelter = {}
        for u, k in problem.pickups:
            leg = legs[u]
            if isinstance(leg, RollLeg):
                continue
            offered = problem.shelters_for(u, k)
            if leg is not None and leg.shelter in offered:
                self.shelter[u, k] = leg.shelter
            elif leg is None and offered:
                node = problem.pickups[u, k].node
                self.shelter[u, k] = min(offered, key=lambda j: int(problem.drive[0, node, problem.dropoffs[u, k, j].node]))
        self.parties = sorted({u for u, _ in self.shelter})

    def vans_of(self, u: int) -> list[int]:
        """Vans that may take a party."""
        return [k for k in range(len(self.problem.vans)) if (u, k) in self.shelter]


class _Model:
    """The library's model: places 0 .. n−1 load, n .. 2n−1 unload, then each van's start, then one end that costs nothing."""

    def __init__(self, rides: _Rides) -> None:
        from ortools.constraint_solver import pywrapcp

        self.rides, self.problem = rides, rides.problem
        self.n, n_vans = len(rides.parties), len(rides.problem.vans)
        size = 2 * self.n + n_vans + 1
        starts = [2 * self.n + k for k in range(n_vans)]
        self.manager = pywrapcp.RoutingIndexManager(size, n_vans, starts, [size - 1] * n_vans)
        self.routing = pywrapcp.RoutingModel(self.manager)
        self._drives_and_times(size)
        self._room(size)
        self._parties()

    def _nodes(self, k: int) -> Matrix:
        """The problem's node of every place as van ``k`` uses it; −1 where it can't."""
        rides, problem = self.rides, self.problem
        nodes = np.full(2 * self.n + len(problem.vans) + 1, -1, np.int64)
        nodes[2 * self.n : -1] = [van.node for van in problem.vans]
        for i, u in enumerate(rides.parties):
            j = rides.shelter.get((u, k))
            if j is not None:
                nodes[i], nodes[self.n + i] = problem.pickups[u, k].node, problem.dropoffs[u, k, j].node
        return nodes

    def _drives_and_times(self, size: int) -> None:
        problem, n = self.problem, self.n
        moves = []
        for k in range(len(problem.vans)):
            nodes = self._nodes(k)
            known = nodes >= 0
            drive = np.full((size, size), NEVER, np.int64)
            drive[np.ix_(known, known)] = problem.drive[0][np.ix_(nodes[known], nodes[known])]
            drive[:, -1] = 0
            work = np.zeros(size, np.int64)
            for i, u in enumerate(self.rides.parties):
                if known[i]:
                    work[i], work[n + i] = problem.pickups[u, k].load, problem.pickups[u, k].unload
            self.routing.SetArcCostEvaluatorOfVehicle(self.routing.RegisterTransitMatrix(drive.tolist()), k)
            moves.append(self.routing.RegisterTransitMatrix((drive + work[:, None]).tolist()))
        last = max([problem.horizon, *(van.ends for van in problem.vans)])
        self.routing.AddDimensionWithVehicleTransits(moves, last, last, False, "time")
        self.time = self.routing.GetDimensionOrDie("time")
        for k, van in enumerate(problem.vans):
            self.time.CumulVar(self.routing.Start(k)).SetRange(min(van.starts, last), last)
            self.time.CumulVar(self.routing.End(k)).SetMax(min(van.ends, last))

    def _room(self, size: int) -> None:
        problem = self.problem
        for name in ("positions", "seats"):
            takes, most = [], []
            for k, van in enumerate(problem.vans):
                load = np.zeros(size, np.int64)
                for i, u in enumerate(self.rides.parties):
                    if (u, k) in self.rides.shelter:
                        load[i] = getattr(problem.pickups[u, k], name)
                        load[self.n + i] = -load[i]
                # as a matrix: the library takes vectors that differ by vehicle for no way to leave a place out (9.15)
                takes.append(self.routing.RegisterTransitMatrix(np.repeat(load[:, None], size, axis=1).tolist()))
                most.append(getattr(van, name))
            self.routing.AddDimensionWithVehicleTransitAndCapacity(takes, 0, most, True, name)

    def _parties(self) -> None:
        solver, weights = self.routing.solver(), service_weights(self.problem)
        for i, u in enumerate(self.rides.parties):
            load, unload = self.manager.NodeToIndex(i), self.manager.NodeToIndex(self.n + i)
            tier, weight = weights[u]
            penalty = LEFT_BEHIND[tier] * min(weight, WEIGHT_MOST)
            sets = [self.routing.AddDisjunction([place], penalty // 2) for place in (load, unload)]
            self.routing.AddPickupAndDeliverySets(*sets)
            solver.Add(self.routing.VehicleVar(load) == self.routing.VehicleVar(unload))
            solver.Add(self.time.CumulVar(load) <= self.time.CumulVar(unload))
            for place in (load, unload):
                self.routing.VehicleVar(place).SetValues([-1, *self.rides.vans_of(u)])
            self._hours(u, load, unload)
            self.time.SetCumulVarSoftUpperBound(unload, 0, self.problem.parties[u].size)

    def _hours(self, u: int, load: int, unload: int) -> None:
        """Hours of loading and unloading, the widest of all vans: the draft holds each van to its own."""
        problem, party = self.problem, self.problem.parties[u]
        first, last, opens, by, aboard = NEVER, 0, NEVER, 0, 0
        for k in self.rides.vans_of(u):
            pickup = problem.pickups[u, k]
            j = self.rides.shelter[u, k]
            room, dropoff = problem.shelters[j], problem.dropoffs[u, k, j]
            first = min(first, max(party.ready + pickup.roll, pickup.load_from))
            last = max(last, min(pickup.load_by, party.close - pickup.load - pickup.exit))
            inside = min(party.arrive_by, party.socket_by, room.closes, problem.horizon, dropoff.inside_by)
            opens = min(opens, max(room.opens, dropoff.inside_from) - pickup.unload - dropoff.roll)
            by = max(by, inside - dropoff.roll - pickup.unload)
            aboard = max(aboard, problem.ride_limit[u] + pickup.load - pickup.unload)
        top = self.time.CumulVar(self.routing.End(0)).Max()
        if first > min(last, top) or max(opens, 0) > min(by, top):
            self.routing.solver().Add(self.routing.ActiveVar(load) == 0)
            return
        self.time.CumulVar(load).SetRange(max(first, 0), min(last, top))
        self.time.CumulVar(unload).SetRange(max(opens, 0), min(by, top))
        if aboard < top:
            self.routing.solver().Add(self.time.CumulVar(unload) - self.time.CumulVar(load) <= aboard)

    def solve(self, solutions: int) -> list[list[Stop]] | None:
        """Search from the start schedule if that serves everybody, else from nothing: the library's own beginning leaves fewer behind."""
        from ortools.constraint_solver import pywrapcp, routing_enums_pb2

        found: Any = pywrapcp.DefaultRoutingSearchParameters()
        found.first_solution_strategy = routing_enums_pb2.FirstSolutionStrategy.PARALLEL_CHEAPEST_INSERTION
        found.local_search_metaheuristic = routing_enums_pb2.LocalSearchMetaheuristic.GUIDED_LOCAL_SEARCH
        found.solution_limit = solutions
        self.routing.CloseModelWithParameters(found)
        begin = self._start() if all(leg is not None for leg in self.rides.start.legs) else None
        answer = self.routing.SolveFromAssignmentWithParameters(begin, found) if begin else self.routing.SolveWithParameters(found)
        return None if answer is None else [self._tour(answer, k) for k in range(len(self.problem.vans))]

    def _start(self) -> Any:
        """The start schedule in the library's words; ``None`` where its rules refuse it."""
        number = {u: i for i, u in enumerate(self.rides.parties)}
        routes = [
            [self.manager.NodeToIndex(number[u] + (0 if is_load else self.n)) for u, is_load in tour if u in number]
            for tour in self.rides.start.tours
        ]
        return self.routing.ReadAssignmentFromRoutes(routes, True)

    def _tour(self, answer: Any, k: int) -> list[Stop]:
        stops = []
        index = answer.Value(self.routing.NextVar(self.routing.Start(k)))
        while not self.routing.IsEnd(index):
            place = self.manager.IndexToNode(index)
            stops.append((self.rides.parties[place % self.n], place < self.n))
            index = answer.Value(self.routing.NextVar(index))
        return stops
