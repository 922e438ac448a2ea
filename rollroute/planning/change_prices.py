"""What it costs to tell people something else: prices of changes, for a schedule and in the variables of the constraint program.

Prices are assumptions that put changes in an order; none is money. A change that needs a new call, another helper or other preparations
costs more than minutes. Whoever has no way in the new plan costs nothing here: people served are counted before any price.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from rollroute.planning.exact_model import ExactModel
from rollroute.planning.past import Past
from rollroute.planning.plan import RiderPlan
from rollroute.planning.problem import Leg, RollLeg, Schedule


@dataclass(frozen=True, slots=True, kw_only=True)
class Prices:
    """What a change costs, per rider."""

    call: int = 30  # has to be told anything at all: another way, shelter or van, or a time beyond the tolerance
    way: int = 100  # rolls instead of rides, or the other way round: other helpers, other preparations
    shelter: int = 60  # other people wait, other relatives ask
    van: int = 40  # another driver has to know the chair
    escort: int = 10  # somebody else walks along
    minute: int = 1  # each minute earlier or later than told, beyond the tolerance
    tolerance_min: int = 10  # what people allow any announced time
    outdoors: int = 3  # everything counts so many times for whoever is out on the way to a loading zone


PRICES = Prices()


def change_price(past: Past, schedule: Schedule, prices: Prices = PRICES) -> int:
    """The price of all changes to what people were told who have not set off yet."""
    return sum(_price_of(past, u, leg, prices) for u, leg in enumerate(schedule.legs) if leg is not None and _is_priced(past, u))


def price_expression(model: ExactModel, past: Past, prices: Prices) -> Any:
    """``change_price`` in the variables of the constraint program."""
    total: Any = 0
    for u in (u for u in range(len(past.problem.parties)) if _is_priced(past, u)):
        over = model.cp.new_int_var(0, past.problem.horizon, f"over{u}")
        call = model.cp.new_bool_var(f"call{u}")
        total += _factor(past, u, prices) * (_ways(model, past, u, prices, call) + prices.call * call + prices.minute * over)
        model.cp.add(over == 0).only_enforce_if(~call)
        _bind_over(model, past, u, over, prices)
    return total


def _is_priced(past: Past, u: int) -> bool:
    line = past.lines[u]
    return line is not None and line.way is not None and past.states[u] in ("free", "committed")


def _factor(past: Past, u: int, prices: Prices) -> int:
    return past.problem.parties[u].size * (prices.outdoors if past.states[u] == "committed" else 1)


def _price_of(past: Past, u: int, leg: Leg, prices: Prices) -> int:
    problem, line = past.problem, past.lines[u]
    assert line is not None
    if isinstance(leg, RollLeg):
        name, van, moment = problem.shelters[problem.rolls[leg.roll].shelter].name, None, leg.depart
    else:
        name, van, moment = problem.shelters[leg.shelter].name, problem.vans[leg.van].id, leg.load - _way_out(past, u, leg.van)
    price = _way_price(line, name, van, prices)
    new = [e for e in leg.escorts if problem.escorts[e].id not in line.escorts]
    over = max(0, abs(moment - past.told[u]) - prices.tolerance_min)
    call = prices.call if over or _is_new(line, name, van) else 0
    return _factor(past, u, prices) * (call + price + prices.escort * len(new) + prices.minute * over)


def _way_price(line: RiderPlan, shelter: str, van: str | None, prices: Prices) -> int:
    """Price of another way, shelter or van; ``van``: ``None`` for rolling."""
    changes = (
        (prices.way, (van is None) != (line.way == "roll")),
        (prices.shelter, shelter != line.shelter),
        (prices.van, van is not None and line.van is not None and van != line.van),
    )
    return sum(price for price, is_on in changes if is_on)


def _is_new(line: RiderPlan, shelter: str, van: str | None) -> bool:
    return (van, shelter) != (line.van, line.shelter)


def _way_out(past: Past, u: int, van: int) -> int:
    """Minutes from what the party waits for (see ``Past.told``) to loading."""
    return 0 if past.states[u] == "committed" else past.problem.pickups[u, van].roll


def _ways(model: ExactModel, past: Past, u: int, prices: Prices, call: Any) -> Any:
    """Price of way, shelter, van and escorts of one party; whatever is new there needs ``call``."""
    problem, line = past.problem, past.lines[u]
    assert line is not None
    known = {e for e, x in enumerate(problem.escorts) if x.id in line.escorts}
    total: Any = 0
    for r, roll in enumerate(problem.rolls):
        if roll.party == u:
            name = problem.shelters[roll.shelter].name
            total += _way_price(line, name, None, prices) * model.rolls[r]
            if _is_new(line, name, None):
                model.cp.add_implication(model.rolls[r], call)
            total += prices.escort * sum(x for (e, other), x in model.roll_escorts.items() if other == r and e not in known)
    for (v, k, j), literal in model.rides.items():
        if v == u:
            name, van = problem.shelters[j].name, problem.vans[k].id
            total += _way_price(line, name, van, prices) * literal
            if _is_new(line, name, van):
                model.cp.add_implication(literal, call)
    helpers = (x for (e, v, _), x in model.ride_escorts.items() if v == u and e not in known)
    return total + prices.escort * sum(helpers)


def _bind_over(model: ExactModel, past: Past, u: int, over: Any, prices: Prices) -> None:
    """``over``: minutes beyond the tolerance, earlier or later than told."""
    moments = [(model.departs[r], x) for r, x in enumerate(model.rolls) if past.problem.rolls[r].party == u]
    moments += [(model.loads[u] - _way_out(past, u, k), x) for (v, k), x in model.aboard.items() if v == u]
    for moment, chosen in moments:
        model.cp.add(over >= moment - past.told[u] - prices.tolerance_min).only_enforce_if(chosen)
        model.cp.add(over >= past.told[u] - prices.tolerance_min - moment).only_enforce_if(chosen)
