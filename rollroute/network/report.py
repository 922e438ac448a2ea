"""What a network knows and does not know, as a table for a person."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from rollroute.network.facts.points import PlaceKind
from rollroute.network.kinds import WayKind
from rollroute.network.network import Network
from rollroute.standards import doubts_of, load_doubts

MOST_PROBLEMS_SHOWN = 20


def report_lines(network: Network) -> Iterator[str]:
    """Kilometres by kind of way with the share of facts known, kerbs, islands, and values that were not understood."""
    pieces = network.pieces
    length_km = pieces.length_m / 1000
    yield f"{'kind of way':<16}{'km':>8}{'width':>8}{'surface':>9}{'grade':>8}"
    for kind in WayKind:
        rows = pieces.kind == kind
        if rows.any():
            width, surface, grade = (
                _share(length_km, rows, known) for known in (~np.isnan(pieces.width_m), pieces.surface > 0, ~np.isnan(pieces.grade))
            )
            yield f"{kind.name.lower():<16}{length_km[rows].sum():>8.1f}{width:>8.0%}{surface:>9.0%}{grade:>8.0%}"
    yield _kerb_line(network)
    yield _island_line(network)
    yield from _problem_lines(network)
    for notice in network.about.get("terrain_notices", []):
        yield f"heights: {notice}"
    yield from check_lines(network)
    yield from network.about.get("sources", [])


def check_lines(network: Network) -> Iterator[str]:
    """How checks in this town have moved the table of doubts: chance before and after, each with its standard deviation."""
    before, after = load_doubts(), doubts_of(network.about)
    for name in after.kinds:
        old, new = before.rows[name], after.rows[name]
        if new.n_checks:
            n_bad = round(new.bad - old.bad)
            yield (
                f"checked in this town, {old.fact} at {old.place}: {n_bad} of {new.n_checks} bad; chance where nobody knows "
                f"{new.probability:.0%} ± {new.standard_deviation:.0%}, "
                f"assumed before {old.probability:.0%} ± {old.standard_deviation:.0%}"
            )


def _share(length_km: npt.NDArray[np.float64], rows: npt.NDArray[np.bool_], known: npt.NDArray[np.bool_]) -> float:
    return float(length_km[rows & known].sum() / length_km[rows].sum())


def _kerb_line(network: Network) -> str:
    places = network.places
    kerbs = places.kind == PlaceKind.KERB
    known = kerbs & ~np.isnan(places.height_m)
    aprons = int((places.kind == PlaceKind.APRON).sum())
    share = known.sum() / max(1, kerbs.sum())
    return f"kerbs: {int(kerbs.sum())}, height known or bounded at {share:.0%}; driveway aprons: {aprons}"


def _island_line(network: Network) -> str:
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    n = network.n_nodes
    joined = coo_matrix((np.ones(network.n_pieces), (network.pieces.tail, network.pieces.head)), shape=(n, n))
    count, label = connected_components(joined, directed=False)
    largest = np.bincount(label).argmax()
    main = label[network.pieces.tail] == largest
    outside_km = network.pieces.length_m[~main].sum() / 1000
    return f"islands: {count - 1} apart from the main network, {outside_km:.1f} km in all"


def _problem_lines(network: Network) -> Iterator[str]:
    """Values that were not understood: key, value, how often, and where first."""
    where: dict[tuple[str, str], int] = {}
    counts: Counter[tuple[str, str]] = Counter()
    for key, value, object_id in network.about.get("problems", []):
        counts[key, value] += 1
        where.setdefault((key, value), int(object_id))
    yield f"values not understood: {sum(counts.values())}" + (" (each left unknown, or read on its bad side)" if counts else "")
    for (key, value), n in counts.most_common(MOST_PROBLEMS_SHOWN):
        object_id = where[key, value]
        first = f"node/{-object_id}" if object_id < 0 else f"way/{object_id}"
        yield f"  {key}={value} × {n}, first at {first}"
    if network.about.get("n_incomplete_ways"):
        yield f"ways cut off at the edge of the map: {network.about['n_incomplete_ways']}"
