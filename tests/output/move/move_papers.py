"""Small moves on a line whose papers can be told by hand, a hostile twin, and how papers are written and read in these tests."""

from __future__ import annotations

import dataclasses
import re
import sys
from dataclasses import dataclass
from pathlib import Path

from lxml.html import HtmlElement

sys.path.append(str(Path(__file__).parents[2] / "planning"))

from move_worlds import escort, line_travel, move, rider, roll_way, shelter, van

from rollroute.inputs.move_folder import Move
from rollroute.inputs.move_hazards import Hazard
from rollroute.inputs.tables import data_dir
from rollroute.output.move import write_move_folder
from rollroute.output.words import Words
from rollroute.planning.calls import call_list
from rollroute.planning.make_plan import make_plan, needs_of
from rollroute.planning.plan import Plan, write_plan
from rollroute.planning.roll_ways import RollFinder
from rollroute.planning.travel import TravelTable

TOWN = data_dir() / "quillhaven"
OWN_POWER_MIN = 137.0  # from 18:40: to 20:57, a time that nothing else in the small move has


@dataclass(frozen=True)
class Papers:
    """A plan, what it was made from, and the folder of its papers."""

    plan: Plan
    move: Move
    travel: TravelTable
    folder: Path
    finder: RollFinder | None = None


def pick(tree: HtmlElement, selector: str) -> list[HtmlElement]:
    """Elements of a page by a simple selector: names, ``#id``, ``.class``, ``[attribute]``, `` `` and `` > ``."""
    path, step = "", "//"
    for token in selector.split():
        if token == ">":
            step = "/"
            continue
        name = re.match(r"[\w]*", token)[0] or "*"  # type: ignore[index]
        path += step + name
        path += "".join(f"[@id='{i}']" for i in re.findall(r"#([\w-]+)", token))
        path += "".join(f"[contains(concat(' ', @class, ' '), ' {c} ')]" for c in re.findall(r"\.([\w-]+)", token))
        path += "".join(f"[@{a}]" for a in re.findall(r"\[([\w-]+)\]", token))
        step = "//"
    return list(tree.xpath(path))


def small_move() -> tuple[Move, TravelTable]:
    """Four riders at kilometre 0, 1, 2 and 3 of a straight road, shelters at 5 and 6, a van at 0.

    A rides alone: no roll is in the table. B depends on power. C rolls: its van's lift is too weak for it, by 500 kg of bags.
    D has no roll, and its chair is wider than the platform.
    """
    riders = [
        rider("A"),
        rider("B", life_support_min=OWN_POWER_MIN, place="7 Alder Row", securable="no"),
        rider("C", load_mass_kg=500, consent="asked"),
        rider("D", chair_width_cm=120, rider_mass_kg=None),
    ]
    shelters = [shelter("East Hall"), shelter("West Hall", accessible_places=0)]
    watch = Hazard(label="Mill Stream", kind="closed", rings=(((9.0, -1.0), (9.5, -1.0), (9.5, 1.0), (9.0, -1.0)),), starts=None)
    made = move(riders, shelters, [van("V1", lift_side="rear")], [escort("E1"), escort("E2")], hazards=(watch,))
    where = {"A": 0.0, "B": 1.0, "C": 2.0, "D": 3.0, "East Hall": 5.0, "West Hall": 6.0, "V1": 0.0}
    rolls = {("C", "East Hall"): roll_way(40, doubt=0.2, unverified=("kerb at Mill Lane",), retreat="Old Barn")}
    return made, line_travel(made, where, rolls=rolls)


HOSTILE = "<img src=x onerror=alert(1)>\"'&</style></script><script>alert(2)</script>=cmd|/C calc!A0"


def hostile_move() -> tuple[Move, TravelTable]:
    """The small move with a name that attacks pages, spreadsheets and file systems wherever a name can stand."""
    made, travel = small_move()
    names = {"A": f"=HYPERLINK{HOSTILE}", "B": f"../../{HOSTILE}", "C": f"@{HOSTILE}", "D": f"+{HOSTILE}", "V1": f"-{HOSTILE}"}
    names |= {"East Hall": f"={HOSTILE}1", "West Hall": f"-{HOSTILE}2", "E1": f"+1{HOSTILE}", "E2": f"@2{HOSTILE}"}
    made = dataclasses.replace(
        made,
        riders=tuple(r.model_copy(update={"id": names[r.id], "place": HOSTILE}) for r in made.riders),
        shelters=tuple(dataclasses.replace(s, name=names[s.name], note=HOSTILE) for s in made.shelters),
        vans=tuple(v.model_copy(update={"id": names[v.id], "note": HOSTILE}) for v in made.vans),
        escorts=tuple(e.model_copy(update={"id": names[e.id]}) for e in made.escorts),
        hazards=tuple(dataclasses.replace(h, label=HOSTILE) for h in made.hazards),
        settings=made.settings.model_copy(update={"name": HOSTILE}),
    )

    def zones(found: tuple[object, ...]) -> tuple[object, ...]:
        return tuple(dataclasses.replace(z, label=HOSTILE) for z in found)  # type: ignore[type-var]

    travel = dataclasses.replace(
        travel,
        rolls={(names[a], names[b]): dataclasses.replace(v, unverified=(HOSTILE,), retreat=HOSTILE) for (a, b), v in travel.rolls.items()},
        pickups={names[k]: zones(v) for k, v in travel.pickups.items()},  # type: ignore[misc]
        dropoffs={(names[a], names[b]): zones(v) for (a, b), v in travel.dropoffs.items()},  # type: ignore[misc]
        van_nodes={names[k]: v for k, v in travel.van_nodes.items()},
        places={names[k]: v for k, v in travel.places.items()},
        approach_min={(names[a], names[b]): v for (a, b), v in travel.approach_min.items()},
        back_min={(names[a], names[b]): v for (a, b), v in travel.back_min.items()},
        notes=(HOSTILE,),
    )
    return made, travel


def write(made: Move, travel: TravelTable, folder: Path, *, finder: RollFinder | None = None, words: Words | None = None) -> Papers:
    """Plan and write."""
    plan = make_plan(made, travel)
    calls = call_list(made, needs_of(made)[0], travel)
    write_move_folder(plan, made, travel, folder, finder=finder, calls=calls, words=words)
    write_plan(plan, folder / "plan.json")
    return Papers(plan, made, travel, folder, finder)
