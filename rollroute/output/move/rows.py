"""The rows of a move's tables, once for all: workbook, CSV files, GeoPackage and page show the same ones.

Cells are plain values: text, whole numbers, floats, clock texts in ISO 8601, or ``None`` for *not known* or *does not apply*.
No row says what a device, an illness or a need is, who depends on power, or why somebody is not served: a reason can tell a need.
Those stand on the coordinator's page and in ``plan.json``.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rollroute.output.move.facts import MoveFacts, mass_on_lift_kg, positions_by_stop
from rollroute.output.plain_text import plain
from rollroute.planning.plan import RiderPlan, ShelterPlan, VanPlan

Row = Mapping[str, Any]

# Columns in order; the names are those of the CSV files and of the GeoPackage.
RIDER_COLUMNS = (
    "rider", "status", "way", "shelter", "van", "leave", "load", "loaded", "unload", "arrive", "latest", "margin_min", "pickup",
    "dropoff", "escorts", "together", "doubt", "unverified", "retreat", "fallback", "things",
)  # fmt: skip
VAN_COLUMNS = (
    "van", "stop", "kind", "drive_min", "arrive", "start", "end", "place", "lon", "lat", "rider", "positions", "mass_kg", "lift_rating_kg",
    "shelter", "to_zone_min", "aboard",
)  # fmt: skip
SHELTER_COLUMNS = ("shelter", "order", "rider", "arrive", "way", "van", "together", "dropoff")
OUTLET_COLUMNS = ("shelter", "circuit", "outlet", "rider", "start", "end", "watts", "all_night")
ESCORT_COLUMNS = ("escort", "kind", "riders", "leave", "meet", "end", "back")
ZONE_COLUMNS = ("rider", "kind", "place", "lon", "lat", "roll_min", "slope", "clearance_cm", "side", "van", "shelter")


def joined(items: tuple[str, ...]) -> str:
    """Several things in one cell."""
    return "; ".join(plain(i) for i in items)


def rider_rows(facts: MoveFacts) -> list[Row]:
    """One row per rider, in the order of the table."""
    return [_rider(r) for r in facts.plan.riders]


def _rider(r: RiderPlan) -> Row:
    texts = {n: plain(getattr(r, n)) or None for n in ("shelter", "van", "pickup", "dropoff", "retreat", "fallback")}
    times = {n: getattr(r, n) for n in ("leave", "load", "loaded", "unload", "arrive", "latest", "margin_min", "doubt")}
    lists = {n: joined(getattr(r, n)) or None for n in ("escorts", "together", "unverified", "things")}
    row = {"rider": plain(r.id), "status": r.status, "way": r.way, **texts, **times, **lists}
    return {name: row[name] for name in RIDER_COLUMNS}


def van_rows(facts: MoveFacts, van: VanPlan) -> list[Row]:
    """One row per rider at each stop of a van."""
    rows: list[Row] = []
    table = facts.van(van.id)
    for number, (stop, positions) in enumerate(zip(van.stops, positions_by_stop(facts, van), strict=True), start=1):
        place = facts.node_place(stop.node)
        for rider_id, taken in zip(stop.riders, positions, strict=True):
            rider = facts.plan.rider(rider_id)
            zone = facts.zone(rider, stop.kind)
            mass = mass_on_lift_kg(facts, rider)
            row = {
                "van": plain(van.id), "stop": number, "kind": stop.kind, "drive_min": stop.drive_min, "arrive": stop.arrive,
                "start": stop.start, "end": stop.end, "place": plain(stop.place), "lon": place and place[0], "lat": place and place[1],
                "rider": plain(rider_id), "positions": " ".join(str(t) for t in taken) or None,
                "mass_kg": None if mass is None else round(mass, 1), "lift_rating_kg": table.lift_rating_kg if table else None,
                "shelter": plain(rider.shelter) or None, "to_zone_min": zone and zone.roll_min, "aboard": stop.aboard,
            }  # fmt: skip
            rows.append({name: row[name] for name in VAN_COLUMNS})
    return rows


def shelter_rows(facts: MoveFacts, shelter: ShelterPlan) -> list[Row]:
    """One row per guest, in order of arrival."""
    rows: list[Row] = []
    for order, rider_id in enumerate(shelter.arrivals, start=1):
        r = facts.plan.rider(rider_id)
        row = {
            "shelter": plain(shelter.name), "order": order, "rider": plain(r.id), "arrive": r.arrive, "way": r.way,
            "van": plain(r.van) or None, "together": joined(r.together) or None, "dropoff": plain(r.dropoff) or None,
        }  # fmt: skip
        rows.append({name: row[name] for name in SHELTER_COLUMNS})
    return rows


def outlet_rows(shelter: ShelterPlan) -> list[Row]:
    """One row per plug, by circuit, outlet and time."""
    rows: list[Row] = []
    for p in sorted(shelter.plugs, key=lambda p: (p.circuit, p.outlet, p.start, p.rider)):
        what = {"circuit": plain(p.circuit), "outlet": p.outlet, "rider": plain(p.rider), "start": p.start, "end": p.end}
        rows.append({"shelter": plain(shelter.name), **what, "watts": p.watts, "all_night": "yes" if p.is_held else "no"})
    return rows


def escort_rows(facts: MoveFacts) -> list[Row]:
    """One row per job of an escort."""
    rows: list[Row] = []
    for e in facts.plan.escorts:
        for j in e.jobs:
            times = {"leave": j.leave, "meet": j.meet, "end": j.end, "back": j.back}
            rows.append({"escort": plain(e.id), "kind": j.kind, "riders": joined(j.riders), **times})
    return rows


def zone_rows(facts: MoveFacts) -> list[Row]:
    """One row per rider and loading zone that the plan uses."""
    rows: list[Row] = []
    for r in facts.plan.riders:
        for kind in ("load", "unload"):
            zone = facts.zone(r, kind)
            if zone is not None:
                row = {
                    "rider": plain(r.id), "kind": kind, "place": plain(zone.label), "lon": zone.lon, "lat": zone.lat,
                    "roll_min": zone.roll_min, "slope": SLOPES[zone.is_level], "clearance_cm": zone.clearance_cm, "side": zone.side,
                    "van": plain(r.van), "shelter": plain(r.shelter),
                }  # fmt: skip
                rows.append({name: row[name] for name in ZONE_COLUMNS})
    return rows


SLOPES = {True: "flatter than 1:48, estimated", False: "steeper than 1:48", None: "not known: look"}
