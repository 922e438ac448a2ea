"""What is believed about a grade: no steep streets out of noise, none hidden by it, and doubts that come true."""

import importlib.util
import sys
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import norm

from rollroute.network.grade_posterior import LEVEL, SIZE, STEEP, GradePosterior, GradePrior, fit_prior

LIMIT = 1 / 12


def posterior(measured, sd, prior, kind=0, inner=0.0) -> GradePosterior:
    measured = np.atleast_1d(np.asarray(measured, np.float32))
    full = np.full(len(measured), 1.0)
    return GradePosterior(
        measured=measured, measured_sd=(full * sd).astype(np.float32), inner=(full * inner).astype(np.float32),
        kind=(full * kind).astype(np.uint8), prior=prior,
    )  # fmt: skip


def only(k: int) -> GradePrior:
    return GradePrior(weights=np.eye(len(SIZE))[[k]])


def test_a_level_component_is_the_normal_case_by_hand():
    """Prior sd 0.8 %, measured 1.5 % +- 0.6 %: mean = 1.5 x 64 / (64 + 36) = 0.96 %, sd = 0.8 x 0.6 / 1.0 = 0.48 %."""
    believed = posterior(0.015, 0.006, only(4))

    mean, sd, rise, fall = believed.moments()

    assert SIZE[4] == pytest.approx(0.008)
    assert mean[0] == pytest.approx(0.0096, rel=1e-6)
    assert sd[0] == pytest.approx(0.0048, rel=1e-6)
    assert rise[0] - fall[0] == pytest.approx(mean[0], rel=1e-6)
    z = norm(0.0096, 0.0048)
    assert believed.probability_over(0.012)[0] == pytest.approx(z.sf(0.012) + z.cdf(-0.012), rel=1e-5)
    assert believed.probability_over(0.02, 0.005)[0] == pytest.approx(z.sf(0.02) + z.cdf(-0.005), rel=1e-4)


def test_the_mixture_agrees_with_numerical_integration():
    """Independent reference: prior density times likelihood, summed on a fine grid."""
    weights = np.arange(1.0, 18.0) / 153
    believed = posterior([0.07, -0.02], 0.02, GradePrior(weights=weights[None, :]))
    g = np.linspace(-1.0, 1.0, 400_001)
    prior = sum(w * norm.pdf(g, 0, tau) for w, tau in zip(weights[:5], LEVEL, strict=True))
    for w, middle in zip(weights[5:], STEEP, strict=True):
        prior = prior + 0.5 * w * (norm.pdf(g, middle, middle / 5) + norm.pdf(g, -middle, middle / 5))
    for i, y in enumerate((0.07, -0.02)):
        density = prior * norm.pdf(y, g, 0.02)
        density /= density.sum()
        assert believed.moments()[0][i] == pytest.approx((density * g).sum(), rel=1e-4)
        assert believed.moments()[2][i] == pytest.approx((density * np.maximum(g, 0)).sum(), rel=1e-4)
        assert believed.probability_over(LIMIT)[i] == pytest.approx(density[np.abs(g) > LIMIT].sum(), rel=1e-3)


def test_the_compiled_sums_agree_with_the_tables(monkeypatch):
    """Large maps take another road to the same probability: to 1e-7, unknown and far-off grades included."""
    rng = np.random.default_rng(4)
    n = 3000
    measured = rng.normal(0, 0.08, n).astype(np.float32)
    measured[:3] = np.nan, 0.9, -0.9
    prior = GradePrior(weights=rng.dirichlet(np.ones(len(SIZE)), 3))
    believed = GradePosterior(
        measured=measured, measured_sd=np.exp(rng.uniform(-9, -2, n)).astype(np.float32), inner=rng.uniform(0, 0.2, n).astype(np.float32),
        kind=(np.arange(n) % 3).astype(np.uint8), prior=prior,
    )  # fmt: skip
    tables = believed.probability_over(LIMIT, 0.06)
    monkeypatch.setattr("rollroute.network.grade_posterior.COMPILE_FROM", 100)

    np.testing.assert_allclose(believed.probability_over(LIMIT, 0.06), tables, atol=1e-7)


def test_nothing_measured_is_the_share_of_the_town():
    """An unknown grade has the doubt of its kind of way, and no grade."""
    believed = posterior(np.nan, np.nan, only(11))  # the pair at 1.5 % x 1.3^6 = 7.24 %, spread 1.45 %

    assert np.isnan(believed.moments()[0][0])
    assert believed.probability_over(LIMIT)[0] == pytest.approx(norm.sf(LIMIT, STEEP[6], STEEP[6] / 5), rel=1e-6)


def test_noise_invents_no_steep_streets():
    """A level town measured with 4 % of error: 4 % of the raw grades are over the limit, none is believed to be."""
    rng = np.random.default_rng(1)
    measured, sd, kind = rng.normal(0, 0.04, 4000), np.full(4000, 0.04), np.zeros(4000, np.uint8)

    believed = posterior(measured, 0.04, fit_prior(measured, sd, kind, n_kinds=1))

    assert np.mean(np.abs(measured) > LIMIT) > 0.03
    assert np.abs(believed.moments()[0]).max() < 0.03
    assert believed.probability_over(LIMIT).mean() < 0.004


def test_noise_hides_no_steep_street():
    """One street in a hundred at 12 % in a flat town: still believed to be steep, where a single normal says 4.5 %.

    Normal prior: variance 0.99 x 0.01^2 + 0.01 x 0.12^2 = 2.4e-4; with error 2 % the 12 % would become 12 x 2.4 / 6.4 = 4.5 %.
    """
    rng = np.random.default_rng(1)
    truth = np.where(np.arange(5000) % 100 == 0, 0.12, rng.normal(0, 0.01, 5000))
    measured, sd = truth + rng.normal(0, 0.02, 5000), np.full(5000, 0.02)

    believed = posterior(measured, 0.02, fit_prior(measured, sd, np.zeros(5000, np.uint8), n_kinds=1))

    is_steep = truth == 0.12
    assert believed.moments()[0][is_steep].mean() > 0.1
    assert np.median(believed.probability_over(LIMIT)[is_steep]) > 0.8
    assert believed.probability_over(LIMIT)[~is_steep].mean() < 0.002


def test_a_kind_of_way_with_few_pieces_leans_on_the_town():
    """Two flat driveways in a hilly town are not a law of nature."""
    rng = np.random.default_rng(1)
    measured = np.concatenate([rng.normal(0, 0.08, 2000), [0.0, 0.0]])
    kind = np.concatenate([np.zeros(2000), [1, 1]]).astype(np.uint8)

    prior = fit_prior(measured, np.full(2002, 0.01), kind, n_kinds=3)

    spread = np.sqrt(prior.weights @ SIZE**2)
    assert spread[1] == pytest.approx(spread[0], rel=0.1)
    np.testing.assert_allclose(prior.weights[2], prior.weights[0], atol=0.05)  # no piece at all: the town's
    np.testing.assert_allclose(prior.weights.sum(axis=1), 1.0)


def test_the_prior_is_the_same_for_the_same_town():
    """Same input, same plan."""
    rng = np.random.default_rng(1)
    measured, sd, kind = rng.normal(0, 0.04, 50_000), np.full(50_000, 0.02), np.zeros(50_000, np.uint8)

    one, two = (fit_prior(measured, sd, kind, n_kinds=1).weights for _ in range(2))

    assert (one == two).all()


@pytest.fixture(scope="module")
def calibration():
    """The benchmark's invented towns, at a modest size."""
    path = Path(__file__).parent.parent / "benchmarks" / "grade_calibration.py"
    spec = importlib.util.spec_from_file_location("grade_calibration", path)
    module = sys.modules[spec.name] = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    yield module
    del sys.modules[spec.name]


class ReliabilityReport:
    """Prints the reliability plots at the end of the test report."""

    def __init__(self):
        self.plots = []

    def pytest_terminal_summary(self, terminalreporter):
        terminalreporter.section("grade doubts against the truth of invented towns (limit 1:12)")
        for three in (self.plots[k : k + 3] for k in range(0, len(self.plots), 3)):
            for line in zip(*([title, *lines] for title, lines in three), strict=True):
                terminalreporter.write_line("  ".join(part.ljust(38) for part in line).rstrip())


@pytest.fixture(scope="module")
def report(request):
    """The plots of this run."""
    made = ReliabilityReport()
    request.config.pluginmanager.register(made)
    return made


@pytest.mark.parametrize("relief", ["flat", "hilly"])
@pytest.mark.parametrize(("cell", "n_towns"), [(1.0, 2), (10.0, 8), (30.0, 5)])
def test_pieces_with_doubt_p_are_over_the_limit_in_a_share_p_of_cases(calibration, report, relief, cell, n_towns):
    """Simulation with known truth: invented ground, noisy raster, misdrawn ways. The full tables are in the benchmark.

    Bins with fewer than 300 separate windows can't be told from chance and are not judged.
    """
    land = next(known for known in calibration.RELIEFS if known.name == relief)
    raster = next(known for known in calibration.RASTERS if known.cell_m == cell)

    outcome = calibration.run(land, raster, n_towns=n_towns, seed=100)

    over = np.abs(outcome.true_grade) > LIMIT
    rows = calibration.reliability(outcome.doubts[LIMIT], over, bins=np.array([0, 0.05, 0.2, 0.5, 0.8, 1]))
    least = calibration.pieces_to_judge(raster, least_windows=300)
    worst = calibration.worst_error(rows, least_pieces=least)
    title = f"{relief}, {cell:g} m cells: worst bin off {worst:.3f}"
    report.plots.append((title, calibration.plot_lines(rows, least_pieces=least)))
    assert worst < 0.05
    assert relief == "flat" or sum(n >= least for _, _, n, _, _ in rows) == 5  # no bin escapes judgement
    assert outcome.doubts[LIMIT].mean() == pytest.approx(over.mean(), abs=0.02)
    noisy, clean, _ = outcome.climb
    assert noisy == pytest.approx(clean, rel=0.05 if relief == "hilly" else 0.12)
