"""The bundled town's move, worked out by hand: why each rider goes where.

Figures are those of the tables in ``data/quillhaven``; assumptions are those of ``move_settings``. The evening starts at 18:40, it is dark
from 18:55, mains are off, the river closes Low Road at 20:30.

Shelters. *North Quay School*: 6 places, generator with fuel for 14 h from 18:00, so until 08:00, past the 07:00 at which chairs are to be
charged: its six outlets hold all night. *Tannery Hall* closes at 22:00, before morning: nobody can stay. *Larkmount Hall*: a step of 70 mm
at its only door; class A and B climb 50 mm at most. *Ropewalk Sports Hall*: the caretaker opens the door by hand at 19:30, 20 places, fuel
for 14 h, so until 08:40 at least: its eight outlets hold all night, too; its way in from the kerb has an unverified place (doubt 0.109),
the school's has none. *Ferrow Library*: nobody has confirmed when it opens.

Nine can go. Doubt comes before time, so the school's six places are filled, by R09 among others, whose roll to the sports hall has a doubt
of 3.1 against 0.5; three ride to the sports hall, and which three is a question of minutes.
In sum: 492 (R09) + 223 (R07's door) + 3 x 109 = 1042 thousandths.

Doors. From a house to its street nothing is mapped: 20 % that the chair does not get there. Eight riders have said that they drive it, so
that doubt is gone; R03, R06, R07 and R12 were not reached.

Vans (platform length x width, lift): V1 132 x 84 cm, 363 kg, two positions, from 18:30; V2 122 x 76 cm, 272 kg, three positions,
from 19:00; V3's lift and platform are not known and stand at the least of the rules, 122 x 76 cm, 272 kg, one position, from 19:15.
A chair over 122 cm long or 76.2 cm wide is large and takes two positions.

Riders.

- R12: carried power lasts 45 min, 30 min are kept as margin: a socket by 18:55. Loading alone takes 12 min and unloading 8: 20 min of the
  15 that there are, in any van. Rolling, no sure way leads back. Not served, and first on the page.
- R03, R06: the chair's length is not known and stands at 140 cm, the longest of class B: longer than every platform. Nobody has said
  whether a device needs power, so each counts with those who do. R06's gauge is unknown (14 % at worst, under the reserve of 20 %).
- R09: 134 cm, longer than the longest platform (132 cm): no van. 90 % charge; Tannery Hall to the school is a way of 33 planned minutes,
  within the 80 outdoors and 90 of rolling. It gets dark on the way: two people walk along, and E03 and E04 are at Tannery Hall.
- R02 (128 cm), R07 (130 cm): only V1's platform is long enough; both are over V2's and V3's 272 kg too (95 + 15 + chair, 110 + 15 + chair).
- R07: 4 min to the nearest kerb where a van can stop, more than a driver walks along (3 min): two people, since it is dark.
- R04, R05 stay together. R04's way on wheels takes longer than 30 min; so both ride, in V1 or V2: V3 has one position.
- R08: needs a socket by 18:40 + 180 - 30 min = 21:10 and all night: the school's generator is the only one that lasts.
  25 % charge may be 16 %, under the reserve: no rolling. The outlet is held from arrival to 07:00.
- R10: one bar of five may be empty; no rolling. R01: no way that the chair passes within the 60 min outdoors.
- R11: could roll in 42 min, with a doubt of 1.6 against none by van: rides.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import math

import pytest

from rollroute.inputs.move_folder import Move, read_move
from rollroute.inputs.tables import data_dir
from rollroute.network.network import Network
from rollroute.network.power import with_power
from rollroute.planning.audit import audit
from rollroute.planning.calls import Call, call_list
from rollroute.planning.make_plan import make_plan, needs_of
from rollroute.planning.network_travel import NetworkTravel
from rollroute.planning.plan import Plan
from rollroute.planning.travel import TravelTable

SCHOOL, SPORTS_HALL = "North Quay School", "Ropewalk Sports Hall"


@pytest.fixture(scope="module")
def move() -> Move:
    """The bundled evening; the last tier gets a little less work than usual, which changes times but nobody's way."""
    found = read_move(data_dir() / "quillhaven")
    effort = found.settings.effort.model_copy(update={"exact_work": 1.0})
    return Move(
        **{name: getattr(found, name) for name in found.__dataclass_fields__ if name != "settings"},
        settings=found.settings.model_copy(update={"effort": effort}),
    )


@pytest.fixture(scope="module")
def travel(move: Move, quillhaven: Network) -> TravelTable:
    return NetworkTravel(with_power(quillhaven, move.settings.ways.powered)).estimate(move, needs_of(move)[0])


@pytest.fixture(scope="module")
def plan(move: Move, travel: TravelTable) -> Plan:
    return make_plan(move, travel)


@pytest.fixture(scope="module")
def calls(move: Move, travel: TravelTable) -> list[Call]:
    return call_list(move, needs_of(move)[0], travel)


def test_who_can_not_be_served_is_who_must_not_be_promised(plan: Plan) -> None:
    """R12 for time, R03 and R06 for what nobody knows; all three stand with people whose device power is at stake."""
    assert [line.id for line in plan.not_served] == ["R03", "R06", "R12"]
    assert plan.tiers[0].value == 3
    assert all(tier.is_proven for tier in plan.tiers[:3])


def test_r12_is_told_the_limit_and_what_would_help(plan: Plan) -> None:
    """18:40 + 45 - 30 min = 18:55."""
    line = plan.rider("R12")
    assert line.latest is not None
    assert line.latest[11:16] == "18:55"
    assert line.reasons[0] == "even alone, no way gets there by 18:55"
    assert line.fix is not None
    assert line.fix.startswith("30 min more")
    assert line.fallback


@pytest.mark.parametrize("rider", ["R03", "R06"])
def test_a_length_that_nobody_knows_is_the_first_question(rider: str, plan: Plan, calls: list[Call]) -> None:
    """140 cm on a platform of 132 cm: the reason, the fix and the head of the call list say the same."""
    line = plan.rider(rider)
    assert "van V1: platform 132 cm long, the chair 140 cm" in line.reasons
    assert line.fix is not None
    assert "How long is the chair" in line.fix
    assert (f"rider {rider}", "chair_length_cm") in [(c.whom, c.field) for c in calls[:2]]


def test_r09_rolls_with_two_people_from_the_same_hall(plan: Plan) -> None:
    """Too long for every platform, so on wheels; E03 and E04 stand beside the door, and it gets dark on the way."""
    line = plan.rider("R09")
    assert (line.way, line.shelter, set(line.escorts)) == ("roll", SCHOOL, {"E03", "E04"})
    assert line.unverified
    assert line.retreat == "Tannery Hall"
    assert dt.datetime.fromisoformat(line.arrive or "") - dt.datetime.fromisoformat(line.leave or "") == dt.timedelta(minutes=33)


@pytest.mark.parametrize("rider", ["R02", "R07"])
def test_large_chairs_go_with_the_one_van_that_takes_them(rider: str, plan: Plan) -> None:
    """128 and 130 cm: over 122, under 132."""
    assert (plan.rider(rider).way, plan.rider(rider).van) == ("van", "V1")


def test_r07_is_walked_to_the_kerb_by_two(plan: Plan) -> None:
    """About 4 min to the loading zone, in the dark."""
    assert len(set(plan.rider("R07").escorts)) == 2


def test_r04_and_r05_stay_together(plan: Plan) -> None:
    """Same van, same minute, same shelter; not V3, which has one position."""
    first, second = plan.rider("R04"), plan.rider("R05")
    assert (first.van, first.load, first.shelter) == (second.van, second.load, second.shelter)
    assert first.van in ("V1", "V2")


def test_r08_has_a_socket_in_time_and_all_night(plan: Plan) -> None:
    """By 21:10, held to 07:00 on a generator that lasts: both shelters' do."""
    line = plan.rider("R08")
    assert (line.way, line.shelter in (SCHOOL, SPORTS_HALL)) == ("van", True)
    assert line.arrive is not None
    assert line.arrive[11:16] < "21:10"
    held = [p for s in plan.shelters if s.name == line.shelter for p in s.plugs if p.rider == "R08"]
    assert len(held) == 1
    assert held[0].is_held
    assert (held[0].start, held[0].end[11:16]) == (line.arrive, "07:00")


@pytest.mark.parametrize("rider", ["R01", "R02", "R04", "R05", "R07", "R08", "R10", "R11"])
def test_the_others_ride(rider: str, plan: Plan) -> None:
    """To one of the two shelters with power till morning."""
    assert plan.rider(rider).way == "van"


def test_the_surer_shelter_is_filled_and_three_go_to_the_other(plan: Plan) -> None:
    """Six places at the school, whose way in has no unverified place; the sum of doubts is the one worked out above, and proven."""
    assert {s.name: len(s.arrivals) for s in plan.shelters if s.arrivals} == {SCHOOL: 6, SPORTS_HALL: 3}
    assert "R09" in next(s.arrivals for s in plan.shelters if s.name == SCHOOL)
    assert (plan.tiers[5].value, plan.tiers[5].is_proven) == (492 + 223 + 3 * 109, True)


def test_the_evening_goes_on_without_either_shelter(move: Move, travel: TravelTable) -> None:
    """Without the school nine go to the sports hall, R04 and R05 by a kerb that both chairs can use; without the hall six get a place."""
    for closed, served in ((SCHOOL, 9), (SPORTS_HALL, 6)):
        left = tuple(dataclasses.replace(s, accessible_places=0) if s.name == closed else s for s in move.shelters)
        without = make_plan(dataclasses.replace(move, shelters=left), travel)
        assert sum(r.way is not None for r in without.riders) == served


def test_a_word_about_the_own_door_is_the_rider_s(move: Move, travel: TravelTable, calls: list[Call]) -> None:
    """R11 has said yes: no doubt is left up to the kerb. R07 was not reached: a fifth, and the call list asks for a fifth of a person."""
    assert travel.pickups["R11"][0].doubt == 0.0
    assert travel.pickups["R07"][0].doubt == pytest.approx(-math.log(0.8), abs=0.001)
    asked = {c.whom: c.people for c in calls if c.field == "drives_to_street"}
    assert set(asked) == {"rider R03", "rider R06", "rider R07", "rider R12"}
    assert asked["rider R07"] == pytest.approx(0.2, abs=0.001)


def test_nobody_is_late_and_no_margin_is_short(plan: Plan) -> None:
    """Lateness and comfort are zero and proven so: three vans are enough for eight people and four hours."""
    assert [tier.value for tier in plan.tiers[3:5]] == [0, 0]
    assert all(tier.is_proven for tier in plan.tiers[3:6])


def test_shelters_that_take_nobody_say_why(plan: Plan) -> None:
    """Each of the three in its own words."""
    reasons = {s.name: " ".join(s.reasons) for s in plan.shelters if not s.arrivals}
    assert "closes at 22:00, before morning" in reasons["Tannery Hall"]
    assert "step" in reasons["Larkmount Hall"]
    assert "nobody has confirmed when it opens" in reasons["Ferrow Library"]
    assert set(reasons) == {"Tannery Hall", "Larkmount Hall", "Ferrow Library"}


def test_without_the_caretaker_the_hall_s_door_is_the_reason_and_a_question(move: Move, quillhaven: Network) -> None:
    """Its door is automatic and the mains are off: nobody gets in, and the call list asks who opens it."""
    needs = needs_of(move)[0]
    shut = NetworkTravel(quillhaven).estimate(move, needs)
    assert not shut.dropoffs["R10", "Ropewalk Sports Hall"]
    assert "needs power" in shut.no_dropoff["R10", "Ropewalk Sports Hall"][0]
    asked = [c for c in call_list(move, needs, shut) if c.field == "powered"]
    assert [c.whom for c in asked] == ["shelter Ropewalk Sports Hall"]


def test_undecided_riders_are_asked_before_anything_small(calls: list[Call]) -> None:
    """R03, R06 and R12 have not said yes: their own answer stands before every answer that only saves minutes."""
    consent = [i for i, c in enumerate(calls) if c.field == "consent"]
    small = [i for i, c in enumerate(calls) if c.people < 0.9]
    assert {calls[i].whom for i in consent} == {"rider R03", "rider R06", "rider R12"}
    assert max(consent) < min(small)


def test_the_auditor_finds_nothing(plan: Plan, move: Move, travel: TravelTable) -> None:
    """0 violations, by code that shares nothing with the solver."""
    assert audit(plan, move, travel) == []
