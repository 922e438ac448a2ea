"""The planner's sentences in the reader's language: all of them known, none lost, names left alone."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rollroute.inputs.move_riders import BAD_SIDE
from rollroute.inputs.move_shelters import BAD_SIDE as SHELTER_BAD_SIDE
from rollroute.inputs.move_vehicles import VAN_BAD_SIDE
from rollroute.output.move.planner_words import tell
from rollroute.output.words import Words
from rollroute.planning.blocked import WORDS as BLOCKED_WORDS
from rollroute.planning.calls import QUESTIONS
from rollroute.planning.objective import TIER_NAMES
from rollroute.planning.write_up import FALLBACK

SPANISH = Words(language="es")
CONSTANTS = [*QUESTIONS.values(), *BAD_SIDE.values(), *SHELTER_BAD_SIDE.values(), *VAN_BAD_SIDE.values(), *TIER_NAMES, FALLBACK]


@pytest.mark.parametrize("text", [*dict.fromkeys(CONSTANTS), *BLOCKED_WORDS.values()])
def test_every_fixed_sentence_of_the_planner_is_translated(text: str):
    """A new question or tier fails here until it has its words, like every sentence of a sheet."""
    assert tell(SPANISH, text) != text


def test_names_and_figures_are_kept():
    """By hand: what stands for a name is told in turn where it is a sentence, and kept where it is a name."""
    assert tell(SPANISH, "van V1: platform 132 cm long, the chair 140 cm") == "furgoneta V1: plataforma de 132 cm de largo, la silla 140 cm"
    assert tell(SPANISH, "vans V1, V2 to North Hall: no place to unload that chair and van can both use") == (
        "furgonetas V1, V2 a North Hall: ningún lugar para bajar que sirva a silla y furgoneta"
    )
    assert tell(SPANISH, "ask R03: Where is the charger?; Can the chair be tied down?") == (
        "preguntar a R03: ¿Dónde está el cargador?; ¿Se puede anclar la silla?"
    )
    assert tell(SPANISH, "even alone, no way gets there by 18:55") == "ni siquiera sola se llega antes de las 18:55"
    assert tell(SPANISH, "rider R03") == "persona R03"


def test_a_sentence_that_nobody_knows_stays():
    """Nothing is lost: half in English is better than half a reason."""
    assert tell(SPANISH, "the moon is in the way") == "the moon is in the way"
    assert tell(SPANISH, "rolling to Hall: the moon is in the way") == "en su silla a Hall: the moon is in the way"
    assert tell(SPANISH, None) == ""


def test_english_stays_as_the_planner_wrote_it():
    """The plan's own words are English."""
    assert tell(Words(), "van V1: platform 132 cm long, the chair 140 cm") == "van V1: platform 132 cm long, the chair 140 cm"


@given(st.text(max_size=200))
def test_any_text_is_told_without_failing(text: str):
    """Braces, colons, nothing at all: a plan can be edited by hand."""
    assert isinstance(tell(SPANISH, text), str)


@given(st.text("ABCabc0123456789ñ-_", min_size=1, max_size=30))
def test_any_id_is_kept_in_its_sentence(name: str):
    """What coordinators call their vans stands in the sentence as it was written."""
    assert tell(SPANISH, f"van {name}: smoke") == f"furgoneta {name}: humo"
