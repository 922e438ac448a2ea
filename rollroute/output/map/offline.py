"""A folium map that opens without a network: Leaflet inside the page, and a content policy that refuses every request.

Folium 0.20 loads ten files from elsewhere and writes popups and tooltips into program text, where a backtick in a street name runs as code.
So the lists of files are empty here, the page is a figure of our own whose scripts carry a nonce, and our layers hand
names over as JSON data that the page puts in as text.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from importlib.resources import files
from typing import Any

import folium
from branca.element import Element, Figure, MacroElement
from folium.template import Template
from markupsafe import Markup

from rollroute.output.map.assets import guard, leaflet_assets
from rollroute.output.map.marks import MARK_CSS
from rollroute.output.map.script_json import script_json
from rollroute.output.map.style import css_variables

# What folium calls of jQuery: `$(html)[0]` for a popup and `$(document).ready(f)`.
JQUERY_SHIM = (
    "window.$=function(x){if(x===document)return{ready:function(f){f()}};"
    "var t=document.createElement('template');t.innerHTML=x.trim();return t.content.children};"
)
PAGE = "page.html"


class OfflineFigure(Figure):
    """The page around the map; ``parts`` are trusted pieces of HTML by name, ``language`` the tag of its words."""

    _template = Template(files("rollroute.output.map").joinpath(PAGE).read_text(encoding="utf-8"))

    def __init__(self, *, title: str, language: str, nonce: str, parts: dict[str, Markup], style: str, still_style: str) -> None:
        super().__init__(title=title)
        self.language, self.nonce, self.parts = language, nonce, parts
        self.leaflet = leaflet_assets()
        self.style = Markup(guard(self.leaflet.style + style))
        self.still_style = Markup(guard(still_style))
        self.setup = Markup(JQUERY_SHIM + _default_icon())
        self.header._children.clear()  # the page states its own character set


class OfflineMap(folium.Map):
    """A ``folium.Map`` whose every part is in the page."""

    default_js: list[tuple[str, str]] = []  # noqa: RUF012  (folium declares them so, for each map to change)
    default_css: list[tuple[str, str]] = []  # noqa: RUF012
    _template = Template(
        """
        {% macro html(this, kwargs) %}<div class="folium-map" id={{ this.get_name()|tojson }}></div>{% endmacro %}
        {% macro script(this, kwargs) %}
        var {{ this.get_name() }} = L.map({{ this.get_name()|tojson }}, {
            center: {{ this.location|tojson }}, crs: L.CRS.{{ this.crs }}, ...{{ this.options|tojavascript }}
        });
        var ground = L.canvas({ padding: 0.3 });
        {%- if this.control_scale %}L.control.scale().addTo({{ this.get_name() }});{%- endif %}
        {% endmacro %}
        """
    )

    def __init__(self, bounds: Sequence[Sequence[float]], figure: OfflineFigure) -> None:
        """Show ``bounds`` = ``[[south, west], [north, east]]`` in ``figure``."""
        (south, west), (north, east) = bounds
        super().__init__(
            location=[(south + north) / 2, (west + east) / 2],
            tiles=None,
            zoom_start=16,
            control_scale=True,
            prefer_canvas=False,
            zoom_animation=False,
            fade_animation=False,
            marker_zoom_animation=False,
            zoom_snap=0.25,
            zoom_delta=0.75,
            min_zoom=11,
            max_zoom=21,
            attribution_control=False,
            zoom_control=False,  # the page adds one whose words are the reader's
        )
        figure.add_child(self)

    @classmethod
    def nonce_for(cls, text: str) -> str:
        """Give the nonce of a page: the same input gives the same bytes, and nobody who writes a street name can foresee it."""
        return hashlib.sha256(text.encode()).hexdigest()[:32]


class Program(MacroElement):
    """A call of a function of the page with the map, JSON data and the names of layers that folium made."""

    _template = Template(
        """
        {% macro script(this, kwargs) %}
        {{ this.function }}({{ this._parent.get_name() }}, {{ this.data }}, { {%- for key, layer in this.layers.items() %}
            {{ key|tojson }}: {{ layer.get_name() }},{% endfor %} });
        {% endmacro %}
        """
    )

    def __init__(self, function: str, data: dict[str, Any], layers: Mapping[str, Element]) -> None:
        super().__init__()  # type: ignore[no-untyped-call]
        self._name = "Program"
        self.function, self.data, self.layers = function, script_json(data), layers


def page_style() -> str:
    """Give the page's own sheet of styles, colours of both themes included."""
    return css_variables() + MARK_CSS + files("rollroute.output.map").joinpath("map.css").read_text(encoding="utf-8")


def number_elements(root: Figure) -> None:
    """Replace folium's random names by counted ones, so that the same route gives the same bytes."""
    waiting: list[Element] = [root, root.header, root.html, root.script]
    count = 0
    while waiting:
        element = waiting.pop(0)
        element._id = f"{count:03d}"
        count += 1
        waiting.extend(element._children.values())


def _default_icon() -> str:
    """Folium adds a marker before it sets its icon, so Leaflet would ask for its default pictures."""
    leaflet = leaflet_assets()
    options = {"iconUrl": leaflet.icon, "iconRetinaUrl": leaflet.icon, "shadowUrl": leaflet.shadow}
    return f"L.Icon.Default.imagePath='';L.Icon.Default.mergeOptions({json.dumps(options)});"
