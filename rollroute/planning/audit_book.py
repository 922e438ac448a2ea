"""The auditor's own reading of inputs and plan: minutes, places, closings, and what unknown means."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass

from rollroute.inputs.chair import find_chair
from rollroute.inputs.move_folder import Move
from rollroute.inputs.move_riders import Rider
from rollroute.inputs.move_vehicles import Van
from rollroute.planning.plan import Plan, RiderPlan
from rollroute.planning.travel import TravelTable


@dataclass(frozen=True, slots=True)
class Violation:
    """One rule that a plan breaks, by whom, in words."""

    rule: str
    who: str
    words: str

    def __str__(self) -> str:
        return f"{self.rule}: {self.who}: {self.words}"


class Book:
    """Inputs and plan side by side; times in minutes from the start of the move."""

    SLACK = 0.01  # minutes: over rounding, under anything that a clock shows

    def __init__(self, plan: Plan, move: Move, travel: TravelTable) -> None:
        self.plan, self.move, self.travel, self.settings = plan, move, travel, move.settings
        self.riders = {r.id: r for r in move.riders}
        self.shelters = {s.name: s for s in move.shelters}
        self.vans = {v.id: v for v in move.vans}
        self.lines = {line.id: line for line in plan.riders}
        self.unreadable = self._unreadable_times()
        self.now = self._now()
        self.carried = self._carried()

    def _unreadable_times(self) -> list[Violation]:
        texts: list[tuple[str, str | None]] = []
        for line in self.plan.riders:
            texts += [(line.id, t) for t in (line.leave, line.load, line.loaded, line.unload, line.arrive, line.out) if t is not None]
            if line.way is not None and (line.leave is None or line.arrive is None):
                texts.append((line.id, None))
            if line.way in ("van", "apart") and None in (line.load, line.loaded, line.unload):
                texts.append((line.id, None))
        for van in self.plan.vans:
            texts += [(van.id, t) for s in van.stops for t in (s.arrive, s.start, s.end)]
        for escort in self.plan.escorts:
            texts += [(escort.id, t) for j in escort.jobs for t in (j.leave, j.meet, j.end, j.back)]
        for shelter in self.plan.shelters:
            texts += [(shelter.name, t) for p in (*shelter.plugs, *shelter.halts) for t in (p.start, p.end)]
        return [Violation("times", who, f"{text!r} is not a time with a zone") for who, text in texts if not _is_time(text)]

    def _now(self) -> float:
        """Minute up to which a plan made anew says that things have happened: how a drive or roll of the past went is a fact."""
        changes = self.plan.extra.get("changes")
        told = changes.get("now") if isinstance(changes, dict) else None
        return self.time(told) if isinstance(told, str) and _is_time(told) else -math.inf

    def _carried(self) -> dict[str, str]:
        """Riders who were loaded before that moment and can be taken nowhere: they are still aboard, without a way."""
        changes = self.plan.extra.get("changes")
        stuck = changes.get("stuck") if isinstance(changes, dict) else None
        told = {i: x.get("van") for i, x in stuck.items() if isinstance(x, dict)} if isinstance(stuck, dict) else {}
        loaded = {(v.id, i) for v in self.plan.vans for s in v.stops if s.kind == "load" and self._is_past(s.start) for i in s.riders}
        lines = {line.id: line for line in self.plan.riders}
        return {i: str(van) for i, van in told.items() if (van, i) in loaded and i in lines and lines[i].way is None}

    def _is_past(self, text: str) -> bool:
        return _is_time(text) and self.time(text) <= self.now

    def time(self, text: str | None) -> float:
        """Minutes of a time in the plan."""
        assert text is not None
        return (dt.datetime.fromisoformat(text) - self.move.start).total_seconds() / 60.0

    def minute(self, moment: dt.datetime | None, unknown: float) -> float:
        """Minutes of a moment in the inputs."""
        return unknown if moment is None else (moment - self.move.start).total_seconds() / 60.0

    def night_end(self) -> float:
        """Minute by which the night's charge is in."""
        hour, minute = (int(x) for x in self.settings.night.charged_by.split(":"))
        end = self.move.start.replace(hour=hour, minute=minute, second=0, microsecond=0)
        return self.minute(end if end > self.move.start else end + dt.timedelta(days=1), 0.0)

    def place(self, name: str) -> tuple[float, float] | None:
        """Lon, lat of a rider or shelter."""
        if name in self.travel.places:
            return self.travel.places[name]
        thing = self.riders.get(name) or self.shelters.get(name)
        return None if thing is None or thing.lon is None or thing.lat is None else (thing.lon, thing.lat)

    def closes(self, name: str) -> float:
        """Minute at which the first closed area round a place closes; infinity where there is none."""
        place, earliest = self.place(name), math.inf
        for hazard in self.move.hazards:
            if hazard.kind == "closed" and not hazard.is_road and place is not None and hazard.contains(*place):
                over = hazard.ends is not None and hazard.ends <= self.move.start
                earliest = earliest if over else min(earliest, self.minute(hazard.starts, 0.0))
        return earliest

    def closing_area(self, name: str) -> str | None:
        """Which closed area a place lies in, the one that closes first."""
        place = self.place(name)
        found = [
            (self.minute(h.starts, 0.0), number)
            for number, h in enumerate(self.move.hazards)
            if h.kind == "closed"
            and not h.is_road
            and place is not None
            and h.contains(*place)
            and not (h.ends and h.ends <= self.move.start)
        ]
        return str(min(found)[1]) if found else None

    def has_socket_limit(self, rider_id: str) -> bool:
        """Whether the rider must reach a socket in time (also where nobody knows)."""
        return rider_id in self.riders and math.isfinite(self.socket_by(self.riders[rider_id]))

    def socket_by(self, rider: Rider) -> float:
        """The last minute to reach a socket."""
        minutes = self.settings.assume.life_support_min if rider.life_support_min is None else rider.life_support_min
        return minutes - self.settings.margins.life_support_delay_min

    def approach(self, escort_id: str, rider_id: str) -> float:
        """Minutes of an escort's way to a rider."""
        return self.travel.approach_min.get((escort_id, rider_id), self.settings.escorts.unknown_approach_min)

    def back(self, escort_id: str, shelter: str) -> float:
        """Minutes of an escort's way back from a shelter."""
        return self.travel.back_min.get((escort_id, shelter), self.settings.escorts.unknown_approach_min)

    def is_dark(self, first: float, last: float) -> bool:
        """Whether any of these minutes lies in the dark."""
        weather = self.settings.weather
        if weather.dark_from is None:
            return False
        dark = self.minute(self.settings.moment(weather.dark_from), 0.0)
        dawn = math.inf if weather.light_from is None else self.minute(self.settings.later_moment(weather.light_from), math.inf)
        return last > dark + self.SLACK and first < dawn - self.SLACK

    def bad_weather(self) -> list[str]:
        """Why nobody rolls."""
        w, g = self.settings.weather, self.settings.gates
        checks = [
            ("rain", w.is_wet and not g.roll_in_rain),
            ("smoke", w.is_smoky and not g.roll_in_smoke),
            ("lightning", w.has_lightning and not g.roll_in_lightning),
            ("cold", w.temperature_c is not None and w.temperature_c < g.coldest_c),
            ("heat", w.temperature_c is not None and w.temperature_c > g.hottest_c),
        ]
        return [name for name, is_bad in checks if is_bad]

    def chair_size(self, rider: Rider) -> tuple[float, float, float, float, float]:
        """(width cm, length cm, seated height cm, chair kg, occupied kg), unknown on the bad side."""
        chair, assume = find_chair(rider.chair or "unknown"), self.settings.assume
        width = rider.chair_width_cm if rider.chair_width_cm is not None else 100.0 * chair.width_m
        length = rider.chair_length_cm
        if length is None:
            length = 140.0 if chair.length_m is None else 100.0 * chair.length_m
        height = rider.seated_height_cm
        if height is None:
            height = assume.seated_height_cm if chair.seated_height_m is None else 100.0 * chair.seated_height_m
        own = chair.mass_kg if rider.chair_mass_kg is None else rider.chair_mass_kg
        body = assume.rider_mass_kg if rider.rider_mass_kg is None else rider.rider_mass_kg
        load = assume.load_mass_kg if rider.load_mass_kg is None else rider.load_mass_kg
        return width, length, height, own, own + body + load

    def van_hours(self, van: Van) -> tuple[float, float]:
        """First and last minute of a van."""
        first = self.minute(van.available_from, self.settings.assume.van_first_min)
        last = self.minute(van.available_to, self.settings.assume.van_last_min)
        if van.fuel_min is not None:
            last = min(last, first + van.fuel_min)
        return max(0.0, first), last

    def out_minute(self, line: RiderPlan) -> float:
        """When a rider is out of the closing area, at the latest."""
        if line.way == "roll":
            way = self.travel.rolls.get((line.id, line.shelter or ""))
            ends = self.time(line.arrive)
            return ends if way is None or way.leave_area_min is None else self.time(line.leave) + way.leave_area_min
        stops = next((v.stops for v in self.plan.vans if v.id == line.van), ())
        number = next((i for i, s in enumerate(stops) if s.kind == "load" and line.id in s.riders), None)
        if number is None:
            return self.time(line.arrive)
        last = self.time(stops[number].end) + self._exit(stops[number].riders, stops[number].node)
        area = self.closing_area(line.id)
        while number + 1 < len(stops) and area is not None:
            following = stops[number + 1]
            if following.kind != "load" or all(self.closing_area(i) != area for i in following.riders):
                break
            number += 1
            last = max(last, self.time(following.end) + self._exit(following.riders, following.node))
        return last

    def _exit(self, riders: tuple[str, ...], node: str) -> float:
        if all(i in self.travel.exit_min for i in riders):
            return max(self.travel.exit_min[i] for i in riders)
        row = self.travel.nodes.index(node) if node in self.travel.nodes else 0
        return max((float(m) for p in self.travel.phases for m in p.minutes[row] if math.isfinite(m)), default=0.0)


def _is_time(text: str | None) -> bool:
    try:
        return text is not None and dt.datetime.fromisoformat(text).tzinfo is not None
    except (TypeError, ValueError):
        return False
