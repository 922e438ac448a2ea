"""Random moves with everything unknown that can be unknown, some without any solution."""

from __future__ import annotations

import datetime as dt
import math
import random

from move_worlds import START, escort, line_travel, move, rider, roll_way, shelter, van

from rollroute.inputs.move_folder import Move
from rollroute.inputs.move_hazards import Hazard
from rollroute.inputs.move_shelters import Circuit
from rollroute.planning.travel import LoadingZone, TravelTable


def random_move(seed: int, *, most_riders: int = 6, most_shelters: int = 3, most_vans: int = 2) -> tuple[Move, TravelTable]:
    """A move on a line of 10 km; about every second field that may be unknown is."""
    rng = random.Random(seed)
    n, m, k = rng.randint(1, most_riders), rng.randint(1, most_shelters), rng.randint(min(1, seed % 5), most_vans)
    riders = [_rider(rng, i) for i in range(n)]
    if n > 1 and rng.random() < 0.4:
        riders[0] = riders[0].model_copy(update={"stay_with": (riders[1].id,)})
    shelters = [_shelter(rng, j) for j in range(m)]
    vans = [_van(rng, i) for i in range(k)]
    escorts = [escort(f"E{i}", available_to=rng.choice(["", "20:40", "22:00"]), stairs_trained="yes") for i in range(rng.randint(0, 4))]
    hazards = [_hazard(rng) for _ in range(rng.randint(0, 2))]
    settings = {"weather": {"dark_from": rng.choice([None, "19:30"]), "has_mains": rng.random() < 0.5, "is_wet": rng.random() < 0.04}}
    made = move(riders, shelters, vans, escorts, settings=settings, hazards=hazards)
    where = {x: rng.uniform(-5, 5) for x in [r.id for r in riders] + [v.id for v in vans] + [e.id for e in escorts]}
    where |= {s.name: rng.uniform(-5, 5) for s in shelters}
    if riders[0].stay_with and rng.random() < 0.8:
        where["R0"] = where["R1"]
    rolls = {(r.id, s.name): _way(rng, 8 * abs(where[r.id] - where[s.name]) + 1) for r in riders for s in shelters if rng.random() < 0.6}
    table = line_travel(made, where, rolls=rolls, closing_min=rng.choice([math.inf, 60.0, 110.0]))
    return made, _with_zones(rng, table, where)


def _rider(rng: random.Random, i: int):
    def maybe(*values: object) -> object:
        return rng.choice([*values, *values, ""])

    return rider(
        f"R{i}",
        chair=maybe("en12184-a", "en12184-b", "us-group2"),
        chair_length_cm=maybe("110", "115", "118", "130"),
        rider_mass_kg=maybe("70 kg", "190 lb"),
        charger=maybe("on board", "missing"),
        life_support_min=rng.choice(["none", "none", "none", "none", "120", "200", ""]),
        longest_ride_min=maybe("40", "90"),
        longest_outdoors_min=maybe("45", "120"),
        longest_roll_min=maybe("45", "90"),
        latest_arrival=rng.choice(["", "", "20:30", "21:30"]),
        may_transfer=maybe("yes", "no"),
        companions=rng.choice([0, 0, 0, 1]),
        consent=rng.choice(["agreed", "agreed", "agreed", "asked", "", "declined"]),
    )


def _shelter(rng: random.Random, j: int):
    return shelter(
        f"S{j}",
        accessible_places=rng.choice([1, 2, 5, 8, 8, 8, None]),
        intake_per_hour=rng.choice([1.0, 2.0, 6.0, 8.0, None]),
        has_mains=rng.choice([True, True, False, None]),
        generator_watts=rng.choice([None, 700.0, 2000.0]),
        generator_fuel_h=rng.choice([None, 3.0, 14.0]),
        opens=rng.choice([START, START, START, START, START + dt.timedelta(minutes=40), None]),
        closes=rng.choice([None, None, None, START + dt.timedelta(minutes=150)]),
        circuits=(Circuit(name="A", outlets=rng.choice([1, 2, None]), amps=rng.choice([10.0, None])),),
    )


def _van(rng: random.Random, i: int):
    return van(
        f"V{i}",
        lift_rating_kg=rng.choice(["", "363 kg", "600 lb"]),
        platform_length_cm=rng.choice(["", "132", "145", "145"]),
        positions=rng.choice(["", "2", "3", "3"]),
        large_chair_blocks=rng.choice(["", "1"]),
        vehicle_height_cm=rng.choice(["", "250"]),
        lift_side=rng.choice(["", "left", "rear"]),
        available_to=rng.choice(["", "21:00", "23:00"]),
        fuel_min=rng.choice(["", "100"]),
    )


def _hazard(rng: random.Random) -> Hazard:
    west = rng.uniform(-6, 4)
    ring = ((west, -1.0), (west + 2, -1.0), (west + 2, 1.0), (west, 1.0), (west, -1.0))
    starts = START + dt.timedelta(minutes=rng.choice([30, 60, 90, 120]))
    return Hazard(label="water", kind=rng.choice(["closed", "closed", "deadline", "watch"]), rings=(ring,), starts=starts)


def _way(rng: random.Random, minutes: float):
    return roll_way(
        minutes,
        soc_arrival=rng.choice([0.25, 0.4, 0.6]),
        doubt=rng.choice([0.0, 0.05, 0.3]),
        latest_departure_min=rng.choice([None, None, 50.0]),
        leave_area_min=rng.choice([None, 0.3 * minutes]),
        charge_first_min=rng.choice([0.0, 0.0, 25.0]),
        on_carriageway=rng.random() < 0.3,
    )


def _with_zones(rng: random.Random, table: TravelTable, where: dict[str, float]) -> TravelTable:
    """Some zones a walk away, low, on one side, carried, or missing."""
    from dataclasses import replace

    pickups = {}
    for rider_id, zones in table.pickups.items():
        made = tuple(
            replace(
                z,
                roll_min=rng.choice([0.0, 2.0, 6.5]),
                clearance_cm=rng.choice([None, None, None, 270.0]),
                side=rng.choice([None, None, None, "right"]),
                carried=rng.random() < 0.1,
                doubt=rng.choice([0.0, 0.1]),
            )
            for z in zones
        )
        if rng.random() < 0.9:
            pickups[rider_id] = made
    if "R1" in pickups and where.get("R0") == where["R1"]:
        pickups["R0"] = pickups["R1"]
    return replace(table, pickups=pickups, exit_min={r: rng.uniform(1, 8) for r in where if r.startswith("R") and rng.random() < 0.5})


__all__ = ["LoadingZone", "random_move"]
