"""An invented route of about 1.7 km for the tests of paper, map and message: no real place, rider, street or shelter.

``sample()`` is what a planner would hand over; ``hostile()`` is the same route with names that try to break out of HTML, SVG,
Typst, and scripts that need other fonts.
Everything is drawn in metres east and north of the front door and then put on the open ocean.
"""

from __future__ import annotations

import dataclasses
import itertools
import math
from typing import Any

from rollroute.output.itinerary import (
    Backdrop,
    Barred,
    ChairFacts,
    ChargingHalt,
    Checkpoint,
    Conditions,
    Hazard,
    Itinerary,
    LonLat,
    Piece,
    Point,
    Question,
    Spot,
    Spread,
)

ORIGIN_LON, ORIGIN_LAT = -37.3, 45.2  # the middle of the Atlantic
M_PER_DEG_LAT = 111_140.0
M_PER_DEG_LON = M_PER_DEG_LAT * math.cos(math.radians(ORIGIN_LAT))
Metres = tuple[float, float]

# kind of way, name, where the piece ends (metres east, north of the door), what else is known
ROWS: list[tuple[str, str | None, Metres, dict[str, Any]]] = [
    ("off_map", None, (0, 6), {"verdict": "unverified", "grade": None, "width_m": None, "surface": None, "questions": [1]}),
    ("sidewalk", "Mill Street", (40, 8), {"side": "right"}),
    ("sidewalk", "Mill Street", (85, 10), {"side": "right"}),
    ("sidewalk", "Mill Street", (130, 12), {"side": "right"}),
    ("crossing", "Mill Street", (130, 22), {"road_width_m": 8.0, "verdict": "unverified", "questions": [2]}),
    ("sidewalk", "Mill Street", (175, 24), {"side": "left"}),
    ("sidewalk", "Mill Street", (215, 26), {"side": "left"}),
    ("sidewalk", "Chandler Lane", (217, 70), {"side": "right", "grade": 0.045}),
    ("sidewalk", "Chandler Lane", (218, 115), {"side": "right", "grade": 0.062, "verdict": "unverified", "questions": [3]}),
    ("sidewalk", "Chandler Lane", (219, 150), {"side": "right", "grade": 0.03}),
    ("crossing", "Bridge Street", (219, 162), {"road_width_m": 10.0}),
    ("sidewalk", "Bridge Street", (260, 165), {"side": "left"}),
    ("sidewalk", "Bridge Street", (310, 168), {"side": "left", "width_m": 1.3}),
    ("footway", "Bridge Street", (365, 172), {"is_bridge": True, "grade": 0.03}),
    ("sidewalk", "Bridge Street", (420, 176), {"side": "left", "grade": -0.03}),
    ("sidewalk", "Bridge Street", (470, 180), {"side": "left"}),
    ("path", "Quay Path", (474, 230), {"surface": "fine_gravel", "grade": -0.05, "width_m": 1.4}),
    ("path", "Quay Path", (480, 280), {"surface": None, "width_m": None, "verdict": "unverified", "questions": [4, 5]}),
    ("path", "Quay Path", (492, 330), {"surface": None, "width_m": None, "verdict": "unverified", "questions": [4, 5, 6]}),
    ("path", "Quay Path", (505, 380), {"surface": "fine_gravel", "cross_slope": 0.03}),
    ("service", "Station Yard", (555, 384), {"surface": "sett"}),
    ("service", "Station Yard", (600, 388), {"surface": "sett"}),
    ("residential", "Orchard Street", (604, 440), {}),
    ("residential", "Orchard Street", (608, 490), {"grade": 0.04}),
    ("residential", "Orchard Street", (612, 540), {"grade": 0.07}),
    ("residential", "Orchard Street", (616, 590), {"grade": 0.02}),
    ("crossing", "Harbour Road", (617, 604), {"road_width_m": 12.0, "verdict": "unverified", "questions": [7]}),
    ("sidewalk", "Harbour Road", (660, 606), {"side": "left"}),
    ("sidewalk", "Harbour Road", (720, 609), {"side": "left"}),
    ("sidewalk", "Harbour Road", (780, 612), {"side": "left", "grade": -0.02}),
    ("sidewalk", "Harbour Road", (840, 615), {"side": "left"}),
    ("crossing", "Weir Lane", (852, 616), {"road_width_m": 6.0}),
    ("sidewalk", "Harbour Road", (900, 618), {"side": "left"}),
    ("sidewalk", "Harbour Road", (950, 620), {"side": "left"}),
    ("sidewalk", "School Lane", (952, 670), {"side": "left", "cross_slope": 0.026}),
    ("sidewalk", "School Lane", (954, 720), {"side": "left"}),
    ("sidewalk", "School Lane", (956, 770), {"side": "left"}),
    ("ramp", None, (962, 790), {"grade": 0.08, "width_m": 1.2}),
    ("footway", None, (985, 800), {}),
    ("corridor", None, (1000, 802), {"building": "Eastfield School", "level": 0.0, "verdict": "unverified", "questions": [8]}),
    ("elevator", None, (1001, 803), {"building": "Eastfield School", "level": 1.0, "verdict": "unverified", "questions": [9]}),
    ("corridor", None, (1012, 815), {"building": "Eastfield School", "level": 1.0}),
    ("corridor", None, (1024, 816), {"building": "Eastfield School", "level": 1.0}),
]
START: Metres = (0, 0)
SPEED_M_S = 1.0
USABLE_WH = 420.0
SOC_START = Spread(expected=0.62, planned=0.55)
RIVER_WEST_BANK: list[Metres] = [(528, 372), (530, 330), (500, 236), (336, 160), (330, 40)]
HALT_PIECE = 21  # the charging halt stands at the end of this row

HOSTILE_NAMES = [
    "<img src=x onerror=alert(1)>",
    "`tick` ${alert(1)} {{7*7}}",
    "</script><script>alert(1)</script>",
    '#panic("x") *bold* $x$ _u_ @ref <lbl>',
    "شارع النهر",
    "河边路 12 号",
    'Rue de l\'Été "A" & Co \\ ]]>',
    "Wave 🌊 Street 🧑‍🦼",
    "'; DROP TABLE x; --",
    "javascript:alert(1)",
    "Ünter­den-Linden % _ \n second line",
    "A" * 120,
]


def lon_lat(where: Metres) -> LonLat:
    """Put metres east and north of the door on the globe."""
    return (round(ORIGIN_LON + where[0] / M_PER_DEG_LON, 7), round(ORIGIN_LAT + where[1] / M_PER_DEG_LAT, 7))


def _pieces() -> list[Piece]:
    pieces: list[Piece] = []
    here, at_m, spent, spent_planned, gained = START, 0.0, 0.0, 0.0, 0.0
    for n, (kind, name, there, extra) in enumerate(ROWS):
        length = math.dist(here, there)
        grade = extra.get("grade", 0.01)
        climb = max(grade or 0.0, 0.0)
        energy = length * (0.025 + 0.45 * climb)
        spent, spent_planned = spent + energy, spent_planned + 1.25 * energy
        time = length / SPEED_M_S + (45.0 if kind == "elevator" else 8.0 if kind == "crossing" else 0.0)
        facts: dict[str, Any] = {
            "verdict": "clear", "grade": grade, "grade_sd": 0.01, "grade_rank": "survey", "cross_slope": None, "width_m": 1.8,
            "width_rank": "tag_number", "surface": "asphalt", "surface_rank": "tag_word", "level": None, "building": None,
            "is_bridge": False, "is_tunnel": False, "is_lit": True, "questions": [], "road_width_m": None, "side": None,
        }  # fmt: skip
        facts.update(extra)
        pieces.append(
            Piece(
                coordinates=[lon_lat(here), lon_lat(((here[0] + there[0]) / 2, (here[1] + there[1]) / 2)), lon_lat(there)],
                from_m=at_m,
                to_m=at_m + length,
                way_id=1000 + n,
                way_kind=kind,
                name=name,
                time_s=Spread(expected=time, planned=1.2 * time),
                energy_wh=Spread(expected=energy, planned=1.25 * energy),
                soc_after=Spread(
                    expected=SOC_START.expected - spent / USABLE_WH + gained,
                    planned=SOC_START.planned - spent_planned / USABLE_WH + gained,
                ),
                **facts,
            )
        )
        gained = 0.2 if n >= HALT_PIECE else 0.0
        here, at_m = there, at_m + length
    return pieces


def _middle(piece: Piece) -> LonLat:
    return piece.coordinates[1]


def _questions(p: list[Piece]) -> list[Question]:
    def ask(number: int, kind: str, piece: Piece, probability: float, **more: Any) -> Question:
        at_end = more.pop("at_end", False)
        where = piece.coordinates[-1] if at_end else piece.coordinates[0]
        more = {"length_m": 0.0, "street": piece.name, "at_m": piece.to_m if at_end else piece.from_m, **more}
        return Question(number=number, kind=kind, lon=where[0], lat=where[1], probability=probability, **more)

    stretch = p[18].to_m - p[17].from_m
    return [
        ask(1, "off_map", p[0], 0.10, length_m=6.0, street="Mill Street"),
        ask(2, "kerb", p[4], 0.22, at_end=True, is_weakest=True),
        ask(3, "bollard", p[8], 0.08, detail={"bollard": "fixed"}),
        ask(4, "surface", p[17], 0.15, length_m=stretch, is_weakest=True),
        ask(5, "width", p[17], 0.12, length_m=stretch),
        ask(6, "gate", p[18], 0.30, at_end=True, is_weakest=True, detail={"locked": None}),
        ask(7, "kerb", p[26], 0.09, at_end=True, detail={"kerb": "lowered"}),
        ask(8, "door", p[39], 0.06),
        ask(9, "lift", p[40], 0.35, is_weakest=True, detail={"power": "unknown"}),
    ]


def _points(p: list[Piece]) -> list[Point]:
    def at(kind: str, where: LonLat, at_m: float, **more: Any) -> Point:
        return Point(kind=kind, at_m=at_m, lon=where[0], lat=where[1], **more)

    def start(n: int) -> tuple[LonLat, float]:
        return p[n].coordinates[0], p[n].from_m

    def end(n: int) -> tuple[LonLat, float]:
        return p[n].coordinates[-1], p[n].to_m

    return [
        at("kerb", *start(4), value=0.02, word="lowered", rank="survey", direction="down"),
        at("kerb", *end(4), rank="unknown", direction="up", question=2),
        at("bollard", *start(8), rank="unknown", question=3),
        at("kerb", *start(10), value=0.0, word="flush", rank="tag_word", direction="down"),
        at("kerb", *end(10), value=0.03, word="lowered", rank="tag_number", direction="up"),
        at("narrow", *start(12), value=1.3, rank="tag_number"),
        at("gate", *end(18), word="gate", rank="unknown", question=6),
        at("kerb", *start(26), value=0.0, word="flush", rank="survey", direction="down"),
        at("kerb", *end(26), word="lowered", rank="tag_word", direction="up", question=7),
        at("kerb", *start(31), value=0.02, word="lowered", rank="tag_word", direction="down"),
        at("kerb", *end(31), value=0.02, word="lowered", rank="tag_word", direction="up"),
        at("ramp", *start(37), value=1.2, rank="tag_number", direction="up"),
        at("door", *start(39), rank="unknown", question=8),
        at("lift", *start(40), value=1.1, rank="tag_number", direction="up", question=9),
    ]


def _spot(label: str, where: Metres, kind: str, **more: Any) -> Spot:
    lon, lat = lon_lat(where)
    return Spot(label=label, lon=lon, lat=lat, kind=kind, **more)


def _box(x: float, y: float, wide: float, high: float) -> list[LonLat]:
    return [lon_lat(c) for c in ((x, y), (x + wide, y), (x + wide, y + high), (x, y + high), (x, y))]


def _line(*corners: Metres) -> list[LonLat]:
    return [lon_lat(c) for c in corners]


def _backdrop() -> Backdrop:
    houses = [_box(x, -24, 22, 16) for x in range(-30, 210, 34)] + [_box(x, 32, 22, 16) for x in range(-30, 190, 34)]
    houses += [_box(228, y, 16, 22) for y in (44, 78, 112)] + [_box(186, y, 16, 22) for y in (60, 94, 128)]
    houses += [_box(x, 186, 26, 18) for x in (246, 286)] + [_box(x, 140, 26, 14) for x in (250, 390, 430)]
    houses += [_box(626, y, 18, 26) for y in (430, 470, 510, 550)] + [_box(575, y, 18, 26) for y in (430, 470, 510, 550)]
    houses += [_box(x, 574, 30, 18) for x in range(660, 900, 44)] + [_box(x, 622, 30, 18) for x in (660, 704, 748, 792, 866, 910)]
    houses += [_box(985, 790, 60, 40), _box(560, 395, 40, 22)]
    return Backdrop(
        buildings=houses,
        water=[_line((330, 40), (352, 40), (356, 150), (520, 230), (548, 330), (540, 372), *RIVER_WEST_BANK)],
        green=[_box(400, 240, 66, 110)],
        waterways=[_line((341, -60), (341, 40))],
        roads=[
            ("Mill Street", _line((-60, 14), (0, 15), (130, 17), (300, 24))),
            ("Chandler Lane", _line((212, 20), (214, 156))),
            ("Bridge Street", _line((120, 150), (219, 156), (365, 166), (560, 178))),
            ("Station Yard", _line((505, 380), (555, 384), (600, 388))),
            ("Orchard Street", _line((600, 388), (604, 440), (616, 590), (617, 597))),
            ("Harbour Road", _line((520, 592), (617, 597), (846, 609), (1040, 618))),
            ("Weir Lane", _line((846, 540), (846, 690))),
            ("School Lane", _line((959, 614), (962, 820))),
        ],
        paths=[("Quay Path", _line((472, 180), (474, 230), (480, 280), (492, 330), (505, 380))), (None, _line((400, 176), (410, 240)))],
        rooms=[(1.0, "Room 2.04", _box(1016, 808, 14, 12)), (0.0, "Hall", _box(990, 795, 20, 12))],
    )


def sample() -> Itinerary:
    """Return the invented route: 43 pieces, 8 streets, 9 questions, one charging halt, 3 checkpoints, a door, a lift and a flood."""
    p = _pieces()
    questions = _questions(p)
    halt_at, goal = p[HALT_PIECE], p[-1].soc_after
    checks = [(p[6], 0.47, "12 Mill Street", 210.0), (p[15], 0.40, "Bridge Street Hall", 90.0), (p[30], 0.46, "Old Station Library", 480.0)]
    time = Spread(expected=sum(x.time_s.expected for x in p), planned=sum(x.time_s.planned for x in p))
    energy = Spread(expected=sum(x.energy_wh.expected for x in p), planned=sum(x.energy_wh.planned for x in p))
    halt = ChargingHalt(
        label="Old Station Library", lon=halt_at.coordinates[-1][0], lat=halt_at.coordinates[-1][1], at_m=halt_at.to_m,
        arrive_soc=halt_at.soc_after,
        leave_soc=Spread(expected=halt_at.soc_after.expected + 0.2, planned=halt_at.soc_after.planned + 0.2),
        setup_s=300.0, charge_s=5400.0, wait_s=0.0, arrive_time="2026-03-14T18:40:00-03:00", leave_time="2026-03-14T20:15:00-03:00",
        outlet="2 outlets, 15 A circuit, generator", charger="with the rider",
    )  # fmt: skip
    return Itinerary(
        code="K7",
        start=_spot("12 Mill Street", START, "address", level=0.0, at_m=0.0),
        goal=_spot("Eastfield School, room 2.04", (1024, 816), "room", level=1.0, at_m=p[-1].to_m),
        chair=ChairFacts(
            label="mid-wheel-drive power chair", width_m=0.66, length_m=1.1, total_mass_kg=235.0, speed_m_s=1.0, rated_grade=0.105,
            rated_obstacle_m=0.06, gauge_kind="bars", gauge_bars=5, chemistry="lead-acid", crr_hard_floor=0.015,
        ),
        conditions=Conditions(departure="2026-03-14T18:20:00-03:00", temperature_c=6.0, is_wet=True, is_dark=True, has_mains=False),
        length_m=p[-1].to_m,
        climb_m=sum(max(x.grade or 0.0, 0.0) * (x.to_m - x.from_m) for x in p),
        descent_m=sum(max(-(x.grade or 0.0), 0.0) * (x.to_m - x.from_m) for x in p),
        unverified_m=sum(x.to_m - x.from_m for x in p if x.verdict == "unverified"),
        time_s=Spread(expected=time.expected + 5700, planned=time.planned + 5700),
        energy_wh=energy,
        soc_start=SOC_START,
        soc_goal=goal,
        reserve_soc=0.2,
        usable_wh=Spread(expected=176.0, planned=147.0),
        arrive_time=Spread(expected=1773530400.0, planned=1773531600.0),
        doubt=1 - math.exp(sum(math.log1p(-q.probability) for q in questions)),
        is_proven=True,
        gap=None,
        pieces=p,
        questions=questions,
        points=_points(p),
        halts=[halt],
        checkpoints=[
            Checkpoint(at_m=x.to_m, lon=x.coordinates[-1][0], lat=x.coordinates[-1][1], least_soc=soc, turn_back_to=back, turn_back_m=far)
            for x, soc, back, far in checks
        ],
        refuges=[
            _spot("Bridge Street Hall", (420, 150), "shelter", at_m=p[14].to_m, off_way_m=26.0),
            _spot("Old Station Library", (575, 400), "shelter", at_m=p[21].to_m, off_way_m=14.0),
        ],
        van_spots=[
            _spot("Bridge Street, bus bay", (440, 168), "loading_zone", at_m=p[14].to_m + 20, off_way_m=10.0),
            _spot("Harbour Road, drop kerb at the bakery", (700, 600), "loading_zone", at_m=p[28].to_m - 20, off_way_m=8.0),
        ],
        rest_spots=[
            _spot("Mill Street", (90, 10), "rest", at_m=p[3].from_m),
            _spot("Harbour Road", (745, 610), "rest", at_m=p[29].from_m + 25),
        ],
        landmarks=[
            _spot("Corner Bakery", (118, 34), "shop", at_m=p[3].to_m - 12, off_way_m=14.0),
            _spot("Bench", (300, 172), "bench", at_m=p[12].to_m - 10, off_way_m=3.0),
            _spot("Stop Harbour Road", (800, 602), "bus_stop", at_m=p[29].to_m + 20, off_way_m=9.0),
        ],
        barred=[
            Barred(coordinates=_line((400, 176), (410, 240)), reasons=["steps"]),
            Barred(coordinates=_line((214, 156), (120, 150)), reasons=["kerb", "width"], name="Bridge Street"),
            Barred(coordinates=_line((846, 609), (846, 690)), reasons=["grade"], name="Weir Lane"),
        ],
        hazards=[
            Hazard(kind="closed", label="River flood", rings=[_box(500, 40, 130, 110)], starts="2026-03-14T20:00:00-03:00", ends=None),
            Hazard(kind="watch", label="Fallen trees", rings=[_box(690, 660, 90, 60)], starts=None, ends=None),
        ],
        backdrop=_backdrop(),
        map_date="2026-03-01",
        made_at="2026-03-14T16:05:00-03:00",
        command="rollroute route town.osm.pbf --from '12 Mill Street' --to 'Eastfield School' --out k7",
        sources=["© OpenStreetMap contributors (ODbL)", "heights: invented raster, 10 m cells"],
        notes=["escort_needed", "on_carriageway", "coarse_heights"],
    )  # fmt: skip


def hostile() -> Itinerary:
    """Return the sample with every name, label and word from the map replaced by something hostile or hard to print."""
    names = itertools.cycle(HOSTILE_NAMES)
    known: dict[str, str] = {}

    def rename(text: str | None) -> str | None:
        return None if text is None else known.setdefault(text, next(names))

    def relabel(spots: list[Spot]) -> list[Spot]:
        return [dataclasses.replace(s, label=rename(s.label)) for s in spots]  # type: ignore[arg-type]

    i = sample()
    b = i.backdrop
    change = dataclasses.replace
    return change(
        i,
        start=relabel([i.start])[0],
        goal=relabel([i.goal])[0],
        chair=change(i.chair, label="</title><b>chair</b>"),
        pieces=[change(p, name=rename(p.name), building=rename(p.building)) for p in i.pieces],
        questions=[change(q, street=rename(q.street), detail={**q.detail, "kerb": "<script>alert(9)</script>"}) for q in i.questions],
        points=[change(p, word=p.word and "<b>" + p.word) for p in i.points],
        halts=[change(h, label=rename(h.label), outlet="</td>#emph[x]", charger="${x}`") for h in i.halts],  # type: ignore[arg-type]
        checkpoints=[change(c, turn_back_to=rename(c.turn_back_to)) for c in i.checkpoints],  # type: ignore[arg-type]
        refuges=relabel(i.refuges),
        van_spots=relabel(i.van_spots),
        rest_spots=relabel(i.rest_spots),
        landmarks=relabel(i.landmarks),
        barred=[change(x, name=rename(x.name), reasons=[*x.reasons, "<i>other</i>"]) for x in i.barred],
        hazards=[change(h, label=rename(h.label)) for h in i.hazards],  # type: ignore[arg-type]
        backdrop=change(
            b,
            roads=[(rename(n), line) for n, line in b.roads],
            paths=[(rename(n), line) for n, line in b.paths],
            rooms=[(level, rename(n), ring) for level, n, ring in b.rooms],
        ),
        command="rollroute </script> `x`",
        sources=[*i.sources, "<script>alert('source')</script>"],
        notes=[*i.notes, "<b>unknown note</b>"],
    )
