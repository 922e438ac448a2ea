"""What could break the plan: each thing failing alone, and the rehearsal, where the plan carries their results (``plan.extra``)."""

from __future__ import annotations

from typing import Any

from markupsafe import Markup

from rollroute.output.move.facts import MoveFacts
from rollroute.output.move.html import LONGEST, bullets, section, table
from rollroute.output.move.planner_words import tell
from rollroute.output.plain_text import plain
from rollroute.output.words import Words
from rollroute.output.words.words import read_moment

MOST_BREAKERS = 6


def risk_section(facts: MoveFacts) -> Markup:
    """Who can be left by one failure, then what breaks the plan most often; nothing where neither was looked at.

    A plan can be edited by hand: results that are not of their documented form are said to be unreadable, never shown in part.
    """
    say = facts.words.say
    parts = []
    for name, shown in (("fail_one", _failing), ("rehearsal", _rehearsed)):
        found = facts.plan.extra.get(name)
        if found is None:
            continue
        try:
            parts.append(shown(found, facts.words))
        except (KeyError, TypeError, ValueError, AttributeError):
            parts.append(Markup("<p>{}</p>").format(say("The plan holds a result that can't be read: {name}.", name=name)))
    return section("risk", say("What could break it"), *parts)


def _failing(found: dict[str, Any], words: Words) -> Markup:
    failures = list(found["failures"])
    left = [plain(str(r)) for r in found["left"]]
    n_places = sum(f["kind"] == "place" for f in failures)
    n_vans = len({f["name"] for f in failures if f["kind"] == "van"})
    looked = words.say("Looked at alone: {places} unverified places and {vans} vans.", places=n_places, vans=n_vans)
    if not left:
        none = words.say("None of them leaves anybody without a refuge or a van that has time to fetch them.")
        return Markup("<p>{} {}</p>").format(looked, none)
    line = words.say("One of them failing can leave {riders}.", riders=words.listing(left))
    rows: dict[tuple[str, str], list[str]] = {}
    for failure in failures:
        for one in failure["left"]:
            key = (_failure(failure, words), f"{plain(str(one['rider']))}: {plain(tell(words, str(one['how'])), longest=LONGEST)}")
            rows.setdefault(key, []).append(_moment(failure["moment"], words))
    shown = [[name, ", ".join(dict.fromkeys(m for m in moments if m)), who] for (name, who), moments in rows.items()]
    title = words.say("Left by one failure")
    body = table(title, [words.say("If this fails"), words.say("At"), words.say("Then")], shown, stacks=True)
    return Markup("<p><strong>{}</strong> {}</p>{}").format(line, looked, body)


def _failure(failure: dict[str, Any], words: Words) -> str:
    name = plain(tell(words, str(failure["name"])))
    return words.say("van {van}", van=name) if failure["kind"] == "van" else name


def _kind(kind: str, words: Words) -> str:
    """What has broken, in a word."""
    known = {
        "van": words.say("van"),
        "escort": words.say("escort"),
        "rider": words.say("rider"),
        "place": words.say("place"),
        "shelter": words.say("shelter"),
        "outlet": words.say("outlet"),
    }
    return known.get(kind, plain(kind))


def _moment(moment: str | None, words: Words) -> str:
    return words.say("before it starts") if moment is None else words.time_of_day(read_moment(str(moment)))


def _rehearsed(found: dict[str, Any], words: Words) -> Markup:
    line = words.say(
        "Rehearsed {runs} times under assumed chances: everybody in the plan arrived in time and charged in {share} of them "
        "(95 % interval {low} to {high}).",
        runs=int(found["runs"]),
        share=words.percent(float(found["share"])),
        low=words.percent(float(found["low"])),
        high=words.percent(float(found["high"])),
    )
    breakers = [
        words.say(
            "{what} {name}: in {share} of the runs, for {riders}",
            what=_kind(str(b["kind"]), words),
            name=plain(tell(words, str(b["name"]))),
            share=words.percent(float(b["share"])),
            riders=words.listing([plain(str(r)) for r in b["riders"]]),
        )
        for b in list(found["breakers"])[:MOST_BREAKERS]
    ]
    heading = Markup("<p>{}</p>").format(words.say("What breaks it most often:")) if breakers else Markup("")
    return Markup("<p>{}</p>").format(line) + heading + bullets(breakers)
