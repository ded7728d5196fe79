"""The riders and set-ups the model was first worked out for: A to C recreational, D a performance set-up. All
invented."""

from __future__ import annotations

from hypothesis import strategies as st

from cadence_coach.foil.setup import Setup
from cadence_coach.foil.water import Water

WATER = Water(999.1, 1.139e-6)
"""Fresh, 15 C, rounded as in the worked point."""
A = Setup(62, 0.14, 1.25, gear_mass=7, stroke=0.38, depth=0.42, water=WATER)
B = Setup(75, 0.16, 1.26, water=WATER)
C = Setup(90, 0.20, 1.30, gear_mass=8.5, stroke=0.44, water=WATER)
D = Setup(
    72, 0.105, 1.25, gear_mass=6.5, mast_thickness=0.013, drag_area=0.45, depth=0.42, tail_area=0.016, water=WATER
)
RIDERS = {"A": A, "B": B, "C": C, "D": D}

setups = st.builds(
    Setup,
    mass=st.floats(45, 110),
    area=st.floats(0.08, 0.25),
    span=st.floats(0.9, 1.5),
    gear_mass=st.floats(4, 12),
    stroke=st.floats(0.25, 0.55),
    drag_area=st.floats(0.3, 0.7),
    profile_factor=st.floats(0.7, 1.3),
)
"""Drawn by hypothesis: any grown rider on any foil for pumping."""
