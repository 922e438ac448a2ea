"""Tags of the streets by quarter, with the truth that they hide."""

from random import Random

from .model import Line, Span, Tags, Town
from .plan import STREET_HALF_WIDTH_M, quarter
from .streets import Draft
from .terrain import DECK_END_OFFSET_M, river_offset

MAXSPEED = {"trunk": "80", "secondary": "50", "tertiary": "50", "residential": "30", "living_street": "10", "unclassified": "50"}
LANES = {"trunk": "4", "secondary": "2", "tertiary": "2"}
# What a hurried mapper typed; each goes onto one piece of street, in this order.
DIRTY: list[tuple[str, Tags]] = [
    ("old", {"width": "~2"}),
    ("old", {"width": "5 m"}),
    ("old", {"width": "16'5\""}),
    ("hill", {"incline": "up"}),
    ("hill", {"incline": "10%"}),
    ("hill", {"incline": "-5°"}),
    ("old", {"surface": "paved;cobblestone"}),
    ("ropewalk", {"smoothness": "bad"}),
    ("ropewalk", {"width": "4.5;5"}),
    ("hill", {"incline": "steep"}),
    ("westbank", {"surface": "asfalt"}),
    ("westbank", {"width": "narrow"}),
    ("upland", {"surface": "ground", "smoothness": "very_bad"}),
    ("ropewalk", {"sidewalk": "both", "sidewalk:left": "no"}),
    ("old", {"sidewalk": "yes"}),
    ("westbank", {"lit": "maybe"}),
    ("hill", {"incline": "1:14"}),
    ("old", {"width": "500 cm"}),
    ("ropewalk", {"incline": "down"}),
    ("upland", {"lanes": "1.5"}),
]


def _surface(rng: Random, where: str, name: str, highway: str) -> tuple[str, Tags]:
    if where == "old" and not name.startswith("Larkmount") and highway in ("residential", "living_street") and rng.random() < 0.34:
        kind = rng.choice(["sett", "sett", "cobblestone", "unhewn_cobblestone", "paving_stones"])
        return kind, ({"surface": kind} if rng.random() < 0.8 else {})
    if where == "upland" and highway == "unclassified" and rng.random() < 0.3:
        kind = rng.choice(["compacted", "compacted", "compacted", "compacted", "gravel"])
        return kind, ({"surface": kind} if rng.random() < 0.6 else {})
    return "asphalt", ({"surface": "asphalt"} if rng.random() < 0.62 else {})


def _sidewalk(rng: Random, where: str, highway: str) -> tuple[str, Tags]:
    """The true sides and the tag."""
    if where == "hill" and highway == "tertiary" and rng.random() < 0.7:
        return "left", {"sidewalk": "left"}
    if highway in ("trunk", "living_street") or where == "hill":
        return "no", ({"sidewalk": "no"} if rng.random() < 0.5 else {})
    if where == "north":
        return "separate", ({"sidewalk": "separate"} if rng.random() < 0.8 else {"sidewalk:both": "separate"})
    sides = rng.choices(["both", "left", "right", "no"], [0.62, 0.13, 0.13, 0.12])[0]
    if highway in ("secondary", "tertiary"):
        sides = "both"
    pick = rng.random()
    if pick < 0.06 and sides == "both":
        return sides, {
            "sidewalk": "both",
            "sidewalk:left:surface": "paving_stones",
            "sidewalk:right:surface": "asphalt",
            "sidewalk:right:width": "1.4",
        }
    if pick < 0.68:
        return sides, {"sidewalk": sides}
    if pick < 0.82:
        left, right = (("yes" if sides in ("both", s) else "no") for s in ("left", "right"))
        return sides, {"sidewalk:left": left, "sidewalk:right": right}
    return sides, {}


def street_tags(rng: Random, draft: Draft, where: str) -> tuple[Tags, dict[str, object]]:
    """Tags and truth of one piece of street."""
    half = STREET_HALF_WIDTH_M[draft.highway]
    width = round(2 * half + rng.uniform(-0.4, 0.5), 1)
    surface, surface_tags = _surface(rng, where, draft.name, draft.highway)
    sides, sidewalk_tags = _sidewalk(rng, where, draft.highway)
    tags: Tags = {"highway": draft.highway, **surface_tags, **sidewalk_tags}
    if draft.name:
        tags["name"] = draft.name
    if rng.random() < 0.75 or draft.main:
        tags["maxspeed"] = "20 mph" if draft.highway == "residential" and rng.random() < 0.05 else MAXSPEED[draft.highway]
    if draft.highway in LANES:
        tags["lanes"] = LANES[draft.highway]
    if rng.random() < 0.25:
        tags["width"] = f"{width:g}"
    if draft.highway == "trunk":
        tags.update({"foot": "no", "ref": "Q1", "dual_carriageway": "no"})
    if rng.random() < 0.55:
        tags["lit"] = "no" if where == "upland" else "yes"
    smooth = "bad" if surface in ("cobblestone", "unhewn_cobblestone", "gravel") else ("intermediate" if surface == "sett" else "good")
    if rng.random() < 0.2:
        tags["smoothness"] = smooth
    truth: dict[str, object] = {"width_m": width, "surface": surface, "smoothness": smooth, "sidewalk": sides}
    if sides not in ("no", "separate"):
        truth["sidewalk_width_m"] = round(rng.uniform(1.1, 2.6), 2)
        if "sidewalk:right:width" in tags:
            truth["sidewalk_width_m"] = float(tags["sidewalk:right:width"])
    return tags, truth


def place_streets(town: Town, drafts: list[Draft], rng: Random) -> None:
    """Turn drafts into lines; a street gets new tags where its quarter changes and sometimes in between."""
    for draft in drafts:
        line = town.line(
            "street",
            draft.points,
            {"highway": draft.highway},
            {"half_width_m": STREET_HALF_WIDTH_M[draft.highway]},
            name=draft.name,
            joinable=draft.highway != "trunk",
        )
        _mark_bridge(town, line)
        for a, b in zip(line.refs, line.refs[1:], strict=False):
            if quarter(*town.xy(a)) != quarter(*town.xy(b)) or rng.random() < 0.035:
                line.cuts.add(b)
        uncut_decks(line)


def _mark_bridge(town: Town, line: Line) -> None:
    """Where a street crosses the river it runs on a level deck."""
    offsets = [river_offset(*town.xy(r)) for r in line.refs]
    if min(offsets) > -60 or max(offsets) < 60:
        return
    south = _first_at(town, line, -DECK_END_OFFSET_M)
    north = _first_at(town, line, DECK_END_OFFSET_M)
    line.spans.append(_bridge_span(south, north, line.name))


def uncut_decks(line: Line) -> None:
    """A deck is one way: no cut between its ends."""
    for span in line.spans:
        i, j = sorted((line.refs.index(span.first), line.refs.index(span.last)))
        line.cuts -= set(line.refs[i + 1 : j])


def _first_at(town: Town, line: Line, offset_m: float) -> int:
    shape = town.shape(line)
    steps = int(shape.length)
    best = min(range(steps), key=lambda s: abs(river_offset(*shape.interpolate(float(s)).coords[0]) - offset_m))
    return town.insert(line, shape.interpolate(float(best)).coords[0], 0.5)


def _bridge_span(first: int, last: int, name: str) -> Span:
    title = "Long Bridge" if name.startswith("Long") else "Mill Bridge"
    tags = {
        "bridge": "yes",
        "layer": "1",
        "bridge:name": title,
        "sidewalk": "both",
        "surface": "asphalt",
        "sidewalk:both:width": "2.0",
        "sidewalk:both:surface": "asphalt",
    }
    return Span(first, last, tags, {"sidewalk": "both", "sidewalk_width_m": 2.0, "surface": "asphalt"}, level=True)


def cut_points(line: Line) -> set[int]:
    """Every node where the line becomes another way."""
    return line.cuts | {s.first for s in line.spans} | {s.last for s in line.spans}
