"""Water against TEOS-10 (gsw), IAPWS-95 and IAPWS-2008 (iapws), and printed tables."""

from __future__ import annotations

import gsw
import iapws
import pytest

from cadence_coach.foil.water import SALINITY, density, dynamic_viscosity, fresh_density, water

TEMPERATURES = [0.5, 5, 10, 15, 20, 25, 30, 35]
RHO_FRESH = 0.02  # kg/m3
RHO_SEA = 0.1  # kg/m3
NU_FRESH = 0.003  # of the value
NU_SEA = 0.005  # of the value


@pytest.mark.parametrize("t", TEMPERATURES)
def test_fresh_density_is_that_of_iapws95(t: float) -> None:
    """Independently computed: iapws.IAPWS95 at 0.101325 MPa."""
    assert fresh_density(t) == pytest.approx(iapws.IAPWS95(T=273.15 + t, P=0.101325).rho, abs=RHO_FRESH)


@pytest.mark.parametrize("t", TEMPERATURES)
@pytest.mark.parametrize("salinity", [5, 10, 20, 35.16504, 38.5])
def test_salt_water_density_is_that_of_teos10(t: float, salinity: float) -> None:
    """Independently computed: gsw.rho_t_exact at the surface."""
    assert density(salinity, t) == pytest.approx(gsw.rho_t_exact(salinity, t, 0), abs=RHO_SEA)


@pytest.mark.parametrize("t", TEMPERATURES)
def test_fresh_viscosity_is_that_of_iapws2008(t: float) -> None:
    """Independently computed: iapws.IAPWS95.nu (IAPWS formulation 2008)."""
    assert water("fresh", t).viscosity == pytest.approx(iapws.IAPWS95(T=273.15 + t, P=0.101325).nu, rel=NU_FRESH)


@pytest.mark.parametrize(
    "kind, t, rho, nu",
    [
        # ITTC 7.5-02-01-03 (2011), as printed (from memory); sea 1026.021 printed, TEOS-10 0.045 lower.
        ("fresh", 15, 999.1026, 1.1386e-6),
        ("sea", 15, 1026.021, 1.1892e-6),
        # Tupper, Introduction to Naval Architecture, Table 5.1 (published), printed to 0.1 kg/m3 and 1e-9 m2/s.
        ("fresh", 10, 999.6, 1.306e-6),
        ("sea", 10, 1026.9, 1.354e-6),
        ("fresh", 20, 998.1, 1.004e-6),
        ("sea", 20, 1024.7, 1.054e-6),
        # TEOS-10 and Sharqawy et al. 2010, computed.
        ("sea", 5, 1027.676, 1.5763e-6),
        ("sea", 25, 1023.344, 0.93717e-6),
    ],
)
def test_printed_tables(kind: str, t: float, rho: float, nu: float) -> None:
    here = water(kind, t)
    assert here.density == pytest.approx(rho, abs=0.11)  # 0.1 and half the last digit printed
    assert here.viscosity == pytest.approx(nu, rel=NU_SEA)


def test_viscosity_of_brackish_water_lies_between() -> None:
    fresh, brackish, sea = (dynamic_viscosity(SALINITY[k], 15) for k in ("fresh", "brackish", "sea"))
    assert fresh < brackish < sea


@pytest.mark.parametrize("kind, t", [("salt", 15), ("fresh", 59), ("fresh", float("nan")), ("sea", -3)])
def test_what_is_no_water_is_refused(kind: str, t: float) -> None:
    with pytest.raises(ValueError, match="water"):
        water(kind, t)


def test_both_ends_of_the_range_are_water_and_nothing_beyond() -> None:
    for good in (-2.0, 40.0):
        assert water("sea", good).temperature == good
    for bad in (-2.001, 40.001, float("nan"), float("inf")):
        with pytest.raises(ValueError, match="outside -2 to 40 C"):
            water("sea", bad)
