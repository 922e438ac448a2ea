"""What all papers of a move read: the plan, the inputs it was made from, and look-ups between them."""

from __future__ import annotations

import datetime as dt
import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from rollroute.errors import InputError
from rollroute.inputs.move_folder import Move
from rollroute.inputs.move_shelters import Shelter
from rollroute.inputs.move_vehicles import Escort, Van
from rollroute.output.itinerary import Itinerary, LonLat
from rollroute.output.move.planner_words import tell
from rollroute.output.plain_text import plain
from rollroute.output.words import Words
from rollroute.planning.calls import Call
from rollroute.planning.make_plan import needs_of
from rollroute.planning.needs import Needs
from rollroute.planning.plan import Plan, RiderPlan, ShelterPlan, Stop, VanPlan
from rollroute.planning.travel import LoadingZone, TravelTable

LONGEST_STEM = 40  # letters of a file's name


@dataclass(frozen=True, slots=True, kw_only=True)
class Halt:
    """Somebody who rolls and charges at a shelter on the way, then goes on; times are ISO 8601. ``is_given``: the plan gives the outlet."""

    rider: str
    shelter: str
    arrive: str
    leave: str
    outlet: str | None
    is_given: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class MoveFacts:
    """A plan with its inputs. Riders are known by id only; what a need is called in medicine stands in none of these."""

    plan: Plan
    move: Move
    travel: TravelTable
    words: Words
    needs: Mapping[str, Needs]
    calls: Sequence[Call]
    made_at: str  # ISO 8601
    halts: tuple[Halt, ...] = ()  # of the plan; of the routes, once they are made, where the plan tells none
    is_stamped: bool  # whether somebody said when the papers are made; else the stamp is the start of the move

    def van(self, van_id: str) -> Van | None:
        """The van of the table, or ``None`` where a plan names another."""
        return next((v for v in self.move.vans if v.id == van_id), None)

    def escort(self, escort_id: str) -> Escort | None:
        """The escort of the table."""
        return next((e for e in self.move.escorts if e.id == escort_id), None)

    def shelter(self, name: str | None) -> Shelter | None:
        """The shelter of the table."""
        return next((s for s in self.move.shelters if s.name == name), None)

    def stop_of(self, rider_id: str, kind: str) -> Stop | None:
        """The stop at which a rider is loaded or unloaded."""
        return next((s for van in self.plan.vans for s in van.stops if s.kind == kind and rider_id in s.riders), None)

    def zone(self, rider: RiderPlan, kind: str) -> LoadingZone | None:
        """The loading zone of a rider's ``load`` or ``unload``, with this rider's own way to it."""
        stop = self.stop_of(rider.id, kind)
        zones = self.travel.pickups.get(rider.id, ()) if kind == "load" else self.travel.dropoffs.get((rider.id, rider.shelter or ""), ())
        return next((z for z in zones if stop is not None and z.node == stop.node), None)

    def node_place(self, node: str) -> LonLat | None:
        """Where a loading zone is."""
        groups: Iterable[tuple[LoadingZone, ...]] = (*self.travel.pickups.values(), *self.travel.dropoffs.values())
        return next(((z.lon, z.lat) for zones in groups for z in zones if z.node == node), None)

    def rider_place(self, rider_id: str) -> LonLat | None:
        """Where a rider is now."""
        return self.travel.places.get(rider_id)

    def address(self, rider_id: str) -> str:
        """Where a rider is fetched, as the coordinator's table says it."""
        rider = next((r for r in self.move.riders if r.id == rider_id), None)
        place = self.rider_place(rider_id)
        if rider is not None and rider.place:
            return plain(rider.place)
        return f"{place[1]:.5f}, {place[0]:.5f}" if place else self.words.say("not known")

    def stop_name(self, stop: Stop) -> str:
        """The name of a stop; one on a street without a name is called after the door next to it."""
        place = self.node_place(stop.node)
        if place is None or stop.place != f"{place[1]:.5f}, {place[0]:.5f}":
            return plain(tell(self.words, stop.place))
        if stop.kind == "load":
            return self.words.say("near {place}", place=self.address(stop.riders[0]))
        return self.words.say("near {place}", place=plain(self.plan.rider(stop.riders[0]).shelter))

    def shelter_place(self, name: str) -> LonLat | None:
        """Where a shelter's entrance is."""
        known, shelter = self.travel.places.get(name), self.shelter(name)
        if known is None and shelter is not None and shelter.lon is not None and shelter.lat is not None:
            return shelter.lon, shelter.lat
        return known

    @property
    def now(self) -> dt.datetime | None:
        """The moment at which a plan was made anew; ``None`` for a first plan, or where an edit has spoilt it."""
        changes = self.plan.extra.get("changes")
        moment = changes.get("now") if isinstance(changes, dict) else None
        try:
            return dt.datetime.fromisoformat(moment) if isinstance(moment, str) else None
        except ValueError:
            return None

    def happened(self, rider_id: str) -> str | None:
        """How far a rider was at that moment, in words."""
        changes = self.plan.extra.get("changes")
        states = changes.get("happened") if isinstance(changes, dict) else None
        state = states.get(rider_id) if isinstance(states, dict) else None
        say = self.words.say
        known = {
            "done": say("is there already"),
            "rolling": say("is on the way"),
            "aboard": say("is aboard"),
            "committed": say("is being fetched"),
        }
        return known.get(str(state))

    @property
    def rollers(self) -> tuple[RiderPlan, ...]:
        """Riders who roll all the way."""
        return tuple(r for r in self.plan.riders if r.way == "roll")

    @property
    def used_shelters(self) -> tuple[ShelterPlan, ...]:
        """Shelters that somebody goes to or halts at, or where an outlet is given."""
        halts = {h.shelter for h in self.halts}
        return tuple(s for s in self.plan.shelters if s.arrivals or s.plugs or s.halts or s.name in halts)

    def with_halts(self, routes: Mapping[str, Itinerary]) -> MoveFacts:
        """The same facts, with the charging halts that the routes make at shelters of the plan and that the plan does not tell itself."""
        names, told = {s.name for s in self.plan.shelters}, {(h.rider, h.shelter) for h in self.halts}
        found = tuple(
            Halt(rider=rider, shelter=h.label, arrive=h.arrive_time, leave=h.leave_time, outlet=h.outlet)
            for rider, route in routes.items()
            for h in route.halts
            if h.label in names and (rider, h.label) not in told
        )
        return replace(self, halts=(*self.halts, *found))

    @property
    def used_vans(self) -> tuple[VanPlan, ...]:
        """Vans that drive."""
        return tuple(v for v in self.plan.vans if v.stops)


def gather(
    plan: Plan, move: Move, travel: TravelTable, *, words: Words, calls: Sequence[Call] = (), made_at: str | None = None
) -> MoveFacts:
    """Put the facts together; ``made_at`` is the start of the move where not given, so that the same plan gives the same papers.

    Raises
    ------
    InputError
        If a van, an escort or a shelter of the plan has a rider that the plan does not list, or two riders have one id.
    """
    check_riders(plan)
    needs, _ = needs_of(move)
    given = made_at or plan.move.get("made_at")
    stamp = str(given or plan.move.get("start") or move.start.isoformat(timespec="minutes"))
    return MoveFacts(
        plan=plan,
        move=move,
        travel=travel,
        words=words,
        needs={n.id: n for n in needs},
        calls=tuple(calls),
        made_at=stamp,
        halts=tuple(
            Halt(rider=p.rider, shelter=s.name, arrive=p.start, leave=p.end, outlet=f"{p.circuit} {p.outlet}", is_given=True)
            for s in plan.shelters
            for p in s.halts
        ),
        is_stamped=bool(given),
    )


def check_riders(plan: Plan) -> None:
    """Refuse a plan whose parts do not know the same riders (edited by hand): half a paper is worse than none.

    Raises
    ------
    InputError
        With every id that is wrong.
    """
    known = [r.id for r in plan.riders]
    wrong = [f"riders: {i} is there twice" for i in dict.fromkeys(known) if known.count(i) > 1]
    named = [(f"van {v.id}", i) for v in plan.vans for s in v.stops for i in s.riders]
    named += [(f"escort {e.id}", i) for e in plan.escorts for j in e.jobs for i in j.riders]
    named += [(f"shelter {s.name}", i) for s in plan.shelters for i in (*s.arrivals, *(p.rider for p in s.plugs))]
    wrong += [f"{where}: rider {i} is not in the plan's list" for where, i in dict.fromkeys(named) if i not in set(known)]
    if wrong:
        raise InputError("plan: its parts do not fit together. Undo the last edit, or plan again.\n" + "\n".join(wrong))


def file_stems(names: Sequence[str]) -> dict[str, str]:
    """Give each name a stem that any file system takes, no two alike even where case does not count.

    Examples
    --------
    >>> file_stems(["North Quay School", "../North Quay / School", "Käthe"])
    {'North Quay School': 'north-quay-school', '../North Quay / School': 'north-quay-school-2', 'Käthe': 'kathe'}
    """
    stems: dict[str, str] = {}
    taken: set[str] = set()
    for name in names:
        letters = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
        base = re.sub(r"[^a-z0-9]+", "-", letters).strip("-")[:LONGEST_STEM].strip("-") or "x"
        stem, n = base, 1
        while stem in taken or stem in _DEVICES:
            n += 1
            stem = f"{base}-{n}"
        taken.add(stem)
        stems[name] = stem
    return stems


# Names that Windows keeps for devices (Microsoft's "Naming Files, Paths, and Namespaces", from memory).
_DEVICES = {"con", "prn", "aux", "nul", *(f"{port}{n}" for port in ("com", "lpt") for n in range(1, 10))}


def positions_by_stop(facts: MoveFacts, van: VanPlan) -> list[list[tuple[int, ...]]]:
    """Give for each stop and rider the securement positions that their chair takes: the lowest that are free side by side.

    An empty tuple: the plan does not fit the van's table (edited by hand, or no longer known), so nothing is claimed.
    """
    table = facts.van(van.id)
    count = max(1, (table.positions or 1) if table else 1, *(s.aboard for s in van.stops)) if van.stops else 1
    blocks = (table.large_chair_blocks or 2) if table else 2
    free = [True] * count
    held: dict[str, tuple[int, ...]] = {}
    found: list[list[tuple[int, ...]]] = []
    for stop in van.stops:
        rows = []
        for rider in stop.riders:
            if stop.kind == "load":
                held[rider] = _take(free, blocks if rider in facts.needs and facts.needs[rider].is_large else 1)
            rows.append(held.get(rider, ()))
            if stop.kind == "unload":
                for position in held.pop(rider, ()):
                    free[position - 1] = True
        found.append(rows)
    return found


def _take(free: list[bool], size: int) -> tuple[int, ...]:
    for first in range(len(free) - size + 1):
        if all(free[first : first + size]):
            free[first : first + size] = [False] * size
            return tuple(range(first + 1, first + size + 1))
    return ()


def mass_on_lift_kg(facts: MoveFacts, rider: RiderPlan) -> float | None:
    """What stands on the lift: chair, rider and bags; the chair alone where the rider is carried. ``None`` where a mass is assumed."""
    needs = facts.needs.get(rider.id)
    if needs is None:
        return None
    if rider.way == "apart":
        return needs.chair_mass_kg
    return None if "rider_mass_kg" in needs.assumed else needs.occupied_mass_kg
