"""Maps small enough to be drawn in a test: one line per node or way, places in metres east and north of a point at sea.

    n1 0,0 kerb=raised
    w10 1,2,3 highway=footway width=1.5

Blanks inside a value are written as ``_``.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import itertools
import math
from pathlib import Path

from rollroute.inputs.chair import Chair, find_chair
from rollroute.inputs.conditions import Conditions
from rollroute.inputs.osm import MapExtract, RawWay, read_map
from rollroute.network.build import build_network
from rollroute.network.network import Network
from rollroute.weights.case import Case, Tally, Weighing, case_of
from rollroute.weights.passages import clear_passed
from rollroute.weights.piece_rules import judge_pieces
from rollroute.weights.place_rules import judge_places
from rollroute.weights.reasons import Question, Reason, names

LON, LAT = -37.3, 45.2
M_PER_DEGREE_LAT = 111_132.0  # near 45 degrees; tests compare metres to a per cent
M_PER_DEGREE_LON = 111_319.49 * math.cos(math.radians(LAT))
NOON = dt.datetime(2026, 3, 14, 12, 0, tzinfo=dt.timezone(dt.timedelta(hours=-2)))


def draw(text: str) -> MapExtract:
    """The extract that ``text`` draws."""
    extract = MapExtract(source="hand-drawn")
    for line in text.split("\n"):
        words = line.split()
        if not words or words[0].startswith("#"):
            continue
        tags = dict(w.replace("_", " ").split("=", 1) if "@" in w else w.split("=", 1) for w in words[2:])
        number = int(words[0][1:])
        if words[0][0] == "n":
            x, y = map(float, words[1].split(","))
            extract.node_places[number] = (LON + x / M_PER_DEGREE_LON, LAT + y / M_PER_DEGREE_LAT)
            if tags:
                extract.node_tags[number] = tags
        else:
            ids = [int(i) for i in words[1].split(",")]
            places = [extract.node_places[i] for i in ids]
            extract.ways.append(RawWay(number, tags, ids, [p[0] for p in places], [p[1] for p in places]))
    return extract


def write_osm(text: str, path: Path) -> MapExtract:
    """The same map through a real ``.osm`` file and the project's reader."""
    extract = draw(text)
    rows = ['<?xml version="1.0"?>', '<osm version="0.6">']
    for number, (lon, lat) in extract.node_places.items():
        tags = "".join(f'<tag k="{k}" v="{v}"/>' for k, v in extract.node_tags.get(number, {}).items())
        rows.append(f'<node id="{number}" lat="{lat:.9f}" lon="{lon:.9f}">{tags}</node>')
    for way in extract.ways:
        refs = "".join(f'<nd ref="{i}"/>' for i in way.node_ids)
        tags = "".join(f'<tag k="{k}" v="{v}"/>' for k, v in way.tags.items())
        rows.append(f'<way id="{way.way_id}">{refs}{tags}</way>')
    path.write_text("\n".join([*rows, "</osm>"]), encoding="utf-8")
    return read_map(path)


def network_of(text: str) -> Network:
    """A network without heights."""
    return build_network(draw(text))


def a_chair(**changes: object) -> Chair:
    """Class B, 0.64 m wide with 0.08 m at each side, 1.10 m long, 150 kg and 90 kg; climbs 50 mm."""
    base = {
        "width_m": 0.64, "side_clearance_m": 0.08, "length_m": 1.10, "rated_obstacle_m": 0.05, "rated_obstacle_down_m": 0.05,
        "mass_kg": 150.0, "rider_mass_kg": 90.0, "load_mass_kg": 0.0, "rated_grade": 0.105, "wheel": "standard", "turning_diameter_m": None,
    }  # fmt: skip
    return dataclasses.replace(find_chair("en12184-b"), **{**base, **changes})  # type: ignore[arg-type]


def noon(**changes: object) -> Conditions:
    """A dry noon with mains and an escort."""
    return dataclasses.replace(Conditions(departure=NOON, temperature_c=15.0), **changes)  # type: ignore[arg-type]


@dataclasses.dataclass(frozen=True)
class Said:
    """What is said of one directed stretch from node to node."""

    reasons: set[str]
    questions: set[str]
    surprisal: float

    @property
    def is_clear(self) -> bool:
        return not self.reasons and not self.questions


def tally_of(network: Network, chair: Chair, conditions: Conditions, rules: Weighing | None = None) -> tuple[Case, Tally]:
    """All rules applied."""
    case = case_of(network, chair, conditions, rules)
    tally = Tally.empty(network.n_pieces)
    judge_pieces(case, tally)
    judge_places(case, tally)
    clear_passed(case, tally)
    return case, tally


def judge(
    text: str | Network, start: int, end: int, *, chair: Chair | None = None, conditions: Conditions | None = None,
    rules: Weighing | None = None, grade_too: bool = False,
) -> Said:  # fmt: skip
    """What is said of the piece from node ``start`` to node ``end``. Without heights every grade is a question: left out unless wanted."""
    network = network_of(text) if isinstance(text, str) else text
    _, tally = tally_of(network, chair or a_chair(), conditions or noon(), rules)
    ids = network.nodes.osm_id
    found = [e for e in range(2 * network.n_pieces) if (ids[network.edge_tail[e]], ids[network.edge_head[e]]) == (start, end)]
    assert found, f"no piece from {start} to {end}"
    edge = found[0]
    questions = set(names(int(tally.questions[edge]), Question))
    return Said(set(names(int(tally.reasons[edge]), Reason)), questions - (set() if grade_too else {"grade"}), float(tally.surprisal[edge]))


def through(text: str | Network, *nodes: int, **kwargs: object) -> Said:
    """What is said of all pieces from node to node together."""
    network = network_of(text) if isinstance(text, str) else text
    parts = [judge(network, a, b, **kwargs) for a, b in itertools.pairwise(nodes)]  # type: ignore[arg-type]
    return Said(set().union(*(p.reasons for p in parts)), set().union(*(p.questions for p in parts)), sum(p.surprisal for p in parts))
