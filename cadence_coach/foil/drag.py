"""Drag of a foil, mast, board and rider, part by part.

    steady_drag(setup, speed) -> Parts        flying level at a speed; Parts.total is the sum [N]
    oscillating_drag(setup, speed, cadence, active) -> [N]   extra mean drag of a lift that swings once a pump
    lift_coefficient(setup, speed), stall_speed(setup)

`setup` is a foil.setup.Setup; speed in m/s through the water (above 0), cadence in Hz, `active` = r_a, the part of
the foot force's swing in phase with the foil's descent, in units of the rider's weight. Speeds, cadences and `active`
may be numpy arrays and broadcast. The small functions below are the equations; each says where it holds. Estimates:
+-30 %.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Any

import attrs
import numpy as np

from cadence_coach.foil.setup import Setup
from cadence_coach.foil.unsteady import shed_loss

Number = Any
"""A float or a numpy array of float64."""

AIR_DENSITY = 1.2
"""[kg/m3] at about 20 C."""
SPRAY = 0.24
"""Drag coefficient of a strut's spray on thickness squared (Hoerner 1965 eq. 10-31; published range 0.24-0.38)."""
FUSELAGE_FRICTION = 0.0045 * 1.1
"""Turbulent friction at Re 4e5-1e6 x form effect, engineering values."""


@attrs.frozen(eq=False)
class Parts:
    """Mean drag [N] part by part, flying level at one or many speeds."""

    wing: Number
    induced: Number
    mast: Number
    spray: Number
    tail: Number
    fuselage: Number
    air: Number

    @property
    def total(self) -> Number:
        return self.wing + self.induced + self.mast + self.spray + self.tail + self.fuselage + self.air

    def named(self) -> dict[str, Number]:
        """The parts by name, in the order they are stacked."""
        return {a.name: getattr(self, a.name) for a in attrs.fields(Parts)}


def laminar_friction(reynolds: Number) -> Number:
    """Cf of a laminar flat plate, one side: 1.328 / sqrt(Re) (Blasius). Grows without bound as Re -> 0."""
    return 1.328 / np.sqrt(reynolds)


def turbulent_friction(reynolds: Number) -> Number:
    """Cf of the ITTC 1957 line: 0.075 / (log10 Re - 2)^2. For Re > 1e4; singular at 100."""
    return 0.075 / (np.log10(reynolds) - 2) ** 2


def form_factor(thickness_ratio: Number) -> Number:
    """1 + 2 t/c + 60 (t/c)^4 (Hoerner 1965 ch. 6, from memory). For t/c up to about 0.25; 1 for a plate."""
    return 1 + 2 * thickness_ratio + 60 * thickness_ratio**4


def section_drag(reynolds: Number, thickness_ratio: Number) -> Number:
    """Profile drag coefficient on planform area, half the surface laminar and half turbulent: (laminar + ITTC) x form
    factor.

    For Re 1e5 to 2e6; below 1e4 the turbulent line is held at its value there. Real foils: x 0.7 to 1.3.
    """
    reynolds = np.maximum(reynolds, 1e4)
    return (laminar_friction(reynolds) + turbulent_friction(reynolds)) * form_factor(thickness_ratio)


@lru_cache(maxsize=256)
def surface_sigma(depth_in_spans: float) -> float:
    """Induced drag added by the free surface, as a share of the wing's own: sigma of a biplane with gap 2 h.

    At high Froude number the image has a like sign. Trefftz plane of two elliptic wings, exact: with z = x + 4 i h/b,
    sigma = (2/pi) int_-1^1 sqrt(1 - x^2) Re[1 - z / sqrt(z^2 - 1)] dx, by Gauss-Chebyshev. 1 at the surface, 0 deep
    (as (b/h)^2 / 32). Prandtl's (1 - 0.66 B)/(1.05 + 3.7 B), B = 2 h/b, is within 0.002 for B 0.1 to 0.5. Below Fn_h
    about 2 waves matter and this is an estimate.
    """
    if depth_in_spans <= 0:
        return 1.0
    n = 200
    angle = np.arange(1, n + 1) * np.pi / (n + 1)
    z = np.cos(angle) + 4j * depth_in_spans
    integrand = (1 - z / (np.sqrt(z - 1) * np.sqrt(z + 1))).real
    return float(2 / (n + 1) * np.sum(np.sin(angle) ** 2 * integrand))


def lift_coefficient(setup: Setup, speed: Number) -> Number:
    """CL that carries the weight, W / (q S). The tail's share is ignored (< 3 %). Grows without bound as speed -> 0."""
    return setup.weight / (dynamic_pressure(setup, speed) * setup.area)


def dynamic_pressure(setup: Setup, speed: Number) -> Number:
    """rho V^2 / 2 [Pa]."""
    return 0.5 * setup.water.density * speed**2


def stall_speed(setup: Setup, size: float = 0.0) -> float:
    """Speed [m/s] under which the wing cannot carry (1 + size x m/(m + m_g)) times the weight at cl_max."""
    peak = 1 + size * setup.mass / (setup.mass + setup.gear_mass)
    return math.sqrt(2 * setup.weight * peak / (setup.water.density * setup.area * setup.cl_max))


def induced_factor(setup: Setup) -> float:
    """K of CDi = K CL^2: (1 + sigma) / (pi e AR) + k_p."""
    sigma = surface_sigma(setup.depth / setup.span)
    return (1 + sigma) / (math.pi * setup.oswald * setup.aspect_ratio) + setup.lift_drag


def steady_drag(setup: Setup, speed: Number) -> Parts:
    """Drag part by part [N], flying level. Diverges as speed -> 0 (induced ~ 1/V^2); says nothing under the stall
    speed."""
    q = dynamic_pressure(setup, speed)
    nu, k = setup.water.viscosity, setup.profile_factor
    cl = lift_coefficient(setup, speed)
    tail_chord = setup.tail_area / setup.tail_span
    tail_ar = setup.tail_span**2 / setup.tail_area
    return Parts(
        wing=k * q * setup.area * section_drag(speed * setup.chord / nu, setup.thickness_ratio),
        induced=q * setup.area * induced_factor(setup) * cl**2,
        mast=k
        * q
        * setup.depth
        * setup.mast_chord
        * section_drag(speed * setup.mast_chord / nu, setup.mast_thickness / setup.mast_chord),
        spray=SPRAY * q * setup.mast_thickness**2,
        tail=q
        * setup.tail_area
        * (
            k * section_drag(speed * tail_chord / nu, setup.tail_thickness_ratio)
            + setup.tail_lift**2 / (math.pi * setup.tail_oswald * tail_ar)
        ),
        fuselage=k * q * setup.fuselage_area * FUSELAGE_FRICTION,
        air=0.5 * AIR_DENSITY * setup.drag_area * (speed + setup.headwind) * np.abs(speed + setup.headwind),
    )


def oscillating_factor(setup: Setup, speed: Number, cadence: Number) -> Number:
    """K_osc of the drag of a swinging lift: K of the steady lift + (F/|C|^2 - 1)/(2 pi), F and C at k = pi f c / V.

    The last term is the shed vorticity of two-dimensional theory (Garrick 1936), put on top of the three-dimensional
    one: an estimate from above. It goes to 0 with the cadence.
    """
    k = np.pi * cadence * setup.chord / speed
    return induced_factor(setup) + setup.shed_factor * shed_loss(k)


def oscillating_drag(setup: Setup, speed: Number, cadence: Number, active: Number) -> Number:
    """Mean extra drag [N] of a lift that swings by active x m/(m + m_g) of the weight: q S K_osc CL^2 r_L^2 / 2."""
    q = dynamic_pressure(setup, speed)
    swing = active * setup.mass / (setup.mass + setup.gear_mass)
    cl = lift_coefficient(setup, speed)
    return q * setup.area * oscillating_factor(setup, speed, cadence) * cl**2 * swing**2 / 2
