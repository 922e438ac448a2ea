"""Hand-made moves: a few riders, shelters and vans on a line, with travel tables that can be checked in the head."""

from __future__ import annotations

import datetime as dt
import math
from pathlib import Path

import numpy as np

from rollroute.inputs.move_folder import Move
from rollroute.inputs.move_riders import Rider
from rollroute.inputs.move_settings import MoveSettings
from rollroute.inputs.move_shelters import Circuit, Shelter
from rollroute.inputs.move_vehicles import Escort, Van
from rollroute.planning.travel import LoadingZone, Phase, RollWay, TravelTable

START = dt.datetime(2026, 3, 1, 18, 40, tzinfo=dt.timezone(dt.timedelta(hours=1)))


def rider(rider_id: str, **fields: object) -> Rider:
    """A rider of whom everything is known, so that a test names only what matters."""
    known = {
        "chair": "en12184-b", "charge": "80%", "rider_mass_kg": 80, "seated_height_cm": 130, "charger": "with the rider",
        "securable": "yes", "may_transfer": "no", "life_support_min": "none", "longest_roll_min": 60, "longest_ride_min": 60,
        "longest_outdoors_min": 90, "consent": "agreed",
    }  # fmt: skip
    return Rider.model_validate({"id": rider_id, **known, **fields}, context={"start": START})


def shelter(name: str, **fields: object) -> Shelter:
    """An open shelter on mains with ten places and four outlets."""
    known: dict[str, object] = dict.fromkeys(Shelter.__dataclass_fields__)
    known |= {"name": name, "accessible_places": 10, "intake_per_hour": 12.0, "has_mains": True, "opens": START}
    known |= {"circuits": (Circuit(name="A", outlets=4, amps=20.0),)}
    return Shelter(**{**known, **fields})  # type: ignore[arg-type]


def van(van_id: str, **fields: object) -> Van:
    """A van with a strong lift, a large platform and two positions, there from the start."""
    known = {
        "lift_rating_kg": 400, "platform_width_cm": 90, "platform_length_cm": 145, "door_height_cm": 160, "positions": 2,
        "large_chair_blocks": 1, "companion_seats": 1, "vehicle_height_cm": 260, "load_min": 10, "unload_min": 5,
        "available_from": "18:40", "available_to": "23:40",
    }  # fmt: skip
    return Van.model_validate({"id": van_id, **known, **fields}, context={"start": START})


def escort(escort_id: str, **fields: object) -> Escort:
    """Somebody who is there all evening."""
    return Escort.model_validate({"id": escort_id, **fields}, context={"start": START})


def move(riders: list[Rider], shelters: list[Shelter], vans: list[Van], escorts: list[Escort] | None = None, **more: object) -> Move:
    """A move of these."""
    settings = MoveSettings.model_validate({"start": START, "name": "test", **more.pop("settings", {})})  # type: ignore[dict-item]
    return Move(
        folder=Path("hand-made"), settings=settings, riders=tuple(riders), shelters=tuple(shelters), vans=tuple(vans),
        escorts=tuple(escorts or []), hazards=tuple(more.pop("hazards", ())),  # type: ignore[arg-type]
    )  # fmt: skip


def line_travel(
    a_move: Move, where: dict[str, float], *, rolls: dict[tuple[str, str], RollWay] | None = None, closing_min: float = math.inf
) -> TravelTable:
    """A town on one straight road: everything at a kilometre mark, vans drive 2 min per km, people walk 12 min per km.

    ``closing_min``: the road is cut at kilometre 0 from then on; drives across it must end by then.
    """
    names = [x.id for x in a_move.riders] + [s.name for s in a_move.shelters] + [v.id for v in a_move.vans]
    at = np.array([where[n] for n in names])
    minutes = 2.0 * np.abs(at[:, None] - at[None, :])
    phases = [Phase(math.inf, minutes)]
    if math.isfinite(closing_min):
        crosses = (at[:, None] < 0) != (at[None, :] < 0)
        phases = [Phase(closing_min, minutes), Phase(math.inf, np.where(crosses, math.inf, minutes))]

    def zone(name: str) -> tuple[LoadingZone, ...]:
        return (LoadingZone(node=name, label=f"kerb at {name}", lon=where[name], lat=0.0, roll_min=0.0),)

    return TravelTable(
        rolls=rolls or {},
        pickups={r.id: zone(r.id) for r in a_move.riders},
        dropoffs={(r.id, s.name): zone(s.name) for r in a_move.riders for s in a_move.shelters},
        van_nodes={v.id: v.id for v in a_move.vans},
        nodes=tuple(names),
        phases=tuple(phases),
        places={n: (where[n], 0.0) for n in names},
        approach_min={(e.id, r.id): 12 * abs(where.get(e.id, 0.0) - where[r.id]) for e in a_move.escorts for r in a_move.riders},
        back_min={(e.id, s.name): 12 * abs(where.get(e.id, 0.0) - where[s.name]) for e in a_move.escorts for s in a_move.shelters},
    )


def roll_way(minutes: float, **fields: object) -> RollWay:
    """A roll with plenty of charge and no doubt."""
    return RollWay(**{"minutes": minutes, "minutes_expected": 0.8 * minutes, "soc_arrival": 0.6, "doubt": 0.0, **fields})  # type: ignore[arg-type]
