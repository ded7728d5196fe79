"""The whole answer: each figure against what it is said to be, worked out again from the others or by the exact
solver."""

from __future__ import annotations

import functools
import json
import math
from typing import Any

import attrs
import numpy as np
import pytest

from cadence_coach.foil.answer import answer, assumed_effort, plain
from cadence_coach.foil.endurance import Endurance
from cadence_coach.foil.profile import Profile, demo_profile
from cadence_coach.foil.solve import solve

RIDER = Endurance(230.0, 15_000.0)
"""Invented: between the powers that the demo rider's slow and fast speeds ask for."""
SPEEDS = (1.0, 4.0, 4.5, 5.0)


@functools.cache
def profile() -> Profile:
    return demo_profile()


@functools.cache
def given() -> dict[str, Any]:
    return answer(profile(), SPEEDS, RIDER)


def test_it_is_json() -> None:
    assert json.loads(json.dumps(given(), allow_nan=False)) == given()


def test_a_speed_at_which_nobody_pumps_has_drag_and_no_cadence() -> None:
    slow = given()["rows"][0]
    assert not slow["feasible"] and slow["reason"] == slow["reasons"][0] == "stall"
    kept = {"speed_m_s", "feasible", "reason", "reasons", "drag_n", "drag_parts_n"}
    assert {k for k, v in slow.items() if v is not None} == kept
    assert slow["drag_n"] > 0


@pytest.mark.parametrize("row", range(1, len(SPEEDS)))
def test_a_row_agrees_with_itself(row: int) -> None:
    """By the definitions in the module's docstring: 30 % either way, the parts' sum, the body's travel of a sinusoid of
    that size (2 r g / w^2), the Strouhal number 2 H f / V, the power-duration model at the powers' two ends."""
    got = given()["rows"][row]
    g = profile().setup.gravity
    assert got["speed_m_s"] == SPEEDS[row] and got["feasible"] and got["reason"] is None
    assert got["power_lo_w"] == pytest.approx(0.7 * got["power_w"]) and got["power_hi_w"] == pytest.approx(
        1.3 * got["power_w"]
    )
    assert got["drag_n"] == pytest.approx(sum(got["drag_parts_n"].values()))
    w = 2 * math.pi * got["target_hz"]
    assert got["travel_m"] == pytest.approx(2 * got["size_needed_g"] * g / w**2)
    assert got["body_travel_m"] == pytest.approx(2 * got["size_g"] * g / w**2)
    assert got["strouhal"] == pytest.approx(2 * got["heave_m"] * got["target_hz"] / SPEEDS[row])
    assert got["drag_share"] == pytest.approx(got["drag_n"] * SPEEDS[row] / got["power_w"])
    assert got["lasts_lo_s"] == pytest.approx(RIDER.w / (got["power_hi_w"] - RIDER.cp))
    slower = got["power_lo_w"] - RIDER.cp
    assert got["lasts_hi_s"] == (None if slower <= 0 else pytest.approx(RIDER.w / slower))
    edges = ("hard_lo_hz", "outer_lo_hz", "lo_hz", "target_hz", "hi_hz", "outer_hi_hz", "hard_hi_hz")
    assert sorted(got[e] for e in edges[1:-1]) == [got[e] for e in edges[1:-1]]
    assert got["hard_lo_hz"] <= got["lo_hz"] and got["hi_hz"] <= got["hard_hi_hz"]
    assert got["coach_lo_hz"] <= 0.9 * got["coach_target_hz"] * (1 + 1e-9)
    assert got["coach_hi_hz"] >= 1.1 * got["coach_target_hz"] * (1 - 1e-9)
    assert got["share_lo"] < got["share"] < got["share_hi"]


def test_what_lasts_so_long() -> None:
    """1, 2, 3, 5, 10, 20, 30 min: the power by t = W'/(P - CP) (Monod & Scherrer 1965); no speed of a finer grid
    beyond the two ends needs less."""
    rows = given()["holds"]
    assert [r["duration_s"] / 60 for r in rows] == [1, 2, 3, 5, 10, 20, 30]
    fine = np.linspace(given()["lowest_speed_m_s"], given()["highest_speed_m_s"], 301)
    solved = solve(profile().setup, fine)
    one_step = (fine[-1] - fine[0]) / 39
    some = 0
    for r in rows:
        assert r["power_w"] == pytest.approx(RIDER.cp + RIDER.w / r["duration_s"])
        assert [r["power_lo_w"], r["power_hi_w"]] == pytest.approx([0.7 * r["power_w"], 1.3 * r["power_w"]])
        possible = fine[solved.feasible & (solved.pump.power <= r["power_w"])]
        if r["speed_lo_m_s"] is None:
            assert np.ptp(possible) < one_step if len(possible) else True
            continue
        some += 1
        assert -1e-9 <= r["speed_lo_m_s"] - possible[0] + 1e-3 <= one_step + 1e-3
        assert -1e-9 <= possible[-1] - r["speed_hi_m_s"] + 1e-3 <= one_step + 1e-3
    assert some >= 3


def test_less_drag_lasts_longer() -> None:
    """At cruise speed, for 0 to 25 % less power in steps of 5 %."""
    rows = given()["less_drag"]
    assert [r["less_drag"] for r in rows] == [0, 0.05, 0.10, 0.15, 0.20, 0.25]
    (cruise,) = solve(profile().setup, [given()["cruise_speed_m_s"]]).pump.power
    for r in rows:
        power = cruise * (1 - r["less_drag"])
        assert r["power_w"] == pytest.approx(power)
        for key, share in (("lasts_lo_s", 1.3), ("lasts_s", 1.0), ("lasts_hi_s", 0.7)):
            over = share * power - RIDER.cp
            assert r[key] == (None if over <= 0 else pytest.approx(RIDER.w / over)), key


def test_a_rider_of_whom_nothing_is_known() -> None:
    """3.1 W and 220 J a kilogram: 233 W and 16.5 kJ of 75 kg, inside what is published of recreational cyclists (200 to
    260 W, 12 to 22 kJ; from memory). Heavier riders have less a kilogram: with mass^0.75 (allometry, from memory)
    16 times the mass has 8 times the power, by hand; 60 and 100 kg are 0.806 and 1.182 times 80 kg."""
    assert attrs.astuple(assumed_effort(75.0))[:2] == pytest.approx((232.5, 16_500.0))
    assert attrs.astuple(assumed_effort(16 * 75.0))[:2] == pytest.approx((8 * 232.5, 8 * 16_500.0))
    for mass, share in ((60.0, 0.806), (100.0, 1.182)):
        assert assumed_effort(mass).cp / assumed_effort(80.0).cp == pytest.approx(share, abs=0.0005)
    assert given()["effort"]["source"] == "given"
    assert answer(profile(), SPEEDS, RIDER, source="own flights")["effort"]["source"] == "own flights"
    assumed = answer(profile(), SPEEDS)["effort"]
    assert assumed["source"] == "assumed" and assumed["cp_w"] == assumed_effort(profile().setup.mass).cp


def test_plain_values_have_no_infinity_in_them() -> None:
    assert plain({"a": (1.5, math.inf, {"b": math.nan}), "c": [RIDER]}) == {
        "a": [1.5, None, {"b": None}],
        "c": [{"cp": 230.0, "w": 15_000.0, "p_max": None}],
    }
