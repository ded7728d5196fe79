"""Everything the physics needs to know of a rider on a foil in the water, as one flat frozen value in SI units."""

from __future__ import annotations

import math

import attrs

from cadence_coach.foil.water import Water, water

GRAVITY = 9.81


@attrs.frozen
class Setup:
    """Lengths in m, areas in m2, masses in kg, speeds in m/s. Only mass, area and span have no default.

    The second half are the model's own coefficients: uncertain ones, see `band.sensitivity`.
    """

    mass: float
    """of the rider, dressed"""
    area: float
    """front wing, planform"""
    span: float
    """front wing"""
    gear_mass: float = 7.5
    """board and foil"""
    thickness_ratio: float = 0.12
    """front wing, thickness / chord"""
    cl_max: float = 1.2
    tail_area: float = 0.024
    tail_span: float = 0.42
    tail_thickness_ratio: float = 0.10
    fuselage_area: float = 0.06
    """wetted"""
    mast_chord: float = 0.12
    mast_thickness: float = 0.015
    mast_length: float = 0.75
    depth: float = 0.45
    """of the front wing under the surface, mean over a pump"""
    drag_area: float = 0.5
    """of rider and board in air, drag coefficient x area"""
    headwind: float = 0.0
    stroke: float = 0.42
    """most leg travel between body and board, peak to peak"""
    water: Water = attrs.field(factory=water)

    oswald: float = 0.95
    """e: induced drag of the front wing against an elliptic one"""
    lift_drag: float = 0.006
    """k_p: profile drag that grows with lift, per CL^2"""
    tail_lift: float = 0.15
    tail_oswald: float = 0.9
    profile_factor: float = 1.0
    """scales every wetted profile and friction part; 0.7 to 1.3 is what is not known"""
    shed_factor: float = 1.0
    """scales the loss to vorticity shed by the swinging lift"""
    force_max: float = 0.9
    """largest size [g] with both feet still loaded"""
    heave_max: float = 0.18
    """largest heave amplitude of the foil, whatever the mast"""
    elastic_return: float = 0.5
    """share of the negative leg work that springs back"""
    force_rate_cost: float = 0.08
    """c_r [W/(N Hz^2)]"""
    gravity: float = GRAVITY

    @property
    def chord(self) -> float:
        """Mean chord [m]."""
        return self.area / self.span

    @property
    def aspect_ratio(self) -> float:
        return self.span**2 / self.area

    @property
    def weight(self) -> float:
        """Of all that the wing carries [N]."""
        return (self.mass + self.gear_mass) * self.gravity

    @property
    def added_mass(self) -> float:
        """Water that heaves with the wing [kg]: pi/4 rho c^2 b, the flat plate in strip theory (upper side at the
        tips)."""
        return math.pi / 4 * self.water.density * self.chord**2 * self.span

    @property
    def mu(self) -> float:
        """(gear + added mass) / rider mass."""
        return (self.gear_mass + self.added_mass) / self.mass

    @property
    def heave_limit(self) -> float:
        """Heave amplitude [m] at which the board touches the water or the wing comes within a chord of the surface,
        at most `heave_max`."""
        return max(0.0, min(self.heave_max, self.mast_length - self.depth, self.depth - self.chord))
