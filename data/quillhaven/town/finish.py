"""Lines become ways: cut, tagged by quarter, dirtied in places; structures levelled; grades measured."""

import math
from random import Random
from typing import Any

from .dressing import DIRTY, cut_points, street_tags
from .kerbs import true_kerb
from .model import Line, Tags, Town, Way
from .plan import quarter
from .streets import Draft


def level_structures(town: Town) -> None:
    """Decks and tunnels run straight between their ends."""
    for line in town.lines:
        for span in line.spans:
            if not span.level:
                continue
            i, j = sorted((line.refs.index(span.first), line.refs.index(span.last)))
            run = [0.0]
            for a, b in zip(line.refs[i:j], line.refs[i + 1 : j + 1], strict=True):
                run.append(run[-1] + math.dist(town.xy(a), town.xy(b)))
            low, high = town.ele_m(line.refs[i]), town.ele_m(line.refs[j])
            for r, s in zip(line.refs[i + 1 : j], run[1:-1], strict=True):
                town.nodes[r].ele_m = round(low + (high - low) * s / run[-1], 3)


def _pieces(line: Line) -> list[list[int]]:
    marks = cut_points(line)
    pieces, now = [], [line.refs[0]]
    for r in line.refs[1:]:
        now.append(r)
        if r in marks and r != line.refs[-1]:
            pieces.append(now)
            now = [r]
    return [*pieces, now]


def _in_span(line: Line, piece: list[int]) -> tuple[Tags, dict[str, Any]]:
    for span in line.spans:
        i, j = sorted((line.refs.index(span.first), line.refs.index(span.last)))
        if set(piece) <= set(line.refs[i : j + 1]):
            return span.tags, span.truth
    return {}, {}


def _middle(town: Town, piece: list[int]) -> tuple[float, float]:
    a, b = town.xy(piece[(len(piece) - 1) // 2]), town.xy(piece[len(piece) // 2])
    return (a[0] + b[0]) / 2, (a[1] + b[1]) / 2


def finish_ways(town: Town, rng: Random) -> None:
    """Make the ways."""
    for line in town.lines:
        for piece in _pieces(line):
            tags, true = dict(line.tags), dict(line.truth)
            if line.kind == "street":
                where = quarter(*_middle(town, piece))
                tags, true = street_tags(rng, Draft(line.name, line.tags["highway"], []), where)
            extra_tags, extra_truth = _in_span(line, piece)
            town.add_way(piece, tags | extra_tags, {"kind": line.kind, **true, **extra_truth})


def soil(town: Town, keep: set[int]) -> None:
    """What hurried mappers typed: each dirty tag onto one piece of street of its quarter, none onto the ways in ``keep``."""
    streets = [w for w in town.ways if w.truth and w.truth.get("kind") == "street" and w.id not in keep]
    minor = [w for w in streets if w.tags["highway"] in ("residential", "unclassified", "living_street", "tertiary")]
    by_quarter: dict[str, list[Way]] = {}
    for way in minor:
        by_quarter.setdefault(quarter(*_middle(town, way.refs)), []).append(way)
    for where, rows in by_quarter.items():
        dirt = [tags for w, tags in DIRTY if w == where]
        for k, tags in enumerate(dirt):
            rows[(2 * k + 1) * len(rows) // (2 * len(dirt))].tags.update(tags)


OWN_KERB = ("kerb_node", "apron")
MOUTH_KINDS = ((0.7, "lowered", 0.005, 0.03), (0.2, "flush", 0.0, 0.005), (0.1, "raised", 0.09, 0.14))


def record_mouths(town: Town, rng: Random) -> None:
    """The kerb that a foot way, driveway or car park crosses where it meets a street (or, a crossing, the sidewalk)."""
    on_street = {r for line in town.lines if line.kind == "street" for r in line.refs}
    for way in town.ways:
        if way.truth is None or way.truth.get("kind") not in ("path", "crossing", "driveway", "service"):
            continue
        mouths = {}
        for end, inward in ((way.refs[0], way.refs[1:3]), (way.refs[-1], way.refs[-2:-4:-1])):
            kerbs = [
                town.nodes[r].truth["kerb"]["height_m"] for r in inward if town.nodes[r].truth.get("kerb", {}).get("place") in OWN_KERB
            ]
            if kerbs and (end in on_street or way.truth["kind"] == "crossing"):
                mouths[str(end)] = kerbs[0]
            elif end in on_street:
                mouths[str(end)] = true_kerb(rng, MOUTH_KINDS)[1]
        if mouths:
            way.truth["end_kerbs"] = mouths


def close_for_works(town: Town) -> None:
    """One piece of street and one sidewalk are dug up."""
    for kind, where in (("street", "ropewalk"), ("sidewalk", "north")):
        for way in town.ways:
            fits = way.truth is not None and way.truth.get("kind") == kind and way.tags.get("highway") in ("residential", "footway")
            if (
                fits
                and quarter(*_middle(town, way.refs)) == where
                and 3 < len(way.refs) < 40
                and (kind == "street" or _middle(town, way.refs)[1] > 1380)
            ):
                was = way.tags["highway"]
                way.tags.update({"highway": "construction", "construction": was, "opening_date": "2026-09"})
                assert way.truth is not None
                way.truth["closed"] = "construction"
                break


def measure(town: Town) -> None:
    """True grade of every piece of every way that people move on, along its direction."""
    for way in town.ways:
        if way.truth is None:
            continue
        grades = []
        for a, b in zip(way.refs, way.refs[1:], strict=False):
            length = math.dist(town.xy(a), town.xy(b))
            grades.append(round((town.ele_m(b) - town.ele_m(a)) / length, 5) if length > 0.005 else 0.0)
        way.truth["grades"] = grades
