"""Sentences of the steps: what to do, what to watch for, where the helper walks."""

from __future__ import annotations

from rollroute.output.plain_text import plain
from rollroute.output.steps import Nearby, Step
from rollroute.output.steps_watch import HelperPlace, Watch
from rollroute.output.words.catalogue import mark
from rollroute.output.words.facts import KERBS, compass_words, floor_words, landmark_words, rank_words, surface_words, way_words
from rollroute.output.words.words import Words

SAME_PLACE_M = 2.0
FLUSH_M = 0.005  # less is no kerb to the hand or the wheel
GO = {
    None: mark("Go along {way}"),
    "straight": mark("Go straight on along {way}"),
    "slight_left": mark("Bear left along {way}"),
    "left": mark("Turn left along {way}"),
    "sharp_left": mark("Turn sharp left along {way}"),
    "slight_right": mark("Bear right along {way}"),
    "right": mark("Turn right along {way}"),
    "sharp_right": mark("Turn sharp right along {way}"),
    "around": mark("Turn around and go along {way}"),
}
ON_SIDE = {
    "straight": mark("straight ahead"),
    "slight_left": mark("ahead on the left"),
    "left": mark("on the left"),
    "sharp_left": mark("sharp left"),
    "slight_right": mark("ahead on the right"),
    "right": mark("on the right"),
    "sharp_right": mark("sharp right"),
    "around": mark("behind you"),
}
TURNS = {
    "straight": mark("straight on"),
    "slight_left": mark("bear left"),
    "left": mark("left"),
    "sharp_left": mark("sharp left"),
    "slight_right": mark("bear right"),
    "right": mark("right"),
    "sharp_right": mark("sharp right"),
    "around": mark("turn around"),
}


def step_sentence(step: Step, words: Words) -> str:
    """The one sentence of a step."""
    return {"start": _start, "cross": _cross, "lift": _lift, "charge": _charge, "arrive": _arrive}.get(step.kind, _go)(step, words)


def nearby_words(nearby: Nearby, words: Words) -> str:
    """Where a step begins: "40 m after the bridge", "at Corner Bakery"."""
    name = landmark_words(nearby.kind, nearby.label, words)
    if nearby.after_m < 5.0:
        return words.say("at {landmark}", landmark=name)
    return words.say("{distance} after {landmark}", distance=words.distance(nearby.after_m), landmark=name)


def watch_lines(step: Step, words: Words) -> list[str]:
    """Things to watch for on a step, a line each: "275–320 m: uphill, up to 6 % (survey)."; "On the road, with traffic."."""
    lines = []
    for where, what, asked in _watched(step, words):
        numbers = words.listing([str(number) for number in asked])
        if asked:
            what = words.say_n("{what} (question {numbers})", "{what} (questions {numbers})", len(asked), what=what, numbers=numbers)
        lines.append(f"{where}: {what}." if where else f"{what[:1].upper()}{what[1:]}.")
    return lines


def watch_notes(step: Step, words: Words, *, sign: str) -> list[tuple[str, str]]:
    """The same for paper, as (where, what), with ``sign`` before the number of a question."""
    return [(where, " ".join([what, *(f"{sign}{number}" for number in asked)])) for where, what, asked in _watched(step, words)]


def _watched(step: Step, words: Words) -> list[tuple[str, str, list[int]]]:
    """Where, what and which questions, in the order of the way.

    Alike things stand once, with all their places. What is met where the step begins, or holds for all of it, needs no place.
    """
    met: dict[str, list[Watch]] = {}
    for watch in step.watch:
        met.setdefault(_watch_words(watch, words), []).append(watch)
    found = []
    for what, alike in met.items():
        is_plain = len(alike) == 1 and _is_where_step_is(alike[0], step)
        places = [] if is_plain else list(dict.fromkeys(_where(watch, words) for watch in alike))
        found.append((words.listing(places), what, [watch.question for watch in alike if watch.question is not None]))
    return found


def _is_where_step_is(watch: Watch, step: Step) -> bool:
    """Whether a point lies where the step begins, or a stretch covers all of it."""
    begins_with_it = abs(watch.at_m - step.at_m) <= SAME_PLACE_M
    return begins_with_it and (watch.length_m < 1.0 or abs(watch.length_m - step.length_m) <= SAME_PLACE_M)


def _where(watch: Watch, words: Words) -> str:
    if watch.length_m < 1.0:
        return words.distance(watch.at_m)
    return words.stretch(watch.at_m, watch.at_m + watch.length_m)


def helper_sentence(place: HelperPlace, words: Words) -> str:
    """Where the helper walks on a stretch, and why."""
    return words.say(HELPER_PLACES[place.place], stretch=_helper_stretch(place, words), why=_helper_why(place, words))


def helper_sentences(places: list[HelperPlace], words: Words) -> list[str]:
    """The same with alike stretches together: "23–385 m (6 %) and 435–530 m (7 %), downhill: walk behind."."""
    alike: dict[tuple[str, str], list[str]] = {}
    for place in places:
        alike.setdefault((place.place, _helper_why(place, words)), []).append(_helper_stretch(place, words))
    return [words.say(HELPER_PLACES[where], stretch=words.listing(found), why=why) for (where, why), found in alike.items()]


HELPER_PLACES = {
    "behind": mark("{stretch}, {why}: walk behind."),
    "ahead": mark("{stretch}, {why}: walk ahead."),
    "beside": mark("{stretch}, {why}: walk beside, never behind."),
    "higher_side": mark("{stretch}, {why}: walk on the higher side."),
}
HELPER_REASONS = {
    "narrow": mark("narrow path"),
    "ascent": mark("uphill"),
    "descent": mark("downhill"),
    "camber": mark("way slopes sideways"),
}


def _helper_stretch(place: HelperPlace, words: Words) -> str:
    stretch = words.stretch(place.from_m, place.to_m)
    return stretch if place.grade is None else f"{stretch} ({words.percent(place.grade)})"


def _helper_why(place: HelperPlace, words: Words) -> str:
    return words.listing([words.say(HELPER_REASONS[reason]) for reason in place.why])


def turn_words(turn: str | None, words: Words) -> str:
    """A turn alone, for a text message."""
    return words.say(TURNS[turn]) if turn in TURNS else ""


def _sentence(*parts: str) -> str:
    return ", ".join(p for p in parts if p) + "."


def _near(step: Step, words: Words) -> str:
    return nearby_words(step.nearby, words) if step.nearby else ""


def _start(step: Step, words: Words) -> str:
    begin = words.say("Start at {place}.", place=plain(step.place))
    way = way_words(step.street, step.way_kind, step.side, words)
    if step.bearing_deg is None:
        return f"{begin} {words.say(GO[None], way=way)}."
    compass = compass_words(step.bearing_deg, words)
    if step.way_kind == "off_map":
        return f"{begin} {words.say('Go {compass} to the footway; this bit is not on the map.', compass=compass)}"
    return f"{begin} {words.say('Go {compass} along {way}.', compass=compass, way=way)}"


def _go(step: Step, words: Words) -> str:
    way = way_words(step.street, step.way_kind, step.side, words)
    if step.building:
        way = words.say("{way} in {building}", way=way, building=plain(step.building))
    return _sentence(words.say(GO[step.turn], way=way), _near(step, words))


def _cross(step: Step, words: Words) -> str:
    entry = next((p for p in step.points if p.kind == "kerb" and p.direction != "up"), None)
    kerb = words.say(KERBS.get(entry.word or "", mark("the kerb"))) if entry else words.say("the crossing")
    street = plain(step.street)
    crossing = (
        words.say("Cross {street} at {kerb}", street=street, kerb=kerb) if street else words.say("Cross the road at {kerb}", kerb=kerb)
    )
    side = words.say(ON_SIDE[step.turn]) if step.turn in ON_SIDE else ""
    sentence = _sentence(crossing, side, _near(step, words))
    if step.then_along is None:
        return sentence
    way = way_words(step.then_along, None, step.then_side, words)
    return f"{sentence} {words.say('Then go straight on along {way}.', way=way)}"


def _lift(step: Step, words: Words) -> str:
    if step.level is None:
        return words.say("Take the lift.")
    return words.say("Take the lift to {floor}.", floor=floor_words(step.level, words))


def _charge(step: Step, words: Words) -> str:
    return words.say("Stop at {place} and charge for {minutes}.", place=plain(step.place), minutes=words.minutes(step.time_s.planned))


def _arrive(step: Step, words: Words) -> str:
    return words.say("You have arrived at {place}.", place=plain(step.place))


def _watch_words(watch: Watch, words: Words) -> str:
    if watch.kind.startswith("grade"):
        message = mark("uphill, up to {grade} ({rank})") if watch.kind == "grade_up" else mark("downhill, up to {grade} ({rank})")
        return words.say(message, grade=words.percent(watch.value or 0.0), rank=rank_words(watch.rank, words))
    if watch.kind == "camber":
        return words.say("way slopes sideways {grade}", grade=words.percent(watch.value or 0.0))
    if watch.kind == "surface":
        return f"{surface_words(watch.word or '', words)} ({rank_words(watch.rank, words)})"
    simple = {
        "road": mark("on the road, with traffic"),
        "cars": mark("cars may come here"),
        "dark": mark("no street light"),
        "tunnel": mark("tunnel or passage"),
    }
    if watch.kind in simple:
        return words.say(simple[watch.kind])
    return _point_words(watch, words)


def _point_words(watch: Watch, words: Words) -> str:
    """A kerb, door, gate, bollard, lift, ramp or narrow place with its figure and where the figure comes from."""
    names = {
        "kerb": {"up": mark("kerb up"), "down": mark("kerb down"), None: mark("kerb")}.get(watch.direction, mark("kerb")),
        "door": mark("door"),
        "gate": mark("gate"),
        "bollard": mark("bollards"),
        "lift": mark("lift door"),
        "ramp": mark("ramp"),
        "narrow": mark("narrow place"),
        "crossing": mark("crossing"),
    }
    name = words.say(names[watch.kind]) if watch.kind in names else plain(watch.kind.replace("_", " "), longest=40)
    if watch.kind == "kerb" and watch.value is not None and watch.value < FLUSH_M:
        return words.say("{name}, flush ({rank})", name=name, rank=rank_words(watch.rank, words))
    if watch.value is not None:
        size = words.size(watch.value)
        message = mark("{name}, {size} high ({rank})") if watch.kind in {"kerb", "threshold"} else mark("{name}, {size} wide ({rank})")
        return words.say(message, name=name, size=size, rank=rank_words(watch.rank, words))
    if watch.kind == "kerb" and watch.word in KERBS:
        message = mark("{name}, marked as {kerb} ({rank}), height not measured")
        return words.say(message, name=name, kerb=words.say(KERBS[watch.word]), rank=rank_words(watch.rank, words))
    message = mark("{name}, height not known") if watch.kind in {"kerb", "threshold"} else mark("{name}, width not known")
    return words.say(message, name=name)
