"""Sections for the moment when something goes wrong: the chair, the battery, the way, the person."""

from __future__ import annotations

from rollroute.output.itinerary import Itinerary, LonLat, Spot
from rollroute.output.plain_text import plain
from rollroute.output.sheet.blocks import Block, bullets, heading, numbered, paragraph
from rollroute.output.sheet.push import PUSH_PER_HELPER_N, Push, push_on
from rollroute.output.sheet.reference import short_reference
from rollroute.output.steps_runs import bearing_deg, distance_m
from rollroute.output.words import Words
from rollroute.output.words.cautions import transfer_cautions
from rollroute.output.words.facts import compass_words

VAN_EVERY_M = 400.0  # closer places add nothing for somebody who waits
MOST_OFF_WAY = 2


def chair_section(itinerary: Itinerary, words: Words) -> list[Block]:
    """What to do if the chair stops."""
    say = words.say
    steps = [
        say("On a road: warn traffic first, lights both ways."),
        say("Power off, 10 seconds, on; hands off joystick."),
        say("Error code or count of flashes: ____________"),
        say("Both levers fully in drive? A plug loose?"),
        say("Joystick wet: power off, wipe, cover; try again, the rider ready to switch off."),
        say("Joystick dead: attendant control, slowly."),
        say("Charger plugged in? Pull it: it locks the drive."),
        say("Still dead: keep the rider warm and dry, call for a lift van, give the grid."),
    ]
    push = push_on(itinerary)
    blocks = [heading(say("If the chair stops or shows an error")), numbered(steps), bullets(_push_lines(push, words))]
    return [*blocks, bullets([*transfer_cautions(words), *_van_lines(itinerary, words)])]


def other_section(itinerary: Itinerary, words: Words, phone: str | None) -> list[Block]:
    """If the battery runs low, the way is blocked, or the person feels unwell."""
    say = words.say
    call = say("Call {phone}.", phone=plain(phone)) if phone else say("Coordinator's number: ____________")
    return [
        heading(say("If something else goes wrong")),
        bullets(
            [
                say("Battery low: switch off what the rider can spare and turn to the nearer refuge."),
                say("Way blocked: do not try kerbs or grass around it; go back and send the code below."),
                say("Rider unwell: stop, ask; tilt only if wanted. Danger of life: call the emergency number."),
                call,
            ]
        ),
        *_refuge_blocks(itinerary, words),
        paragraph(
            say(
                "Reply by text: {code} B12 blocked at step 12, {code} P12 passed it, {code} H for help.",
                code=plain(itinerary.code),
            )
        ),
    ]


def _push_lines(push: Push, words: Words) -> list[str]:
    say = words.say
    flat = say(
        "Pushed on flat hard ground: {force}, {n} people ({each} each, an assumption).",
        force=words.force(push.flat_n),
        n=push.flat_helpers,
        each=words.force(PUSH_PER_HELPER_N),
    )
    if push.grade <= 0:
        return [flat]
    slope = say(
        "Steepest slope here ({grade}): {force}, {n} people; do not free-wheel there, wait for the van.",
        grade=words.percent(push.grade),
        force=words.force(push.slope_n),
        n=push.slope_helpers,
    )
    return [flat, slope]


def _van_lines(itinerary: Itinerary, words: Words) -> list[str]:
    spots = van_places(itinerary)
    if not spots:
        return [words.say("No place where a lift van can stop is known near this way: ask when you call.")]
    listed = "; ".join(_van_line(itinerary, s, words) for s in spots)
    return [words.say("A lift van may stop (nobody checked) at: {list}.", list=listed)]


def van_places(itinerary: Itinerary) -> list[Spot]:
    """Places for a lift van in the order of the way, no two closer than ``VAN_EVERY_M``."""
    chosen: list[Spot] = []
    for spot in sorted((s for s in itinerary.van_spots if s.at_m is not None), key=lambda s: s.at_m or 0.0):
        if not chosen or (spot.at_m or 0.0) - (chosen[-1].at_m or 0.0) >= VAN_EVERY_M:
            chosen.append(spot)
    return chosen


def _van_line(itinerary: Itinerary, spot: Spot, words: Words) -> str:
    place = words.say("the road") if spot.label == "road" else plain(spot.label)
    grid = short_reference(itinerary, spot.lon, spot.lat)
    return words.say("{distance} {place}, {grid}", distance=words.distance(spot.at_m or 0.0), place=place, grid=grid)


def _refuge_blocks(itinerary: Itinerary, words: Words) -> list[Block]:
    """Refuges in the order of the way, so that one is seen back and one forward; then those off it, nearest first."""
    known = {plain(s.label): s for s in reversed(itinerary.refuges)}.values()
    on_way = sorted((s for s in known if s.at_m is not None), key=lambda s: s.at_m or 0.0)
    far = [s for s in known if s.at_m is None]
    off_way = sorted(far, key=lambda s: distance_m((s.lon, s.lat), _nearest(itinerary, s)[1]))[:MOST_OFF_WAY]
    if not known:
        return [paragraph(words.say("No refuge is known on this way: the start and the goal are the nearest."))]
    lines = [_refuge_line(itinerary, s, words) for s in on_way]
    if off_way:
        far_ones = "; ".join(_far_words(itinerary, s, words) for s in off_way)
        lines.append(words.say("No checked way is known to: {list}.", list=far_ones))
    return [paragraph(words.say("Refuges: go on before their metre, back after it.")), bullets(lines)]


def _far_words(itinerary: Itinerary, spot: Spot, words: Words) -> str:
    """A refuge that no way without questions leads to: where it lies, in a straight line."""
    metre, corner = _nearest(itinerary, spot)
    return words.say(
        "{place}, {distance} {compass} of {metre} in a straight line, grid {grid}",
        place=plain(spot.label),
        distance=words.distance(distance_m((spot.lon, spot.lat), corner)),
        compass=compass_words(bearing_deg(corner, (spot.lon, spot.lat)), words),
        metre=words.distance(metre),
        grid=short_reference(itinerary, spot.lon, spot.lat),
    )


def _nearest(itinerary: Itinerary, spot: Spot) -> tuple[float, LonLat]:
    """The corner of the way that lies nearest to a place, with its metre."""
    corners = [(p.from_m, p.coordinates[0]) for p in itinerary.pieces] + [(p.to_m, p.coordinates[-1]) for p in itinerary.pieces[-1:]]
    return min(corners, key=lambda c: distance_m((spot.lon, spot.lat), c[1]))


def _refuge_line(itinerary: Itinerary, spot: Spot, words: Words) -> str:
    place, at = plain(spot.label), words.distance(spot.at_m or 0.0)
    grid = short_reference(itinerary, spot.lon, spot.lat)
    if spot.off_way_m < 1.0:
        return words.say("{place}: at {distance}, grid {grid}.", place=place, distance=at, grid=grid)
    off = words.distance(spot.off_way_m)
    return words.say("{place}: leave the way at {distance}, then {off} to it, grid {grid}.", place=place, distance=at, off=off, grid=grid)
