"""Every plan of a small move, tried one by one. Shares no code with the solvers: only the problem's figures are read.

For fixed choices (ways, order of stops, order of arrivals, who walks with whom in which order) every rule says that something happens at
least so long after something else. The earliest moments that keep all of them are found by raising moments until nothing moves; no other
schedule with the same choices is better in any figure, since all figures grow with time.
A branch is cut only where every party's own figures, as if it were alone, already add up to something worse.
"""

from __future__ import annotations

import itertools
from collections import defaultdict

FAR = 10**6


class TooManyError(Exception):
    """More schedules to try than asked for."""


def best_tiers(problem, most_plays: int = 30_000) -> tuple[int, ...]:
    """The tiers of the best plan there is; ``TooManyError`` where more than ``most_plays`` schedules would have to be played."""
    search = _Search(problem, most_plays)
    search.branch(0, [])
    return search.best


class _Search:
    def __init__(self, problem, most_plays):
        self.p, self.plays_left = problem, most_plays
        self.n = len(problem.parties)
        self.ways = [self._ways(u) for u in range(self.n)]
        self.left = [self._left(u) for u in range(self.n)]
        self.alone = {}
        for u in range(self.n):
            kept = []
            for way in self.ways[u]:
                figures = self._evaluate([(u, way)], with_left=False)
                if figures is not None:
                    self.alone[u, way] = (*figures[:6], figures[6] - self._drive_of)
                    kept.append(way)
            self.ways[u] = sorted(kept, key=lambda w, u=u: self.alone[u, w])
        self.best = (FAR,) * 7

    def _ways(self, u):
        ways = [("roll", r) for r, roll in enumerate(self.p.rolls) if roll.party == u]
        return ways + [("ride", k, j) for (v, k, j) in self.p.dropoffs if v == u and (u, k) in self.p.pickups]

    def _left(self, u):
        party = self.p.parties[u]
        closings = sorted({x.close for x in self.p.parties if x.close < FAR}, reverse=True)
        scale = 1 + sum(len(closings) * x.size for x in self.p.parties)
        figures = [0] * 7
        if party.socket_by < FAR:
            figures[0] = party.size
        elif party.close < FAR:
            figures[1] = party.size * (scale + closings.index(party.close))
        else:
            figures[2] = party.size
        return tuple(figures)

    def branch(self, u, chosen):
        bound = [0] * 7
        for v, way in chosen:
            for t, x in enumerate(self.alone[v, way] if way else self.left[v]):
                bound[t] += x
        for v in range(u, self.n):
            for t, x in enumerate(self._least(v)):
                bound[t] += x
        if tuple(bound) >= self.best:
            return
        if u == self.n:
            figures = self._evaluate([(v, w) for v, w in chosen if w], left=[v for v, w in chosen if not w])
            if figures is not None and figures < self.best:
                self.best = figures
            return
        for way in [*self.ways[u], None]:
            self.branch(u + 1, [*chosen, (u, way)])

    def _least(self, u):
        options = [self.alone[u, w] for w in self.ways[u]] + [self.left[u]]
        return tuple(min(o[t] for o in options) for t in range(7))

    def _evaluate(self, chosen, left=(), with_left=True):
        """The best figures over all orders for fixed ways, or None."""
        riders_at, sockets_at = defaultdict(int), defaultdict(int)
        for u, way in chosen:
            j = self._shelter(way)
            riders_at[j] += self.p.parties[u].size
            sockets_at[j] += self.p.parties[u].n_sockets
        for j in riders_at:
            room = self.p.shelters[j]
            if riders_at[j] > room.places or sockets_at[j] > room.sockets:
                return None
        best = None
        for tours in itertools.product(*(self._orders(k, chosen) for k in range(len(self.p.vans)))):
            for walkers in self._walkers(chosen):
                for intake in itertools.product(*(self._intake_orders(j, chosen) for j in range(len(self.p.shelters)))):
                    figures = self._play(chosen, tours, walkers, intake, left if with_left else ())
                    if figures is not None and (best is None or figures[0] < best[0]):
                        best = figures
        if best is None:
            return None
        self._drive_of = best[1]
        return best[0]

    def _shelter(self, way):
        return self.p.rolls[way[1]].shelter if way[0] == "roll" else way[2]

    def _orders(self, k, chosen):
        aboard = [u for u, way in chosen if way[0] == "ride" and way[1] == k]
        stops = [(u, True) for u in aboard] + [(u, False) for u in aboard]
        orders = itertools.permutations(stops)
        in_turn = (o for o in orders if all(o.index((u, True)) < o.index((u, False)) for u in aboard))
        return [o for o in in_turn if self._has_room(k, o)]

    def _has_room(self, k, order):
        positions = seats = 0
        for u, is_pickup in order:
            sign = 1 if is_pickup else -1
            positions += sign * self.p.pickups[u, k].positions
            seats += sign * self.p.pickups[u, k].seats
            if positions > self.p.vans[k].positions or seats > self.p.vans[k].seats:
                return False
        return True

    def _walkers(self, chosen):
        """Every way to share out the escorts, with every order of each one's jobs."""
        wanted = []
        for u, way in chosen:
            if way[0] == "roll":
                number, stairs = self.p.rolls[way[1]].escorts, False
            else:
                pickup = self.p.pickups[u, way[1]]
                number, stairs = pickup.escorts, pickup.needs_stair_crew
            if number:
                able = [e for e, x in enumerate(self.p.escorts) if x.is_stair_trained or not stairs]
                wanted.append([(u, group) for group in itertools.combinations(able, number)])
        for groups in itertools.product(*wanted):
            jobs = defaultdict(list)
            for u, group in groups:
                for e in group:
                    jobs[e].append(u)
            for orders in itertools.product(*(itertools.permutations(jobs[e]) for e in jobs)):
                yield dict(zip(jobs, orders, strict=True))

    def _intake_orders(self, j, chosen):
        guests = [u for u, way in chosen if self._shelter(way) == j]
        if sum(self.p.parties[u].size for u in guests) <= self.p.shelters[j].per_hour:
            return [()]
        return list(itertools.permutations(guests))

    def _play(self, chosen, tours, walkers, intake, left):
        self.plays_left -= 1
        if self.plays_left < 0:
            raise TooManyError
        way_of = dict(chosen)
        first = {}  # party -> depart or load, raised until nothing moves
        last = {}  # party -> arrive (roll) or unload
        for u, way in chosen:
            if way[0] == "roll":
                first[u] = self.p.rolls[way[1]].first_departure
                last[u] = first[u] + self.p.rolls[way[1]].minutes
            else:
                first[u] = self.p.parties[u].ready + self.p.pickups[u, way[1]].roll
                last[u] = 0
        for _ in range(2000):
            before = (dict(first), dict(last))
            if not self._raise_tours(tours, way_of, first, last):
                return None
            for u, way in chosen:
                self._raise_opening(u, way, first, last)
            self._raise_walkers(walkers, way_of, first)
            self._raise_intake(intake, way_of, first, last)
            if max([*first.values(), *last.values(), 0]) > self.p.horizon:
                return None
            if (first, last) == before:
                return self._figures(chosen, tours, way_of, first, last, walkers, left)
        return None

    def _raise_tours(self, tours, way_of, first, last):
        for k, tour in enumerate(tours):
            node, minute = self.p.vans[k].node, self.p.vans[k].starts
            for u, is_pickup in tour:
                pickup = self.p.pickups[u, k]
                to = pickup.node if is_pickup else self.p.dropoffs[u, k, way_of[u][2]].node
                drive = self._drive(node, to, minute)
                if drive is None:
                    return False
                if is_pickup:
                    first[u] = max(first[u], minute + drive)
                    minute = first[u] + pickup.load
                else:
                    last[u] = max(last[u], minute + drive)
                    first[u] = max(first[u], last[u] + pickup.unload - pickup.load - self.p.ride_limit[u])
                    minute = last[u] + pickup.unload
                node = to
        return True

    def _drive(self, a, b, minute):
        for p, end in enumerate(self.p.phase_ends):
            if self.p.drive[p, a, b] < FAR and minute + self.p.drive[p, a, b] <= end:
                return int(self.p.drive[p, a, b])
        return None

    def _tail(self, u, way):
        """Minutes from ``last`` to being inside."""
        return 0 if way[0] == "roll" else self.p.pickups[u, way[1]].unload + self.p.dropoffs[u, way[1], way[2]].roll

    def _raise_opening(self, u, way, first, last):
        last[u] = max(last[u], self.p.shelters[self._shelter(way)].opens - self._tail(u, way))
        if way[0] == "roll":
            minutes = self.p.rolls[way[1]].minutes
            first[u] = max(first[u], last[u] - minutes)
            last[u] = max(last[u], first[u] + minutes)

    def _job(self, e, u, way, first):
        escort = self.p.escorts[e]
        if way[0] == "roll":
            roll = self.p.rolls[way[1]]
            return escort.approach[u], first[u] + roll.minutes + escort.back[roll.shelter]
        pickup = self.p.pickups[u, way[1]]
        return escort.approach[u] + pickup.roll, first[u] + pickup.load + escort.approach[u]

    def _raise_walkers(self, walkers, way_of, first):
        for e, jobs in walkers.items():
            free = self.p.escorts[e].starts
            for u in jobs:
                before, _ = self._job(e, u, way_of[u], first)
                first[u] = max(first[u], free + before)
                _, free = self._job(e, u, way_of[u], first)

    def _raise_intake(self, intake, way_of, first, last):
        for j, order in enumerate(intake):
            heads = [u for u in order for _ in range(self.p.parties[u].size)]
            for i, u in enumerate(heads):
                inside = last[u] + self._tail(u, way_of[u])
                if i and heads[i - 1] != u:
                    v = heads[i - 1]
                    inside = max(inside, last[v] + self._tail(v, way_of[v]))
                if i >= self.p.shelters[j].per_hour:
                    v = heads[i - self.p.shelters[j].per_hour]
                    inside = 10 * FAR if v == u else max(inside, last[v] + self._tail(v, way_of[v]) + 60)
                last[u] = max(last[u], inside - self._tail(u, way_of[u]))

    def _figures(self, chosen, tours, way_of, first, last, walkers, left):
        outs = self._outs(chosen, tours, first)
        for e, jobs in walkers.items():
            if any(self._job(e, u, way_of[u], first)[1] > self.p.escorts[e].ends for u in jobs):
                return None
        figures = [0] * 7
        for u in left:
            for t, x in enumerate(self.left[u]):
                figures[t] += x
        need = defaultdict(int)
        for u, way in chosen:
            own = self._own_figures(u, way, first[u], last[u], outs[u])
            if own is None:
                return None
            figures = [x + y for x, y in zip(figures, own, strict=True)]
            need[self._shelter(way)] += round(6 * self.p.parties[u].refill_h)
        figures[4] += sum(max(0, points - int(6 * self.p.shelters[j].outlet_h)) for j, points in need.items())
        driven = self._driven(tours, way_of, first, last)
        figures[6] += driven
        return tuple(figures), driven

    def _own_figures(self, u, way, first, last, out):
        """Lateness, margin, doubt and time of one party, or None where a limit breaks."""
        party, inside = self.p.parties[u], last + self._tail(u, way)
        room = self.p.shelters[self._shelter(way)]
        if inside > min(party.socket_by, party.arrive_by, room.closes, self.p.horizon) or out > party.close:
            return None
        if way[0] == "roll":
            roll = self.p.rolls[way[1]]
            if first > roll.last_departure or last != first + roll.minutes:
                return None
            margin, doubt = roll.charge_short, roll.doubt
        else:
            pickup = self.p.pickups[u, way[1]]
            ended = last + pickup.unload
            if ended > self.p.vans[way[1]].ends or ended - first - pickup.load > self.p.ride_limit[u]:
                return None
            margin, doubt = 0, pickup.doubt + self.p.dropoffs[u, way[1], way[2]].doubt
        for limit, when in ((party.close, out), (party.arrive_by, inside), (party.socket_by, inside)):
            margin += party.size * max(0, self.p.comfort - limit + when) if limit < FAR else 0
        late = party.size * max(0, out - party.due) if party.due < FAR else 0
        return (0, 0, 0, late, margin, doubt, party.size * inside)

    def _outs(self, chosen, tours, first):
        outs = {u: first[u] + self.p.rolls[way[1]].leave_area for u, way in chosen if way[0] == "roll"}
        for k, tour in enumerate(tours):
            for i in reversed(range(len(tour))):
                u, is_pickup = tour[i]
                if is_pickup:
                    outs[u] = first[u] + self.p.pickups[u, k].load + self.p.pickups[u, k].exit
                    if i + 1 < len(tour) and tour[i + 1][1]:
                        v = tour[i + 1][0]
                        if self.p.parties[u].area == self.p.parties[v].area >= 0:
                            outs[u] = max(outs[u], outs[v])
        return outs

    def _driven(self, tours, way_of, first, last):
        total = 0
        for k, tour in enumerate(tours):
            node, minute = self.p.vans[k].node, self.p.vans[k].starts
            for u, is_pickup in tour:
                pickup = self.p.pickups[u, k]
                to = pickup.node if is_pickup else self.p.dropoffs[u, k, way_of[u][2]].node
                total += self._drive(node, to, minute)
                minute = first[u] + pickup.load if is_pickup else last[u] + pickup.unload
                node = to
        return total
