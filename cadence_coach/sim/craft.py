"""The craft that the simulated rider stands on: masses, legs and the drag of board and foil as arrays over speed."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from cadence_coach.core.units import G

SPEEDS = np.arange(1.5, 9.01, 0.05)
"""Speeds of the drag table [m/s]; outside, the edge values scaled with speed squared are near enough for a simulation."""


@dataclass(frozen=True)
class Craft:
    """Rider, board and foil. SI units; `leg_stroke` and `heave_limit` [m], `cl_max` at stall, `r_max` feet-on limit."""

    rider: float = 75.0
    gear: float = 7.5
    wing_area: float = 0.16
    span: float = 1.26
    leg_stroke: float = 0.42
    heave_limit: float = 0.18
    cl_max: float = 1.2
    drag_area: float = 0.5
    tail_area: float = 0.024
    tail_span: float = 0.42
    profile_factor: float = 1.0
    rho: float = 999.1
    nu: float = 1.139e-6
    _table: dict[str, np.ndarray] = field(default_factory=dict, repr=False, compare=False)

    @property
    def mass(self) -> float:
        """Everything that has to be carried [kg]."""
        return self.rider + self.gear

    @property
    def weight(self) -> float:
        return self.mass * G

    @property
    def chord(self) -> float:
        return self.wing_area / self.span

    @property
    def added_mass(self) -> float:
        """Water that heaves with the wing [kg]: (pi/4) rho c^2 b."""
        return np.pi / 4.0 * self.rho * self.chord**2 * self.span

    @property
    def mu(self) -> float:
        """(gear + added mass) / rider."""
        return (self.gear + self.added_mass) / self.rider

    @property
    def induced(self) -> float:
        """K of the steady lift: drag coefficient per CL squared."""
        gap = 2 * 0.45 / self.span
        sigma = 0.2322 * np.exp(-2.0 * (gap - 0.5)) if gap > 0.5 else (1 - 0.66 * gap) / (1.05 + 3.7 * gap)
        return (1 + sigma) / (np.pi * 0.95 * self.span**2 / self.wing_area) + 0.006

    def steady_drag(self, speed: np.ndarray | float) -> np.ndarray:
        """Drag of level flight [N] at a speed [m/s]."""
        if not self._table:
            self._table["steady"] = _steady(self, SPEEDS)
        return np.interp(speed, SPEEDS, self._table["steady"])

    def unsteady(self, speed: float, cadence: float) -> float:
        """K of the oscillating lift: the steady one plus the loss to shed vorticity at this reduced frequency."""
        k = np.pi * cadence * self.chord / max(speed, 1.0)
        s = 1j * k
        c = 1 - 0.165 * s / (s + 0.0455) - 0.335 * s / (s + 0.3)
        return self.induced + (c.real / abs(c) ** 2 - 1) / (2 * np.pi)

    def stall_speed(self) -> float:
        return float(np.sqrt(2 * self.weight / (self.rho * self.wing_area * self.cl_max)))


def _steady(craft: Craft, v: np.ndarray) -> np.ndarray:
    q = craft.rho * v**2 / 2
    cl = craft.weight / (q * craft.wing_area)

    def section(chord: float, thickness: float) -> np.ndarray:
        re = v * chord / craft.nu
        friction = 1.328 / np.sqrt(re) + 0.075 / (np.log10(re) - 2) ** 2
        return craft.profile_factor * friction * (1 + 2 * thickness + 60 * thickness**4)

    wing = q * craft.wing_area * (section(craft.chord, 0.12) + craft.induced * cl**2)
    mast = q * 0.45 * 0.12 * section(0.12, 0.125) + 0.24 * q * 0.015**2
    tail_aspect = craft.tail_span**2 / craft.tail_area
    tail = (
        q * craft.tail_area * (section(craft.tail_area / craft.tail_span, 0.10) + 0.15**2 / (np.pi * 0.9 * tail_aspect))
    )
    fuselage = q * 0.06 * 0.0045 * 1.1
    return wing + mast + tail + fuselage + 0.6 * craft.drag_area * v**2


def random_craft(rng: np.random.Generator) -> Craft:
    """A rider and a foil that can be pumped: light to heavy, small fast wings to big slow ones."""
    rider = rng.uniform(50, 100)
    area = rng.uniform(0.0016, 0.0024) * rider
    aspect = rng.uniform(8, 14)
    return Craft(
        rider=rider,
        gear=rng.uniform(5.5, 9.5),
        wing_area=area,
        span=float(np.sqrt(area * aspect)),
        leg_stroke=rng.uniform(0.34, 0.48),
        drag_area=rng.uniform(0.35, 0.6),
        profile_factor=rng.uniform(0.7, 1.15),
        tail_area=rng.uniform(0.014, 0.024),
    )
