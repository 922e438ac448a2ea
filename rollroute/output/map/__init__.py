"""The offline map: one folium page that shows a route without a network."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

from rollroute.output.itinerary import Itinerary
from rollroute.output.words import Words
from rollroute.whole import write_whole

if TYPE_CHECKING:
    from markupsafe import Markup

    from rollroute.output.map.scene import Scene


def write_map(itinerary: Itinerary, path: Path, words: Words | None = None) -> None:
    """Write the map of ``itinerary`` as one HTML file that asks nothing of any server: complete or not at all.

    ``words`` choose language, units and clock; English and metric if not given.
    """
    write_whole(path, map_page(itinerary, words or Words()))


def map_page(itinerary: Itinerary, words: Words) -> str:
    """Give the page of the map as HTML. The same itinerary gives the same text."""
    from rollroute.output.map.data import scene_data, way_bounds
    from rollroute.output.map.layers import ground_layers
    from rollroute.output.map.offline import OfflineFigure, OfflineMap, Program, number_elements, page_style
    from rollroute.output.map.page import page_parts
    from rollroute.output.map.scene import set_scene

    scene = set_scene(itinerary, words)
    picture, still_style = _still_picture(scene, words)
    figure = OfflineFigure(
        title=words.say("Route {code}", code=itinerary.code),
        language=words.language,
        nonce=OfflineMap.nonce_for(json.dumps(asdict(itinerary))),
        parts=page_parts(scene, words, picture),
        style=page_style(),
        still_style=still_style,
    )
    ground = OfflineMap(way_bounds(itinerary), figure)
    layers = ground_layers(itinerary.backdrop)
    for layer in layers.values():
        layer.add_to(ground)
    ground.add_child(Program("rollroute.draw", scene_data(scene, words), layers))
    number_elements(figure)
    return str(figure.render())


def _still_picture(scene: Scene, words: Words) -> tuple[Markup, str]:
    """Give the drawing and its styles for readers whose browser or mail program runs no programs."""
    from markupsafe import Markup

    from rollroute.output.map.drawing import DRAWING_CSS, draw_scene, road_widths
    from rollroute.output.map.plane import Plane

    plane = Plane.around([place for piece in scene.itinerary.pieces for place in piece.coordinates], width=640.0, margin=56.0)
    frame = Markup('<svg class="picture" viewBox="0 0 {} {}" role="img" aria-label="{}">{}</svg>')
    drawing = frame.format(plane.width, plane.height, words.say("Map of the route"), Markup(draw_scene(scene, words, plane)))
    return drawing, DRAWING_CSS + road_widths(plane)
