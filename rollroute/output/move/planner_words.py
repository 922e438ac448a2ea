"""The planner's own sentences in the reader's language: reasons, fixes, questions, names of tiers.

A plan holds them in English, with names and figures filled in. Each sentence here is a pattern: what stands for ``{name}`` is told in turn.
A sentence that no pattern knows stays as it is, so that nothing is ever lost.
"""

from __future__ import annotations

import re
from functools import cache

from rollroute.output.move.news_words import DOINGS, NEWS
from rollroute.output.words import Words
from rollroute.output.words.catalogue import SOURCE_LANGUAGE, mark

DEEPEST = 4  # a reason within a reason; text that nests deeper was not written by the planner

QUESTIONS = (
    mark("Where is the rider now?"),
    mark("Which chair is it? Look for the maker's plate."),
    mark("What does the gauge show, after the chair has stood for a while?"),
    mark("How long is the chair, footrests included?"),
    mark("How high is the top of the head above the floor?"),
    mark("How heavy is the rider, about?"),
    mark("Does anything have to reach a socket, and by when?"),
    mark("How long may a ride take?"),
    mark("How long can the rider be outdoors?"),
    mark("How long can the rider drive in one go?"),
    mark("Would the rider move to a seat, if offered? It is never required."),
    mark("Where is the charger?"),
    mark("Does the rider want to go?"),
    mark("Does the rider drive from the door to the street in this chair, as a rule?"),
    mark("Do its doors and lifts work without mains, or does somebody open them by hand?"),
    mark("Can the chair be tied down?"),
    mark("What is the lift or ramp rated for? It stands on a plate."),
    mark("How wide is the platform?"),
    mark("How long is the platform?"),
    mark("How high is the door?"),
    mark("How many chairs can be tied down?"),
    mark("How many positions does a large chair take?"),
    mark("How many seats for companions?"),
    mark("How high is the van?"),
    mark("From when is the van free?"),
    mark("Until when is the van free?"),
    mark("How many places for people in chairs?"),
    mark("How many outlets, on which circuits?"),
    mark("How many hours does the fuel last?"),
    mark("When does it open for certain?"),
    mark("How many people can be taken in in an hour?"),
)
MEANWHILE = (
    mark("not planned until somebody says where the rider is"),
    mark("a chair of which nothing is known: widest, weakest battery, lowest kerb"),
    mark("the lowest reading that the gauge allows; none known: no rolling"),
    mark("a heavy rider (assumption in move.toml), so that a lift is not overloaded"),
    mark("the longest of its class: it must fit the lift's platform"),
    mark("a tall rider (assumption in move.toml), so that the door is not too low"),
    mark("no charger: no charging"),
    mark("a large charger when outlets are shared, a slow one for charging time"),
    mark("tie-down not known: never a reason to refuse, the driver is told"),
    mark("never moved to another seat"),
    mark("a socket is kept and must be reached within the assumed minutes"),
    mark("the coordinator's own limit for everybody, or less"),
    mark("the assumed ride limit"),
    mark("the assumed limit outdoors"),
    mark("no time is held that nobody has named: ask"),
    mark("not asked: planned for, shown as undecided"),
    mark("the first metres from the door are not mapped: a place that nobody has verified"),
    mark("planned for, shown as undecided"),
    mark("no place: nobody is sent until the shelter says how many"),
    mark("nobody gets in at this door"),
    mark("the assumed intake in move.toml"),
    mark("no outlet"),
    mark("15 A for each circuit"),
    mark("no generator"),
    mark("no fuel: a generator that is not counted on"),
    mark("the mains as in move.toml"),
    mark("open only once somebody confirms: not used"),
    mark("no closing time is known: open to the end of the plan"),
    mark("the point on the map, doors to be checked"),
    mark("not promised"),
    mark("272 kg (600 lb), the least design load of 49 CFR 38.23(b)(1)"),
    mark("76 cm (30 in), the least of 49 CFR 38.23(b)(6)"),
    mark("122 cm (48 in), the least of 49 CFR 38.23(b)(6)"),
    mark("142 cm (56 in), a small vehicle, 36 CFR 1192 (2016) T502.2.2"),
    mark("one chair"),
    mark("a large chair takes two positions"),
    mark("no seat for a companion"),
    mark("289 cm: only loading zones with the clearance of ADA 503.5, or none stated"),
    mark("the driver checks the kerb side at every stop"),
    mark("later, by the assumption in move.toml"),
    mark("only for the assumed hours in move.toml"),
)
TIERS = (
    mark("people with device power at stake not served"),
    mark("people in a closing area not served, earliest closing first"),
    mark("other people not served"),
    mark("minutes late while the area is still open"),
    mark("minutes and points below comfort (time, charge, outlets)"),
    mark("doubt, in thousandths"),
    mark("minutes until everybody is inside, and van driving"),
)
REASONS = (
    mark("{n} rolls to shelters farther off were not looked at; what is proven is proven without them"),
    mark("1 roll to a shelter farther off was not looked at; what is proven is proven without it"),
    mark("{n} searches for a roll ended at their limit without a way or a proof; they count as no way"),
    mark("1 search for a roll ended at its limit without a way or a proof; it counts as no way"),
    mark(
        "put off or left out, since an outlet for charging on the way was taken: rolls of {riders}; what is proven is proven for this "
        "order at the outlets, another might serve more"
    ),
    mark("another agency with a lift vehicle; until it is there, shelter in place as far from the hazard as the building allows"),
    mark("the rider has decided to stay"),
    mark("ask again before the area closes"),
    mark("map and route search"),
    mark("ask {whom}: {what}"),
    mark("{n} more escorts"),
    mark("{n} more accessible places at a shelter"),
    mark("{n} more powered outlets at a shelter"),
    mark("the vans {n} min longer"),
    mark("the vans from the start"),
    mark("{n} min more until the latest time, for example by a spare battery"),
    mark("even alone, no way gets there by {time}"),
    mark("even alone, no way fits the hours of vans and shelters"),
    mark("vans, escorts or places go to others who are more urgent, or together to more people"),
    mark("rolling to any shelter: {why}"),
    mark("rolling to {where}: {why}"),
    mark("rolling: {why}"),
    mark("vans {vans} to any shelter: {why}"),
    mark("vans {vans} to {where}: {why}"),
    mark("van {van} to any shelter: {why}"),
    mark("van {van} to {where}: {why}"),
    mark("vans {vans}: {why}"),
    mark("van {van}: {why}"),
    mark("van: {why}"),
    mark("lift rated {rating} kg, {mass} kg would stand on it"),
    mark("platform {platform} cm wide, the chair {chair} cm"),
    mark("platform {platform} cm long, the chair {chair} cm"),
    mark("door {door} cm high, the rider sits {rider} cm high"),
    mark("positions needed: {positions}, there: {room}; companion seats needed: {seats}, there: {free}"),
    mark("no loading zone for its height, or none that the riders who stay together share"),
    mark("no open road that lets it through leads from its start to where the chair can be loaded"),
    mark("person and chair apart needs a seat transfer that the rider has not agreed to"),
    mark("longer outdoors at the stops than the rider's limit"),
    mark("no place to unload that chair and van can both use, or no open road to it that lets the van through"),
    mark("no place near the door that this chair can reach and a van can stop at"),
    mark("{planned} min planned, {limit} min is the limit"),
    mark("no way for this chair within {n} min"),
    mark("no way is known"),
    mark("no outlet is free at {where} when the chair would halt there"),
    mark("can't be done before the way or the area closes, or before dark"),
    mark("a place that nobody has verified would be driven without the charge, or a sure way, to come back from it"),
    mark("the charge does not last, or every way closes before the chair is through"),
    mark(
        "charge {words} may be as low as {low}, the reserve is {reserve}: charge before leaving, or read the gauge again after the chair "
        "has rested"
    ),
    mark("the thriftiest way takes {least} of the battery, {spare} can be spent"),
    mark("rain: water stops joysticks and controllers"),
    mark("smoke"),
    mark("lightning"),
    mark("too cold for rolling"),
    mark("too hot for rolling"),
    mark("nobody has confirmed when it opens"),
    mark("it closes at {time}, before morning"),
    mark("no accessible place is known"),
    mark("at its door {why}"),
    mark("no mapped way leads there"),
    mark("{what} (if a generator feeds it or somebody opens it by hand, name it under [ways] powered in move.toml)"),
    mark("the chair does not pass {what}"),
    mark("steps"),
    mark("a door or lift that needs power, and the mains are off"),
    mark("a lift that is too small"),
    mark("a street that is dug up"),
    mark("an area that is closed"),
    mark("a place that somebody has found blocked"),
    mark("a way that is too steep"),
    mark("a way that is too steep, by the heights"),
    mark("a kerb that is too high"),
    mark("a way that is too narrow"),
    mark("a surface that the chair can't take"),
    mark("a gate or barrier that it can't pass"),
    mark("a way that is private or closed to people on foot"),
    mark("a carriageway that is too fast or too busy"),
    mark("a carriageway without light"),
    mark("a door that is too narrow, locked, or has a step"),
    mark("rider {id}"),
    mark("shelter {name}"),
    mark("van {van}"),
)
_FIELD = re.compile(r"\\\{(\w+)\\\}")
_WHERE = {"number": r"\d+\w?", "house": r"\d[^,;:]*", "street": "[^,;:]+?", "what": ".+?", "position": r"-?\d+\.\d+, -?\d+\.\d+"}
CLOCK = r"\d\d:\d\d|--:--"
_KINDS = dict.fromkeys(("time", "start", "end", "leave", "meet", "back"), CLOCK) | {"doing": "[^;]+?", "before": "[^;]+?"} | _WHERE


def tell(words: Words, text: str | None, depth: int = 0) -> str:
    """Say one of the planner's sentences in the reader's language; what is not known stays as it is."""
    if not text or words.language == SOURCE_LANGUAGE or depth > DEEPEST:
        return text or ""
    for message, pattern in _patterns():
        found = pattern.fullmatch(text)
        if found is not None:
            return words.say(message, **{name: tell(words, value, depth + 1) for name, value in found.groupdict().items()})
    for mark_between, joint in (("; ", "; "), (", or ", words.say(", or "))):
        if mark_between in text:
            return joint.join(tell(words, part, depth + 1) for part in text.split(mark_between))
    return text


@cache
def _patterns() -> tuple[tuple[str, re.Pattern[str]], ...]:
    """Sentences without names first: a name never takes what a whole sentence says."""
    messages = sorted((*QUESTIONS, *MEANWHILE, *TIERS, *NEWS, *REASONS), key=lambda m: "{" in m)
    return tuple((m, re.compile(_pattern(m))) for m in messages)


def _pattern(message: str) -> str:
    """The expression of a message; a name that comes again is the same both times. One doing never takes the next one in."""
    seen: set[str] = set()
    anything = "[^;]+?" if message in DOINGS else ".+?"

    def group(found: re.Match[str]) -> str:
        name = found[1]
        if name in seen:
            return f"(?P={name})"
        seen.add(name)
        return f"(?P<{name}>{_KINDS.get(name, anything)})"

    return _FIELD.sub(group, re.escape(message))
