"""The words around the map: what the trip is, the legend, the steps, the dates and limits of trust."""

from __future__ import annotations

from collections.abc import Iterator
from importlib.resources import files

from markupsafe import Markup

from rollroute.output.itinerary import Checked, Itinerary
from rollroute.output.level_plan import plan_title
from rollroute.output.map.legend import legend
from rollroute.output.map.phrases import both_cases, charge
from rollroute.output.map.scene import Scene
from rollroute.output.plain_text import plain
from rollroute.output.steps import Step, build_steps
from rollroute.output.words import Words
from rollroute.output.words.facts import QUESTIONS, floor_words, question_words
from rollroute.output.words.sentences import step_sentence, watch_lines

HATCH = Markup(
    '<svg class="defs" aria-hidden="true" focusable="false"><defs><pattern id="hazard-hatch" width="11" height="11" '
    'patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><path class="hatch-plate" d="M5 0V11"/>'
    '<path class="hatch-ink" d="M5 0V11"/>'
    "</pattern></defs></svg>"
)


def page_parts(scene: Scene, words: Words, picture: Markup) -> dict[str, Markup]:
    """Give the trusted pieces of the page by name; every name from a stranger is escaped here."""
    itinerary, folder = scene.itinerary, files("rollroute.output.map")
    return {
        "top": top(itinerary, words),
        "map_label": Markup(Markup.escape(words.say("Map of the route"))),
        "panel_label": Markup(Markup.escape(words.say("Legend and steps"))),
        "over_map": _over_map(itinerary, words),
        "panel": Markup("").join(
            [
                _tools(itinerary, words),
                legend(scene, words),
                cautions(words),
                _hazards(scene, words),
                weakest(itinerary, words),
                steps(itinerary, words),
                sources(itinerary, words),
            ]
        ),
        "picture": picture,
        "program": Markup("").join(Markup(folder.joinpath(name).read_text(encoding="utf-8")) for name in ("placing.js", "map.js")),
    }


def top(itinerary: Itinerary, words: Words) -> Markup:
    """Give the heading: the route's code, never an address, and the trip in figures."""
    say = words.say
    time = both_cases(words, words.minutes(itinerary.time_s.planned), words.minutes(itinerary.time_s.expected))
    figures = [
        Markup('<span class="big">{}</span>').format(words.distance(itinerary.length_m)),
        Markup("{}: {}").format(say("Time"), time),
        Markup("{}: {}").format(say("Charge at the goal"), charge(words, itinerary.soc_goal, itinerary.chair)),
        Markup("{}").format(
            say("Up {climb}, down {descent}", climb=words.distance(itinerary.climb_m), descent=words.distance(itinerary.descent_m))
        ),
    ]
    if itinerary.unverified_m > 0:
        figures.append(Markup("{}").format(say("Not verified: {distance}", distance=words.distance(itinerary.unverified_m))))
    line = Markup(" · ").join(figures)
    return Markup('<header class="top"><h1>{}</h1><p>{}</p></header>').format(say("Route {code}", code=plain(itinerary.code)), line) + HATCH


def cautions(words: Words) -> Markup:
    """Say what this page can't know and who decides."""
    texts = (
        words.say("Look before you drive: this page is made from map data, which can be wrong, old or incomplete."),
        words.say("The map can't see cross slope."),
        words.say("The rider decides."),
    )
    return Markup('<p class="caution">{}</p>').format(" ".join(texts))


def _hazards(scene: Scene, words: Words) -> Markup:
    rows = Markup("").join(Markup("<li><bdi>{}</bdi></li>").format(text) for _, text in scene.hazards)
    return Markup("<h2>{}</h2><ul>{}</ul>").format(words.say("Hazards"), rows) if rows else rows


def weakest(itinerary: Itinerary, words: Words) -> Markup:
    """List the weakest places, in the order of the way."""
    places = [question for question in itinerary.questions if question.is_weakest]
    if not places:
        return Markup("")
    rows = Markup("").join(
        Markup("<li><b>{}</b> <bdi>{}</bdi></li>").format(question.number, question_words(question, words)) for question in places
    )
    return Markup('<h2>{}</h2><ul class="weakest">{}</ul>').format(words.say("Weakest places"), rows) + firmness(itinerary, words)


def firmness(itinerary: Itinerary, words: Words) -> Markup:
    """Say what the chances of open questions rest on: how firmly they are assumed, and what checks in the town have made of them."""
    if itinerary.prior_checks is None:
        return Markup("")
    text = words.say(
        "Chances are assumptions, each as firm as {n} checks would make it; checks in a town move them.",
        n=words.number(itinerary.prior_checks),
    )
    rows = Markup("").join(Markup("<li>{}</li>").format(_checked_words(row, words)) for row in itinerary.checked)
    return Markup('<p class="small">{}</p>').format(text) + (Markup('<ul class="small">{}</ul>').format(rows) if rows else rows)


def _checked_words(row: Checked, words: Words) -> str:
    what = words.say(QUESTIONS.get(row.fact, QUESTIONS["other"]))
    return words.say(
        "{what}: {bad} of {n} checks here were bad; the chance was {before}, now it is {after}.",
        what=what,
        bad=row.bad,
        n=row.good + row.bad,
        before=words.percent(row.before),
        after=words.percent(row.after),
    )


def steps(itinerary: Itinerary, words: Words) -> Markup:
    """List the steps; each can be shown on the map."""
    rows = Markup("").join(_step(step, itinerary, words) for step in build_steps(itinerary))
    return Markup("<h2>{}</h2><ol>{}</ol>").format(words.say("Steps"), rows)


def _step(step: Step, itinerary: Itinerary, words: Words) -> Markup:
    watch = Markup("").join(Markup("<li><bdi>{}</bdi></li>").format(line) for line in watch_lines(step, words))
    button = Markup('<button hidden data-lat="{:.6f}" data-lon="{:.6f}" data-piece="{}" aria-label="{}">{}</button>').format(
        step.lat,
        step.lon,
        _piece_index(step, itinerary),
        words.say("Show step {number} on the map", number=step.number),
        words.say("Show"),
    )
    return Markup(
        '<li class="step"><span class="number">{}</span><span class="words-of"><bdi>{}</bdi></span>{}<span class="tail">'
        '<span class="metres">{}</span>{}</span></li>'
    ).format(
        step.number,
        step_sentence(step, words),
        Markup('<ul class="watch">{}</ul>').format(watch) if watch else "",
        words.say("at {distance}", distance=words.distance(step.at_m)),
        button,
    )


def _piece_index(step: Step, itinerary: Itinerary) -> int:
    if step.first_piece is not None:
        return step.first_piece
    later = (n for n, piece in enumerate(itinerary.pieces) if piece.to_m >= step.at_m)
    return next(later, len(itinerary.pieces) - 1)


def sources(itinerary: Itinerary, words: Words) -> Markup:
    """Say what the page is made from, of which date, and when."""
    return Markup('<h2>{}</h2><ul class="sources">{}</ul>').format(
        words.say("Sources and dates"), Markup("").join(Markup("<li>{}</li>").format(line) for line in _source_lines(itinerary, words))
    )


def _source_lines(itinerary: Itinerary, words: Words) -> Iterator[str]:
    say, unknown = words.say, words.say("not known")
    yield from (plain(source) for source in itinerary.sources)
    yield say("Map data of {date}", date=itinerary.map_date or unknown)
    yield say("Made on {date} at {time}", date=words.date(itinerary.made_at), time=words.time_of_day(itinerary.made_at))
    yield say("Leaving at {time}", time=words.time_of_day(itinerary.conditions.departure))
    if not itinerary.is_proven:
        yield say("This route keeps every rule, but a better one may exist.")


def _over_map(itinerary: Itinerary, words: Words) -> Markup:
    north = Markup('<div class="north" role="img" aria-label="{}">▲<br>{}</div>').format(words.say("North is up"), words.say("N"))
    return north + Markup('<p class="credit">{}</p>').format(credit(itinerary, words))


def credit(itinerary: Itinerary, words: Words) -> str:
    """Give the line that stands on every map: whose data, of which date, drawn when."""
    dates = (
        words.say("data {date}", date=itinerary.map_date or words.say("not known")),
        words.say("map {date}", date=words.date(itinerary.made_at)),
    )
    return " · ".join(("© OpenStreetMap contributors", *dates))


def _levels(itinerary: Itinerary, words: Words) -> Markup:
    """Offer the levels that the way or the plan of a building has."""
    levels = {piece.level for piece in itinerary.pieces if piece.level is not None} | {room[0] for room in itinerary.backdrop.rooms}
    levels -= {plan.level for plan in itinerary.plans}
    if not levels and not itinerary.plans:
        return Markup("")
    row = '<label><input type="radio" name="level" value="{}"{}> <bdi>{}</bdi></label>'
    rows = [Markup(row).format("", Markup(" checked"), words.say("Outdoors"))]
    rows += [Markup(row).format(f"plan:{n}", "", plan_title(plan, words)) for n, plan in enumerate(itinerary.plans)]
    rows += [Markup(row).format(f"{level:g}", "", floor_words(level, words)) for level in sorted(levels)]
    return Markup("<fieldset><legend>{}</legend>{}</fieldset>").format(words.say("Level"), Markup("").join(rows))


def _tools(itinerary: Itinerary, words: Words) -> Markup:
    button = Markup('<button hidden class="whole">{}</button>').format(words.say("Whole route"))
    return Markup('<div class="tools">{}{}</div>').format(button, _levels(itinerary, words))
