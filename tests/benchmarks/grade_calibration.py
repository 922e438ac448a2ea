"""Does the printed doubt about a grade come true? Invented towns with known ground, rasters with known noise.

    python tests/benchmarks/grade_calibration.py            print the tables
    python tests/benchmarks/grade_calibration.py --check    the same, and exit 1 where a bar is missed
    python tests/benchmarks/grade_calibration.py --cut      what it costs to fit every piece of about 10 m alone, as if mappers cut there
    python tests/benchmarks/grade_calibration.py --picture reliability.png

For every piece of way the program states a probability of being over the ramp limit. Over many invented towns, pieces with
doubt p must be over the limit in a share p of cases, and height noise must not change the total climb.
The truth is the grade of the real way over 10 m; the drawn way lies beside it, and the raster carries noise.
"""

from __future__ import annotations

import argparse
import itertools
import sys
from dataclasses import dataclass, replace

import numpy as np
from pyproj import CRS, Transformer

from rollroute.inputs.terrain import HeightGrid, Terrain
from rollroute.network.grades import PositionError, WayGrades, WayProfileInput, measure_grades

LOCAL = CRS.from_user_input("+proj=tmerc +lat_0=45 +lon_0=10 +k=1 +datum=WGS84 +units=m")
LIMITS = (1 / 12, 1 / 20)
BINS = np.array([0.0, 0.02, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0])
WORST_BIN_ERROR = 0.05
WORST_CLIMB_CHANGE = 0.05
LEAST_WINDOWS = 1000  # a share of a half is then known to 0.016 (one standard error)
PIECE_M = 10.0


@dataclass(frozen=True)
class Relief:
    """An invented landscape: waves of many lengths, steeper where ``hills`` are."""

    name: str
    rms_grade: float
    share_of_hills: float  # of the area in which the ground is steep; 1 = everywhere alike
    shortest_m: float = 250.0  # streets are graded: shorter waves are cut and filled away (assumption)
    longest_m: float = 2500.0


@dataclass(frozen=True)
class Raster:
    """Cell size and noise of a height raster."""

    cell_m: float
    sigma_m: float
    size_m: float
    share_of_towns: float  # of the towns asked for: fine rasters have many windows per town
    n_ways: int


RELIEFS = (
    Relief("flat", rms_grade=0.012, share_of_hills=1.0),
    Relief("flat, few steep", rms_grade=0.012, share_of_hills=0.05),
    Relief("hilly", rms_grade=0.06, share_of_hills=1.0),
)
RASTERS = (Raster(1.0, 0.10, 1500.0, 0.4, 300), Raster(10.0, 0.82, 5000.0, 1.0, 300), Raster(30.0, 2.43, 12000.0, 1.0, 900))


class Ground:
    """Heights of an invented town at any point, exactly."""

    def __init__(self, relief: Relief, size_m: float, rng: np.random.Generator) -> None:
        n = 24
        wave_m = np.exp(rng.uniform(np.log(relief.shortest_m), np.log(relief.longest_m), n))
        turn = rng.uniform(0, 2 * np.pi, n)
        self.k = 2 * np.pi / wave_m * np.array([np.cos(turn), np.sin(turn)])
        self.phase = rng.uniform(0, 2 * np.pi, n)
        self.amplitude = wave_m / (2 * np.pi)  # every wave is equally steep
        # rms grade in one direction of n waves of steepness 1: sqrt(n / 2 / 2)
        self.amplitude *= relief.rms_grade / np.sqrt(n / 4)
        self.hill = rng.uniform(0.2, 0.8, 2) * size_m
        self.hill_m = size_m * np.sqrt(relief.share_of_hills / np.pi)
        self.is_hilly = relief.share_of_hills < 1.0

    def height_m(self, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        z = np.zeros(np.broadcast(x, y).shape)
        for (kx, ky), phase, amplitude in zip(self.k.T, self.phase, self.amplitude, strict=True):
            z += amplitude * np.sin(kx * x + ky * y + phase)
        if self.is_hilly:
            r2 = ((x - self.hill[0]) ** 2 + (y - self.hill[1]) ** 2) / self.hill_m**2
            z += 0.16 * self.hill_m * np.exp(-r2)  # steepest flank: 0.16 * sqrt(2 / e) = 14 %
        return z


@dataclass(frozen=True)
class Town:
    """One invented town: what the program is told, and what is true."""

    ways: WayProfileInput
    noisy: Terrain
    clean: Terrain
    true_grade: np.ndarray


def make_town(relief: Relief, raster: Raster, seed: int, *, n_ways: int, position: PositionError) -> Town:
    """Straight real ways of 100 to 400 m, drawn beside where they are."""
    rng = np.random.default_rng(seed)
    ground = Ground(relief, raster.size_m, rng)
    n_pieces = rng.integers(10, 40, n_ways)
    margin = 450.0 + 3 * raster.cell_m
    start = rng.uniform(margin, raster.size_m - margin, (2, n_ways))
    turn = rng.uniform(0, 2 * np.pi, n_ways)
    direction = np.array([np.cos(turn), np.sin(turn)])
    way = np.repeat(np.arange(n_ways), n_pieces + 1)
    first = np.concatenate(([0], np.cumsum(n_pieces + 1)))
    step = rng.uniform(0.5, 1.5, first[-1]) * PIECE_M
    step[first[:-1]] = 0.0
    along = np.cumsum(step)
    along -= along[first[way]]
    real = start[:, way] + direction[:, way] * along
    offset = _wander(way, step, position, rng)
    drawn = real + np.array([-direction[1], direction[0]])[:, way] * offset
    lon, lat = Transformer.from_crs(LOCAL, "OGC:CRS84", always_xy=True).transform(*drawn)
    s_m = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(drawn, axis=1)))))
    s_m -= s_m[first[way]]
    is_piece = np.ones(first[-1], bool)
    is_piece[first[1:] - 1] = False
    piece = np.flatnonzero(is_piece)
    ways = WayProfileInput(
        first_vertex=first, vertex_s_m=s_m, vertex_lon=lon, vertex_lat=lat, is_straight=np.zeros(n_ways, bool),
        kind=(np.arange(n_ways) % 3).astype(np.uint8), piece_chain=way[piece], piece_from_m=s_m[piece], piece_to_m=s_m[piece + 1],
    )  # fmt: skip
    middle, half = 0.5 * (real[:, piece] + real[:, piece + 1]), 0.5 * PIECE_M * direction[:, way[piece]]
    true_grade = (ground.height_m(*(middle + half)) - ground.height_m(*(middle - half))) / PIECE_M
    centre = (np.arange(int(raster.size_m / raster.cell_m)) + 0.5) * raster.cell_m
    heights = ground.height_m(centre[None, :], centre[:, None])
    noise = rng.normal(0, raster.sigma_m, heights.shape)
    return Town(ways, _terrain(heights + noise, raster), _terrain(heights, replace(raster, sigma_m=0.0)), true_grade)


def _wander(way: np.ndarray, step_m: np.ndarray, position: PositionError, rng: np.random.Generator) -> np.ndarray:
    """Sideways offset of each vertex: forgets itself exponentially along the way, starts anew on the next."""
    keep = np.exp(-step_m / position.reach_m)
    keep[np.flatnonzero(np.diff(way, prepend=-1))] = 0.0
    offset = rng.normal(0, position.sd_m, len(way))
    for i in range(1, len(way)):
        offset[i] = keep[i] * offset[i - 1] + np.sqrt(1 - keep[i] ** 2) * offset[i]
    return offset


def _terrain(heights: np.ndarray, raster: Raster) -> Terrain:
    cell = raster.cell_m
    grid = HeightGrid(
        name="invented", height_m=heights, crs=LOCAL, from_crs=(1 / cell, 0.0, -0.5, 0.0, 1 / cell, -0.5), cell_m=cell,
        sigma_m=raster.sigma_m, sigma_source="simulated", metres_per_unit=1.0, datum="invented", is_surface=False,
    )  # fmt: skip
    return Terrain(grids=(grid,))


@dataclass(frozen=True)
class Outcome:
    """What was said and what was true, over several towns of one kind."""

    doubts: dict[float, np.ndarray]
    true_grade: np.ndarray
    printed: np.ndarray
    climb: tuple[float, float, float]  # stated from the noisy raster, from the one without noise, true [m]


def run(relief: Relief, raster: Raster, *, n_towns: int, seed: int, stated: float = 1.0) -> Outcome:
    """State grades for several towns and keep them beside the truth; the program is told ``stated`` times the true noise."""
    position = PositionError()
    doubts: dict[float, list[np.ndarray]] = {limit: [] for limit in LIMITS}
    truths, printed, climb = [], [], np.zeros(3)
    for i in range(n_towns):
        town = make_town(relief, raster, seed + i, n_ways=raster.n_ways, position=position)
        said = measure_grades(town.ways, _told(town.noisy, stated), position=position)
        for limit in LIMITS:
            doubts[limit].append(said.posterior.probability_over(limit))
        truths.append(town.true_grade)
        printed.append(said.grade)
        without = measure_grades(town.ways, town.clean, position=position)
        climb += _climbs(said, without, town)
    joined = {limit: np.concatenate(parts) for limit, parts in doubts.items()}
    return Outcome(joined, np.concatenate(truths), np.concatenate(printed), tuple(climb))


def _told(terrain: Terrain, stated: float) -> Terrain:
    return Terrain(grids=tuple(replace(grid, sigma_m=stated * grid.sigma_m) for grid in terrain.grids))


def _climbs(said: WayGrades, without: WayGrades, town: Town) -> np.ndarray:
    length = town.ways.piece_to_m - town.ways.piece_from_m
    return np.array([said.climb_m.sum(), without.climb_m.sum(), (length * np.maximum(town.true_grade, 0)).sum()])


def reliability(doubt: np.ndarray, is_over: np.ndarray, *, bins: np.ndarray = BINS) -> list[tuple[float, float, int, float, float]]:
    """Rows of (from, to, pieces, mean doubt, share over) for the bins that hold pieces."""
    rows = []
    which = np.clip(np.digitize(doubt, bins) - 1, 0, len(bins) - 2)
    for b in range(len(bins) - 1):
        inside = which == b
        if inside.any():
            rows.append((bins[b], bins[b + 1], int(inside.sum()), float(doubt[inside].mean()), float(is_over[inside].mean())))
    return rows


def worst_error(rows: list[tuple[float, float, int, float, float]], *, least_pieces: int) -> float:
    """Largest difference between doubt and share over the bins with enough pieces to tell."""
    return max((abs(mean - share) for _, _, n, mean, share in rows if n >= least_pieces), default=0.0)


PLOT_SIZE = (31, 11)  # columns, lines


def plot_lines(rows: list[tuple[float, float, int, float, float]], *, least_pieces: int = 0) -> list[str]:
    """The reliability plot in letters: doubt to the right, share that came true upwards; ``#`` judged bins, ``o`` too few to tell."""
    width, height = PLOT_SIZE
    field = [[" "] * width for _ in range(height)]
    for k in range(width):
        field[round(k / (width - 1) * (height - 1))][k] = "."
    for _, _, n, mean, share in rows:
        field[round(share * (height - 1))][round(mean * (width - 1))] = "#" if n >= least_pieces else "o"
    lines = [f"{k / (height - 1):4.1f} |{''.join(field[k])}" for k in range(height - 1, -1, -1)]
    return [*lines, "     +" + "-" * width, "      0" + "doubt stated".center(width - 2) + "1"]


def draw_picture(path: str, tables: dict[str, list[tuple[float, float, int, float, float]]]) -> None:
    """The same as a PNG: one line for each table, its bins as points."""
    import matplotlib

    matplotlib.use("Agg")
    from matplotlib import pyplot

    figure, axes = pyplot.subplots(figsize=(7, 7), layout="constrained")
    axes.plot([0, 1], [0, 1], color="0.6", linewidth=1)
    axes.fill_between([0, 1], [-WORST_BIN_ERROR, 1 - WORST_BIN_ERROR], [WORST_BIN_ERROR, 1 + WORST_BIN_ERROR], color="0.92")
    for title, rows in tables.items():
        axes.plot([r[3] for r in rows], [r[4] for r in rows], marker="o", markersize=4, linewidth=1, label=title)
    axes.set(xlim=(0, 1), ylim=(0, 1), xlabel="doubt stated", ylabel="share truly over 1:12", title="Grade doubts against the truth")
    axes.legend(fontsize=8)
    figure.savefig(path, dpi=120)


def show_cut(relief: Relief, raster: Raster, n_towns: int) -> None:
    """Print how far grades are off where every piece is a way of its own, and where the pieces of a street are fitted together."""
    errors: dict[str, list[np.ndarray]] = {"cut": [], "whole": []}
    doubts: dict[str, list[np.ndarray]] = {"cut": [], "whole": []}
    truths = []
    for i in range(n_towns):
        town = make_town(relief, raster, 1 + i, n_ways=raster.n_ways, position=PositionError())
        truths.append(np.abs(town.true_grade) > LIMITS[0])
        for name, ways in (("cut", cut_at_every_piece(town.ways)), ("whole", town.ways)):
            said = measure_grades(ways, town.noisy, position=PositionError())
            errors[name].append(said.grade - town.true_grade)
            doubts[name].append(said.posterior.probability_over(LIMITS[0]))
    is_over = np.concatenate(truths)
    for name in errors:
        rms, doubt = float(np.sqrt(np.mean(np.concatenate(errors[name]) ** 2))), np.concatenate(doubts[name])
        brier = float(np.mean((doubt - is_over) ** 2))
        print(f"{relief.name}, {raster.cell_m:g} m raster, {name:5}: grade off by {rms:.2%} rms, doubt off by {brier:.4f} (Brier)")


def cut_at_every_piece(ways: WayProfileInput) -> WayProfileInput:
    """The same pieces, each a chain of its own."""
    n = len(ways.piece_chain)
    vertex = np.flatnonzero(~np.isin(np.arange(len(ways.vertex_s_m)), ways.first_vertex[1:] - 1))  # the tail of every piece
    both = np.stack([vertex, vertex + 1], axis=1).ravel()
    length_m = ways.piece_to_m - ways.piece_from_m
    return WayProfileInput(
        first_vertex=2 * np.arange(n + 1), vertex_s_m=np.stack([np.zeros(n), length_m], axis=1).ravel(),
        vertex_lon=ways.vertex_lon[both], vertex_lat=ways.vertex_lat[both], is_straight=np.zeros(n, bool),
        kind=ways.kind[ways.piece_chain], piece_chain=np.arange(n), piece_from_m=np.zeros(n), piece_to_m=length_m,
    )  # fmt: skip


def pieces_to_judge(raster: Raster, *, least_windows: int = LEAST_WINDOWS) -> int:
    """Pieces that hold enough separate windows: alike pieces of one window are one trial, not many."""
    return int(least_windows * max(10.0, 3.0 * raster.cell_m) / PIECE_M)


def report(relief: Relief, raster: Raster, outcome: Outcome) -> list[str]:
    """Print one table per limit; return the bars that are missed."""
    missed = []
    least_pieces = pieces_to_judge(raster)
    title = f"{relief.name}, {raster.cell_m:g} m raster, noise {raster.sigma_m} m"
    rms = float(np.sqrt(np.mean((outcome.printed - outcome.true_grade) ** 2)))
    print(f"\n== {title}: {len(outcome.true_grade)} pieces, printed grade off by {100 * rms:.2f} % rms")
    for limit in LIMITS:
        is_over = np.abs(outcome.true_grade) > limit
        rows = reliability(outcome.doubts[limit], is_over)
        worst = worst_error(rows, least_pieces=least_pieces)
        shares = f"truly over {100 * is_over.mean():.2f} %, stated {100 * outcome.doubts[limit].mean():.2f} %"
        print(f"limit {limit:.4f}: {shares}, worst bin {worst:.3f}")
        print("   doubt        pieces   mean   over")
        if limit == LIMITS[0]:
            print("\n".join(plot_lines(rows, least_pieces=least_pieces)))
        for low, high, n, mean, share in rows:
            print(f"   {low:.2f}-{high:.2f} {n:9d}  {mean:.3f}  {share:.3f}{'' if n >= least_pieces else '  (too few to tell)'}")
        if worst >= WORST_BIN_ERROR:
            missed.append(f"{title}, limit {limit:.4f}: worst bin {worst:.3f}")
    noisy, clean, true = outcome.climb
    change = noisy / clean - 1
    print(f"climb: true {true:.0f} m, without noise {clean:.0f} m, with noise {noisy:.0f} m (noise changes it by {change:+.1%})")
    if abs(change) >= WORST_CLIMB_CHANGE:
        missed.append(f"{title}: noise changes the climb by {change:+.1%}")
    return missed


def show_misstated(relief: Relief, raster: Raster, n_towns: int) -> None:
    """Print the worst bin where the raster's noise is stated a third too small or half too large."""
    for stated in (2 / 3, 3 / 2):
        outcome = run(relief, raster, n_towns=n_towns, seed=1, stated=stated)
        over = np.abs(outcome.true_grade) > LIMITS[0]
        rows = reliability(outcome.doubts[LIMITS[0]], over)
        worst = worst_error(rows, least_pieces=pieces_to_judge(raster))
        shares = f"truly over {over.mean():.2%}, stated {outcome.doubts[LIMITS[0]].mean():.2%}, worst bin {worst:.3f}"
        print(f"noise told {stated:.2f} times too large: {shares}, climb {outcome.climb[0] / outcome.climb[1] - 1:+.1%}")


def main() -> int:
    """Print the tables; with --check say what is missed."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--check", action="store_true", help="exit 1 where a bar is missed")
    parser.add_argument("--towns", type=int, default=40, help="invented towns per table")
    parser.add_argument("--cut", action="store_true", help="only compare short ways fitted alone with streets fitted whole")
    parser.add_argument("--picture", metavar="PNG", help="also draw the reliability of all tables for 1:12")
    parser.add_argument("--misstated", action="store_true", help="also show what a wrongly stated noise does (not judged)")
    options = parser.parse_args()
    missed: list[str] = []
    tables = {}
    for relief, raster in itertools.product(RELIEFS, RASTERS):
        n_towns = max(1, round(options.towns * raster.share_of_towns))
        if options.cut:
            show_cut(relief, raster, n_towns)
            continue
        outcome = run(relief, raster, n_towns=n_towns, seed=1)
        missed += report(relief, raster, outcome)
        judged = pieces_to_judge(raster)
        rows = reliability(outcome.doubts[LIMITS[0]], np.abs(outcome.true_grade) > LIMITS[0])
        tables[f"{relief.name}, {raster.cell_m:g} m"] = [row for row in rows if row[2] >= judged]
        if options.misstated:
            show_misstated(relief, raster, n_towns)
    if options.cut:
        return 0
    if options.picture:
        draw_picture(options.picture, tables)
    passed = f"All bins within {WORST_BIN_ERROR}, all climbs within {WORST_CLIMB_CHANGE:.0%}."
    print("\n" + ("\n".join(["Missed:", *missed]) if missed else passed))
    return 1 if options.check and missed else 0


if __name__ == "__main__":
    sys.path.pop(0)  # this folder: a module of it must not hide an installed one
    sys.exit(main())
