"""From a map extract and the ground to a ``Network``: the one verb of this stage is ``build_network``."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from rollroute.errors import InputError
from rollroute.inputs.osm import MapExtract, RawWay
from rollroute.network.areas import crossing_lines, point_inside
from rollroute.network.assemble import Skeleton, assemble
from rollroute.network.backdrop import backdrop_of, pack_texts
from rollroute.network.facts.points import PlaceFlag, PlaceKind
from rollroute.network.facts.ways import WayFacts, read_way
from rollroute.network.grade_signs import apply_signs
from rollroute.network.kinds import CARRIAGEWAY_KINDS, WayKind, way_kind
from rollroute.network.links import sidewalk_links
from rollroute.network.naming import names_of_ways, ways_with_sidewalks_drawn
from rollroute.network.network import Flag, Network, Nodes, Pieces, Places, Ways
from rollroute.network.placing import Placer
from rollroute.network.ranks import Rank
from rollroute.network.rooms import SPACES, indoor_table
from rollroute.network.tags import read_levels

if TYPE_CHECKING:
    from rollroute.inputs.terrain import Terrain
    from rollroute.network.grades import WayGrades

ATTRIBUTION = "© OpenStreetMap contributors, ODbL"
WHOLE_SEGMENT_M = 1e9  # without heights there is no grade to resolve
LEAST_WINDOW_M = 10.0  # the shortest way on which a grade is told
ROUGH_TAG_SD = 0.01  # assumption: a slope tagged as approximate


@dataclass(slots=True)
class _Ways:
    """Candidate ways with their facts, row by row."""

    ways: list[RawWay]
    facts: list[WayFacts]
    is_over_area: list[bool]


def build_network(
    extract: MapExtract, terrain: Terrain | None = None, *, address_points: Iterable[tuple[str, str, float, float]] = ()
) -> Network:
    """Build the walking and building network of ``extract``, with grades from ``terrain``.

    Raises
    ------
    InputError
        If nothing in the extract can be travelled.
    """
    chosen = _choose(extract)
    if not chosen.ways:
        raise InputError(f"{extract.source}: no street, path or corridor that a chair could travel. Check the extract.")
    longest_m = WHOLE_SEGMENT_M if terrain is None else max(LEAST_WINDOW_M, 3 * min(grid.cell_m for grid in terrain.grids))
    skeleton = assemble(chosen.ways, longest_piece_m=longest_m)
    node_tags = _with_kerb_lines(extract)
    names = names_of_ways(skeleton, chosen.ways, chosen.facts)
    _mark_carriageways(chosen, skeleton)
    placer = Placer(skeleton, chosen.facts, [w.tags for w in chosen.ways], node_tags)
    places, incidence, problems = placer.place()
    grades = None if terrain is None else _grades(skeleton, chosen, names, terrain)
    labels: dict[str, int] = {}
    backdrop = backdrop_of(extract, chosen.ways, chosen.facts, labels)
    problems = [(k, v, w.way_id) for w, f in zip(chosen.ways, chosen.facts, strict=True) for k, v in f.problems] + problems
    return Network(
        nodes=_nodes(skeleton, terrain),
        pieces=_pieces(skeleton, chosen, grades),
        places=places,
        incidence=incidence,
        ways=_ways(chosen.ways, names),
        backdrop=backdrop,
        about=_about(extract, terrain, grades, problems, labels, address_points)
        | _about_places(places, node_tags)
        | {"indoor": indoor_table(extract, set(skeleton.node_id.tolist()))},
    )


def _choose(extract: MapExtract) -> _Ways:
    """Ways that are travelled; areas are replaced by the lines across them."""
    chosen = _Ways([], [], [])
    areas: list[tuple[RawWay, WayKind]] = []
    use: dict[int, list[RawWay]] = {}
    for way in extract.ways:
        kind = way_kind(way.tags)
        if kind is None:
            continue
        if way.is_closed and (way.tags.get("area") == "yes" or kind in (WayKind.CORRIDOR, WayKind.PLATFORM)):
            areas.append((way, kind))
        else:
            chosen.ways.append(way)
            chosen.facts.append(read_way(way.tags, kind))
            chosen.is_over_area.append(False)
        for node_id in set(way.node_ids):
            use.setdefault(node_id, []).append(way)
    for link in sidewalk_links(chosen.ways, chosen.facts):
        chosen.ways.append(link)
        link_facts = read_way(link.tags, WayKind.SIDEWALK)
        chosen.facts.append(replace(link_facts, flags=link_facts.flags | Flag.LINK))
        chosen.is_over_area.append(False)
    for area, kind in areas:
        facts = read_way(area.tags, kind)
        inside = point_inside(area) if area.tags.get("indoor") in SPACES else None
        for line in crossing_lines(area, _joints(area, use, extract.node_tags), inside=inside):
            chosen.ways.append(line)
            chosen.facts.append(facts)
            chosen.is_over_area.append(True)
    return chosen


def _mark_carriageways(chosen: _Ways, skeleton: Skeleton) -> None:
    """A street whose sidewalks are drawn beside it has none on its own line, tagged so or not."""
    for row in ways_with_sidewalks_drawn(skeleton, [f.kind for f in chosen.facts]):
        facts = chosen.facts[row]
        if not facts.flags & Flag.STREET_SIDEWALK:
            chosen.facts[row] = replace(facts, flags=facts.flags | Flag.NO_SIDEWALK)


def _joints(area: RawWay, use: dict[int, list[RawWay]], node_tags: dict[int, dict[str, str]]) -> set[int]:
    """Rim nodes where something joins: for a room its doors, lifts and lines that lead in; for other areas all shared nodes."""
    joints = set()
    for node_id in area.node_ids[:-1]:
        tags = node_tags.get(node_id, {})
        others = [w for w in use.get(node_id, ()) if w is not area and _share_level(w.tags, area.tags)]
        is_way_in = bool({"door", "entrance"} & tags.keys()) or tags.get("highway") == "elevator"
        is_line = any(not w.is_closed for w in others)
        is_open = area.tags.get("indoor") != "room" and any(w.tags.get("indoor") != "room" for w in others)
        if _share_level(tags, area.tags) if is_way_in else is_line or is_open:
            joints.add(node_id)
    return joints


def _share_level(one: Mapping[str, str], other: Mapping[str, str]) -> bool:
    """Whether two things may lie on one level; where the map names none, they may (OSM wiki, Simple Indoor Tagging)."""
    levels = [read_levels(tags).value for tags in (one, other)]
    return not levels[0] or not levels[1] or bool(set(levels[0]) & set(levels[1]))


def _with_kerb_lines(extract: MapExtract) -> dict[int, dict[str, str]]:
    """Node tags, with the kerbs that are drawn as lines handed to the nodes that they cross."""
    node_tags = dict(extract.node_tags)
    for way in extract.ways:
        if way.tags.get("barrier") == "kerb":
            kerb = {k: v for k, v in way.tags.items() if k.startswith("kerb") or k == "barrier"}
            for node_id in way.node_ids:
                node_tags[node_id] = kerb | node_tags.get(node_id, {})
    return node_tags


def _grades(skeleton: Skeleton, chosen: _Ways, names: list[str | None], terrain: Terrain) -> WayGrades:
    from rollroute.network.grade_chains import in_way_direction, lay_ways, profile_of
    from rollroute.network.grades import measure_grades

    laid = lay_ways(skeleton, chosen.facts, names)
    return in_way_direction(measure_grades(profile_of(skeleton, chosen.facts, laid), terrain), laid, skeleton)


def _nodes(skeleton: Skeleton, terrain: Terrain | None) -> Nodes:
    if terrain is None:
        height_m = np.full(len(skeleton.node_id), np.nan, np.float32)
    else:
        height_m = np.asarray(terrain.heights_m(skeleton.node_lon, skeleton.node_lat)[0], np.float32)
    return Nodes(lon=skeleton.node_lon, lat=skeleton.node_lat, osm_id=skeleton.node_id, height_m=height_m)


def _pieces(skeleton: Skeleton, chosen: _Ways, grades: WayGrades | None) -> Pieces:
    way = skeleton.way
    facts = chosen.facts

    def column(name: str, dtype: npt.DTypeLike) -> npt.NDArray[Any]:
        return np.array([getattr(f, name) for f in facts], dtype)[way]

    flags = column("flags", np.int64) | np.where(np.array(chosen.is_over_area, bool)[way], Flag.OVER_AREA, 0)
    levels = np.array([f.levels[0] if f.levels else np.nan for f in facts], np.float32)[way]
    grade = _grade_columns(skeleton, facts, grades)
    return Pieces(
        tail=skeleton.tail.astype(np.int32),
        head=skeleton.head.astype(np.int32),
        way=way.astype(np.int32),
        length_m=skeleton.length_m,
        kind=column("kind", np.uint8),
        flags=flags.astype(np.uint32),
        width_m=column("width_m", np.float32),
        width_rank=column("width_rank", np.uint8),
        surface=column("surface", np.uint8),
        surface_rank=column("surface_rank", np.uint8),
        smoothness=column("smoothness", np.uint8),
        **grade,
        cross_slope=column("cross_slope", np.float32),
        level=levels,
        speed_kmh=column("speed_kmh", np.float32),
        lanes=column("lanes", np.uint8),
        access=column("access", np.uint8),
        wheelchair=column("wheelchair", np.uint8),
        mass_limit_kg=column("mass_limit_kg", np.float32),
        stretch_m=skeleton.way_length_m[way].astype(np.float32),
    )


def _grade_columns(skeleton: Skeleton, facts: list[WayFacts], grades: WayGrades | None) -> dict[str, npt.NDArray[Any]]:
    """Grades from tags where they are numbers, else from the raster; indoors and on straight pieces without heights, unknown."""
    way, n = skeleton.way, len(skeleton.tail)
    tagged = np.array([f.grade for f in facts], np.float32)[way]
    tagged_rank = np.array([f.grade_rank for f in facts], np.uint8)[way]
    unknown = np.full(n, np.nan, np.float32)
    columns = {name: unknown.copy() for name in ("grade", "grade_sd", "grade_steepest", "grade_measured", "grade_measured_sd")}
    columns |= {"grade_inner": np.zeros(n, np.float32), "grade_window_m": unknown.copy(), "grade_rise": unknown.copy()}
    rank = np.zeros(n, np.uint8)
    if grades is not None:
        columns |= {
            "grade": grades.grade.copy(),
            "grade_sd": grades.grade_sd.copy(),
            "grade_steepest": grades.steepest_grade.copy(),
            "grade_measured": grades.posterior.measured.copy(),
            "grade_measured_sd": grades.posterior.measured_sd.copy(),
            "grade_inner": grades.posterior.inner.copy(),
            "grade_window_m": grades.window_m.copy(),
            "grade_rise": (grades.climb_m / skeleton.length_m).astype(np.float32),
        }
        rank[~np.isnan(grades.grade)] = Rank.INFERRED
        apply_signs(columns, rank, np.array([f.incline_sign for f in facts], np.int8)[way])
    is_floor = np.array([_is_level_floor(f) for f in facts], bool)[way] & np.isnan(tagged)
    is_between = np.array([bool(f.flags & Flag.INDOOR) and len(set(f.levels)) > 1 for f in facts], bool)[way] & np.isnan(tagged)
    is_ramp = np.array([f.kind is WayKind.RAMP for f in facts], bool)[way] & np.isnan(tagged)
    is_short_ramp = is_ramp & (skeleton.way_length_m[way] <= np.nan_to_num(columns["grade_window_m"]) + 1e-3)
    for mask, value, sd, value_rank in (
        (is_short_ramp, unknown, unknown, Rank.UNKNOWN),  # nor does it see what is built on the ground and shorter than its window
        (is_between, unknown, unknown, Rank.UNKNOWN),  # a raster tells the ground, not the ramp between two storeys
        (is_floor, np.zeros(n, np.float32), np.zeros(n, np.float32), Rank.INFERRED),
        (~np.isnan(tagged), tagged, np.where(tagged_rank == Rank.TAG_WORD, ROUGH_TAG_SD, 0.0).astype(np.float32), None),
    ):
        columns["grade"][mask] = columns["grade_steepest"][mask] = value[mask]
        columns["grade_sd"][mask] = sd[mask]
        columns["grade_rise"][mask] = np.maximum(value[mask], 0.0)
        for name in ("grade_measured", "grade_measured_sd", "grade_window_m"):
            columns[name][mask] = np.nan
        rank[mask] = tagged_rank[mask] if value_rank is None else value_rank
    return {**columns, "grade_rank": rank}


def _is_level_floor(facts: WayFacts) -> bool:
    """A corridor, room or lift on one level is taken as level: a floor (inferred from the kind of way)."""
    return facts.kind in (WayKind.CORRIDOR, WayKind.ELEVATOR) and len(set(facts.levels)) <= 1


def _ways(ways: list[RawWay], names: list[str | None]) -> Ways:
    import json

    name_bytes, name_offsets = pack_texts([name or "" for name in names])
    tags_bytes, tags_offsets = pack_texts([json.dumps(way.tags, ensure_ascii=False, separators=(",", ":")) for way in ways])
    return Ways(
        osm_id=np.array([way.way_id for way in ways], np.int64),
        name_bytes=name_bytes,
        name_offsets=name_offsets,
        tags_bytes=tags_bytes,
        tags_offsets=tags_offsets,
    )


def _heights_source(terrain: Terrain) -> str:
    parts = [f"{g.name}, cells of {g.cell_m:.0f} m, error {g.sigma_m:.2f} m ({g.sigma_source})" for g in terrain.grids]
    return "; ".join(parts) + f"; datum {terrain.datum or 'not stated'}"


def _about_places(places: Places, node_tags: Mapping[int, dict[str, str]]) -> dict[str, Any]:
    """Names of gates and doors, for keys; tags of places that are open at times only."""
    ids = [int(i) for i in places.osm_id[np.isin(places.kind, [PlaceKind.BARRIER, PlaceKind.DOOR])] if i > 0]
    names = {str(i): name for i in ids if (name := node_tags[i].get("name") or node_tags[i].get("ref"))}
    rules = [int(i) for i in places.osm_id[(places.flags & PlaceFlag.CONDITIONAL) != 0] if i > 0]
    return {"place_names": names, "conditional_nodes": {str(i): node_tags[i] for i in rules}}


def _about(
    extract: MapExtract,
    terrain: Terrain | None,
    grades: WayGrades | None,
    problems: list[tuple[str, str, int]],
    labels: dict[str, int],
    address_points: Iterable[tuple[str, str, float, float]],
) -> dict[str, Any]:
    sources = [f"map: {extract.source}, {ATTRIBUTION}"]
    sources += [] if terrain is None else [f"heights: {_heights_source(terrain)}"]
    addresses = [(a.street, a.number, round(a.lon, 7), round(a.lat, 7)) for a in extract.addresses]
    return {
        "map_date": extract.map_date,
        "sources": sources,
        "terrain_warnings": [] if terrain is None else sorted({n.code for n in terrain.notices}),
        "terrain_notices": [] if terrain is None else [f"{n.raster} {n.message}" for n in terrain.notices],
        "problems": problems,
        "n_incomplete_ways": extract.n_incomplete_ways,
        "addresses": addresses + [tuple(point) for point in address_points],
        "landmarks": [(m.kind, m.name, round(m.lon, 7), round(m.lat, 7)) for m in extract.landmarks],
        "labels": list(labels),
        "grade_prior": None if grades is None else grades.posterior.prior.weights.tolist(),
        "carriageway_kinds": sorted(int(k) for k in CARRIAGEWAY_KINDS),
    }
