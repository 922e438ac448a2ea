"""The five shelters: two with their rooms, doors, lifts and ramps mapped, three with an entrance."""

from dataclasses import dataclass
from typing import Any

from .model import Point2, Tags, Town
from .paths import truth
from .plan import HALL, HILL_HALL, LIBRARY, SCHOOL, SPORTS, Site
from .terrain import height_m

FLOOR_M = 3.5


@dataclass(frozen=True)
class Shelter:
    """A shelter as the map has it."""

    name: str
    entrance: int  # node
    way: int  # building


class House:
    """Places things inside a building by its own axes (metres) and level."""

    def __init__(self, town: Town, site: Site, door: Point2) -> None:
        self.town, self.site = town, site
        self.base_m = round(height_m(*site.at(*door)), 2)
        self._nodes: dict[tuple[float, float, float], int] = {}

    def at(self, u: float, v: float, level: float = 0.0, tags: Tags | None = None, **more: Any) -> int:
        """The node at a place and level."""
        key = (u, v, level)
        if key not in self._nodes:
            ident = self.town.node(*self.site.at(u, v), shared=False)
            self.town.nodes[ident].ele_m = round(self.base_m + FLOOR_M * level, 3)
            self._nodes[key] = ident
        ident = self._nodes[key]
        self.town.nodes[ident].tags.update(tags or {})
        self.town.nodes[ident].truth.update(more)
        return ident

    def also(self, ident: int, u: float, v: float, level: float) -> None:
        """A node that is on another level too (a lift)."""
        self._nodes[u, v, level] = ident

    def space(self, kind: str, level: float, corners: list[Point2], tags: Tags | None = None) -> int:
        """A room, corridor or area; corners may be nodes already placed (doors on its walls)."""
        refs = [self.at(u, v, level) for u, v in corners]
        made = self.town.add_way(
            [*refs, refs[0]],
            {"indoor": kind, "level": f"{level:g}", **(tags or {})},
            truth(_narrow(corners), "linoleum", "excellent", level=level, area=True),
        )
        return made.id

    def door(self, u: float, v: float, level: float, width_m: float, tags: Tags | None = None, **more: Any) -> int:
        """A door on a wall; true width always, tagged width only where given in ``tags``."""
        return self.at(u, v, level, {"door": "hinged", "level": f"{level:g}", **(tags or {})}, door_width_m=width_m, **more)


def _narrow(corners: list[Point2]) -> float:
    us, vs = zip(*corners, strict=True)
    narrow: float = min(max(us) - min(us), max(vs) - min(vs))
    return round(narrow, 2)


def _walk_to_street(town: Town, house: House, door: int, start: Point2, aim: Point2, surface: str = "asphalt") -> None:
    target = town.join_walk(house.site.at(*aim))
    town.line(
        "path",
        [door, town.node(*house.site.at(*start)), target],
        {"highway": "footway", "surface": surface, "width": "2"},
        truth(2.0, surface),
    )


def school(town: Town) -> Shelter:
    """North Quay School: ground floor, gym half a floor up by a ramp, classrooms one floor up by lift or stairs."""
    house = House(town, SCHOOL, (-6, -18))
    main = house.door(
        -6,
        -18,
        0,
        1.2,
        {"entrance": "main", "automatic_door": "motion", "door": "sliding", "width": "1.2", "kerb:height": "0.02", "wheelchair": "yes"},
        automatic=True,
        threshold_m=0.02,
    )
    side = house.door(34, 2, 0, 0.85, {"entrance": "yes", "width": "0.85", "kerb:height": "0.13"}, threshold_m=0.13)
    house.door(-6, -6, 0, 1.4, {"width": "1.4", "door": "no"})
    outline = town.add_way(
        [*(house.at(u, v) for u, v in ((-34, -18), (-6, -18), (34, -18), (34, 2), (34, 18), (-34, 18))), house.at(-34, -18)],
        {
            "building": "school",
            "amenity": "school",
            "name": "North Quay School",
            "emergency:social_facility": "shelter",
            "min_level": "0",
            "max_level": "1",
            "addr:street": "North Quay",
            "addr:housenumber": "112",
            "wheelchair": "yes",
            "building:levels": "2",
        },
    )
    house.space("area", 0, [(-14, -18), (-6, -18), (2, -18), (2, -6), (-6, -6), (-14, -6)], {"name": "Entrance hall"})
    doors = [
        (-24, -2, 0.95, {"width": "0.95"}),
        (-12, -2, 0.9, {}),
        (0, -2, 0.75, {"width": "75 cm"}),
        (22, -6, 1.0, {"door:width": "1.0"}),
    ]
    for u, v, width, tags in doors:
        house.door(u, v, 0, width, tags)
    lift = house.at(
        12,
        -2,
        0,
        {"highway": "elevator", "level": "0;1", "door:width": "0.9", "width": "1.1", "length": "1.4", "wheelchair": "yes"},
        lift={"door_width_m": 0.9, "car_width_m": 1.1, "car_length_m": 1.4},
    )
    house.also(lift, 12, -2, 1)
    house.space(
        "corridor",
        0,
        [
            (-34, -6),
            (-6, -6),
            (22, -6),
            (34, -6),
            (34, -2),
            (30, -2),
            (16, -2),
            (12, -2),
            (0, -2),
            (-12, -2),
            (-24, -2),
            (-32, -2),
            (-34, -2),
        ],
    )
    house.space("room", 0, [(-30, -2), (-24, -2), (-18, -2), (-18, 8), (-30, 8)], {"name": "Quiet room", "room": "classroom"})
    house.space("room", 0, [(-18, -2), (-12, -2), (-6, -2), (-6, 8), (-18, 8)], {"name": "Sleeping room 1", "room": "classroom"})
    house.space("room", 0, [(-6, -2), (0, -2), (6, -2), (6, 8), (-6, 8)], {"name": "Washroom", "room": "toilet", "wheelchair": "limited"})
    house.space(
        "room",
        0,
        [(16, -18), (34, -18), (34, -6), (22, -6), (16, -6)],
        {"name": "Charging room", "room": "classroom", "socket:type": "household"},
    )
    _ramp_to_gym(town, house)
    _upper_floor(town, house)
    side_in = house.at(30, -2, 0)
    town.line(
        "indoor",
        [side, house.at(30, 2, 0), side_in, lift],
        {"highway": "corridor", "indoor": "yes", "level": "0"},
        truth(1.8, "linoleum", "excellent", level=0),
        joinable=False,
    )
    _walk_to_street(town, house, main, (-6, -30), (-8, -55))
    _walk_to_street(town, house, side, (42, 2), (76, 0), "paving_stones")
    return Shelter("North Quay School", main, outline.id)


def _ramp_to_gym(town: Town, house: House) -> None:
    """1.75 m up over 34 m: about 1:19."""
    gym_door = house.door(2, 10, 0.5, 1.6, {"width": "1.6"})
    town.line(
        "indoor",
        [house.at(-32, -2, 0), house.at(-32, 9, 0), house.at(2, 9, 0.5), gym_door],
        {"highway": "footway", "indoor": "yes", "incline": "up", "level": "0;0.5", "width": "1.5", "handrail": "both", "name": "Gym ramp"},
        truth(1.5, "rubber", "excellent", level=0),
        joinable=False,
    )
    house.space("room", 0.5, [(-34, 10), (2, 10), (6, 10), (6, 18), (-34, 18)], {"name": "Gym", "room": "sports_hall"})


def _upper_floor(town: Town, house: House) -> None:
    house.door(-10, -2, 1, 0.9, {"width": "0.9"})
    house.door(4, -2, 1, 0.82, {})
    house.space("corridor", 1, [(-20, -6), (30, -6), (30, -2), (18, -2), (12, -2), (4, -2), (-10, -2), (-20, -2)])
    house.space("room", 1, [(-20, -2), (-10, -2), (-4, -2), (-4, 8), (-20, 8)], {"name": "Sleeping room 2"})
    house.space("room", 1, [(-4, -2), (4, -2), (10, -2), (10, 8), (-4, 8)], {"name": "Staff room"})
    low, high = house.at(16, -2, 0), house.at(30, -2, 1)
    town.line(
        "indoor",
        [low, house.at(22, 1, 0.4), high],
        {"highway": "steps", "indoor": "yes", "level": "0;1", "step_count": "21", "handrail": "both", "incline": "up"},
        truth(1.6, "linoleum", "excellent", level=0, steps=21),
        joinable=False,
    )


def hall(town: Town) -> Shelter:
    """Tannery Hall: one big room, a lift that nobody has measured, a side door with a step."""
    house = House(town, HALL, (0, -15))
    main = house.door(0, -15, 0, 1.0, {"entrance": "main", "automatic_door": "no", "width": "1.0", "kerb:height": "0.03"}, threshold_m=0.03)
    back = house.door(24, 4, 0, 0.9, {"entrance": "yes", "step_count": "1"}, threshold_m=0.17)
    outline = town.add_way(
        [*(house.at(u, v) for u, v in ((-24, -15), (0, -15), (24, -15), (24, 4), (24, 15), (-24, 15))), house.at(-24, -15)],
        {
            "building": "civic",
            "amenity": "community_centre",
            "name": "Tannery Hall",
            "emergency:social_facility": "shelter",
            "building:levels": "2",
            "addr:street": "Weaver Street",
            "addr:housenumber": "31b",
            "min_level": "0",
            "max_level": "1",
        },
    )
    lift = house.at(
        12,
        -9,
        0,
        {"highway": "elevator", "level": "0;1", "wheelchair": "yes"},
        lift={"door_width_m": 0.8, "car_width_m": 0.95, "car_length_m": 1.25},
    )
    house.also(lift, 12, -9, 1)
    house.door(-8, -9, 0, 1.6, {"door": "double", "width": "1.6"})
    house.door(20, -9, 0, 0.85, {"width": "0.85"})
    house.space("corridor", 0, [(-24, -15), (0, -15), (24, -15), (24, -9), (20, -9), (12, -9), (-8, -9), (-24, -9)], {"name": "Foyer"})
    house.space("room", 0, [(-24, -9), (-8, -9), (8, -9), (8, 15), (-24, 15)], {"name": "Great hall"})
    house.space("room", 0, [(14, -9), (20, -9), (24, -9), (24, 4), (24, 15), (14, 15)], {"name": "Kitchen", "room": "kitchen"})
    house.door(2, -9, 1, 0.9, {"width": "0.9"})
    house.space("corridor", 1, [(-4, -13), (16, -13), (16, -9), (12, -9), (2, -9), (-4, -9)])
    house.space("room", 1, [(-8, -9), (-4, -9), (2, -9), (8, -9), (8, 3), (-8, 3)], {"name": "Meeting room"})
    stair_low, stair_high = house.at(14, -9, 0), house.at(16, -9, 1)
    town.line(
        "indoor",
        [stair_low, house.at(13, -4, 0.5), stair_high],
        {"highway": "steps", "indoor": "yes", "level": "0;1", "step_count": "20"},
        truth(1.4, "concrete", "excellent", level=0, steps=20),
        joinable=False,
    )
    _walk_to_street(town, house, main, (0, -24), (-2, -36), "paving_stones")
    _walk_to_street(town, house, back, (31, 4), (60, 6))
    return Shelter("Tannery Hall", main, outline.id)


def _plain(town: Town, site: Site, box: Point2, tags: Tags, door: Tags, true: dict[str, Any], aim: Point2) -> Shelter:
    a, b = box[0] / 2, box[1] / 2
    house = House(town, site, (0, -b))
    main = house.at(0, -b, 0, {"entrance": "main", **door}, **true)
    outline = town.add_way(
        [*(house.at(u, v) for u, v in ((-a, -b), (0, -b), (a, -b), (a, b), (-a, b))), house.at(-a, -b)], {"name": site.name, **tags}
    )
    _walk_to_street(town, house, main, (0, -b - 5), aim)
    return Shelter(site.name, main, outline.id)


def draw_shelters(town: Town) -> list[Shelter]:
    """All five, each joined to the street by a footway."""
    hill = _plain(
        town,
        HILL_HALL,
        (24, 18),
        {"building": "yes", "amenity": "community_centre", "emergency": "assembly_point", "wheelchair": "limited"},
        {"door": "hinged", "step_count": "1"},
        {"door_width_m": 0.9, "threshold_m": 0.07},
        (0, -60),
    )
    sports = _plain(
        town,
        SPORTS,
        (52, 32),
        {"building": "sports_hall", "leisure": "sports_centre", "emergency:social_facility": "shelter", "wheelchair": "yes"},
        {"door": "sliding", "automatic_door": "button", "width": "1.8", "kerb:height": "0"},
        {"door_width_m": 1.8, "threshold_m": 0.0, "automatic": True},
        (0, -60),
    )
    library = _plain(
        town,
        LIBRARY,
        (34, 22),
        {"building": "public", "amenity": "library", "emergency:social_facility": "shelter"},
        {"door": "hinged", "width": "0.9"},
        {"door_width_m": 0.9, "threshold_m": 0.025},
        (0, -40),
    )
    return [school(town), hall(town), hill, sports, library]
