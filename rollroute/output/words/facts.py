"""Words for the kinds that an itinerary holds: surfaces, questions, ranks, reasons, floors, ways."""

from __future__ import annotations

from rollroute.output.itinerary import Hazard, Question
from rollroute.output.plain_text import plain
from rollroute.output.words.catalogue import mark
from rollroute.output.words.words import Words

WAYS = {
    "footway": mark("the footway"),
    "sidewalk": mark("the footway"),
    "crossing": mark("the crossing"),
    "path": mark("the path"),
    "pedestrian": mark("the pedestrian street"),
    "cycleway": mark("the cycle path"),
    "steps": mark("the steps"),
    "ramp": mark("the ramp"),
    "elevator": mark("the lift"),
    "corridor": mark("the corridor"),
    "platform": mark("the platform"),
    "living_street": mark("the street"),
    "residential": mark("the street"),
    "service": mark("the service road"),
    "driveway": mark("the driveway"),
    "parking_aisle": mark("the car park aisle"),
    "track": mark("the track"),
    "busy_road": mark("the road"),
    "off_map": mark("ground that is not on the map"),
    "area": mark("the open area"),
}
SURFACES = {
    "asphalt": mark("asphalt"),
    "concrete": mark("concrete"),
    "hard_floor": mark("hard floor"),
    "paving_stones": mark("paving stones"),
    "bricks": mark("bricks"),
    "wood": mark("wood"),
    "metal": mark("metal"),
    "rubber": mark("rubber"),
    "chipseal": mark("chip seal"),
    "paved": mark("paved ground"),
    "rock": mark("bare rock"),
    "fine_gravel": mark("fine gravel"),
    "gravel": mark("gravel"),
    "compacted": mark("packed gravel"),
    "pebblestone": mark("pebbles"),
    "sett": mark("stone setts"),
    "cobblestone": mark("cobbles"),
    "unhewn_cobblestone": mark("rough cobbles"),
    "grass": mark("grass"),
    "grass_paver": mark("grass pavers"),
    "ground": mark("bare ground"),
    "dirt": mark("dirt"),
    "earth": mark("earth"),
    "mud": mark("mud"),
    "sand": mark("sand"),
    "unpaved": mark("unpaved ground"),
    "carpet": mark("carpet"),
    "metal_grid": mark("metal grid"),
    "woodchips": mark("wood chips"),
    "snow": mark("snow"),
    "ice": mark("ice"),
}
QUESTIONS = {
    "kerb": mark("Kerb: height not known"),
    "width": mark("Width not known"),
    "surface": mark("Surface not known"),
    "grade": mark("Slope not known well enough"),
    "landing": mark("Slope longer than the standard allows: landings not known"),
    "gate": mark("Gate: locked or wide enough, not known"),
    "bollard": mark("Bollards: gap not known"),
    "cycle_barrier": mark("Barrier for bicycles: gap not known"),
    "door": mark("Door: width or threshold not known"),
    "threshold": mark("Threshold: height not known"),
    "lift": mark("Lift: power or size not known"),
    "access": mark("Right to pass not known"),
    "crossing": mark("Crossing of a wide or fast road: somebody may have to stop the traffic"),
    "carriageway": mark("On the road: no footway is on the map"),
    "apron": mark("Driveway apron: its lip and slope not known"),
    "off_map": mark("Not on the map"),
    "cross_slope": mark("Sideways slope not known"),
    "island": mark("Traffic island: may be shorter than the chair"),
    "turn": mark("Sharp bend: room to turn not known"),
    "steps_ramp": mark("Ramp over steps: slope and width not known"),
    "other": mark("Something is not known"),
}
RANKS = {
    "rider": mark("the rider's word"),
    "measured": mark("measured"),
    "survey": mark("survey"),
    "tag_number": mark("map"),
    "tag_word": mark("map"),
    "inferred": mark("guessed"),
    "estimated": mark("estimated"),
    "unknown": mark("not known"),
}
REASONS = {  # reason: its letter on the map, its word; the estimate stands before the figure that shares its letter
    "steps": ("S", mark("steps")),
    "grade_estimated": ("G", mark("too steep by the estimate")),
    "grade": ("G", mark("too steep for the limit")),
    "kerb": ("K", mark("kerb too high")),
    "width": ("W", mark("too narrow")),
    "door": ("D", mark("door too narrow")),
    "turn": ("B", mark("bend too tight")),
    "surface": ("F", mark("surface not passable")),
    "gate": ("L", mark("locked gate")),
    "access": ("A", mark("no access")),
    "traffic": ("T", mark("too much traffic")),
    "dark": ("U", mark("road without light")),
    "escort": ("E", mark("road, and nobody walks along")),
    "power": ("P", mark("lift without power")),
    "lift_size": ("Z", mark("lift too small")),
    "mass": ("M", mark("too heavy for it")),
    "works": ("R", mark("road works")),
    "tagged_no": ("N", mark("marked as not for wheelchairs")),
    "closed": ("C", mark("closed area")),
    "cross_slope": ("H", mark("slopes too much sideways")),
    "one_way": ("O", mark("one way")),
    "measured": ("V", mark("found blocked")),
}
KERBS = {
    "lowered": mark("the lowered kerb"),
    "flush": mark("the flush kerb"),
    "raised": mark("the raised kerb"),
    "rolled": mark("the rolled kerb"),
    "regular": mark("the kerb"),
    "no": mark("the place without a kerb"),
}
LANDMARKS = {  # where the map gives a kind but no name
    "bench": mark("the bench"),
    "bridge": mark("the bridge"),
    "bus_stop": mark("the bus stop"),
    "drinking_water": mark("the drinking water tap"),
    "fountain": mark("the fountain"),
    "post_box": mark("the post box"),
    "toilets": mark("the toilets"),
    "telephone": mark("the telephone"),
    "pharmacy": mark("the pharmacy"),
    "convenience": mark("the shop"),
    "supermarket": mark("the supermarket"),
    "cafe": mark("the café"),
    "restaurant": mark("the restaurant"),
    "fuel": mark("the filling station"),
    "place_of_worship": mark("the place of worship"),
    "school": mark("the school"),
}
CHARGERS = {
    "on board": mark("on board"),
    "with the rider": mark("with the rider"),
    "at the stop": mark("at the stop"),
    "unknown": mark("not known: ask before you leave"),
}
COMPASS = (
    mark("north"),
    mark("north-east"),
    mark("east"),
    mark("south-east"),
    mark("south"),
    mark("south-west"),
    mark("west"),
    mark("north-west"),
)


def way_words(street: str | None, way_kind: str | None, side: str | None, words: Words) -> str:
    """The way as one says it after "along": a street, a side of it, or what it is where the map has no name."""
    name = plain(street)
    if not name:
        return words.say(WAYS.get(way_kind or "", mark("the way")))
    if side == "left":
        return words.say("the left side of {street}", street=name)
    if side == "right":
        return words.say("the right side of {street}", street=name)
    return name


def surface_words(surface: str, words: Words) -> str:
    """A surface in words; the map's own word, in quotes, where there is none."""
    return words.say(SURFACES[surface]) if surface in SURFACES else f'"{plain(surface, longest=40)}"'


def rank_words(rank: str, words: Words) -> str:
    """Where a fact comes from."""
    return words.say(RANKS.get(rank, RANKS["unknown"]))


def kerb_words(word: str, words: Words) -> str:
    """A kind of kerb as the map has it."""
    return words.say(KERBS[word]) if word in KERBS else f'"{plain(word, longest=40)}"'


def question_words(question: Question, words: Words) -> str:
    """What is not known, and where: "Kerb: height not known. Mill Street, at 145 m"."""
    what = words.say(QUESTIONS.get(question.kind, QUESTIONS["other"]))
    at = words.distance(question.at_m)
    where = words.say("at {distance}", distance=at)
    if question.length_m >= 1.0:
        where = words.stretch(question.at_m, question.at_m + question.length_m)
    street = plain(question.street)
    return f"{what}. {street}, {where}." if street else f"{what}. {where[:1].upper() + where[1:]}."


def compass_words(bearing_deg: float, words: Words) -> str:
    """The nearest of eight compass directions.

    Examples
    --------
    >>> compass_words(100.0, Words())
    'east'
    """
    return words.say(COMPASS[round(bearing_deg / 45.0) % 8])


def floor_words(level: float, words: Words) -> str:
    """A floor by the map's count: 0 is the ground."""
    if level == 0:
        return words.say("ground floor")
    shown = words.number(level, 0 if level == int(level) else 1)
    return words.say("floor {level} (0 is the ground)", level=shown)


def landmark_words(kind: str, label: str | None, words: Words) -> str:
    """A landmark by its name; by what it is where it has none."""
    name = plain(label)
    if kind == "bus_stop" and name and name != kind:
        return words.say("the stop {name}", name=name)
    if name and name != kind:
        return name
    return words.say(LANDMARKS[kind]) if kind in LANDMARKS else plain(kind.replace("_", " "), longest=40)


def hazard_words(hazard: Hazard, words: Words, *, day: str | None = None) -> str:
    """A hazard with its time (dated where that is not the day of ``day``): closed from-to, deadline, or only to be watched."""
    name = plain(hazard.label)
    begin = words.moment(hazard.starts, day=day) if hazard.starts else None
    end = words.moment(hazard.ends, day=day) if hazard.ends else None
    if hazard.kind == "closed" and begin and end:
        return words.say("{name}: closed {begin} to {end}.", name=name, begin=begin, end=end)
    if hazard.kind == "closed" and begin:
        return words.say("{name}: closed from {begin}, end not known.", name=name, begin=begin)
    if hazard.kind == "closed":
        return words.say("{name}: closed.", name=name)
    if hazard.kind == "deadline" and (begin or end):
        return words.say("{name}: be past it by {time}.", name=name, time=begin or end or "")
    return words.say("{name}: keep watch, and turn back if it reaches the way.", name=name)
