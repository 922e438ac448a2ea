"""The way home: nobody goes before every question is answered, everybody goes to the own home, with their things."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest
from move_worlds import START, escort, line_travel, move, rider, roll_way, shelter, van

from rollroute.errors import InputError
from rollroute.inputs.move_hazards import Hazard
from rollroute.inputs.move_home import HomeAnswers, read_home_answers
from rollroute.planning.audit import audit
from rollroute.planning.make_plan import make_plan
from rollroute.planning.things import things_of, things_to_take
from rollroute.planning.way_home import QUESTIONS, question_rows, way_home, way_home_lines

MORNING = START + dt.timedelta(hours=16)
WHERE = {"A": 1.0, "B": 1.0, "C": 4.0, "N": 0.0, "M": 6.0, "V1": 0.0, "E1": 0.0}
READY = {"mains": "yes", "lift": "not needed", "ramp": "yes", "street": "yes", "agreed": "yes", "charge": "80%"}


@pytest.fixture
def evening():
    """A and B live and go together, C alone; all are at N in the end."""
    riders = [
        rider("A", place="1 High Street", stay_with="B", chair_length_cm=120),
        rider("B", place="1 High Street", stay_with="A", chair_length_cm=120),
        rider("C", place="4 Low Road", chair_length_cm=120),
    ]
    a_move = move(riders, [shelter("N", lon=0.0, lat=0.0)], [van("V1")], [escort("E1")])
    travel = one_door(line_travel(a_move, WHERE))
    return a_move, travel, make_plan(a_move, travel)


def one_door(travel):
    """A and B come out at the same kerb."""
    return replace(travel, pickups={**travel.pickups, "B": travel.pickups["A"]})


def answers(*ids: str, **more: object) -> dict[str, HomeAnswers]:
    return {i: HomeAnswers.model_validate({"id": i, **READY, **more}, context={"start": MORNING}) for i in ids}


def turned(evening, given):
    a_move, travel, plan = evening
    return way_home(a_move, plan, given, start=MORNING, places=travel.places)


def test_unknown_is_not_yet(evening):
    """Without answers everybody waits for all four questions, and the move back has no riders."""
    home = turned(evening, {})

    assert {w.rider: len(w.questions) for w in home.waiting} == {"A": 5, "B": 5, "C": 4}  # A and B wait for each other, too
    assert home.move.riders == ()
    assert home.homes == {}
    assert "0 can go, 3 wait" in way_home_lines(home)[0]


@pytest.mark.parametrize("name", list(QUESTIONS))
@pytest.mark.parametrize("said", ["no", "", "unknown"])
def test_each_question_keeps_whoever_it_is_about_and_nobody_else(evening, name, said):
    """C waits for exactly that question; A and B go."""
    home = turned(evening, {**answers("A", "B"), **answers("C", **{name: said})})

    assert [w.rider for w in home.waiting] == ["C"]
    assert len(home.waiting[0].questions) == 1
    assert home.waiting[0].questions[0].startswith(QUESTIONS[name])
    assert set(home.homes) == {"A", "B"}


def test_a_lift_may_be_not_needed_mains_and_street_are(evening):
    """A home without a lift and a level door is no question; nobody goes home without mains or through an uncleared street."""
    assert turned(evening, answers("A", "B", "C", lift="not needed", ramp="not needed")).waiting == ()
    for name in ("mains", "street"):
        home = turned(evening, answers("A", "B", "C", **{name: "not needed"}))
        assert [w.rider for w in home.waiting] == ["A", "B", "C"]


def test_whoever_lives_together_goes_together_or_waits(evening):
    """B's lift is out: A waits with B, and it says so."""
    home = turned(evening, {**answers("A", "C"), **answers("B", lift="no")})

    assert {w.rider for w in home.waiting} == {"A", "B"}
    assert home.waiting[0].questions == ("B must stay with A and waits",)


def test_everybody_goes_to_the_own_home_and_the_plan_keeps_every_rule(evening):
    """The move back is planned and audited as any move: start at N, one shared home, one of C's own."""
    home = turned(evening, answers("A", "B", "C"))
    where = {**WHERE, "home of A, B": 1.0, "home of C": 4.0} | dict.fromkeys("ABC", 0.0)
    travel = one_door(line_travel(home.move, where))

    back = make_plan(home.move, travel)

    assert [str(v) for v in audit(back, home.move, travel)] == []
    assert {r.id: r.shelter for r in back.riders} == {"A": "home of A, B", "B": "home of A, B", "C": "home of C"}
    assert {r.id: r.only_to for r in home.move.riders} == dict(home.homes)
    assert [s.accessible_places for s in home.move.shelters] == [2, 1]
    assert all(dt.datetime.fromisoformat(r.leave) >= MORNING for r in back.riders)


def test_a_roll_home_needs_the_gauge_of_that_day(evening):
    """Without it the charge is not known, which is the bad side: the low end of an unknown gauge is what rolls are searched with."""
    assert turned(evening, answers("A", "B", "C", charge="")).move.riders[0].charge is None
    assert turned(evening, answers("A", "B", "C")).move.riders[0].charge == "80%"


def test_a_hazard_that_is_not_over_keeps_people_away(evening):
    """Water over C's home without an end, or with one after the start: not yet. With an end before it, or as a mere watch: go."""
    a_move, travel, plan = evening
    ring = ((3.0, -1.0), (5.0, -1.0), (5.0, 1.0), (3.0, 1.0), (3.0, -1.0))

    def waiting(**fields):
        hazard = Hazard(**{"label": "high water", "kind": "closed", "rings": (ring,), "starts": START, **fields})
        home = way_home(replace(a_move, hazards=(hazard,)), plan, answers("A", "B", "C"), start=MORNING, places=travel.places)
        return {w.rider: w.questions for w in home.waiting}

    assert list(waiting()) == ["C"]
    assert "high water" in waiting()["C"][0]
    assert list(waiting(ends=MORNING + dt.timedelta(hours=1))) == ["C"]
    assert waiting(ends=MORNING - dt.timedelta(hours=1)) == {}
    assert waiting(kind="watch") == {}


def test_whoever_came_from_a_shelter_is_asked_for_the_home():
    """A table that names a shelter as the place does not say where home is; home.csv does."""
    a_move = move(
        [rider("A", place="M", chair_length_cm=120)], [shelter("N", lon=0.0, lat=0.0), shelter("M", accessible_places=0)], [van("V1")]
    )
    travel = line_travel(a_move, WHERE)
    plan = make_plan(a_move, travel)

    unknown = way_home(a_move, plan, answers("A"), start=MORNING)
    known = way_home(a_move, plan, answers("A", home="7 Mill Lane"), start=MORNING)

    assert unknown.waiting[0].questions[0].startswith("Where is home?")
    assert known.move.shelters[0].place == "7 Mill Lane"
    assert known.move.riders[0].place == "N"


def test_nobody_goes_back_who_has_not_been_asked(evening):
    """Not asked: planned in case, shown as undecided. No: stays, and says so."""
    home = turned(evening, answers("A", "B", "C", agreed=""))
    assert {r.consent for r in home.move.riders} == {None}

    home = turned(evening, {**answers("A", "B"), **answers("C", agreed="no")})
    assert home.waiting[0].questions == ("The rider does not want to go back that day.",)


def test_hours_of_the_evening_are_not_known_again(evening):
    """V1 was there to 23:40: on the day of return its hours are the assumed ones; hours that reach that day stay."""
    assert turned(evening, answers("C")).move.vans[0].available_to is None
    a_move, travel, plan = evening
    longer = tuple(v.model_copy(update={"available_to": MORNING + dt.timedelta(hours=3)}) for v in a_move.vans)

    home = way_home(replace(a_move, vans=longer), plan, answers("C"), start=MORNING, places=travel.places)

    assert home.move.vans[0].available_to == MORNING + dt.timedelta(hours=3)


def test_things_follow_the_riders_own_row():
    """Where the charger is, what lifts, the bag within reach only where one is or may be."""
    plain = things_of(rider("A", charger="with the rider", may_transfer="yes"))
    other = things_of(rider("B", charger="at the stop", may_transfer="no", life_support_min=120, companions=2))
    unknown = things_of(rider("C", charger="", life_support_min=""))

    assert "charger and its cable" in plain
    assert not any("within reach" in t for t in plain)
    assert any("stays there" in t for t in other)
    assert "sling and whatever lifts them" in other
    assert any("within reach" in t for t in other)
    assert "2 who came along go back too" in other
    assert any("ask whose it is" in t for t in unknown)
    assert any("within reach" in t for t in unknown)


def test_things_on_the_way_there_tell_nobody_apart_who_depends_on_power():
    """A driver's sheet asks everybody for the bag within reach: two riders who differ in that alone have the same list."""
    one = rider("A", life_support_min="none")
    other = rider("B", life_support_min=120)

    assert things_to_take(one) == things_to_take(other)
    assert "charger: missing, look once more" in things_to_take(rider("C", charger="missing"))
    assert "sling and whatever lifts them" in things_to_take(rider("D", may_transfer="no"))


def test_a_start_that_is_no_day_of_return_is_refused(evening):
    """Before the move, or without a zone."""
    a_move, _, plan = evening
    for start in (START, dt.datetime(2026, 3, 2, 10, 0)):
        with pytest.raises(InputError, match="after the start"):
            way_home(a_move, plan, {}, start=start)


def test_answers_are_read_as_people_write_them(tmp_path):
    """Other headers, German delimiters, none for a lift; every bad cell is named; an absent file answers nothing."""
    path = tmp_path / "home.csv"
    path.write_text("Rider;Power;Elevator;Ramp;Street cleared;Battery\nA;yes;none;y;x;80%\nB;?;no;;unknown;\n", encoding="utf-8")

    found = read_home_answers(path, MORNING)

    assert (found["A"].mains, found["A"].lift, found["A"].ramp, found["A"].street) == ("yes", "not needed", "yes", "yes")
    assert (found["B"].mains, found["B"].lift, found["B"].ramp, found["B"].street) == (None, "no", None, None)
    assert read_home_answers(tmp_path / "nowhere.csv", MORNING) == {}

    path.write_text("id,mains,lift\nA,maybe,perhaps\n", encoding="utf-8")
    with pytest.raises(InputError, match=r"mains(.|\n)*lift"):
        read_home_answers(path, MORNING)
    path.write_text("id,mains\nA,yes\nA,no\n", encoding="utf-8")
    with pytest.raises(InputError, match="two rows"):
        read_home_answers(path, MORNING)


def test_the_table_to_fill_in_is_read_back(evening, tmp_path):
    """Header and a row for everybody at a shelter; unanswered, it answers nothing."""
    rows = question_rows(evening[2])
    path = tmp_path / "home.csv"
    path.write_text("\n".join(",".join(r) for r in rows) + "\n", encoding="utf-8")

    found = read_home_answers(path, MORNING)

    assert list(found) == ["A", "B", "C"]
    assert found["A"].mains is None


def test_a_way_home_rolls_too():
    """One kilometre back by the chair's own wheels, with an escort who gets back."""
    a_move = move([rider("A", place="1 High Street")], [shelter("N", lon=0.0, lat=0.0)], [], [escort("E1")])
    travel = line_travel(a_move, WHERE, rolls={("A", "N"): roll_way(15)})
    home = way_home(a_move, make_plan(a_move, travel), answers("A"), start=MORNING, places=travel.places)
    there = {"A": 0.0, "home of A": 1.0, "E1": 0.0}
    back = line_travel(home.move, there, rolls={("A", "home of A"): roll_way(16)})

    plan = make_plan(home.move, back)

    assert audit(plan, home.move, back) == []
    assert (plan.rider("A").way, plan.rider("A").arrive) == ("roll", (MORNING + dt.timedelta(minutes=16)).isoformat(timespec="minutes"))


def test_a_rider_who_wants_to_go_to_one_shelter_goes_there_or_nowhere(evening):
    """Also on the way out: M is farther, C asks for it; with M full C is left, with the reason; the auditor knows the wish."""
    a_move, _, plan = evening
    wish = tuple(r.model_copy(update={"only_to": "m"}) if r.id == "C" else r for r in a_move.riders)
    wished = replace(a_move, riders=wish, shelters=(*a_move.shelters, shelter("M")))
    table = one_door(line_travel(wished, WHERE))

    assert make_plan(wished, table).rider("C").shelter == "M"
    assert [v.rule for v in audit(plan, wished, table)] == ["the rider decides"]

    full = replace(wished, shelters=(*a_move.shelters, shelter("M", accessible_places=0)))
    left = make_plan(full, table).rider("C")
    assert left.way is None
    assert "goes to m only, by the rider's own word" in left.reasons
