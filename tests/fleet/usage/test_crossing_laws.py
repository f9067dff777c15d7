"""First-passage laws against published and recomputed values."""

import numpy as np
import pytest
from scipy import stats

from fleet.usage.crossing import gamma_process_cdf, inverse_gaussian_cdf, inverse_gaussian_quantile


def test_wear_of_a_hundredth_of_a_millimetre_an_hour():
    """Drift 0.01 mm/h, variance 4e-4 mm^2/h, limit 2 mm: IG(200, 10000); recomputed with scipy 1.17.1."""
    hours = np.array([150, 180, 200, 220, 250])
    expected = [0.024073095, 0.249261510, 0.528070496, 0.772246610, 0.951069866]
    assert inverse_gaussian_cdf(hours, 200, 10_000) == pytest.approx(expected, abs=1e-9)
    quantiles = inverse_gaussian_quantile([0.05, 0.1, 0.5, 0.9, 0.95], 200, 10_000)
    assert quantiles == pytest.approx([157.110200, 165.321762, 198.022994, 237.217921, 249.633446], abs=5e-6)


def test_the_unit_law():
    """IG(1, 1), recomputed with scipy 1.17.1."""
    assert inverse_gaussian_cdf([0.5, 1, 2], 1, 1) == pytest.approx(
        [0.364975548, 0.668102001, 0.885475426], abs=1e-9
    )
    assert inverse_gaussian_quantile(0.5, 1, 1) == pytest.approx(0.675841306, abs=1e-9)


def test_where_the_second_term_overflows_a_double():
    """exp(2 * 200000 / 200) is no double; recomputed in logs with scipy 1.17.1."""
    values = inverse_gaussian_cdf([190, 200, 210], 200, 200_000)
    assert values == pytest.approx([0.054069921, 0.506306256, 0.940505689], abs=1e-9)


@pytest.mark.parametrize(("mean", "shape"), [(1, 0.2), (30, 90), (200, 10_000), (5, 1e6)])
def test_against_scipy(mean, shape):
    """scipy.stats.invgauss(mu=mean/shape, scale=shape) is the same law."""
    law = stats.invgauss(mu=mean / shape, scale=shape)
    days = law.ppf([0.01, 0.1, 0.5, 0.9, 0.99])
    assert inverse_gaussian_cdf(days, mean, shape) == pytest.approx(law.cdf(days), abs=1e-9)


def test_edges():
    assert inverse_gaussian_cdf([-1, 0], 2, 3).tolist() == [0, 0]
    assert inverse_gaussian_quantile([0, 1], 2, 3).tolist() == [0, np.inf]


def test_gamma_process_against_simulation():
    """60 h to go at 2 h a day in lumps of 3 h: independent gamma days, 20,000 machines, fixed seed."""
    days = np.random.default_rng(7).gamma(2 / 3, 3, (20_000, 80)).cumsum(axis=1)
    for t in (20, 30, 40):
        share = np.mean(days[:, t - 1] >= 60)
        assert gamma_process_cdf(t, 2.0, 3.0, 60.0) == pytest.approx(share, abs=0.012)
