"""The way home: the move turned round, from the shelters back, for those whose home is known to be ready; and what travels with them.

``way_home(move, plan, answers, start=..., places=...) -> WayHome``: ``WayHome.move`` is a move like any other (homes are its shelters, each
with places for those who live there; every rider goes to the own home only), to be planned and audited like any other; ``waiting`` are
riders with the questions that keep them; ``things`` lists what travels.
``way_home_lines(home)`` says it in words; ``question_rows(plan)`` are the rows of an empty ``home.csv`` to be filled in.

Four questions are asked of each home: mains back, lift working, ramp there, street cleared. Unknown is *not yet*, and so is a hazard that
still lies over the home in the hazards' file: going back is decided by people who have seen it. Nobody goes back who has not been asked.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from rollroute.errors import InputError
from rollroute.inputs.move_folder import Move
from rollroute.inputs.move_home import HomeAnswers
from rollroute.inputs.move_riders import Rider
from rollroute.inputs.move_shelters import Circuit, Shelter
from rollroute.planning.plan import Plan, RiderPlan
from rollroute.planning.things import things_of

QUESTIONS = {
    "mains": "Is the mains power back at home, and has somebody switched it on there?",
    "lift": "Does the lift at home work, tried today? (not needed, where there is none)",
    "ramp": "Is the ramp at the door there, dry and firm? (not needed, where the door is level)",
    "street": "Has somebody seen the street and the way to the door cleared?",
}
WHERE = "Where is home? The table names a place that is no home."
HOME_INTAKE_PER_HOUR = 60.0  # nobody registers at home
HOME_OUTLETS = 2  # assumption: outlets of a home that a charger can use at once, on a circuit of the assumed rating

Places = Mapping[str, tuple[float, float]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """Somebody who does not go home yet, and the questions that are open or answered with no."""

    rider: str
    questions: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class WayHome:
    """The move back. ``homes``: rider -> name of the home in ``move.shelters``."""

    move: Move
    homes: Mapping[str, str]
    waiting: tuple[Waiting, ...]
    things: Mapping[str, tuple[str, ...]]


def way_home(move: Move, plan: Plan, answers: Mapping[str, HomeAnswers], *, start: dt.datetime, places: Places | None = None) -> WayHome:
    """Turn ``move`` round for everybody whom ``plan`` has brought to a shelter.

    ``places``: lon, lat of riders' homes and of shelters where they were found on the map (``TravelTable.places``).

    Raises
    ------
    InputError
        If ``start`` is not after the start of the move, or has no zone.
    """
    if start.tzinfo is None or start <= move.start:
        raise InputError(f"way home from {start.isoformat()}: give a time with its zone after the start of the move.")
    _same_riders(move, plan)
    turner = _Turner(move, plan, answers, start, places or {})
    away = [line for line in plan.riders if line.way is not None]
    waiting = {line.id: found for line in away if (found := turner.questions(line))}
    going = [line for line in away if line.id not in waiting]
    return WayHome(
        move=turner.turned(going),
        homes=turner.homes(going),
        waiting=tuple(Waiting(rider=i, questions=q) for i, q in waiting.items()),
        things={line.id: things_of(turner.riders[line.id]) for line in going},
    )


def _same_riders(move: Move, plan: Plan) -> None:
    known, ids = {r.id for r in move.riders}, [line.id for line in plan.riders]
    strange = sorted({i for i in ids if i not in known or ids.count(i) > 1})
    if strange:
        raise InputError(
            f"plan: {', '.join(strange)}: twice in the plan, or not in the riders' table. "
            "Give the plan with the tables it was made from; `rollroute audit` says what differs."
        )


def question_rows(plan: Plan) -> list[list[str]]:
    """A table to be filled in: header, and a row for everybody who is at a shelter."""
    header = ["id", "home", *QUESTIONS, "charge", "ready_from", "agreed"]
    return [header, *([line.id, *("" for _ in header[1:])] for line in plan.riders if line.way is not None)]


def way_home_lines(home: WayHome) -> list[str]:
    """Who can go, who waits for what, and what travels."""
    lines = [f"Way home, from {home.move.start:%H:%M on %Y-%m-%d}: {len(home.homes)} can go, {len(home.waiting)} wait for an answer"]
    for w in home.waiting:
        lines += [f"  {w.rider} waits:", *(f"      {q}" for q in w.questions)]
    for rider, things in home.things.items():
        lines += [f"  {rider} to {home.homes[rider]}, takes along:", *(f"      [ ] {t}" for t in things)]
    return lines


class _Turner:
    """A move and its plan, about to be turned round."""

    def __init__(self, move: Move, plan: Plan, answers: Mapping[str, HomeAnswers], start: dt.datetime, places: Places) -> None:
        self.move, self.answers, self.start, self.places = move, answers, start, places
        self.riders = {r.id: r for r in move.riders}
        self.shelters = {s.name.casefold(): s for s in move.shelters}
        self.lines = {line.id: line for line in plan.riders}

    def _answer(self, rider_id: str) -> HomeAnswers:
        return self.answers.get(rider_id) or HomeAnswers(id=rider_id)

    def questions(self, line: RiderPlan) -> tuple[str, ...]:
        """What is still to be found out for one rider and for whoever lives with them."""
        own = self._own_questions(line.id)
        others = [i for i in self._household(line) if i != line.id and self._own_questions(i)]
        return (*own, *(f"{i} must stay with {line.id} and waits" for i in others))

    def _own_questions(self, rider_id: str) -> tuple[str, ...]:
        rider, answer = self.riders[rider_id], self._answer(rider_id)
        if answer.agreed is False:
            return ("The rider does not want to go back that day.",)
        found = [] if self._home_text(rider, answer) or self._home_place(rider, answer) else [WHERE]
        for name, question in QUESTIONS.items():
            said = getattr(answer, name)
            if said is None:
                found.append(question)
            elif said == "no" or (said == "not needed" and name in ("mains", "street")):
                found.append(f"{question} The answer was {said}.")
        place = self._home_place(rider, answer)
        if place is not None:
            found += [f"The hazards' file still has {h} over the home: give it an end, if it is over." for h in self._hazards(place)]
        return tuple(found)

    def _hazards(self, place: tuple[float, float]) -> list[str]:
        lying = (h for h in self.move.hazards if h.kind != "watch" and (h.ends is None or h.ends > self.start))
        return [h.label for h in lying if h.contains(*place)]

    def _is_shelter(self, rider: Rider) -> bool:
        return (rider.place or "").casefold() in self.shelters

    def _home_text(self, rider: Rider, answer: HomeAnswers) -> str | None:
        return answer.home or (None if self._is_shelter(rider) else rider.place)

    def _home_place(self, rider: Rider, answer: HomeAnswers) -> tuple[float, float] | None:
        """Lon, lat of the home, as far as it is known; an address in ``home.csv`` is looked up on the map later."""
        if answer.home is not None or self._is_shelter(rider):
            return None
        if rider.id in self.places:
            return self.places[rider.id]
        return None if rider.lon is None or rider.lat is None else (rider.lon, rider.lat)

    def _household(self, line: RiderPlan) -> tuple[str, ...]:
        """Riders who went together and live at the same place."""
        own = self._key(line.id)
        return tuple(i for i in (line.id, *line.together) if self._key(i) == own)

    def _key(self, rider_id: str) -> tuple[object, ...]:
        rider, answer = self.riders[rider_id], self._answer(rider_id)
        text = self._home_text(rider, answer)
        return (text.casefold(),) if text else (self._home_place(rider, answer) or rider_id,)

    def homes(self, going: Sequence[RiderPlan]) -> dict[str, str]:
        """Rider -> name of the home."""
        ids = {line.id for line in going}
        return {line.id: f"home of {', '.join(sorted(set(self._household(line)) & ids))}" for line in going}

    def turned(self, going: Sequence[RiderPlan]) -> Move:
        """The move back: riders start at their shelters; yesterday's hours of vans and escorts are not known for the day of return."""
        homes = self.homes(going)
        first = {name: i for i, name in reversed(homes.items())}
        return replace(
            self.move,
            settings=self.move.settings.model_copy(
                update={"start": self.start, "finish_by": None, "name": f"{self.move.settings.name}: the way home"}
            ),
            riders=tuple(self._rider(self.riders[line.id], line, homes) for line in going),
            shelters=tuple(
                self._home(name, first[name], [i for i, n in homes.items() if n == name]) for name in dict.fromkeys(homes.values())
            ),
            vans=tuple(v.model_copy(update=self._hours(v.available_from, v.available_to)) for v in self.move.vans),
            escorts=tuple(e.model_copy(update=self._hours(e.available_from, e.available_to)) for e in self.move.escorts),
        )

    def _hours(self, first: dt.datetime | None, last: dt.datetime | None) -> dict[str, dt.datetime | None]:
        """Hours that reach to the day of return count; those of the evening are not known again."""
        over = last is not None and last <= self.start
        return {"available_from": None if over else first, "available_to": None if over else last}

    def _rider(self, rider: Rider, line: RiderPlan, homes: Mapping[str, str]) -> Rider:
        answer, shelter = self._answer(rider.id), self.shelters[(line.shelter or "").casefold()]
        known = None if shelter.lon is None or shelter.lat is None else (shelter.lon, shelter.lat)
        lon, lat = self.places.get(shelter.name, known) or (None, None)
        changes = {
            "place": shelter.name if lon is not None else shelter.place,
            "lon": lon,
            "lat": lat,
            "charge": answer.charge,
            "ready_from": answer.ready_from,
            "latest_arrival": None,
            "only_to": homes[rider.id],
            "consent": "agreed" if answer.agreed else None,
            "stay_with": tuple(i for i in rider.stay_with if homes.get(i) == homes[rider.id]),
        }
        return rider.model_copy(update=changes)

    def _home(self, name: str, rider_id: str, members: Sequence[str]) -> Shelter:
        rider, answer = self.riders[rider_id], self._answer(rider_id)
        lon, lat = self._home_place(rider, answer) or (None, None)
        return Shelter(
            name=name,
            place=self._home_text(rider, answer),
            lat=lat,
            lon=lon,
            entrance=None,
            accessible_places=len(members),
            intake_per_hour=HOME_INTAKE_PER_HOUR,
            circuits=(Circuit(name="home", outlets=max(HOME_OUTLETS, len(members)), amps=None),),
            generator_watts=None,
            generator_fuel_h=None,
            has_mains=True,
            opens=self.start,
            closes=None,
            toilet=None,
            hoist=None,
            note=None,
        )
