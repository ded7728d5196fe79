"""The truth of an outing against its motion, measured again another way."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from scipy.interpolate import CubicSpline

from cadence_coach.sim.aloft import Truth, fly, measure
from cadence_coach.sim.craft import random_craft
from cadence_coach.sim.ride import ride
from cadence_coach.sim.story import KINDS, Outing
from cadence_coach.sim.style import draw_pumps, draw_style, glide_lead, landing_lead
from cadence_coach.sim.track import Track
from cadence_coach.sim.waveform import DT, even_pumps

FINE = 1e-4
"""[s] truth read between samples of 1 ms against a cubic spline through them."""


@pytest.fixture(scope="module", params=["calm", "rough", "short", "tow", "step", "dock", "swell", "mixed"])
def story(request: pytest.FixtureRequest) -> Outing:
    tell, harsh, wild = KINDS[request.param]
    rng = np.random.default_rng(sum(map(ord, request.param)))
    out = Outing(rng, random_craft(rng), harsh=harsh, wild=wild)
    tell(out)
    return out


def test_onsets_and_push_ends_are_crossings_of_one_g(story: Outing) -> None:
    n = story.track.whole()["n"]
    t = np.arange(len(n)) * DT
    for pump in story.truth.pumps:
        for key, up in (("onset_s", True), ("push_end_s", False)):
            i = round(pump[key] / DT)
            spline = CubicSpline(t[i - 6 : i + 7], n[i - 6 : i + 7] - 1)
            roots = spline.roots(extrapolate=False)
            assert np.min(np.abs(roots - pump[key])) < FINE
            assert (spline(pump[key], 1) > 0) == up
        a, b = (round(pump[k] / DT) for k in ("onset_s", "push_end_s"))
        assert pump["peak_g"] == pytest.approx(n[a:b].max(), abs=1e-9)
        assert pump["onset_s"] < pump["peak_s"] < pump["push_end_s"]


def test_between_push_end_and_next_onset_it_is_a_glide(story: Outing) -> None:
    n, pumps = story.track.whole()["n"], story.truth.pumps
    for flight in story.truth.flights:
        own = [p for p in pumps if flight["start_s"] - 1e-9 <= p["onset_s"] < flight["end_s"]]
        assert len(own) == flight["pumps"] >= 3
        for one, two in pairwise(own):
            a, b = round(one["push_end_s"] / DT) + 1, round(two["onset_s"] / DT) - 1
            assert n[a:b].mean() < 1.0
            assert n[a:b].max() < 1.03  # a bump late in the glide, or a level one at the top, is no second push


def test_travel_is_the_twice_integrated_force(story: Outing) -> None:
    """From onset to onset the drift of the velocity taken out by the body's own path: integrate n and compare
    shapes."""
    whole, pumps = story.track.whole(), story.truth.pumps
    for pump in pumps[:-1]:
        if pump["travel_m"] is None:
            continue
        a = round(pump["onset_s"] / DT)
        z = whole["height"][a : a + 1500]
        v0 = (z[1] - z[0]) / DT
        again = (
            z[0]
            + v0 * np.arange(len(z)) * DT
            + np.cumsum(np.cumsum((whole["n"][a : a + 1500] - 1) * 9.80665)) * DT * DT
        )
        assert np.max(np.abs(again - z)[:400]) < 0.01
        assert 0 < pump["travel_m"] < 1.0


def test_size_is_the_once_per_pump_part_by_least_squares(story: Outing) -> None:
    """numpy's least squares for a level, a sine and a cosine of one turn a pump: the same amplitude."""
    n, pumps = story.track.whole()["n"], story.truth.pumps
    seen = 0
    for pump, after in pairwise(pumps):
        if pump["size_g"] is None or after["onset_s"] - pump["onset_s"] > 1.2:
            continue
        a, b = round(pump["onset_s"] / DT), round(after["onset_s"] / DT)
        turn = 2 * np.pi * np.arange(b - a) / (b - a)
        level = np.column_stack([np.ones(b - a), np.cos(turn), np.sin(turn)])
        _, *parts = np.linalg.lstsq(level, n[a:b], rcond=None)[0]
        assert pump["size_g"] == pytest.approx(float(np.hypot(*parts)), rel=2e-3)
        assert 0.02 < pump["size_g"] < 1.6
        seen += 1
    assert seen


def test_flights_and_attempts_fit_together(story: Outing) -> None:
    truth = story.truth
    onsets = [p["onset_s"] for p in truth.pumps]
    assert onsets == sorted(onsets)
    for before, after in pairwise(truth.attempts):
        assert before["end_s"] <= after["start_s"]
    for attempt in truth.attempts:
        assert attempt["started_by"] in ("run_up", "rope", "step")
        assert attempt["ended_by"] in ("fall", "touch_down", "coast_out")
        if attempt["flight"] is not None:
            flight = truth.flights[attempt["flight"]]
            assert attempt["start_s"] <= flight["start_s"] and flight["started_by"] == attempt["started_by"]
        else:
            assert attempt["pumps"] < 3 or max(np.diff(attempt["onsets_s"])) > 1.6
        if attempt["landing_g"] is not None:
            assert 1.2 < attempt["landing_g"] < 9


def test_a_flight_is_no_run_up() -> None:
    """However the start went: the first pump of truth lies after the landing."""
    for seed in range(8):
        rng = np.random.default_rng(seed)
        out = Outing(rng, random_craft(rng), wild=0.7)
        out.attempt("run_up", out.pumps(5), end="fall", carried=True)
        attempt = out.truth.attempts[0]
        assert attempt["pumps"] == 5
        assert attempt["landing_to_push_s"] > 0.15
        n = out.track.whole()["n"]
        landing = round(attempt["start_s"] / DT)
        assert n[landing - 60 : landing - 20].max() < 0.3  # in the air just before


def test_shoulder_above_one_g_belongs_to_the_push() -> None:
    craft = random_craft(np.random.default_rng(1))
    plain = even_pumps(8, 0.65, 0.4, 0.9)
    ledge = even_pumps(8, 0.65, 0.4, 0.9)
    ledge.shoulder[:], ledge.shoulder_height[:], ledge.shoulder_kind[:] = 0.4, 0.25, 3
    light = np.full(200, -0.3)
    a = measure(ride(craft, plain, speed=5.0, lead=light), plain)
    b = measure(ride(craft, ledge, speed=5.0, lead=light), ledge)
    assert len(a) == len(b) == 8
    for one, two in zip(a[2:], b[2:], strict=True):
        assert two["onset_s"] == pytest.approx(one["onset_s"], abs=0.03)
        assert two["peak_s"] - two["onset_s"] > one["peak_s"] - one["onset_s"] + 0.02


def test_glide_at_the_top_is_one_pump_and_a_long_one_ends_the_flight() -> None:
    rng = np.random.default_rng(3)
    track, truth = Track(rng), Truth()
    style = draw_style(rng, wild=0.2)
    style.rest_chance = 0.0
    pumps = draw_pumps(rng, style, 12)
    pumps.rest[3], pumps.rest[7] = 0.5, 4.0
    fly(
        track, truth, random_craft(rng), pumps, started_by="rope", ended_by="fall",
        lead=glide_lead(rng, 3.0, 0.06), sink=0.0,
        speed=5.0, target=5.0, carried=True, landing=False, rope=2.5,
    )  # fmt: skip
    assert [f["pumps"] for f in truth.flights] == [8, 4]
    assert truth.flights[1]["started_by"] == "unknown"
    assert truth.flights[0]["ended_by"] == "coast_out"


def test_landing_takes_up_the_fall() -> None:
    """The impulse of the landing, until the rider stands, is about the speed of the fall."""
    for seed in range(20):
        rng = np.random.default_rng(seed)
        lead = landing_lead(rng, 2.5, 0.8, 0.08)
        taken = np.sum(lead[:400].clip(0)) * DT * 9.80665
        assert 0.75 * 2.5 < taken < 1.15 * 2.5
        assert 0.8 < lead.max() < 4.5


def test_every_pump_meant_is_in_the_truth() -> None:
    """Also the first one after a hard landing: the rider gets light before it, so that it has an onset of its own."""
    coasted = 0
    for seed in range(24):
        rng = np.random.default_rng([seed, 7])
        out = Outing(rng, random_craft(rng), wild=1.0)
        out.attempt(("run_up", "dock", "rope", "step")[seed % 4], out.pumps(5), end="coast_out", carried=True)
        attempt = out.truth.attempts[0]
        if attempt["ended_by"] == "coast_out":  # else it got too slow on the way
            coasted += 1
            assert attempt["pumps"] == 5
    assert coasted >= 18
