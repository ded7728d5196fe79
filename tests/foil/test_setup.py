"""The flat value that everything is computed from, and that each "what if" changes what its name says."""

from __future__ import annotations

import math
from typing import Any

import attrs
import pytest

from cadence_coach.foil.sensitivity import CHANGES, moved
from cadence_coach.foil.solve import solve
from cadence_coach.foil.water import water
from tests.foil.riders import B


def test_heave_is_limited_by_the_legs_the_mast_and_the_surface() -> None:
    """The least of: heave_max; what the mast leaves above the wing; what lies above the wing, but a chord. By hand, for
    a chord of 0.127 m (0.16 m2 / 1.26 m)."""
    assert B.chord == pytest.approx(0.16 / 1.26)
    long_mast = attrs.evolve(B, heave_max=0.3, mast_length=0.90, depth=0.50)
    assert long_mast.heave_limit == pytest.approx(0.3)
    assert attrs.evolve(long_mast, mast_length=0.60).heave_limit == pytest.approx(0.10)
    assert attrs.evolve(long_mast, depth=0.25).heave_limit == pytest.approx(0.25 - 0.16 / 1.26)
    assert attrs.evolve(long_mast, depth=0.10).heave_limit == 0.0


def test_masses_by_hand() -> None:
    """pi/4 rho c^2 b (Theodorsen's flat plate, strip by strip) = pi/4 x 999.1 x 0.16^2 / 1.26 = 15.94 kg."""
    assert B.added_mass == pytest.approx(math.pi / 4 * 999.1 * 0.16**2 / 1.26)
    assert B.mu == pytest.approx((B.gear_mass + B.added_mass) / 75)
    assert B.weight == pytest.approx((75 + B.gear_mass) * B.gravity)


EXPECTED: dict[str, dict[str, Any]] = {
    "rider +10 %": {"mass": 1.1 * B.mass},
    "rider -10 %": {"mass": 0.9 * B.mass},
    "wing area +10 %": {"area": 1.1 * B.area},
    "wing area -10 %": {"area": 0.9 * B.area},
    "span +10 %": {"span": 1.1 * B.span},
    "span -10 %": {"span": 0.9 * B.span},
    "wing 0.15 m deeper": {"depth": B.depth + 0.15, "mast_length": B.mast_length + 0.15},
    "wing 0.15 m higher": {"depth": B.depth - 0.15},
    "profile drag x 1.3": {"profile_factor": 1.3 * B.profile_factor},
    "profile drag x 0.7": {"profile_factor": 0.7 * B.profile_factor},
    "air drag x 1.3": {"drag_area": 1.3 * B.drag_area},
    "air drag x 0.7": {"drag_area": 0.7 * B.drag_area},
    "headwind 3 m/s": {"headwind": 3.0},
    "leg travel +20 %": {"stroke": 1.2 * B.stroke},
    "leg travel -20 %": {"stroke": 0.8 * B.stroke},
    "board and foil +4.5 kg": {"gear_mass": B.gear_mass + 4.5},
    "size at most 0.7 g": {"force_max": 0.7},
    "fast force costs half": {"force_rate_cost": 0.5 * B.force_rate_cost},
    "fast force costs double": {"force_rate_cost": 2 * B.force_rate_cost},
    "no elastic return": {"elastic_return": 0.0},
    "elastic return 0.7": {"elastic_return": 0.7},
    "no shed-vorticity loss": {"shed_factor": 0.0},
    "lift-dependent profile drag 0": {"lift_drag": 0.0},
    "lift-dependent profile drag x 2": {"lift_drag": 2 * B.lift_drag},
    "sea water 15 C": {"water": water("sea", 15.0)},
    "fresh water 5 C": {"water": water("fresh", 5.0)},
    "fresh water 25 C": {"water": water("fresh", 25.0)},
    "as it is": {},
}


def test_every_change_does_what_its_name_says_and_nothing_else() -> None:
    assert {name for name, _ in CHANGES} == set(EXPECTED)
    for name, change in CHANGES:
        before, after = attrs.asdict(B, recurse=False), attrs.asdict(change(B), recurse=False)
        differing = {k: v for k, v in after.items() if v != before[k]}
        assert differing == {k: pytest.approx(v) if isinstance(v, float) else v for k, v in EXPECTED[name].items()}, (
            name
        )
    shallow = attrs.evolve(B, depth=0.2)
    assert dict(CHANGES)["wing 0.15 m higher"](shallow).depth == 0.15, "never nearer to the surface than that"


def test_a_changed_row_is_the_solvers_answer() -> None:
    row = moved(B, 4.5, "rider +10 %", dict(CHANGES)["rider +10 %"])
    exact = solve(attrs.evolve(B, mass=1.1 * B.mass), [4.5])
    assert row["change"] == "rider +10 %" and row["reason"] is None
    for key in ("lo", "target", "hi", "hard_lo", "hard_hi"):
        assert row[f"{key}_hz"] == pytest.approx(float(getattr(exact, key)[0]))
    assert row["power_w"] == pytest.approx(float(exact.pump.power[0]))
    none = moved(B, 1.0, "as it is", lambda s: s)
    assert none == {"change": "as it is", "reason": "stall", **dict.fromkeys((k for k in row if k[-1] in "wz"), None)}
