"""Drag part by part against handbook formulas, exact integrals and limits."""

from __future__ import annotations

import math
from collections.abc import Callable

import attrs
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, optimize

from cadence_coach.foil.drag import (
    Parts,
    form_factor,
    induced_factor,
    laminar_friction,
    lift_coefficient,
    oscillating_drag,
    oscillating_factor,
    section_drag,
    stall_speed,
    steady_drag,
    surface_sigma,
    turbulent_friction,
)
from cadence_coach.foil.pumping import golden
from cadence_coach.foil.setup import Setup
from tests.foil.riders import RIDERS, B


@pytest.mark.parametrize("reynolds, cf", [(1e6, 0.0046875), (1e5, 0.0083333)])
def test_ittc_line(reynolds: float, cf: float) -> None:
    """ITTC 1957 (formula); values by hand."""
    assert turbulent_friction(reynolds) == pytest.approx(cf, abs=1e-7)


def test_other_friction_lines() -> None:
    """Blasius at Re 1e6; Prandtl-Schlichting, 0.455 / (log10 Re)^2.58 (Schlichting, from memory), is within 5 % of the
    ITTC line there."""
    assert laminar_friction(1e6) == pytest.approx(0.001328, abs=1e-9)
    assert turbulent_friction(1e6) == pytest.approx(0.455 / 6**2.58, rel=0.05)


@pytest.mark.parametrize("ratio, factor", [(0.08, 1.16246), (0.10, 1.2060), (0.12, 1.252442), (0.15, 1.33038), (0, 1)])
def test_form_factor(ratio: float, factor: float) -> None:
    """Hoerner 1965, Fluid-Dynamic Drag, ch. 6 (formula from memory); 1 for a flat plate."""
    assert form_factor(ratio) == pytest.approx(factor, abs=5e-6)


@pytest.mark.parametrize("reynolds, cd", [(1e5, 0.015697), (3e5, 0.010806), (5e5, 0.009218), (1e6, 0.007534)])
def test_section_drag(reynolds: float, cd: float) -> None:
    """(laminar + ITTC) x form factor at 12 %, computed."""
    assert section_drag(reynolds, 0.12) == pytest.approx(cd, abs=1e-6)


def test_section_drag_lies_where_a_design_sheet_has_it() -> None:
    """A published human-powered-hydrofoil design sheet takes 0.007-0.009 (from memory); ours is known to 30 %."""
    assert 0.7 * section_drag(5e5, 0.12) < 0.009 and 1.3 * section_drag(5e5, 0.12) > 0.007


def test_spray_drag() -> None:
    """Hoerner 1965 eq. 10-31: 0.24 q t^2 = 0.675 N at 5 m/s, 15 mm, 1000 kg/m3."""
    fresh = attrs.evolve(B, water=attrs.evolve(B.water, density=1000.0))
    assert steady_drag(fresh, 5.0).spray == pytest.approx(0.6750, abs=5e-5)


@pytest.mark.parametrize(
    "gap, sigma",
    [(0.1, 0.6565), (0.2, 0.4842), (0.3, 0.3705), (0.4, 0.2905), (0.5, 0.2322), (0.8, 0.1298), (1.0, 0.0935)],
)
def test_biplane_sigma(gap: float, sigma: float) -> None:
    """Independently computed: Trefftz plane of two elliptic wings."""
    assert surface_sigma(gap / 2) == pytest.approx(sigma, abs=5e-5)


@pytest.mark.parametrize("gap", [0.1, 0.2, 0.3, 0.4, 0.5])
def test_biplane_sigma_is_prandtls(gap: float) -> None:
    """Prandtl's fit (1 - 0.66 B)/(1.05 + 3.7 B), good for 1/15 < B < 1/2 (published; formula from memory)."""
    assert surface_sigma(gap / 2) == pytest.approx((1 - 0.66 * gap) / (1.05 + 3.7 * gap), abs=0.002)


def test_biplane_sigma_by_brute_force() -> None:
    """Independently computed: downwash of one elliptic vortex sheet on the other by adaptive quadrature (scipy)."""
    gap = 2 * 0.3  # in half spans: depth 0.15 spans, so gap 0.3 spans

    def downwash(y: float) -> float:
        # bound circulation sqrt(1 - x^2); trailing sheet -d/dx = x/sqrt(1 - x^2), x = sin a takes the root out
        return integrate.quad(
            lambda a: math.sin(a) * (y - math.sin(a)) / ((y - math.sin(a)) ** 2 + gap**2), -math.pi / 2, math.pi / 2
        )[0]

    mutual = integrate.quad(lambda y: math.sqrt(1 - y * y) * downwash(y), -1, 1)[0]
    own = math.pi * math.pi / 2  # an elliptic wing's own: constant downwash pi times its area pi/2
    assert surface_sigma(0.15) == pytest.approx(abs(mutual) / own, rel=1e-6)


def test_sigma_limits() -> None:
    """Like-signed image on the surface doubles the wing: 1; in the deep it goes as (b/h)^2/32."""
    assert surface_sigma(0) == 1
    assert surface_sigma(1e-4) == pytest.approx(1, abs=0.01)
    assert surface_sigma(50) == pytest.approx(1 / (32 * 50**2), rel=1e-3)


@pytest.mark.parametrize("aspect, slope", [(6, 4.7124), (8, 5.0265), (10, 5.235988), (12, 5.3856), (14, 5.4978)])
def test_finite_span_is_prandtls(aspect: float, slope: float) -> None:
    """Prandtl lifting line CL_alpha = 2 pi/(1 + 2/AR): the same induced angle CL/(pi AR) that our induced drag has."""
    ideal = Setup(75, 0.16, math.sqrt(aspect * 0.16), oswald=1.0, lift_drag=0.0, depth=60.0, mast_length=99.0)
    induced_angle_per_cl = induced_factor(ideal)
    assert 1 / (1 / (2 * math.pi) + induced_angle_per_cl) == pytest.approx(slope, abs=2e-4)


@pytest.mark.parametrize(
    "mass, area, aspect, cd0, cl, speed, drag",
    [  # computed from CD = CD0 + CL^2/(pi e AR), e 0.9, rho 1000, g 9.80665
        (80, 0.13, 14, 0.022, 0.9332, 3.5964, 36.991),
        (80, 0.16, 10, 0.020, 0.7520, 3.6112, 41.731),
        (90, 0.20, 8, 0.018, 0.6381, 3.7191, 49.795),
    ],
)
def test_parabolic_polar(
    mass: float, area: float, aspect: float, cd0: float, cl: float, speed: float, drag: float
) -> None:
    """The model's own induced drag with a constant profile drag: closed forms of the parabolic polar (derived), by
    search."""
    setup, total = _parabolic(mass, area, aspect, cd0)
    best = float(golden(total, 1.0, 12.0, 60))
    assert best == pytest.approx(speed, abs=1e-3)
    assert float(total(best)) == pytest.approx(drag, abs=1e-3)
    assert float(lift_coefficient(setup, best)) == pytest.approx(cl, abs=1e-3)


@given(mass=st.floats(40, 120), area=st.floats(0.08, 0.3), aspect=st.floats(5, 20), cd0=st.floats(0.01, 0.05))
def test_least_power_is_slower_than_least_drag(mass: float, area: float, aspect: float, cd0: float) -> None:
    """Derived: V_mp/V_md = 3^(-1/4) and P_mp/P_md = 2/3^(3/4) for any parabolic polar."""
    _, total = _parabolic(mass, area, aspect, cd0)
    drag = optimize.minimize_scalar(total, bounds=(0.3, 15), method="bounded", options={"xatol": 1e-10}).x
    power = optimize.minimize_scalar(
        lambda v: v * total(v), bounds=(0.3, 15), method="bounded", options={"xatol": 1e-10}
    ).x
    assert power / drag == pytest.approx(3**-0.25, abs=1e-5)
    assert power * total(power) / (drag * total(drag)) == pytest.approx(2 / 3**0.75, abs=1e-6)


def _parabolic(mass: float, area: float, aspect: float, cd0: float) -> tuple[Setup, Callable[[float], float]]:
    setup = Setup(
        mass, area, math.sqrt(aspect * area), gear_mass=0, oswald=0.9, lift_drag=0, depth=900, mast_length=999,
        gravity=9.80665, water=attrs.evolve(B.water, density=1000.0),
    )  # fmt: skip

    def total(v: float) -> float:
        return steady_drag(setup, v).induced + 500 * v * v * area * cd0

    return setup, total


def test_worked_point() -> None:
    """Rider B, 4.5 m/s: every part to 0.1 %. A regression value, worked out by hand from the same equations."""
    parts = {k: float(v) for k, v in steady_drag(B, 4.5).named().items()}
    expected = {
        "wing": 14.904,
        "induced": 18.161,
        "mast": 5.167,
        "spray": 0.546,
        "tail": 3.034,
        "fuselage": 3.004,
        "air": 6.075,
    }
    assert parts == pytest.approx(expected, rel=1e-3)
    assert float(steady_drag(B, 4.5).total) == pytest.approx(50.891, rel=1e-3)
    assert float(oscillating_drag(B, 4.5, 1.5, 0.7)) == pytest.approx(6.279, rel=1e-3)
    assert float(lift_coefficient(B, 4.5)) == pytest.approx(0.5, abs=5e-4)


@pytest.mark.parametrize(
    "name, drag",
    [("A", {3.5: 41.7, 4.5: 44.3, 6.0: 59.5}), ("B", {4: 49.5, 5.3: 57.0}), ("C", {5: 62.2}), ("D", {4.5: 44.8})],
)
def test_steady_drag_of_the_riders(name: str, drag: dict[float, float]) -> None:
    """Regression values of the model's first working-out, printed to 0.1 N (D's tail span was not: 0.1 N more)."""
    for speed, expected in drag.items():
        assert float(steady_drag(RIDERS[name], speed).total) == pytest.approx(
            expected, abs=0.16 if name == "D" else 0.06
        )


@pytest.mark.parametrize(
    "name, speed, still, pumped",
    [("A", 3.70, 2.84, 3.82), ("B", 3.95, 2.90, 3.92), ("C", 4.20, 2.84, 3.83), ("D", 4.15, 3.50, 4.73)],
)
def test_least_drag_and_stall_speeds(name: str, speed: float, still: float, pumped: float) -> None:
    """Regression values, printed on a grid of 0.05 (least drag) and to 0.01 (stall)."""
    setup = RIDERS[name]
    least = float(golden(lambda v: steady_drag(setup, v).total, 1.0, 12.0, 40))
    assert least == pytest.approx(speed, abs=0.03)
    assert stall_speed(setup) == pytest.approx(still, abs=0.006)
    assert stall_speed(setup, 0.9) == pytest.approx(pumped, abs=0.006)


@pytest.mark.parametrize("setup", RIDERS.values(), ids=RIDERS)
def test_drag_rises_above_the_speed_of_least_drag(setup: Setup) -> None:
    speeds = np.arange(4.3, 9, 0.05)
    assert (np.diff(steady_drag(setup, speeds).total) > 0).all()


def test_parts_are_all_there_and_positive() -> None:
    parts = steady_drag(B, np.array([3.0, 5.0, 8.0]))
    assert list(parts.named()) == [a.name for a in attrs.fields(Parts)]
    assert all((v > 0).all() for v in parts.named().values())
    assert np.allclose(sum(parts.named().values()), parts.total)


def test_limits_of_the_whole() -> None:
    """Slow: induced alone, as 1/V^2. Fast: it is gone, the wetted parts stay. No span loss and no cadence: no induced
    drag."""
    slow = steady_drag(B, 0.01)
    assert slow.induced / slow.total > 0.99
    assert steady_drag(B, 0.005).induced / slow.induced == pytest.approx(4)
    assert steady_drag(B, 50.0).induced / steady_drag(B, 50.0).total < 1e-3
    long = attrs.evolve(B, span=1e4, lift_drag=0.0)
    assert induced_factor(long) == pytest.approx(0, abs=1e-6)
    assert oscillating_factor(B, 4.5, 1e-9) == pytest.approx(induced_factor(B), rel=1e-6)
    assert oscillating_drag(B, 4.5, 1.4, 0.0) == 0


def test_a_headwind_matters() -> None:
    """5 m/s against 4.5 m/s: 27 N of air instead of 6 N (by hand: 0.6 x 0.5 x 9.5^2, 0.6 x 0.5 x 4.5^2)."""
    assert float(steady_drag(B, 4.5).air) == pytest.approx(6.075)
    assert float(steady_drag(attrs.evolve(B, headwind=5.0), 4.5).air) == pytest.approx(27.075)
    assert float(steady_drag(attrs.evolve(B, headwind=-9.0), 4.5).air) == pytest.approx(-6.075)
