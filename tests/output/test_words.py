"""Words: quantities, catalogues, and the voice of the sentences."""

from __future__ import annotations

import re
import string
from pathlib import Path

import pytest
from messages_in_source import messages_in
from sample_itinerary import sample

import rollroute.output
from rollroute.errors import InputError
from rollroute.output.words import LANGUAGES, Words
from rollroute.output.words.catalogue import read_catalogue
from rollroute.output.words.facts import QUESTIONS
from rollroute.weights.reasons import Question

OUTPUT = Path(rollroute.output.__file__).parent
MESSAGES = messages_in(OUTPUT)
OTHER_LANGUAGES = [language for language in LANGUAGES if language != "en"]


def fields(text: str) -> set[str]:
    """Names in braces."""
    return {name for _, name, _, _ in string.Formatter().parse(text) if name}


def test_every_question_of_the_weights_has_words_of_its_own():
    """A question that reads like another, or like none, sends somebody to look for the wrong thing."""
    assert {question.name.lower() for question in Question} <= QUESTIONS.keys()
    assert len(set(QUESTIONS.values())) == len(QUESTIONS)


def test_spanish_is_there():
    """English and Spanish are promised."""
    assert "es" in LANGUAGES


@pytest.mark.parametrize("language", OTHER_LANGUAGES)
def test_every_sentence_is_translated(language: str):
    """A half translated sheet is read by nobody. The sentences come from the syntax tree, so a new one fails here at once."""
    known = read_catalogue(language)
    missing = [m for m in MESSAGES if (m if isinstance(m, str) else m[0]) not in known]

    assert missing == []


@pytest.mark.parametrize("language", OTHER_LANGUAGES)
def test_no_translation_is_left_over(language: str):
    """A translation without its sentence hides a changed sentence."""
    english = {m if isinstance(m, str) else m[0] for m in MESSAGES}

    assert sorted(set(read_catalogue(language)) - english) == []


@pytest.mark.parametrize("language", OTHER_LANGUAGES)
def test_translations_keep_the_names_in_braces(language: str):
    """A lost {distance} loses a distance; an invented one fails at night."""
    known = read_catalogue(language)
    for message in MESSAGES:
        english = message if isinstance(message, str) else message[1]
        translation = known.get(message if isinstance(message, str) else message[0], english)
        for form in (translation,) if isinstance(translation, str) else translation:
            assert fields(form) == fields(english), english


def test_no_sentence_promises_safety():
    """Never the words safe, level or clear without their rank; "possibly level" and "clear by what is known" carry it."""
    allowed = ("Possibly level: look before touching the levers", "by what is known")
    for message in MESSAGES:
        text = re.sub(r"\{\w+\}", "", message if isinstance(message, str) else " ".join(message))
        if not any(words in text for words in allowed) and text != "Level" and "level ground" not in text:
            assert not re.search(r"\b(safe|safely|safety|level|clear)\b", text, re.IGNORECASE), text


@pytest.mark.parametrize(
    ("length_m", "metric", "us"),
    [
        (0.4, "0 m", "1 ft"),
        (12.4, "12 m", "40 ft"),  # 12.4 / 0.3048 = 40.7 ft, to 5 ft
        (118.0, "120 m", "390 ft"),  # 387.1 ft, to 10 ft
        (120.0, "120 m", "390 ft"),  # never 0.12 km
        (1234.0, "1235 m", "4050 ft"),  # 4048.6 ft
        (2000.0, "2000 m", "1.24 mi"),  # 2000 / 1609.344 = 1.2427 mi
        (12_340.0, "12.3 km", "7.67 mi"),
    ],
)
def test_distances_are_said_as_on_signs(length_m: float, metric: str, us: str):
    """Hand arithmetic beside each row; one foot is 0.3048 m, one mile 1609.344 m by definition."""
    assert Words().distance(length_m) == metric
    assert Words(units="us").distance(length_m) == us


def test_sizes_in_both_systems():
    """2 cm is 0.79 in; 1.3 m is 51.2 in = 4 ft 3 in; Spanish writes a comma."""
    assert Words().size(0.02) == "2 cm"
    assert Words(units="us").size(0.02) == "0.8 in"
    assert Words(units="us").size(1.3) == "4 ft 3 in"
    assert Words(language="es").size(1.3) == "1,3 m"


@pytest.mark.parametrize(("moment", "said"), [("2026-03-14T00:05:00-03:00", "12:05 am"), ("2026-03-14T12:00:00-03:00", "12:00 pm")])
def test_noon_and_midnight_on_the_twelve_hour_clock(moment: str, said: str):
    """Midnight is 12 am and noon 12 pm (common practice in the United States)."""
    assert Words(clock="12").time_of_day(moment) == said


def test_durations_round_up():
    """A minute too few makes somebody late, a minute too many does not."""
    assert Words().minutes(61.0) == "2 min"
    assert Words().minutes(5400.0) == "1 h 30 min"
    assert Words().seconds(9.01) == "10 s"


def test_checkpoints_ask_for_a_display_that_promises_the_charge():
    """2 of 5 bars promise no more than 1/5 less the margin for age; 0.38 is only sure from 3 bars up, and with an old battery 4."""
    chair = sample().chair
    shown = int(Words().gauge_at_least(0.38, chair).split()[0])

    assert (shown - 1) / 5 >= 0.38
    assert Words().gauge_at_least(0.99, chair) == "more than this gauge can promise"


def test_a_gauge_speaks_its_own_units_first():
    """A volunteer reads bars off the chair, not per cent."""
    assert Words().gauge(0.38, sample().chair) == "2 of 5 bars, about 38 %"


def test_values_are_never_read_as_patterns():
    """A street called {place} stays a street."""
    assert Words().say("Start at {place}.", place="{time} {0} %s") == "Start at {time} {0} %s."


@pytest.mark.parametrize("wrong", [{"language": "xx"}, {"units": "cubits"}, {"clock": "13"}])
def test_unknown_settings_are_refused_with_the_choices(wrong: dict[str, str]):
    """The message names what may be given."""
    with pytest.raises(InputError, match="must be one of"):
        Words(**wrong)
