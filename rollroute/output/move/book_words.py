"""Headings and words of the workbook in the reader's language. CSV files and the GeoPackage keep the English keys: scripts read them."""

from __future__ import annotations

from typing import Any

from rollroute.output.move.planner_words import tell
from rollroute.output.words import Words
from rollroute.output.words.catalogue import SOURCE_LANGUAGE, mark

HEADINGS = {
    "rider": mark("rider"),
    "riders": mark("riders"),
    "status": mark("status"),
    "way": mark("way"),
    "shelter": mark("shelter"),
    "van": mark("van"),
    "escort": mark("escort"),
    "leave": mark("leave"),
    "load": mark("load"),
    "loaded": mark("loaded"),
    "unload": mark("unload"),
    "arrive": mark("arrive"),
    "latest": mark("latest"),
    "margin_min": mark("margin min"),
    "pickup": mark("pickup"),
    "dropoff": mark("dropoff"),
    "escorts": mark("escorts"),
    "together": mark("together"),
    "doubt": mark("doubt"),
    "unverified": mark("unverified"),
    "retreat": mark("retreat"),
    "fallback": mark("fallback"),
    "things": mark("things"),
    "stop": mark("stop"),
    "kind": mark("kind"),
    "drive_min": mark("drive min"),
    "start": mark("start"),
    "end": mark("end"),
    "place": mark("place"),
    "lon": mark("lon"),
    "lat": mark("lat"),
    "positions": mark("positions"),
    "mass_kg": mark("mass kg"),
    "lift_rating_kg": mark("lift rating kg"),
    "to_zone_min": mark("to zone min"),
    "aboard": mark("aboard"),
    "order": mark("order"),
    "circuit": mark("circuit"),
    "outlet": mark("outlet"),
    "watts": mark("watts"),
    "all_night": mark("all night"),
    "meet": mark("meet"),
    "back": mark("back"),
    "what": mark("what"),
    "value": mark("value"),
}
VALUES = {
    "status": {
        "planned": mark("planned"),
        "undecided": mark("undecided"),
        "not served": mark("not served"),
        "declined": mark("declined"),
    },
    "way": {"roll": mark("roll"), "van": mark("van"), "apart": mark("apart")},
    "kind": {
        "load": mark("load"),
        "unload": mark("unload"),
        "roll": mark("roll"),
        "to van": mark("to van"),
        "stairs": mark("stairs"),
    },
    "all_night": {"yes": mark("yes"), "no": mark("no")},
}
SENTENCES = ("fallback", "place", "pickup", "dropoff")
LISTS = ("things", "unverified")


def heading(name: str, words: Words) -> str:
    """A column's heading."""
    return words.say(HEADINGS[name])


def cell(name: str, value: Any, words: Words) -> Any:
    """A value of a column; what is no word of the planner stays."""
    if not isinstance(value, str) or words.language == SOURCE_LANGUAGE:
        return value
    if name in LISTS:
        return "; ".join(tell(words, part) for part in value.split("; "))
    if name in SENTENCES:
        return tell(words, value)
    return words.say(VALUES[name][value]) if value in VALUES.get(name, {}) else value
