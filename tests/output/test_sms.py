"""Text messages: the alphabet, the length, nothing lost, and replies."""

from __future__ import annotations

import dataclasses
import re
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sample_itinerary import hostile, sample

from rollroute.errors import InputError
from rollroute.output.gsm import BASIC, EXTENSION, septets, to_gsm
from rollroute.output.sms import messages, parse_reply, place_reference
from rollroute.output.steps import build_steps
from rollroute.output.words import Words

# 3GPP TS 23.038, section 6.2.1.1, row by row from its code points, by Unicode names: a second writing of the table.
GSM_ROWS = {
    0x00: "COMMERCIAL AT|POUND SIGN|DOLLAR SIGN|YEN SIGN|e GRAVE|e ACUTE|u GRAVE|i GRAVE|o GRAVE|C CEDILLA",
    0x0E: "A RING|a RING",
    0x10: "GREEK CAPITAL LETTER DELTA|LOW LINE|GREEK CAPITAL LETTER PHI|GREEK CAPITAL LETTER GAMMA|GREEK CAPITAL LETTER LAMDA"
    "|GREEK CAPITAL LETTER OMEGA|GREEK CAPITAL LETTER PI|GREEK CAPITAL LETTER PSI|GREEK CAPITAL LETTER SIGMA"
    "|GREEK CAPITAL LETTER THETA|GREEK CAPITAL LETTER XI",
    0x1C: "LATIN CAPITAL LETTER AE|LATIN SMALL LETTER AE|LATIN SMALL LETTER SHARP S|E ACUTE|SPACE|EXCLAMATION MARK|QUOTATION MARK",
    0x24: "CURRENCY SIGN|PERCENT SIGN",
    0x40: "INVERTED EXCLAMATION MARK|LATIN CAPITAL LETTER A",
    0x5B: "A DIAERESIS|O DIAERESIS|N TILDE|U DIAERESIS|SECTION SIGN|INVERTED QUESTION MARK|LATIN SMALL LETTER A",
    0x7B: "a DIAERESIS|o DIAERESIS|n TILDE|u DIAERESIS|a GRAVE",
}


def letter(name: str) -> str:
    """Character of a Unicode name; "e GRAVE" is short for the small letter e with a grave."""
    short = re.fullmatch(r"([A-Za-z]) (GRAVE|ACUTE|CEDILLA|RING|DIAERESIS|TILDE)", name)
    if short is None:
        return unicodedata.lookup(name)
    case = "SMALL" if short[1].islower() else "CAPITAL"
    accent = "RING ABOVE" if short[2] == "RING" else short[2]
    return unicodedata.lookup(f"LATIN {case} LETTER {short[1].upper()} WITH {accent}")


def test_alphabet_is_the_published_table():
    """GSM 03.38: 128 places in order; the rows above are written a second time from the standard's character names."""
    assert len(BASIC) == 128
    for begin, names in GSM_ROWS.items():
        for offset, name in enumerate(names.split("|")):
            assert BASIC[begin + offset] == letter(name), hex(begin + offset)
    for code in [*range(0x25, 0x40), *range(0x41, 0x5B), *range(0x61, 0x7B)]:
        assert BASIC[code] == chr(code)


def test_extension_characters_count_double():
    """GSM 03.38, section 6.2.1.1: escape plus character."""
    assert frozenset("€[]{}~\\^|") == EXTENSION
    assert septets("[€]") == 6
    with pytest.raises(ValueError, match="not in the GSM"):
        septets("á")  # GSM has à but no á


@pytest.mark.parametrize("route", [sample(), hostile()], ids=["sample", "hostile"])
@pytest.mark.parametrize("language", ["en", "es"])
def test_messages_fit_and_are_numbered(route, language: str):
    """At most 160 septets each (3GPP TS 23.040: 140 octets of user data), headed K7 n/total."""
    texts = messages(route, Words(language=language))

    for n, text in enumerate(texts, start=1):
        assert septets(text) <= 160
        assert text.startswith(f"K7 {n}/{len(texts)} ")


def test_nothing_is_lost_for_turns_and_stops():
    """Read the messages back by the form alone: every step with its number, turn, street and metres, in order."""
    words, route = Words(), sample()
    whole = " ".join(re.sub(r"^K7 \d+/\d+ ", "", text) for text in messages(route, words))
    parts = {int(p.split(" ", 1)[0]): p.split(" ", 1)[1] for p in whole.rstrip(".").split("; ") if p[0].isdigit()}
    steps = build_steps(route)

    assert list(parts) == [s.number for s in steps]
    for step in steps:
        said = parts[step.number]
        if step.street:
            assert step.street in said
        if step.turn and step.kind != "lift":
            assert said.startswith({"straight": "straight on"}.get(step.turn, step.turn.replace("slight_", "bear ")))
        if step.to_next_m and step.kind != "lift":
            assert said.endswith(words.distance(step.to_next_m))
        if step.kind == "charge":
            assert step.place in said
            assert "1 h 35 min" in said
    assert place_reference(route.goal.lon, route.goal.lat) in parts[steps[-1].number]


def test_a_message_reads_aloud():
    """Number, time, place, then one action: by hand, in both languages. The unmapped bit at a door is called what it is."""
    route = sample()
    off = [dataclasses.replace(route.pieces[0], way_kind="off_map", name=None), *route.pieces[1:]]
    route = dataclasses.replace(route, pieces=off)

    english, spanish = (messages(route, Words(language=language))[0] for language in ("en", "es"))

    assert english.startswith("K7 1/7 1 at 18:20 from 12 Mill Street go north, ground not on the map, 6 m; 2 right, Mill Street, 130 m; 3 ")
    assert spanish.startswith("K7 1/7 1 a las 18:20 desde 12 Mill Street hacia el norte, terreno fuera del mapa, 6 m; 2 derecha, Mill ")


def test_a_crossing_says_where_it_goes_on():
    """Steps that cross and go straight on name both streets: with one of them the metres would be those of the crossing."""
    itinerary = sample()
    crossings = [step for step in build_steps(itinerary) if step.then_along]
    whole = " ".join(messages(itinerary, Words()))

    assert crossings
    for step in crossings:
        assert f"cross {step.street}, on along {step.then_along}, {Words().distance(step.to_next_m)};" in whole


def test_a_closing_on_the_way_stands_in_the_messages():
    """Whoever has nothing but the messages has to know when the way closes; what is only to be watched stands on the sheet."""
    route = sample()
    hazard = route.hazards[0]
    named = [
        dataclasses.replace(hazard, kind="closed", label="Low; road " + "x" * 200, starts="2026-03-14T20:30-03:00", ends=None),
        dataclasses.replace(hazard, kind="deadline", label="河边", starts="2026-03-14T20:00-03:00", ends=None),
        dataclasses.replace(hazard, kind="watch", label="smoke", starts=None, ends=None),
        dataclasses.replace(hazard, kind="closed", label="far off", rings=[[(lon + 0.1, lat) for lon, lat in hazard.rings[0]]]),
    ]
    texts = messages(dataclasses.replace(route, hazards=named), Words())
    whole = " ".join(re.sub(r"^K7 \d+/\d+ ", "", text) for text in texts)

    assert "; Low, road xxx" in whole
    assert "closed from 20:30" in whole
    assert "; (name on sheet): be past it by 20:00; Reply K7" in whole
    assert "smoke" not in whole
    assert "far off" not in whole
    assert all(septets(text) <= 160 for text in texts)


def test_a_street_in_another_script_is_named_by_its_step():
    """河边路 can't be sent in 7 bits; the sheet in the volunteer's hand spells it."""
    whole = " ".join(messages(hostile(), Words()))

    assert "(name on sheet, step 8)" in whole


def test_names_can_not_fake_another_part():
    """A semicolon in a name would read as the end of a step."""
    for text in messages(hostile(), Words()):
        assert "'; DROP" not in text


@given(st.text(max_size=60))
def test_any_name_can_be_brought_into_the_alphabet(name: str):
    """A message must never fail for want of a letter."""
    septets(to_gsm(name))


def test_grid_reference_is_the_published_one():
    """USNG (FGDC-STD-011-2001): the standard's example 18SUJ2348306479 in Washington, DC, is 18S UJ 2348 0647 to 10 m, cut not rounded."""
    import mgrs

    lat, lon = mgrs.MGRS().toLatLon("18SUJ2348306479")

    assert place_reference(lon, lat).replace(" ", "") == "18SUJ23480647"


def test_near_the_poles_the_goal_is_latitude_and_longitude():
    """UTM, and with it the grid, ends at 84 N and 80 S."""
    assert place_reference(15.0, 85.0) == "85.00000 15.00000"


@pytest.mark.parametrize(
    ("text", "kind", "step"),
    [
        ("K7 B12", "blocked", 12),
        ("k7b12", "blocked", 12),
        ("  K 7  B 12 .", "blocked", 12),
        ("K7-P3", "passed", 3),
        ("k7 h", "help", None),
        ("K7 H 5", "help", 5),
        ("K7 B1O", "blocked", 10),  # a tired thumb: letter O for zero
    ],
)
def test_replies_are_read_as_people_type_them(text: str, kind: str, step: int | None):
    """Codes as printed on the sheet, in any case and spacing."""
    reply = parse_reply(text)

    assert (reply.route, reply.kind, reply.step) == ("K7", kind, step)


@pytest.mark.parametrize("text", ["", "hello", "K7", "K7 B", "K7 P", "B12", "K7 X3", "K7 B0", "K7 B1234", "K7 B12 and more"])
def test_other_replies_are_refused_with_an_example(text: str):
    """A guessed reply would close a way that is open."""
    with pytest.raises(InputError, match=r"K7 B12|steps 1 to"):
        parse_reply(text)


def test_a_reply_about_a_step_that_is_not_there_is_refused():
    """The sheet has n steps; step 99 is a slip."""
    assert parse_reply("K7 B21", n_steps=21).step == 21
    with pytest.raises(InputError, match="steps 1 to 21"):
        parse_reply("K7 B22", n_steps=21)


@given(st.from_regex(r"[A-Z]{1,2}[1-9]\d{0,2}", fullmatch=True), st.sampled_from("BP"), st.integers(1, 999))
def test_every_code_that_a_sheet_prints_is_read_back(code: str, letter_: str, step: int):
    """Printing and reading are inverse, whatever the route's code."""
    reply = parse_reply(f"{code} {letter_}{step}")

    assert (reply.route, reply.step) == (code, step)
