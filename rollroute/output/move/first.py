"""The first part of the coordinator's page: who can't be served and why, what is undecided, whom to call, what closes."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence

from markupsafe import Markup

from rollroute.output.move.facts import MoveFacts
from rollroute.output.move.html import bullets, folded, section, table, terms, text
from rollroute.output.move.planner_words import tell
from rollroute.output.move.sheets import closings
from rollroute.output.plain_text import plain
from rollroute.output.words.catalogue import mark
from rollroute.output.words.words import read_moment
from rollroute.planning.calls import Call
from rollroute.planning.plan import RiderPlan

MOST_CALLS = 8
FIELD_WORDS = {
    "rider_mass_kg": mark("the rider's mass"),
    "chair_length_cm": mark("the chair's length"),
    "seated_height_cm": mark("how high the rider sits"),
    "chair": mark("the chair"),
    "charge": mark("the charge"),
    "charger": mark("where the charger is"),
    "consent": mark("whether the rider agrees"),
    "may_transfer": mark("whether a seat would be taken"),
    "securable": mark("whether the chair can be tied down"),
    "life_support_min": mark("how long own power lasts"),
    "longest_roll_min": mark("the longest roll"),
    "longest_ride_min": mark("the longest ride"),
    "longest_outdoors_min": mark("the longest time outdoors"),
}


def summary(facts: MoveFacts) -> Markup:
    """The plan in one line of figures, and what must be said of it as a whole."""
    words, plan = facts.words, facts.plan
    going = [r for r in plan.riders if r.way is not None]
    parts = [
        Markup('<span class="big">{}</span>').format(
            words.say("{n} of {all} have a way", n=len(going), all=sum(r.status != "declined" for r in plan.riders))
        )
    ]
    parts += [text(p) for p in _counts(facts)]
    lines = [Markup('<p class="figures">{}</p>').format(Markup(" · ").join(parts))]
    if not plan.is_complete:
        note = words.say("The work was interrupted: this is the best plan so far, and a better one may exist.")
        lines.insert(0, Markup('<p class="caution">{}</p>').format(note))
    return Markup("").join(lines)


def _counts(facts: MoveFacts) -> list[str]:
    words, riders = facts.words, facts.plan.riders
    n_roll, n_ride = sum(r.way == "roll" for r in riders), sum(r.way in ("van", "apart") for r in riders)
    parts = [words.say_n("{n} rolls", "{n} roll", n_roll)] if n_roll else []
    parts += [words.say_n("{n} rides in a van", "{n} ride in vans", n_ride)] if n_ride else []
    arrivals = [read_moment(r.arrive) for r in riders if r.arrive]
    if arrivals:
        parts.append(words.say("everybody who goes is inside by {time}", time=words.time_of_day(max(arrivals))))
    tight = min(((r.margin_min, r.id) for r in riders if r.margin_min is not None), default=None)
    if tight is not None:
        parts.append(words.say("least time in hand {minutes} ({rider})", minutes=words.minutes(tight[0] * 60.0), rider=plain(tight[1])))
    return parts


def left_section(facts: MoveFacts) -> Markup:
    """Whoever can't be served, in the order of the latest time."""
    words, left = facts.words, facts.plan.not_served
    if not left:
        return section("left", words.say("Who can't be served"), Markup("<p>{}</p>").format(words.say("Everybody has a way in this plan.")))
    late = "9999-12-31T00:00:00+00:00"
    order = sorted(left, key=lambda r: (read_moment(r.latest or late).timestamp(), r.id))
    title = words.say_n("{n} person can't be served", "{n} people can't be served", len(left))
    fallbacks = {r.fallback for r in order}
    is_shared = len(fallbacks) == 1 and len(order) > 1
    until = (
        words.say("Until a fix is found, for all of them: {fallback}.", fallback=plain(tell(words, order[0].fallback))) if is_shared else ""
    )
    cards = Markup("").join(_card(facts, r, is_shared=is_shared) for r in order)
    return section(
        "left", title, Markup("<p>{}</p>").format(until) if until else Markup(""), Markup('<div class="cards">{}</div>').format(cards)
    )


def _card(facts: MoveFacts, r: RiderPlan, *, is_shared: bool) -> Markup:
    words = facts.words
    rows = [
        (words.say("What binds"), Markup("<strong>{}</strong>").format(text(tell(words, "; ".join(r.reasons[:1]))))),
        (
            words.say("Cheapest fix"),
            Markup("<strong>{}</strong>").format(text(tell(words, r.fix) or words.say("none found; call another agency now"))),
        ),
        (words.say("Until then"), None if is_shared else tell(words, r.fallback)),
        (words.say("Latest"), words.time_of_day(r.latest) if r.latest else None),
        (words.say("Power"), own_power(facts, r)),
        (words.say("Stays with"), ", ".join(r.together) or None),
        (words.say("Agreed"), consent_words(facts, r)),
    ]
    unknown = unknown_words(facts, r)
    not_known = [words.say("Not known: {fields}", fields=unknown)] if unknown else []
    more = folded(words.say("Every reason, and what is not known"), bullets([*grouped([tell(words, x) for x in r.reasons]), *not_known]))
    heading = Markup("<h3>{}, {}</h3>").format(text(r.id), text(facts.address(r.id)))
    return Markup('<article class="card">{}{}{}</article>').format(heading, terms(rows), more)


def grouped(reasons: Sequence[str]) -> list[str]:
    """Reasons with those of the same words put together.

    Examples
    --------
    >>> grouped(["no charge", "van V1: too small", "van V2: too small"])
    ['no charge', 'van V1, van V2: too small']
    """
    groups: dict[str, list[str]] = {}
    for reason in reasons:
        where, colon, why = reason.partition(": ")
        groups.setdefault(why if colon else reason, []).extend([where] if colon else [])
    return [f"{', '.join(dict.fromkeys(where))}: {why}" if where else why for why, where in groups.items()]


def own_power(facts: MoveFacts, r: RiderPlan) -> str | None:
    """Until when carried power lasts: on this page only, by id. ``None`` for whoever depends on none."""
    words, needs = facts.words, facts.needs.get(r.id)
    if needs is None or not needs.keeps_socket:
        return None
    minutes = needs.rider.life_support_min
    if minutes is None or not math.isfinite(minutes):
        assumed = facts.move.settings.assume.life_support_min
        return words.say("need not known: planned with {minutes} of own power", minutes=words.minutes(assumed * 60.0))
    end = facts.move.start + dt.timedelta(minutes=minutes)
    return words.say("own power to {time}, then a socket all night", time=words.time_of_day(end))


def consent_words(facts: MoveFacts, r: RiderPlan) -> str | None:
    """What the rider has said, where that is not yes."""
    words, needs = facts.words, facts.needs.get(r.id)
    consent = needs.rider.consent if needs else None
    return {"agreed": None, "asked": words.say("asked, no answer yet"), "declined": words.say("declined")}.get(
        consent or "", words.say("not asked yet")
    )


def unknown_words(facts: MoveFacts, r: RiderPlan) -> str | None:
    """Fields that stand on the bad side, in words."""
    return ", ".join(facts.words.say(FIELD_WORDS[f]) if f in FIELD_WORDS else plain(f).replace("_", " ") for f in r.assumed) or None


def undecided_section(facts: MoveFacts) -> Markup:
    """Who is planned for and has not said yes, and who has said no: the rider decides."""
    words = facts.words
    open_ = [r for r in facts.plan.riders if r.status == "undecided"]
    declined = [r for r in facts.plan.riders if r.status == "declined"]
    rows = [Markup("{}: {}").format(text(r.id), text(consent_words(facts, r))) for r in open_]
    rows += [
        Markup("{}: {}").format(text(r.id), text("; ".join(tell(words, part) for part in (*r.reasons, r.fallback) if part)))
        for r in declined
    ]
    return section("undecided", words.say("Not agreed: the rider decides"), bullets(rows))


def alerts_section(facts: MoveFacts) -> Markup:
    """Alerts that nobody has turned into closed, deadline or watch."""
    return section("alerts", facts.words.say("Open alerts: decide what they close, and when"), bullets(facts.plan.open_alerts))


def calls_section(facts: MoveFacts) -> Markup:
    """Questions in the order of what their answer could change."""
    words, calls = facts.words, list(facts.calls)
    if not calls:
        return Markup("")
    useful = [c for c in calls if c.people > 0 or c.minutes > 0]
    first = useful[:MOST_CALLS]
    rest = [c for c in calls if c not in first]
    head = [words.say("Call"), words.say("Ask"), words.say("A good answer could"), words.say("Planned with until then")]
    title = words.say("Calls to make, the most useful first")
    shown = table(title, head, (_call(facts, c) for c in first), is_titled=True, stacks=True) or Markup("<p>{}</p>").format(
        words.say("No answer alone would serve more people or get anybody inside sooner.")
    )
    others = table(words.say("More questions"), head, (_call(facts, c) for c in rest), is_titled=True, stacks=True)
    more = folded(words.say("{n} more questions, none of which changes much", n=len(rest)), others, is_printed=False)
    return section("calls", title, shown, more)


def _call(facts: MoveFacts, call: Call) -> list[object]:
    words = facts.words
    gains = []
    if call.field == "consent":
        gains.append(words.say("settle whether the rider goes"))
    elif call.people >= 1:
        gains.append(words.say_n("serve {n} person more", "serve {n} people more", round(call.people)))
    elif call.people > 0:
        gains.append(words.say("open a way that is missing now"))
    elif call.minutes > 0:
        gains.append(words.say("get people inside {minutes} sooner in all", minutes=words.minutes(call.minutes * 60.0)))
    gain = "; ".join(gains) or words.say("change little")
    return [tell(words, call.whom), tell(words, call.question), gain, tell(words, call.meanwhile)]


def closings_section(facts: MoveFacts) -> Markup:
    """What closes and when."""
    return section("closings", facts.words.say("What closes"), bullets(closings(facts)))


def changes_section(facts: MoveFacts) -> Markup:
    """What is different from the plan before."""
    told = [tell(facts.words, change) for change in facts.plan.changes]
    return section("changes", facts.words.say("Changed since the earlier plan"), bullets(told))
