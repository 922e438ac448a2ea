"""The planner's sentences in the reader's language: all of them known, none lost, names left alone."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from random_moves import random_move
from random_news import random_news

from rollroute.inputs.move_riders import BAD_SIDE
from rollroute.inputs.move_shelters import BAD_SIDE as SHELTER_BAD_SIDE
from rollroute.inputs.move_vehicles import VAN_BAD_SIDE
from rollroute.output.move.planner_words import tell
from rollroute.output.words import Words
from rollroute.planning.blocked import WORDS as BLOCKED_WORDS
from rollroute.planning.calls import QUESTIONS
from rollroute.planning.changes import difference, replan
from rollroute.planning.make_plan import make_plan
from rollroute.planning.objective import TIER_NAMES
from rollroute.planning.things import BAG, CHAIR, CHARGER_THERE, SLING, SLING_IF_USED, THE_REST
from rollroute.planning.write_up import FALLBACK

SPANISH = Words(language="es")
THINGS = [CHAIR, *CHARGER_THERE.values(), SLING, SLING_IF_USED, BAG, *THE_REST]
CONSTANTS = [*THINGS, *QUESTIONS.values(), *BAD_SIDE.values(), *SHELTER_BAD_SIDE.values(), *VAN_BAD_SIDE.values(), *TIER_NAMES, FALLBACK]


@pytest.mark.parametrize("text", [*dict.fromkeys(CONSTANTS), *BLOCKED_WORDS.values()])
def test_every_fixed_sentence_of_the_planner_is_translated(text: str):
    """A new question or tier fails here until it has its words, like every sentence of a sheet."""
    assert tell(SPANISH, text) != text


def test_names_and_figures_are_kept():
    """By hand: what stands for a name is told in turn where it is a sentence, and kept where it is a name."""
    assert tell(SPANISH, "van V1: platform 132 cm long, the chair 140 cm") == "furgoneta V1: plataforma de 132 cm de largo, la silla 140 cm"
    assert tell(SPANISH, "vans V1, V2 to North Hall: no way for this chair within 60 min") == (
        "furgonetas V1, V2 a North Hall: ningún camino para esta silla en 60 min"
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


def test_news_are_told_with_every_name_and_time_kept():
    """By hand, one of each kind: riders, vans, escorts, outlets, what is stuck, what one failure leaves."""
    assert tell(SPANISH, "R1 now rides with V2 at 19:17 instead of V1 at 18:46, because V1 has to end at 18:40") == (
        "R1 ahora viaja con V2 a las 19:17 en vez de V1 a las 18:46, porque V1 tiene que terminar a las 18:40"
    )
    assert tell(SPANISH, "R2 now is aboard at 19:10 instead of 19:05; is inside at 19:40 instead of 19:30") == (
        "R2 ahora está a bordo a las 19:10 en vez de 19:05; está dentro a las 19:40 en vez de 19:30"
    )
    assert tell(
        SPANISH, "V1: drives as before up to: loads R1 at Kerb 18:46-18:56; then nothing (was: unloads R1 at Door 19:00-19:05)"
    ) == ("V1: conduce como antes hasta: sube a R1 en Kerb 18:46-18:56; después nada (antes: baja a R1 en Door 19:00-19:05)")
    assert tell(SPANISH, "no other van can take them (van V2: platform 76 cm wide, the chair 80 cm)") == (
        "ninguna otra furgoneta puede llevarla (furgoneta V2: plataforma de 76 cm de ancho, la silla 80 cm)"
    )


ENGLISH = re.compile(
    r"\b(now|instead|because|rides|rolls|riding|rolling|loads|unloads|with|leaves|meets|until|back|outlet|held|nothing|was|then|before|has|way|"
    r"aboard|inside|new|longer|any|more|they|told|others|served|used|undecided|place|give|plan)\b"
)


def test_every_change_of_random_news_is_told(random_changes: list[str]):
    """Plans made anew with news of every kind: no English word of the planner is left in any of their lines."""
    assert len(random_changes) > 50
    for line in random_changes:
        told = tell(SPANISH, line)
        assert not ENGLISH.search(told), (line, told)


@pytest.fixture(scope="module")
def random_changes() -> list[str]:
    """Differences and words for whoever is stuck, over random moves with news before the start and at minute 20."""
    lines: list[str] = []
    for seed in range(900, 916):
        move, travel = random_move(seed)
        plan = make_plan(move, travel)
        for now in (None, 20):
            changed, table, _ = random_news(seed, move, travel, plan, now or 0)
            later = replan(plan, changed, table, now=now)
            lines += [*later.changes, *(x["words"] for x in later.extra["changes"]["stuck"].values())]
            lines += difference(later, plan)
    return lines


def test_places_of_the_plan_are_told_and_names_kept():
    """Stops by their street and house, unverified places by their position; a name without such words stays."""
    assert tell(SPANISH, "Marl Street, by number 18") == "Marl Street, junto al número 18"
    assert tell(SPANISH, "service road, by 25 Ash Terrace") == "vía de servicio, junto a 25 Ash Terrace"
    assert tell(SPANISH, "North Quay near 45.20190, -37.30505") == "North Quay cerca de 45.20190, -37.30505"
    assert tell(SPANISH, "van V3") == "furgoneta V3"
    assert tell(SPANISH, "Kerb at Mill Lane") == "Kerb at Mill Lane"
