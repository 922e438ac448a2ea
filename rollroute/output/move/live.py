"""The map of a move for a browser: folium's own page, offline, with everything that can be switched on and off."""

from __future__ import annotations

from collections.abc import Iterable
from importlib.resources import files
from pathlib import Path
from typing import Any

from markupsafe import Markup

from rollroute.output.itinerary import LonLat
from rollroute.output.map import marks
from rollroute.output.map.page import HATCH
from rollroute.output.map.style import THEMES
from rollroute.output.move.facts import MoveFacts
from rollroute.output.move.html import bullets, cell
from rollroute.output.move.scene import LEFT, RIDER, ROLLS, VAN, MoveScene
from rollroute.output.move.sheets import closings
from rollroute.output.move.still import DASHES

DECIMALS = 6
RAISED = {"left": 900, "shelter": 700, "rider": 600, "van": 300, "zone": 100}


def write_move_map(facts: MoveFacts, scene: MoveScene, path: Path, *, picture: Markup, picture_css: str) -> None:
    """Write the map as one HTML file that asks nothing of any server; ``picture`` is shown where no program runs."""
    path.write_text(move_map_page(facts, scene, picture=picture, picture_css=picture_css), encoding="utf-8")


def move_map_page(facts: MoveFacts, scene: MoveScene, *, picture: Markup, picture_css: str) -> str:
    """Give the page as HTML. The same plan gives the same text."""
    from rollroute.output.map.layers import ground_layers
    from rollroute.output.map.offline import OfflineFigure, OfflineMap, Program, number_elements, page_style

    data = map_data(facts, scene)
    figure = OfflineFigure(
        title=facts.words.say("Map of the move"),
        language=facts.words.language,
        nonce=OfflineMap.nonce_for(repr(data)),
        parts=_parts(facts, scene, picture),
        style=page_style() + files("rollroute.output.move").joinpath("live.css").read_text(encoding="utf-8"),
        still_style=picture_css,
    )
    west, south, east, north = scene.bounds
    ground = OfflineMap([[south, west], [north, east]], figure)
    layers = ground_layers(scene.ground)
    for layer in layers.values():
        layer.add_to(ground)
    ground.add_child(Program("rollrouteMove.draw", data, layers))
    number_elements(figure)
    return str(figure.render())


def map_data(facts: MoveFacts, scene: MoveScene) -> dict[str, Any]:
    """Everything that the page's program draws; names are plain strings that it puts in as text."""
    say = facts.words.say
    west, south, east, north = scene.bounds
    vans = [line.group for line in scene.lines if line.kind in ("tour", "beeline")]
    dashes = {group: DASHES[n % len(DASHES)] for n, group in enumerate(dict.fromkeys(vans))}
    return {
        "themes": THEMES,
        "bounds": [[south, west], [north, east]],
        "words": {"map": say("Map of the move"), "close": say("Close"), "zoomIn": say("Zoom in"), "zoomOut": say("Zoom out")},
        "lines": [
            {"k": line.kind, "c": _places(line.line), "t": line.title, "r": line.rows, "g": line.group, "d": dashes.get(line.group, "")}
            for line in scene.lines
        ],
        "marks": [
            {
                "k": mark.kind, "p": _place(mark.place), "b": mark.label, "t": mark.title, "r": mark.rows, "g": mark.group,
                "svg": marks.svg(mark.fragment), "z": RAISED[mark.kind],
            }
            for mark in scene.marks
        ],
        "vans": list(dashes),
        "hazards": [{"c": [_places(ring) for ring in rings], "t": text} for text, rings in scene.hazards],
    }  # fmt: skip


def _place(place: LonLat) -> list[float]:
    return [round(place[1], DECIMALS), round(place[0], DECIMALS)]


def _places(line: Iterable[LonLat]) -> list[list[float]]:
    return [_place(place) for place in line]


def _parts(facts: MoveFacts, scene: MoveScene, picture: Markup) -> dict[str, Markup]:
    say = facts.words.say
    north = Markup('<div class="north" role="img" aria-label="{}">▲<br>{}</div>').format(say("North is up"), say("N"))
    credit = Markup('<p class="credit">{}</p>').format("© OpenStreetMap contributors") if scene.ground.roads else Markup("")
    top = Markup('<header class="top"><h1>{}</h1><p><a href="index.html">{}</a></p></header>').format(
        say("Map of the move"), say("Back to the plan")
    )
    panel = [_switches(facts, scene), _legend(facts), _closings(facts), _list(facts, scene), _caution(facts)]
    return {
        "top": top + HATCH,
        "map_label": Markup(Markup.escape(say("Map of the move"))),
        "panel_label": Markup(Markup.escape(say("Legend and list"))),
        "over_map": north + credit,
        "panel": Markup("").join(panel),
        "picture": picture,
        "program": Markup(files("rollroute.output.move").joinpath("live.js").read_text(encoding="utf-8")),
    }


def _switches(facts: MoveFacts, scene: MoveScene) -> Markup:
    """A box to tick for each van, and for whoever rolls; hidden until the program runs."""
    say = facts.words.say
    groups = list(dict.fromkeys(line.group for line in scene.lines if line.group))
    rows = Markup("").join(
        Markup('<label><input type="checkbox" checked data-group="{}"> {}</label>').format(
            group, say("who rolls") if group == ROLLS else say("van {van}", van=group)
        )
        for group in groups
    )
    whole = Markup('<button class="whole">{}</button>').format(say("Everything"))
    return Markup('<div class="tools" hidden><fieldset><legend>{}</legend>{}</fieldset>{}</div>').format(say("Show"), rows, whole)


def _legend(facts: MoveFacts) -> Markup:
    say = facts.words.say
    rows = [
        (LEFT, say("not served")),
        (RIDER, say("rider, where they are now")),
        (marks.refuge(), say("shelter")),
        (marks.van_spot(), say("loading zone: look before the lift goes down")),
        (VAN, say("start of a van")),
        ('<path class="way-casing" stroke-width="13" d="M-24 0H24"/><path class="way-line" stroke-width="8" d="M-24 0H24"/>', say("rolls")),
        ('<path class="move-tour" stroke-width="4" stroke-dasharray="14 5" d="M-24 0H24"/>', say("van; each has its own dashes")),
        ('<path class="move-tie" stroke-width="2" d="M-24 0H24"/>', say("from the door to the van, not the way itself")),
        ('<path class="hazard" stroke-width="3" d="M-20-12H20V12H-20Z"/>', say("closes, with its time")),
    ]
    frame = '<svg viewBox="-26 -19 52 38" width="52" height="38" aria-hidden="true" focusable="false">{}</svg>'
    items = Markup("").join(Markup("<li>{}<span>{}</span></li>").format(Markup(frame).format(Markup(d)), words) for d, words in rows)
    return Markup('<details class="legend"><summary>{}</summary><ul>{}</ul></details>').format(say("Legend"), items)


def _closings(facts: MoveFacts) -> Markup:
    found = bullets(closings(facts))
    return Markup("<h2>{}</h2>{}").format(facts.words.say("What closes"), found) if found else found


def _list(facts: MoveFacts, scene: MoveScene) -> Markup:
    """Every mark in words, so that nothing is on the map alone; whoever is not served comes first."""
    say = facts.words.say
    order = sorted(enumerate(scene.marks), key=lambda item: (-RAISED[item[1].kind], item[0]))
    rows = Markup("").join(
        Markup('<li class="place"><b>{}</b> <button hidden data-mark="{}" aria-label="{}">{}</button><dl>{}</dl></li>').format(
            cell(mark.title),
            n,
            say("Show {what} on the map", what=mark.title),
            say("Show"),
            Markup("").join(Markup("<dt>{}</dt><dd>{}</dd>").format(name, cell(value)) for name, value in mark.rows),
        )
        for n, mark in order
    )
    return Markup("<h2>{}</h2><ul class='places'>{}</ul>").format(say("Everybody and everything"), rows)


def _caution(facts: MoveFacts) -> Markup:
    say = facts.words.say
    texts = (say("Look before anybody drives, and call before anybody waits."), say("The rider decides."))
    return Markup('<p class="caution">{}</p>').format(" ".join(texts))
