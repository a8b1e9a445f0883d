"""Removal rates, Weibull life and shrinkage against printed examples."""

import pytest

from records.judge.fleet_statistics import shrunk_means
from records.judge.panel_life import UnitLife, fit_life
from records.judge.removal_rates import removal_rate

pytestmark = pytest.mark.published

HANDBOOK = [54, 187, 216, 240, 244, 335, 361, 373, 375, 386]
ABSORBERS_FAILED = [6700, 9120, 12200, 13150, 14300, 17520, 20100, 20900, 22700, 26510, 27490]
ABSORBERS_GOOD = [
    6950, 7820, 8790, 9660, 9820, 11310, 11690, 11850, 11880, 12140, 12870, 13330, 13470, 14040,
    17540, 17890, 18450, 18960, 18980, 19410, 20100, 20150, 20320, 23490, 27410, 27890, 28100,
]  # fmt: skip


def units(removed: list[int], good: list[int]) -> list[UnitLife]:
    return [UnitLife(float(h), True) for h in removed] + [UnitLife(float(h), False) for h in good]


def test_handbook_life_example_with_ten_units_still_good():
    """NIST/SEMATECH e-Handbook 8.4.1.3: shape 1.7208, scale 606.528, logL -75.135, mean 540.737."""
    life = fit_life(units(HANDBOOK, [500] * 10))
    assert life.shape.estimate == pytest.approx(1.7208, abs=5e-5)
    assert life.scale.estimate == pytest.approx(606.5280, abs=5e-3)
    assert life.log_likelihood == pytest.approx(-75.135, abs=5e-4)
    assert life.mean == pytest.approx(540.737, abs=5e-3)
    assert life.life(0.10) == pytest.approx(164.0, abs=0.05)
    assert life.surviving(500) == pytest.approx(0.4881, abs=5e-5)


def test_handbook_life_example_has_log_wald_bounds():
    """Bounds computed with two general fitters for the data of NIST/SEMATECH e-Handbook 8.4.1.3."""
    life = fit_life(units(HANDBOOK, [500] * 10))
    assert (life.shape.lower, life.shape.upper) == pytest.approx((0.971, 3.049), abs=5e-4)
    assert (life.scale.lower, life.scale.upper) == pytest.approx((405, 908), abs=0.5)


def test_shock_absorber_life_of_eleven_failures_among_thirty_eight():
    """Shock absorber distances of the reliability literature, data and figures from memory."""
    life = fit_life(units(ABSORBERS_FAILED, ABSORBERS_GOOD))
    assert (life.removals, life.suspensions) == (11, 27)
    assert life.shape.estimate == pytest.approx(3.1605, abs=5e-4)
    assert life.scale.estimate == pytest.approx(27718.7, abs=0.5)
    assert (life.shape.lower, life.shape.upper) == pytest.approx((2.01, 4.97), abs=0.01)
    assert (life.scale.lower, life.scale.upper) == pytest.approx((22348, 34380), abs=2)


def test_two_removals_in_1600_hours():
    """Exact bounds at 90 %, NIST/SEMATECH e-Handbook section 8, from memory: 800 h, 254 to 4502 h."""
    rate = removal_rate(1600, 2, 0.90)
    assert (rate.mean, round(rate.lower), round(rate.upper or 0)) == (800, 254, 4502)


def test_eight_schools_shrink_all_the_way():
    """Eight schools data from memory: no variance between them by DerSimonian and Laird, mean 7.686, se 4.072."""
    effects = dict(zip("ABCDEFGH", [28, 8, -3, 7, -1, 1, 18, 12], strict=True))
    variances = dict(zip("ABCDEFGH", [e * e for e in (15, 10, 16, 11, 9, 11, 10, 18)], strict=True))
    level = shrunk_means(effects, variances)
    assert level.between_variance == 0
    assert level.mean == pytest.approx(7.686, abs=5e-4)
    assert level.mean_error == pytest.approx(4.072, abs=5e-4)
    assert {round(each.shrunk_mean, 3) for each in level.aircraft} == {7.686}
