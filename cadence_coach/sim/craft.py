"""The craft that the simulated rider stands on: a `foil.setup.Setup` with its drag as tables, which a ride looks up."""

from __future__ import annotations

from functools import cached_property

import numpy as np

from cadence_coach.core.units import G
from cadence_coach.foil.drag import induced_factor, stall_speed, steady_drag
from cadence_coach.foil.setup import Setup
from cadence_coach.foil.unsteady import shed_loss

SPEEDS = np.arange(1.0, 10.01, 0.02)
"""Speeds [m/s] of the drag table; the edge values hold outside."""
REDUCED = np.arange(0.0, 1.001, 0.002)
"""Reduced frequencies of the table of shed vorticity."""


class Craft:
    """A set-up; `drag(speed)` [N] flying level and `swing_factor(speed, cadence)` K of the swinging lift, from
    tables."""

    def __init__(self, setup: Setup) -> None:
        self.setup = setup
        self.rider, self.gear, self.gravity = setup.mass, setup.gear_mass, setup.gravity
        self.mass = setup.mass + setup.gear_mass
        self.weight, self.added_mass, self.mu = setup.weight, setup.added_mass, setup.mu
        self.induced = induced_factor(setup)
        self.stall = stall_speed(setup)

    @cached_property
    def _drag(self) -> np.ndarray:
        return np.asarray(steady_drag(self.setup, SPEEDS).total)

    @cached_property
    def _shed(self) -> np.ndarray:
        return self.setup.shed_factor * np.asarray(shed_loss(REDUCED))

    def drag(self, speed: np.ndarray | float) -> np.ndarray:
        return np.interp(speed, SPEEDS, self._drag)

    def swing_factor(self, speed: float, cadence: float) -> float:
        k = np.pi * cadence * self.setup.chord / max(speed, 0.5)
        return float(self.induced + np.interp(k, REDUCED, self._shed))

    def pressure_area(self, speed: np.ndarray | float) -> np.ndarray:
        """rho V^2 S / 2 [N]."""
        return 0.5 * self.setup.water.density * np.square(speed) * self.setup.area


def random_craft(rng: np.random.Generator) -> Craft:
    """A rider and a foil that go together: light to heavy, small fast wings to big slow ones."""
    mass = rng.uniform(50, 100)
    area = rng.uniform(0.0015, 0.0024) * mass
    return Craft(
        Setup(
            mass=mass,
            area=area,
            span=float(np.sqrt(area * rng.uniform(8, 14))),
            gear_mass=rng.uniform(5.5, 9.5),
            tail_area=rng.uniform(0.014, 0.024),
            drag_area=rng.uniform(0.35, 0.6),
            headwind=rng.uniform(-2.0, 2.0),
            stroke=rng.uniform(0.36, 0.5),
            profile_factor=rng.uniform(0.7, 1.15),
            gravity=G,
        )
    )
