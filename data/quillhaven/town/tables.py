"""The plain files of a move: addresses, shelters, riders, vans, escorts, hazards, settings.

Riders are numbers, never names.  Empty and ``unknown`` fields are meant: forms come back like that.
"""

import csv
import json
from pathlib import Path

from .buildings import Address
from .indoor import Shelter
from .model import Point2, Town, lonlat
from .stories import Story
from .terrain import along_river

DAY = "2026-03-14"

SHELTER_COLUMNS = [
    "name",
    "lat",
    "lon",
    "entrance",
    "accessible_places",
    "intake_per_hour",
    "outlets",
    "outlet_amps",
    "circuit",
    "generator_watts",
    "generator_fuel_h",
    "opens",
    "closes",
    "toilet",
    "hoist",
    "note",
]
# places, intake, outlets, amps, circuit, generator W, fuel h, opens, closes, toilet, hoist, note; one row for each circuit
SHELTER_ROWS: list[tuple[str, tuple[str, ...]]] = [
    (
        "North Quay School",
        ("6", "8", "3", "15", "A", "5000", "14", "18:00", "", "yes", "no", "charging room on the ground floor; side door has a step"),
    ),
    ("North Quay School", ("", "", "3", "15", "B", "", "", "", "", "", "", "gym circuit")),
    (
        "Tannery Hall",
        ("10", "6", "4", "15", "A", "3000", "3", "always", "22:00", "yes", "", "generator stops about 22:00; lift not measured"),
    ),
    ("Larkmount Hall", ("3", "", "2", "", "", "", "", "18:00", "", "unknown", "no", "one step at the door, portable ramp promised")),
    (
        "Ropewalk Sports Hall",
        ("20", "12", "4", "15", "A", "8000", "14", "19:30", "", "yes", "yes", "opens when the caretaker is there"),
    ),
    ("Ropewalk Sports Hall", ("", "", "4", "20 A", "B", "", "", "", "", "", "", "")),
    (
        "Ferrow Library",
        ("4", "4", "unknown", "", "", "0", "", "", "23:30", "yes", "no", "no generator; beyond the fast road; key not found yet"),
    ),
]

RIDER_COLUMNS = [
    "id",
    "place",
    "chair",
    "charge",
    "rider_mass_kg",
    "charger",
    "securable",
    "may_transfer",
    "life_support_min",
    "longest_roll_min",
    "longest_ride_min",
    "longest_outdoors_min",
    "latest_arrival",
    "stay_with",
    "consent",
    "chair_length_cm",
    "seated_height_cm",
    "drives_to_street",
]
# What the riders said when they were asked whether they drive from the door to the street; R03, R06, R07 and R12 were not reached.
DRIVES_TO_STREET = dict.fromkeys(("R01", "R02", "R04", "R05", "R08", "R09", "R10", "R11"), "yes")
# id, (street or None, near), and the rest as it came back
RIDER_ROWS: list[tuple[str, str, Point2, tuple[str, ...]]] = [
    (
        "R01",
        "home",
        (0, 0),
        ("en12184-b", "60%", "82", "with rider", "yes", "no", "none", "90", "60", "60", "21:30", "", "yes", "118", "132"),
    ),
    (
        "R02",
        "address",
        (300, 330),
        ("en12184-c", "4 of 5 bars", "95", "at home", "yes", "yes", "none", "120", "", "", "", "", "yes", "128", "136"),
    ),
    (
        "R03",
        "address",
        (560, 700),
        ("en12184-b", "3 of 5 bars", "74", "on board", "unknown", "unknown", "", "", "45", "30", "", "", "asked", "", ""),
    ),
    ("R04", "address", (1180, 590), ("en12184-a", "half", "60", "", "yes", "no", "none", "30", "", "", "", "R05", "yes", "108", "124")),
    (
        "R05",
        "address",
        (1190, 580),
        ("en12184-b", "80%", "88", "with rider", "yes", "no", "none", "", "", "", "", "R04", "yes", "116", "131"),
    ),
    ("R06", "address", (1580, 640), ("en12184-b", "", "", "unknown", "", "", "", "", "", "", "", "", "not asked", "", "")),
    (
        "R07",
        "far",
        (0, 0),
        ("en12184-c", "2 of 4 lights", "110", "with rider", "yes", "no", "none", "60", "60", "", "", "", "yes", "130", "unknown"),
    ),
    (
        "R08",
        "Tannery Hall",
        (0, 0),
        ("en12184-b", "25%", "79", "at shelter", "yes", "no", "180", "45", "40", "40", "22:30", "", "yes", "118", "134"),
    ),
    (
        "R09",
        "Tannery Hall",
        (0, 0),
        ("en12184-c", "90 %", "140", "with rider", "no", "unknown", "none", "90", "", "80", "", "", "yes", "134", "137"),
    ),
    (
        "R10",
        "lonlat",
        (1960, 760),
        ("en12184-b", "1 of 5 bars", "70", "missing", "yes", "yes", "none", "", "", "", "", "", "yes", "119", "133"),
    ),
    (
        "R11",
        "address",
        (430, 1340),
        ("en12184-b", "full", "191 lb", "on board", "yes", "no", "none", "100", "", "80", "", "", "yes", "115", "135"),
    ),
    (
        "R12",
        "address",
        (900, 860),
        ("en12184-b", "70-80%", "85", "with rider", "yes", "no", "45", "40", "30", "30", "20:45", "", "asked", "117", "130"),
    ),
]

VAN_COLUMNS = [
    "id",
    "start_lat",
    "start_lon",
    "lift_rating_kg",
    "platform_width_cm",
    "platform_length_cm",
    "door_height_cm",
    "positions",
    "large_chair_blocks",
    "companion_seats",
    "vehicle_height_cm",
    "lift_side",
    "available_from",
    "available_to",
]
VAN_ROWS: list[tuple[str, Point2, tuple[str, ...]]] = [
    ("V1", (1330, 1480), ("363", "84", "132", "145", "2", "2", "2", "275", "rear", "18:30", "23:30")),
    ("V2", (1860, 700), ("272", "76", "122", "142", "3", "2", "3", "290", "right", "19:00", "22:30")),
    ("V3", (120, 160), ("", "unknown", "", "138", "1", "", "1", "", "rear", "19:15", "")),
]

ESCORT_COLUMNS = ["id", "start_lat", "start_lon", "available_from", "available_to", "stairs_trained", "ramp", "note"]
ESCORT_ROWS: list[tuple[str, Point2, tuple[str, ...]]] = [
    ("E01", (430, 580), ("18:30", "23:00", "yes", "no", "knows the hill")),
    ("E02", (440, 585), ("18:30", "23:00", "yes", "no", "")),
    ("E03", (905, 1205), ("18:00", "", "no", "", "at Tannery Hall")),
    ("E04", (905, 1206), ("18:00", "", "no", "", "at Tannery Hall")),
    ("E05", (1180, 600), ("19:00", "22:00", "no", "", "")),
    ("E06", (1530, 1060), ("18:00", "23:30", "", "yes", "at the school; carries a portable ramp")),
    ("E07", (2120, 610), ("19:30", "unknown", "", "", "")),
    ("E08", (450, 1330), ("", "", "", "", "not confirmed")),
]

MOVE_TOML = """# The evening of the move.  Times are the town's local time.
[move]
name = "Quillhaven, high water on the Quill"
start = "{day}T18:40"
timezone = "Etc/GMT+2"
finish_by = "23:30"

[files]
map = "town.osm.pbf"
heights = "heights.tif"
riders = "riders.csv"
shelters = "shelters.csv"
vans = "vans.csv"
escorts = "escorts.csv"
hazards = "hazards.geojson"

[weather]
temperature_c = 6
is_wet = false
dark_from = "18:55"
has_mains = false

[gates]
longest_roll_min = 90
roll_in_dark = true

[ways]   # asked by telephone: the caretaker of the sports hall opens its automatic door by hand
powered = ["{sports_door}"]

[escorts]   # each an assumption of this move, to be changed by its coordinator
per_roll = 1
per_roll_dark_or_road = 2

[loading]
load_min = 12
unload_min = 8

[margins]
life_support_delay_min = 30

[night]
quiet_from = "23:00"
quiet_to = "05:00"
"""


def _write(path: Path, columns: list[str], rows: list[list[str]]) -> None:
    with path.open("w", newline="", encoding="utf-8") as file:
        out = csv.writer(file, lineterminator="\n")
        out.writerow(columns)
        out.writerows(rows)


def _degrees(point: Point2) -> tuple[str, str]:
    lon, lat = lonlat(*point)
    return f"{lat:.7f}", f"{lon:.7f}"


def _place(kind: str, near: Point2, addresses: list[Address], story: Story) -> str:
    if kind == "home":
        return f"{story.home.number} {story.home.street}"
    if kind == "far":
        return f"{addresses[-1].number} {addresses[-1].street}"
    if kind == "lonlat":
        return ",".join(_degrees(near))
    if kind == "address":
        mapped = [a for a in addresses if a.in_map]
        best = min(mapped, key=lambda a: (a.x - near[0]) ** 2 + (a.y - near[1]) ** 2)
        return f"{best.number} {best.street}"
    return kind


def _ring(corners: list[Point2]) -> list[list[float]]:
    """A closed ring, anticlockwise as RFC 7946 wants."""
    area = sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(corners, [*corners[1:], corners[0]], strict=True))
    ordered = corners if area > 0 else corners[::-1]
    return [list(lonlat(*p)) for p in [*ordered, ordered[0]]]


def _hazards() -> list[dict[str, object]]:
    flood = [along_river(x, -62) for x in range(620, 1241, 40)] + [along_river(x, -130) for x in range(1240, 619, -40)]
    low = [along_river(x, -62) for x in range(60, 1281, 60)] + [along_river(x, -230) for x in range(1280, 59, -60)]
    smoke: list[Point2] = [(1650, 1600), (2380, 1600), (2380, 1790), (1650, 1790)]
    return [
        {"kind": "closed", "from": f"{DAY}T20:30", "to": f"{DAY}T23:59", "label": "River over Low Road", "ring": _ring(flood)},
        {
            "kind": "deadline",
            "from": f"{DAY}T20:00",
            "to": f"{DAY}T21:00",
            "label": "Riverside houses south: out before the water",
            "ring": _ring(low),
        },
        {"kind": "watch", "from": f"{DAY}T19:00", "to": f"{DAY}T22:00", "label": "Smoke from the grain store", "ring": _ring(smoke)},
    ]


def _write_hazards(path: Path) -> None:
    features = []
    for h in _hazards():
        ring = h.pop("ring")
        features.append({"type": "Feature", "properties": h, "geometry": {"type": "Polygon", "coordinates": [ring]}})
    path.write_text(json.dumps({"type": "FeatureCollection", "features": features}, indent=1) + "\n", encoding="utf-8")


def _rider_rows(addresses: list[Address], story: Story) -> list[list[str]]:
    return [[i, _place(kind, near, addresses, story), *rest, DRIVES_TO_STREET.get(i, "")] for i, kind, near, rest in RIDER_ROWS]


def write_tables(town: Town, addresses: list[Address], shelters: list[Shelter], story: Story, folder: Path) -> None:
    """All plain files of the folder."""
    _write(
        folder / "address_points.csv",
        ["street", "housenumber", "lat", "lon"],
        [[a.street, str(a.number), *_degrees((a.x, a.y))] for a in addresses[:-1]],
    )
    rows = []
    doors = {s.name: s.entrance for s in shelters}
    for name, rest in SHELTER_ROWS:
        entrance = "" if name == "Ferrow Library" else f"node/{doors[name]}"
        rows.append([name, *_degrees(town.xy(doors[name])), entrance, *rest])
    _write(folder / "shelters.csv", SHELTER_COLUMNS, rows)
    _write(folder / "riders.csv", RIDER_COLUMNS, _rider_rows(addresses, story))
    _write(folder / "vans.csv", VAN_COLUMNS, [[i, *_degrees(p), *rest] for i, p, rest in VAN_ROWS])
    _write(folder / "escorts.csv", ESCORT_COLUMNS, [[i, *_degrees(p), *rest] for i, p, rest in ESCORT_ROWS])
    _write_hazards(folder / "hazards.geojson")
    (folder / "move.toml").write_text(MOVE_TOML.format(day=DAY, sports_door=f"node/{doors['Ropewalk Sports Hall']}"), encoding="utf-8")
