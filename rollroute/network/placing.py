"""Set places on pieces: kerbs, barriers, doors, lifts, and the kerbs and aprons that a map is silent about.

Where a kerb lies is known from how ways meet, even where nobody tagged it:
a crossing ends at a kerb; a path that meets a street crosses one; a driveway comes over an apron;
a street drawn as one line with sidewalks has kerbs at every corner. A map that is silent about a kerb is not a map without a kerb.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from rollroute.network.assemble import Skeleton
from rollroute.network.doubts import DOUBT_KINDS
from rollroute.network.facts.points import KerbWord, PlaceFacts, PlaceFlag, PlaceKind, read_barrier, read_door, read_kerb, read_lift
from rollroute.network.facts.ways import WayFacts
from rollroute.network.kinds import CARRIAGEWAY_KINDS, STREET_KINDS, WALK_KINDS, WayKind
from rollroute.network.network import Flag, Incidence, Places

Tags = Mapping[str, str]
KERB_REACH_M = 8.0  # assumption: a kerb mapped within this distance of a crossing's end is that end's kerb
_AT_HEAD, _AT_TAIL = 1, 0
_INDOOR = frozenset({WayKind.CORRIDOR, WayKind.ELEVATOR})
_APRON = frozenset({WayKind.DRIVEWAY, WayKind.SERVICE, WayKind.PARKING_AISLE})


@dataclass(slots=True)
class _Made:
    """Places and entries as they are found."""

    places: list[tuple[PlaceFacts, int, str]] = field(default_factory=list)  # facts, node, kind of doubt
    entries: list[tuple[int, int, float, int, int]] = field(default_factory=list)  # piece, place, share, rises, at_head

    def add(self, facts: PlaceFacts, node: int, doubt: str, touches: list[tuple[int, int, float, int]]) -> None:
        """Add a place at ``node`` that touches (piece, at_head, share, outward) — ``outward`` +1 where leaving the node goes up."""
        if not touches:
            return
        number = len(self.places)
        self.places.append((facts, node, doubt))
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
        kerb_nodes = set()
        number_of = {int(i): n for n, i in enumerate(self.skeleton.node_id) if i and int(i) in self.node_tags}
        for node_id, node in sorted(number_of.items()):
            tags = self.node_tags[node_id]
            kerb = read_kerb(tags)
            found = [kerb, read_barrier(tags), read_door(tags), read_lift(tags)]
            problems += [(key, value, -node_id) for facts in found if facts for key, value in facts.problems]
            if kerb is not None and tags.get("highway") != "crossing":
                kerb_nodes.add(node)
                self._explicit_kerb(node, kerb)
            if found[1] is not None:
                self._at_node(node, found[1], f"barrier_{found[1].word}")
            if found[2] is not None:
                self._door(node, found[2])
            if found[3] is not None:
                self.made.add(found[3], node, "lift", [(p, h, 0.5, 0) for p, h in self.touches_of(node)])
        self._implied(kerb_nodes)
        return self._places(), self._incidence(), problems

    def _explicit_kerb(self, node: int, kerb: PlaceFacts) -> None:
        touches = self.touches_of(node)
        road = [t for t in touches if self.kind[t[0]] in CARRIAGEWAY_KINDS]
        crossing = [t for t in touches if self.kind[t[0]] == WayKind.CROSSING]
        walk = [t for t in touches if t not in road and t not in crossing]
        if road:
            self.made.add(kerb, node, "kerb_word", [(p, h, 1.0, 1) for p, h in walk + crossing])
        elif crossing and walk:
            self.made.add(kerb, node, "kerb_word", [(p, h, 1.0, -1) for p, h in crossing])
        elif crossing:
            self.made.add(kerb, node, "kerb_word", self._inner(crossing))
        else:
            self.made.add(kerb, node, "kerb_word", [(p, h, 1.0, 0) for p, h in touches[:1]])

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
        rows = slice(self.way_first[way], self.way_first[way + 1])
        nodes = np.unique(np.concatenate([self.skeleton.tail[rows], self.skeleton.head[rows]]))
        return any(self.kind[p] in CARRIAGEWAY_KINDS for node in nodes for p, _ in self.touches_of(int(node)))

    def _at_node(self, node: int, facts: PlaceFacts, doubt: str) -> None:
        """A barrier: on one of two pieces, or half on each of more."""
        touches = self.touches_of(node)
        if len(touches) <= 2:
            self.made.add(facts, node, doubt, [(p, h, 1.0, 0) for p, h in touches[:1]])
        else:
            self.made.add(facts, node, doubt, [(p, h, 0.5, 0) for p, h in touches])

    def _door(self, node: int, door: PlaceFacts) -> None:
        touches = self.touches_of(node)
        inside = [t for t in touches if self.flags[t[0]] & Flag.INDOOR]
        outside = [t for t in touches if t not in inside]
        if inside and outside:
            self.made.add(door, node, "door", [(p, h, 1.0, 1) for p, h in inside])
        elif len(touches) == 1:
            self.made.add(door, node, "door", [(p, h, 1.0, 0) for p, h in touches])
        elif inside:
            door.flags &= ~PlaceFlag.ENTRANCE
            self.made.add(door, node, "door", [(p, h, 0.5, 0) for p, h in inside])

    def _implied(self, kerb_nodes: set[int]) -> None:
        """Kerbs and aprons that nobody mapped, from how ways meet."""
        is_road = np.isin(self.kind, [int(k) for k in CARRIAGEWAY_KINDS])
        is_street = np.isin(self.kind, [int(k) for k in STREET_KINDS])
        is_walk = np.isin(self.kind, [int(k) for k in WALK_KINDS])
        is_crossing = self.kind == WayKind.CROSSING
        is_apron = np.isin(self.kind, [int(k) for k in _APRON])
        at_road, at_street, at_walk = (self._nodes_of(mask) for mask in (is_road, is_street, is_walk))
        at_crossing = self._nodes_of(is_crossing)
        for node in np.flatnonzero(at_crossing & at_walk & ~at_road):
            if int(node) not in kerb_nodes:
                self._crossing_end(int(node), kerb_nodes)
        for node in np.flatnonzero(at_walk & at_road):
            if int(node) not in kerb_nodes:
                self._path_joins_road(int(node), bool(at_street[node]))
        for node in np.flatnonzero(at_street & self._nodes_of(is_apron)):
            touches = [(p, h, 1.0, 1) for p, h in self.touches_of(int(node)) if is_apron[p]]
            self.made.add(PlaceFacts(PlaceKind.APRON), int(node), "apron", touches)
        has_sidewalk = is_street & ((self.flags & Flag.STREET_SIDEWALK) != 0)
        for node in np.flatnonzero(self._nodes_of(has_sidewalk)):
            self._street_corner(int(node), is_street, has_sidewalk)

    def _nodes_of(self, mask: npt.NDArray[np.bool_]) -> npt.NDArray[np.bool_]:
        marked = np.zeros(len(self.skeleton.node_id), bool)
        marked[self.skeleton.tail[mask]] = True
        marked[self.skeleton.head[mask]] = True
        return marked

    def _crossing_end(self, node: int, kerb_nodes: set[int]) -> None:
        touches = self.touches_of(node)
        if any(self._other_end(t) in kerb_nodes and self.skeleton.length_m[t[0]] <= KERB_REACH_M for t in touches):
            return  # the kerb of this end is mapped a little further on
        crossing = [(p, h) for p, h in touches if self.kind[p] == WayKind.CROSSING]
        facts = self._kerb_of_crossing(int(self.skeleton.way[crossing[0][0]])) or PlaceFacts(PlaceKind.KERB)
        self.made.add(facts, node, "kerb_word" if facts.word else "kerb_crossing", [(p, h, 1.0, -1) for p, h in crossing])

    def _kerb_of_crossing(self, way: int) -> PlaceFacts | None:
        """The kerb that the crossing's own tags, or its node on the road, state for both sides (OSM wiki, Key:kerb)."""
        stated = read_kerb(self.way_tags[way])
        if stated is not None:
            return stated
        for row in range(self.way_first[way], self.way_first[way + 1]):
            for node in (self.skeleton.tail[row], self.skeleton.head[row]):
                tags = self.node_tags.get(int(self.skeleton.node_id[node]), {})
                if tags.get("highway") == "crossing" and (kerb := read_kerb(tags)) is not None:
                    return kerb
        return None

    def _other_end(self, touch: tuple[int, int]) -> int:
        piece, at_head = touch
        return int(self.skeleton.tail[piece] if at_head else self.skeleton.head[piece])

    def _path_joins_road(self, node: int, is_street: bool) -> None:
        tags = self.node_tags.get(int(self.skeleton.node_id[node]), {})
        facts = read_kerb(tags) or PlaceFacts(PlaceKind.KERB)
        has_sidewalk = any(self.flags[p] & Flag.STREET_SIDEWALK for p, _ in self.touches_of(node))
        unknown = "kerb_side" if has_sidewalk else "kerb_join" if is_street else "kerb_service"
        doubt = "kerb_word" if facts.word else unknown
        walk = [(p, h, 1.0, 1) for p, h in self.touches_of(node) if self.kind[p] in WALK_KINDS and not self.flags[p] & Flag.LINK]
        if not walk:
            return
        if self.kind[[p for p, *_ in walk]].max() == self.kind[[p for p, *_ in walk]].min() == WayKind.SIDEWALK and not is_street:
            return  # a sidewalk that runs on across a driveway meets no kerb
        self.made.add(facts, node, doubt, walk)

    def _street_corner(self, node: int, is_street: npt.NDArray[np.bool_], has_sidewalk: npt.NDArray[np.bool_]) -> None:
        touches = self.touches_of(node)
        if sum(1 for p, _ in touches if is_street[p]) < 3:
            return
        stated = [read_kerb(self.node_tags.get(int(self.skeleton.node_id[n]), {})) for n in (node, *map(self._other_end, touches))]
        known = [k for k in stated if k is not None and k.word]
        worst = max(known, key=lambda k: (k.word in (KerbWord.RAISED, KerbWord.ROLLED), k.height_m), default=None)
        facts = worst or PlaceFacts(PlaceKind.KERB)
        self.made.add(facts, node, "kerb_word" if worst else "kerb_corner", [(p, h, 0.5, 0) for p, h in touches if has_sidewalk[p]])

    def _places(self) -> Places:
        rows = self.made.places
        nodes = np.array([node for _, node, _ in rows], np.int64)
        facts = [f for f, _, _ in rows]
        return Places(
            kind=np.array([f.kind for f in facts], np.uint8),
            lon=self.skeleton.node_lon[nodes] if len(rows) else np.empty(0),
            lat=self.skeleton.node_lat[nodes] if len(rows) else np.empty(0),
            osm_id=self.skeleton.node_id[nodes] if len(rows) else np.empty(0, np.int64),
            word=np.array([f.word for f in facts], np.uint8),
            height_m=np.array([f.height_m for f in facts], np.float32),
            height_rank=np.array([f.height_rank for f in facts], np.uint8),
            width_m=np.array([f.width_m for f in facts], np.float32),
            width_rank=np.array([f.width_rank for f in facts], np.uint8),
            length_m=np.array([f.length_m for f in facts], np.float32),
            flags=np.array([f.flags for f in facts], np.uint8),
            doubt=np.array([DOUBT_KINDS.index(doubt) for _, _, doubt in rows], np.uint8),
        )

    def _incidence(self) -> Incidence:
        entries = np.array(self.made.entries, np.float64).reshape(-1, 5)
        return Incidence(
            piece=entries[:, 0].astype(np.int32),
            place=entries[:, 1].astype(np.int32),
            share=entries[:, 2].astype(np.float32),
            rises=entries[:, 3].astype(np.int8),
            at_head=entries[:, 4].astype(np.uint8),
        )
