"""Places of a route with their words, for files that other map programs open."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from rollroute.output.itinerary import Itinerary, LonLat
from rollroute.output.map.scene import Mark, set_scene
from rollroute.output.steps import build_steps
from rollroute.output.words import Words
from rollroute.output.words.sentences import step_sentence, watch_lines


@dataclass(frozen=True, slots=True)
class Place:
    """One place: ``kind`` as in the map's marks, a short name, and what is known of it."""

    kind: str
    lon: float
    lat: float
    name: str
    text: str


def places(itinerary: Itinerary, words: Words) -> Iterator[Place]:
    """Give start, goal, halts, questions, refuges, checkpoints and stopping places in the order of the way.

    A start that is no shelter stays without its words: such files are passed on.
    """
    for mark in set_scene(itinerary, words).marks:
        if mark.kind == "start" and itinerary.start.kind != "shelter":
            yield Place(mark.kind, mark.lon, mark.lat, words.say("Start"), "")
        elif mark.kind != "barred":
            yield Place(mark.kind, mark.lon, mark.lat, mark.title, _text(mark))


def step_places(itinerary: Itinerary, words: Words) -> Iterator[Place]:
    """Give the steps, each where it begins: its number and sentence, and what to watch for on it."""
    for step in build_steps(itinerary):
        is_front_door = step.kind == "start" and itinerary.start.kind != "shelter"
        name = words.say("Start") if is_front_door else step_sentence(step, words)
        yield Place(step.kind, step.lon, step.lat, f"{step.number}. {name}", " ".join(watch_lines(step, words)))


def way_line(itinerary: Itinerary) -> Iterator[LonLat]:
    """Give the whole way as one line, the shared ends of pieces once."""
    last: LonLat | None = None
    for piece in itinerary.pieces:
        for place in piece.coordinates:
            if place != last:
                yield place
            last = place


def _text(mark: Mark) -> str:
    return "; ".join(f"{what}: {value}" + (f" ({rank})" if rank else "") for what, value, rank in mark.rows)
