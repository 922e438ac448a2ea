"""Set places on pieces: kerbs, barriers, doors, lifts, and the kerbs and aprons that a map is silent about.

Where a kerb lies is known from how ways meet, even where nobody tagged it:
a crossing ends at a kerb; a path that meets a street crosses one; a driveway comes over an apron;
a street drawn as one line with sidewalks has kerbs at every corner. A map that is silent about a kerb is not a map without a kerb.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from rollroute.network import tags as read
from rollroute.network.assemble import Skeleton
from rollroute.network.facts.points import (
    BendWord,
    PlaceFacts,
    PlaceFlag,
    PlaceKind,
    barrier_of,
    crossing_of,
    door_of,
    kerb_of,
    lift_of,
    with_ramp,
)
from rollroute.network.facts.ways import WayFacts
from rollroute.network.kinds import APRON_KINDS, BUSY_KINDS, CARRIAGEWAY_KINDS, STREET_KINDS, WALK_KINDS, WayKind
from rollroute.network.network import Flag, Incidence, Places
from rollroute.network.place_columns import incidence_of, places_of
from rollroute.network.tags import CrossingKind, KerbWord
from rollroute.network.tags.ways import FAST_KMH, FEW_LANES_MOST
from rollroute.units import M_PER_DEGREE

Tags = Mapping[str, str]
KERB_REACH_M = 8.0  # assumption: a kerb mapped within this distance of a crossing's end is that end's kerb
APRON_WITHIN_M = 30.0  # assumption: from an unverified kerb beyond a busy road a chair may roll this far along the gutter to an apron
HAIRPIN_RAD = np.radians(150.0)  # assumption: from here on a turn counts as one of 180 degrees
CORNER_RAD = np.radians(60.0)  # assumption
TURN_WITHIN_M = 1.22  # 2010 ADA Standards 403.5.2: round something narrower than this the turn is one
NARROW_M = 1.3  # wider corners stop no chair: the longest that is read turns in less
CORNER_REACH_M = 25.0  # assumption: a crossing mapped within this distance of a junction belongs to its corners
_AT_HEAD, _AT_TAIL = 1, 0


@dataclass(slots=True)
class _Made:
    """Places and entries as they are found."""

    places: list[tuple[PlaceFacts, int]] = field(default_factory=list)  # facts, node
    entries: list[tuple[int, int, float, int, int]] = field(default_factory=list)  # piece, place, share, rises, at_head

    def add(self, facts: PlaceFacts, node: int, touches: list[tuple[int, int, float, int]]) -> None:
        """Add a place at ``node`` that touches (piece, at_head, share, outward) — ``outward`` +1 where leaving the node goes up."""
        if not touches:
            return
        number = len(self.places)
        self.places.append((facts, node))
        for piece, at_head, share, outward in touches:
            rises = outward if at_head == _AT_TAIL else -outward  # tail to head leaves the node at the tail, reaches it at the head
            self.entries.append((piece, number, share, rises, at_head))


class Placer:
    """Finds the places of a skeleton. One use: ``Placer(...).place()``."""

    def __init__(self, skeleton: Skeleton, facts: list[WayFacts], way_tags: list[Tags], node_tags: Mapping[int, Tags]) -> None:
        self.skeleton = skeleton
        self.node_tags = node_tags
        self.way_tags = way_tags
        self.kind = np.array([f.kind for f in facts], np.uint8)[skeleton.way]
        self.flags = np.array([f.flags for f in facts], np.int64)[skeleton.way]
        self.speed_kmh = np.array([f.speed_kmh for f in facts], np.float64)[skeleton.way]
        self.width_m = np.array([f.width_m for f in facts], np.float64)[skeleton.way]
        self.width_rank = np.array([f.width_rank for f in facts], object)[skeleton.way]
        self.lanes = np.array([f.lanes for f in facts], np.int64)[skeleton.way]
        self.apron_places: npt.NDArray[np.float64] | None = None
        self.made = _Made()
        n_pieces, n_nodes = len(skeleton.tail), len(skeleton.node_id)
        ends = np.concatenate([skeleton.tail, skeleton.head])
        order = np.argsort(ends, kind="stable")
        self.touching = order  # piece p at its tail, or n_pieces + p at its head
        self.first = np.searchsorted(ends[order], np.arange(n_nodes + 1))
        self.n_pieces = n_pieces
        self.way_first = np.searchsorted(skeleton.way, np.arange(len(facts) + 1))  # pieces come in the order of their ways

    def touches_of(self, node: int) -> list[tuple[int, int]]:
        """(piece, at_head) of every piece that ends at ``node``."""
        rows = self.touching[self.first[node] : self.first[node + 1]]
        return [(int(row) % self.n_pieces, int(row >= self.n_pieces)) for row in rows]

    def place(self) -> tuple[Places, Incidence, list[tuple[str, str, int]]]:
        """All places, their incidence, and the (key, value, −node id) that could not be understood."""
        problems: list[tuple[str, str, int]] = []
        kerb_nodes: set[int] = set()
        number_of = {int(i): n for n, i in enumerate(self.skeleton.node_id) if i and int(i) in self.node_tags}
        for node_id, node in sorted(number_of.items()):
            tags = self.node_tags[node_id]
            problems += [(key, text, -node_id) for key, text, _ in read.problems_of(tags)]
            self._tagged_node(node, tags, kerb_nodes)
        self._implied(kerb_nodes)
        self._roads_crossed()
        self._bends()
        return places_of(self.made.places, self.skeleton), incidence_of(self.made.entries), problems

    def _tagged_node(self, node: int, tags: Tags, kerb_nodes: set[int]) -> None:
        kerb = kerb_of(tags)
        barrier, door, lift = barrier_of(tags), door_of(tags), lift_of(tags)
        if kerb is not None and door is None and tags.get("highway") != "crossing":
            kerb_nodes.add(node)
            self._explicit_kerb(node, with_ramp(kerb, tags))
        if barrier is not None:
            self._at_node(node, barrier)
        if door is not None:
            self._door(node, door)
        if lift is not None:
            self.made.add(lift, node, [(p, h, 0.5, 0) for p, h in self.touches_of(node)])

    def _explicit_kerb(self, node: int, kerb: PlaceFacts) -> None:
        touches = self.touches_of(node)
        road = [t for t in touches if self.kind[t[0]] in CARRIAGEWAY_KINDS]
        crossing = [t for t in touches if self.kind[t[0]] == WayKind.CROSSING]
        walk = [t for t in touches if t not in road and t not in crossing]
        if road and (walk or crossing):
            self.made.add(kerb, node, [(p, h, 1.0, 1) for p, h in walk + crossing])
        elif road:
            if all(self.kind[p] in APRON_KINDS and not self._joins_street((p, h)) for p, h in road):
                self.made.add(kerb, node, [(p, h, 1.0, 0) for p, h in road[:1]])  # nearer to the street it is that of the apron
        elif crossing and walk:
            self.made.add(kerb, node, [(p, h, 1.0, -1) for p, h in crossing])
        elif crossing:
            self.made.add(kerb, node, self._inner(crossing))
        else:
            down = [(p, h, 1.0, -1) for p, h in touches if self._joins_street((p, h))]
            self.made.add(kerb, node, down if len(down) == 1 else [(p, h, 1.0, 0) for p, h in touches[:1]])

    def _joins_street(self, touch: tuple[int, int]) -> bool:
        """Whether the piece leads to a street within reach of a kerb at its other end."""
        if self.skeleton.length_m[touch[0]] > KERB_REACH_M:
            return False
        return any(self.kind[p] in STREET_KINDS for p, _ in self.touches_of(self._other_end(touch)))

    def _inner(self, crossing: list[tuple[int, int]]) -> list[tuple[int, int, float, int]]:
        """Of two crossing pieces at a kerb, the one towards the middle of its way; leaving the kerb on it goes down."""
        sk = self.skeleton
        for piece, at_head in crossing:
            way = sk.way[piece]
            at_m = sk.to_m[piece] if at_head else sk.from_m[piece]
            is_near_start = at_m < sk.way_length_m[way] / 2
            if self._meets_road(int(way)) and is_near_start == (at_head == _AT_TAIL):
                return [(piece, at_head, 1.0, -1)]
        return [(*crossing[0], 1.0, 0)]

    def _meets_road(self, way: int) -> bool:
        return any(self.kind[p] in CARRIAGEWAY_KINDS for node in self._nodes_of_way(way) for p, _ in self.touches_of(int(node)))

    def _at_node(self, node: int, facts: PlaceFacts) -> None:
        """A barrier: on one of two pieces, or half on each of more."""
        touches = self.touches_of(node)
        if len(touches) <= 2:
            self.made.add(facts, node, [(p, h, 1.0, 0) for p, h in touches[:1]])
        else:
            self.made.add(facts, node, [(p, h, 0.5, 0) for p, h in touches])

    def _door(self, node: int, door: PlaceFacts) -> None:
        touches = self.touches_of(node)
        inside = [t for t in touches if self.flags[t[0]] & Flag.INDOOR]
        outside = [t for t in touches if t not in inside]
        if inside and outside:
            self.made.add(door, node, [(p, h, 1.0, 1) for p, h in inside])
        elif len(touches) == 1:
            self.made.add(door, node, [(p, h, 1.0, 0) for p, h in touches])
        elif inside:
            door.flags &= ~PlaceFlag.ENTRANCE
            self.made.add(door, node, [(p, h, 0.5, 0) for p, h in inside])

    def _implied(self, kerb_nodes: set[int]) -> None:
        """Kerbs and aprons that nobody mapped, from how ways meet."""
        is_road = np.isin(self.kind, [int(k) for k in CARRIAGEWAY_KINDS])
        is_street = np.isin(self.kind, [int(k) for k in STREET_KINDS])
        is_walk = np.isin(self.kind, [int(k) for k in WALK_KINDS])
        is_crossing = self.kind == WayKind.CROSSING
        is_apron = np.isin(self.kind, [int(k) for k in APRON_KINDS])
        at_road, at_street, at_walk = (self._nodes_of(mask) for mask in (is_road, is_street, is_walk))
        at_crossing = self._nodes_of(is_crossing)
        for node in np.flatnonzero(at_crossing & at_walk & ~at_road):
            if int(node) not in kerb_nodes:
                self._crossing_end(int(node), kerb_nodes)
        for node in np.flatnonzero(at_walk & at_road):
            if int(node) not in kerb_nodes:
                self._path_joins_road(int(node), bool(at_street[node]), kerb_nodes)
        for node in np.flatnonzero(at_street & self._nodes_of(is_apron)):
            for touch in self.touches_of(int(node)):
                if is_apron[touch[0]]:
                    self._apron(int(node), touch)
        untold = (self.kind == WayKind.BUSY_ROAD) & ((self.flags & Flag.NO_SIDEWALK) == 0)
        has_sidewalk = is_street & (((self.flags & Flag.STREET_SIDEWALK) != 0) | untold)
        for node in np.flatnonzero(self._nodes_of(has_sidewalk)):
            self._street_corner(int(node), is_street | (self.kind == WayKind.LIVING_STREET), has_sidewalk)

    def _apron(self, node: int, touch: tuple[int, int]) -> None:
        """The ramp of one driveway or alley, with the kerb that is tagged where it meets the street or a little further on."""
        piece, at_head = touch
        facts = PlaceFacts(PlaceKind.APRON, doubt="apron" if self.kind[piece] == WayKind.DRIVEWAY else "apron_service")
        beyond = [self._other_end(touch)] if self.skeleton.length_m[piece] <= KERB_REACH_M else []
        for place in (node, *beyond):
            tags = self.node_tags.get(int(self.skeleton.node_id[place]), {})
            kerb = kerb_of(tags) if tags.get("highway") != "crossing" else None
            if kerb is not None and (kerb.word or kerb.height_m >= 0):
                kerb = with_ramp(kerb, tags)
                facts = replace(kerb, kind=PlaceKind.APRON, doubt=facts.doubt)
                break
        self.made.add(facts, node, [(piece, at_head, 1.0, 1)])

    def _nodes_of(self, mask: npt.NDArray[np.bool_]) -> npt.NDArray[np.bool_]:
        marked = np.zeros(len(self.skeleton.node_id), bool)
        marked[self.skeleton.tail[mask]] = True
        marked[self.skeleton.head[mask]] = True
        return marked

    def _crossing_end(self, node: int, kerb_nodes: set[int]) -> None:
        touches = self.touches_of(node)
        if any(self._kerb_ahead(t, kerb_nodes) for t in touches):
            return  # the kerb of this end is mapped a little further on
        crossing = [(p, h) for p, h in touches if self.kind[p] == WayKind.CROSSING]
        way = int(self.skeleton.way[crossing[0][0]])
        facts = self._kerb_of_crossing(way) or PlaceFacts(PlaceKind.KERB)
        if self._crosses_busy_road(way) and not self._apron_near(node):
            facts.flags |= PlaceFlag.FAR_SIDE
        if not facts.word:
            facts.doubt = self._crossing_doubt(way, facts, node)
        self.made.add(facts, node, [(p, h, 1.0, -1) for p, h in crossing])

    def _crossing_doubt(self, way: int, facts: PlaceFacts, node: int) -> str:
        """What a kerb that nobody mapped is taken for: beyond a busy road worse, unless an apron lies near."""
        if any(self.flags[p] & Flag.ISLAND for p, _ in self.touches_of(node)):
            return "kerb_island"
        unpainted = read.read_crossing(self.way_tags[way]).kind.value in (CrossingKind.UNMARKED, CrossingKind.INFORMAL)
        if facts.flags & PlaceFlag.FAR_SIDE:
            return "kerb_unmarked" if unpainted else "kerb_far_side"
        return "kerb_unmarked" if unpainted else "kerb_crossing"

    def _apron_near(self, node: int) -> bool:
        """Whether an apron lies within reach along the gutter, as the crow flies."""
        sk = self.skeleton
        if self.apron_places is None:
            is_apron = np.isin(self.kind, [int(k) for k in APRON_KINDS])
            is_street = np.isin(self.kind, [int(k) for k in STREET_KINDS])
            rows = np.flatnonzero(self._nodes_of(is_apron) & self._nodes_of(is_street))
            self.apron_places = np.column_stack([sk.node_lon[rows], sk.node_lat[rows]])
        scale = np.array([np.cos(np.radians(sk.node_lat[node])), 1.0]) * M_PER_DEGREE
        offset = (self.apron_places - [sk.node_lon[node], sk.node_lat[node]]) * scale
        return bool((np.hypot(*offset.T) <= APRON_WITHIN_M).any())

    def _nodes_of_way(self, way: int) -> npt.NDArray[np.int64]:
        rows = slice(self.way_first[way], self.way_first[way + 1])
        return np.unique(np.concatenate([self.skeleton.tail[rows], self.skeleton.head[rows]]))

    def _crosses_busy_road(self, way: int) -> bool:
        return any(self.kind[p] in BUSY_KINDS for node in self._nodes_of_way(way) for p, _ in self.touches_of(int(node)))

    def _kerb_of_crossing(self, way: int) -> PlaceFacts | None:
        """The kerb that the crossing's own tags, or its node on the road, state for both sides (OSM wiki, Key:kerb)."""
        stated = kerb_of(self.way_tags[way])
        if stated is not None:
            return stated
        for row in range(self.way_first[way], self.way_first[way + 1]):
            for node in (self.skeleton.tail[row], self.skeleton.head[row]):
                tags = self.node_tags.get(int(self.skeleton.node_id[node]), {})
                if tags.get("highway") == "crossing" and (kerb := kerb_of(tags)) is not None:
                    return kerb
        return None

    def _other_end(self, touch: tuple[int, int]) -> int:
        piece, at_head = touch
        return int(self.skeleton.tail[piece] if at_head else self.skeleton.head[piece])

    def _path_joins_road(self, node: int, is_street: bool, kerb_nodes: set[int]) -> None:
        tags = self.node_tags.get(int(self.skeleton.node_id[node]), {})
        facts = kerb_of(tags) or PlaceFacts(PlaceKind.KERB)
        if not facts.word:
            facts.doubt = self._joint_doubt(node, tags, is_street)
        on_foot = [(p, h) for p, h in self.touches_of(node) if self.kind[p] in WALK_KINDS and not self.flags[p] & Flag.LINK]
        walk = [(p, h, 1.0, 1) for p, h in on_foot if not self._kerb_ahead((p, h), kerb_nodes)]
        if not walk:
            return
        if self.kind[[p for p, *_ in walk]].max() == self.kind[[p for p, *_ in walk]].min() == WayKind.SIDEWALK and not is_street:
            return  # a sidewalk that runs on across a driveway meets no kerb
        self.made.add(facts, node, walk)

    def _kerb_ahead(self, touch: tuple[int, int], kerb_nodes: set[int]) -> bool:
        """Whether the kerb of a path that leaves the road is mapped a little further on."""
        return self._other_end(touch) in kerb_nodes and bool(self.skeleton.length_m[touch[0]] <= KERB_REACH_M)

    def _joint_doubt(self, node: int, tags: Tags, is_street: bool) -> str:
        if tags.get("highway") == "crossing":
            return "kerb_crossing_node"
        if any(self.flags[p] & Flag.STREET_SIDEWALK for p, _ in self.touches_of(node)):
            return "kerb_side"
        return "kerb_join" if is_street else "kerb_service"

    def _street_corner(self, node: int, is_street: npt.NDArray[np.bool_], has_sidewalk: npt.NDArray[np.bool_]) -> None:
        touches = self.touches_of(node)
        if sum(1 for p, _ in touches if is_street[p]) < 3:
            return
        facts = self._corner_kerb(node, [t for t in touches if is_street[t[0]]]) or PlaceFacts(PlaceKind.KERB, doubt="kerb_corner")
        self.made.add(facts, node, [(p, h, 0.5, 0) for p, h in touches if has_sidewalk[p]])

    def _corner_kerb(self, node: int, arms: list[tuple[int, int]]) -> PlaceFacts | None:
        """The worst kerb of a corner where every arm's crossing states its own; one that is known says nothing of the others."""
        own = kerb_of(self.node_tags.get(int(self.skeleton.node_id[node]), {}))
        if own is not None and own.word:
            return own
        near = [self._other_end(t) for t in arms if self.skeleton.length_m[t[0]] <= CORNER_REACH_M]
        stated = [kerb_of(self.node_tags.get(int(self.skeleton.node_id[n]), {})) for n in near]
        known = [k for k in stated if k is not None and (k.word or k.height_m >= 0)]
        if len(known) < len(arms):
            return None
        return max(known, key=lambda k: (k.word in (KerbWord.RAISED, KerbWord.ROLLED), k.height_m))

    def _roads_crossed(self) -> None:
        """Where people on foot cross a road that is fast, wide, or held by signals: a place that asks for working signals or a marshal."""
        is_fast = (self.kind == WayKind.FAST_ROAD) | (self.lanes > FEW_LANES_MOST) | (self.speed_kmh >= FAST_KMH)
        is_fast &= np.isin(self.kind, [int(k) for k in STREET_KINDS])
        is_busy = is_fast | (self.kind == WayKind.BUSY_ROAD)
        on_foot = np.isin(self.kind, [int(k) for k in WALK_KINDS | {WayKind.CROSSING}])
        at_fast = self._nodes_of(is_fast)
        for node in np.flatnonzero(self._nodes_of(is_busy) & self._nodes_of(on_foot)):
            touches = [(p, h) for p, h in self.touches_of(int(node)) if on_foot[p] and not self.flags[p] & Flag.LINK]
            place = self._crossing_at(int(node), touches)
            place.flags |= PlaceFlag.FAST_OR_WIDE if at_fast[node] else 0
            if at_fast[node] or place.flags & PlaceFlag.SIGNALLED:
                self.made.add(place, int(node), [(p, h, 0.5, 0) for p, h in touches])

    def _bends(self) -> None:
        """Where a way on foot turns back on itself, or turns a corner that is known to be narrow (2010 ADA Standards 403.5.2)."""
        sk = self.skeleton
        scale = np.array([np.cos(np.radians(sk.node_lat.mean())), 1.0])
        place = np.column_stack([sk.node_lon, sk.node_lat]) * scale
        along = place[sk.head] - place[sk.tail]
        heading = np.arctan2(along[:, 1], along[:, 0])
        on_foot = np.isin(self.kind, [int(k) for k in WALK_KINDS | {WayKind.CORRIDOR}]) & ((self.flags & Flag.OVER_AREA) == 0)
        first = np.flatnonzero((sk.way[1:] == sk.way[:-1]) & (sk.head[:-1] == sk.tail[1:]) & on_foot[1:])
        turn = np.abs(_wrapped(heading[first + 1] - heading[first]))
        again = np.zeros(len(first))
        follows = np.flatnonzero((np.diff(first) == 1) & (sk.length_m[first[:-1] + 1] <= TURN_WITHIN_M))
        again[follows] = np.abs(_wrapped(heading[first[follows] + 2] - heading[first[follows]]))
        is_hairpin = np.maximum(turn, again) >= HAIRPIN_RAD
        is_corner = ~is_hairpin & (turn >= CORNER_RAD) & (self.width_m[first] < NARROW_M)
        for i in np.flatnonzero(is_hairpin | is_corner):
            piece = int(first[i])
            bend = PlaceFacts(PlaceKind.BEND, word=BendWord.HAIRPIN if is_hairpin[i] else BendWord.CORNER, doubt="bend")
            bend.width_m, bend.width_rank = float(self.width_m[piece]), self.width_rank[piece]
            self.made.add(bend, int(sk.head[piece]), [(piece, _AT_HEAD, 0.5, 0), (piece + 1, _AT_TAIL, 0.5, 0)])

    def _crossing_at(self, node: int, touches: list[tuple[int, int]]) -> PlaceFacts:
        """What node and crossing ways say of one crossing together."""
        place = crossing_of(self.node_tags.get(int(self.skeleton.node_id[node]), {}))
        for way in sorted({int(self.skeleton.way[p]) for p, _ in touches if self.kind[p] == WayKind.CROSSING}):
            along = crossing_of(self.way_tags[way])
            place.flags |= along.flags
            place.word = place.word or along.word
        return place


def _wrapped(angle: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    return np.asarray((angle + np.pi) % (2 * np.pi) - np.pi, np.float64)
