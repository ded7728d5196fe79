"""Looking back on simulated riders, against their exact truth: how flights ended, and the four parts of a pump."""

from __future__ import annotations

import os
from collections import Counter
from types import SimpleNamespace

import numpy as np
import pytest

from cadence_coach.review.again import from_rows
from cadence_coach.review.endings import Signs, judged, signs
from cadence_coach.review.figures import look
from cadence_coach.review.restudy import engine_of
from cadence_coach.sim.outing import simulate_outing
from cadence_coach.sim.sensor import Sensor
from cadence_coach.sources.simulated import rows_of
from tests.review.build import Fly, Plan, make

LONG = os.environ.get("CADENCE_COACH_LONG") == "1"
SEEDS = range(7000, 7040) if LONG else range(7000, 7010)
"""Not looked at while the signs were chosen."""

PART_WITHIN = 0.02
"""Share of a pump: what the four parts must be right to."""


def ending(told: str) -> SimpleNamespace:
    return SimpleNamespace(time=30.0, start=10.0, ended_by=told)


def test_how_simulated_flights_ended():
    """From the true end of each flight on. What is lost is mostly a board that stalls under the rider ("touch_down")
    and drops him as a fall does: nothing that a body feels tells the two apart, and where they meet nothing is said. Of
    1028 endings of 340 outings of all kinds, of seeds not looked at before, 96.4 % are right and 1.9 % wrong; of the
    431 in short flights 95.1 % and 2.3 %."""
    found: Counter[tuple[str, str]] = Counter()
    for seed in SEEDS:
        made = simulate_outing(seed, "short", 100.0)
        push_ends = np.array([p["push_end_s"] for p in made.truth["pumps"]])
        onsets = np.array([p["onset_s"] for p in made.truth["pumps"]])
        starts = [SimpleNamespace(start=f["start_s"]) for f in made.truth["flights"]]
        outing = SimpleNamespace(accel=made.accel, flights=starts)
        for f in made.truth["flights"]:
            last = int(np.searchsorted(onsets, f["end_s"])) - 1
            flight = SimpleNamespace(time=f["end_s"], start=f["start_s"], ended_by="unknown")
            seen = signs(outing, flight, [SimpleNamespace(push_end=push_ends[last])])
            found[f["ended_by"], judged(flight, seen)] += 1
    total = sum(found.values())
    right = sum(n for (truth, said), n in found.items() if truth == said)
    unknown = sum(n for (_, said), n in found.items() if said == "unknown")
    assert total >= 35
    assert right / total >= (0.94 if LONG else 0.9), found
    assert (total - right - unknown) / total <= (0.035 if LONG else 0.06), found


CALM = Signs(calm_s=2.0, blow_s=2.2, light_s=0.3, stood_s=2.0, bump_g=1.1, tipped_deg=60.0, leaned_deg=5.0)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({}, "coast_out"),
        ({"leaned_deg": 45.0}, "coast_out"),  # down a swell
        ({"leaned_deg": 65.0}, "fall"),  # calm, but lying: that is the water
        ({"blow_s": 0.1, "stood_s": -0.2}, "fall"),  # calm, but after a blow
        ({"calm_s": 0.2, "stood_s": 0.6}, "touch_down"),
        ({"calm_s": 0.2, "stood_s": 2.6}, "coast_out"),  # too long for a board that touched
        ({"calm_s": 0.58, "stood_s": 0.6, "bump_g": 1.02}, "coast_out"),  # calm right up to the drop
        ({"calm_s": 0.58, "stood_s": 0.6}, "touch_down"),
        ({"calm_s": 0.33, "stood_s": 0.34, "bump_g": 1.02}, "touch_down"),
        ({"calm_s": 0.2, "stood_s": 0.1}, "fall"),
        ({"calm_s": 0.2, "stood_s": 0.6, "light_s": 0.0}, "fall"),
        ({"calm_s": 0.2, "stood_s": 0.0, "light_s": 0.1, "tipped_deg": 10.0}, "touch_down"),
        ({"calm_s": 0.2, "stood_s": 0.0, "light_s": 0.3, "tipped_deg": 10.0}, "fall"),
        ({"calm_s": 0.2, "stood_s": 0.0, "light_s": 0.1, "tipped_deg": 45.0}, "fall"),
        ({"calm_s": 0.2, "stood_s": 0.0, "light_s": 0.1, "tipped_deg": 30.0}, "unknown"),  # a stall or a fall
        ({"calm_s": 0.2, "stood_s": 0.0, "light_s": 0.15, "tipped_deg": 20.0}, "unknown"),
        ({"calm_s": 0.2, "stood_s": 0.0, "light_s": 0.15, "tipped_deg": 20.0, "again": True}, "touch_down"),
        ({"calm_s": 0.2, "stood_s": 0.0, "light_s": 0.4, "again": True}, "fall"),
        ({"calm_s": 0.2, "stood_s": 0.0, "light_s": 0.15, "tipped_deg": 20.0, "pumped_on": True}, "coast_out"),
        ({"calm_s": 0.2, "stood_s": 0.6, "pumped_on": True}, "coast_out"),
        ({"calm_s": 0.2, "stood_s": 0.0, "light_s": 0.4, "pumped_on": True}, "fall"),
        ({"calm_s": 0.2, "blow_s": None, "bump_g": 2.5}, "fall"),
        ({"calm_s": 0.2, "blow_s": None, "bump_g": 1.5}, "touch_down"),
        ({"calm_s": 0.2, "blow_s": None, "bump_g": 1.1}, "unknown"),
    ],
)
def test_what_the_signs_say(changes, said):
    import attrs

    assert judged(ending("fall"), attrs.evolve(CALM, **changes)) == said


@pytest.mark.parametrize(("second", "said"), [(10.85, "touch_down"), (None, "fall"), (14.5, "fall")])
def test_a_board_that_touched_is_left_once_more(second, said):
    """Pumps until 10 s, the last glide, a blow at 10.2 s; standing again, and off the board at `second`."""
    t = np.arange(0.0, 20.0, 0.01)
    g = np.where((t > 4.0) & (t < 10.0), 1.0 + 0.6 * np.sin(2 * np.pi * (t - 4.0) / 0.6), 1.0)

    def blow(at: float, high: float) -> None:
        g[(t > at - 0.14) & (t < at)] = 0.3
        g[(t >= at) & (t < at + 0.12)] = high

    blow(10.2, 1.95)
    if second is not None:
        blow(second, 3.0)
    lie = t > (11.35 if second == 10.85 else 10.7)  # in the water nobody is upright
    force = np.column_stack([np.where(lie, g, 0.0), 0.0 * t, np.where(lie, 0.0, g)])
    accel = np.column_stack([t, force * 9.80665])
    flight = SimpleNamespace(time=10.0, start=4.0, ended_by="fall")
    found = signs(SimpleNamespace(accel=accel, flights=[]), flight, [SimpleNamespace(push_end=9.7)])
    assert found.again == (said == "touch_down")
    assert judged(flight, found) == said


def cycle(onset: float, push: float = 0.3, peak: float = 1.6) -> SimpleNamespace:
    return SimpleNamespace(onset=onset, push_end=onset + push, peak_g=peak, period=0.6)


@pytest.mark.parametrize(
    "last",
    [
        cycle(10.0, push=0.2),  # a bump
        cycle(10.0, push=0.45),
        cycle(10.0, peak=1.3),
        cycle(10.0, peak=2.0),  # the water
        cycle(10.3),  # too late
    ],
)
def test_a_board_that_touches_is_no_last_pump(last):
    """Pumps every 0.6 s, the last real one from 9.4 s on: its push ends at 9.7 s and its period at 10 s, whatever the
    detector took for one more. He is light once, when he drops off at 11 s, and was calm for a second before."""
    pumps = [cycle(10.0 - 0.6 * k) for k in range(8, 0, -1)]
    t = np.arange(0.0, 20.0, 0.01)
    g = np.where((t > 11.0) & (t < 11.2), 0.3, np.where((t >= 11.2) & (t < 11.35), 2.5, 1.0))
    outing = SimpleNamespace(accel=np.column_stack([t, 0.0 * t, 0.0 * t, g * 9.80665]), flights=[])
    found = signs(outing, SimpleNamespace(time=last.onset + 0.6, start=5.0), [*pumps, last])
    assert found.calm_s == pytest.approx(1.0, abs=0.05)
    regular = signs(outing, SimpleNamespace(time=10.6, start=5.0), [*pumps, cycle(10.0)])
    assert regular.calm_s == pytest.approx(0.4, abs=0.05)


@pytest.mark.parametrize(("start", "on"), [(10.5, True), (16.5, True), (17.5, False), (9.0, False)])
def test_who_pumps_again_at_once_has_not_fallen(start, on):
    t = np.arange(0.0, 20.0, 0.01)
    outing = SimpleNamespace(
        accel=np.column_stack([t, 0.0 * t, 0.0 * t, 0.0 * t + 9.80665]), flights=[SimpleNamespace(start=start)]
    )
    assert signs(outing, SimpleNamespace(time=10.0, start=5.0)).pumped_on == on


def test_what_is_certain_stays_and_no_signs_leave_the_detectors_word():
    assert judged(ending("gap"), CALM) == "gap"
    assert judged(ending("end_of_data"), CALM) == "end_of_data"
    assert judged(ending("touch_down"), None) == "touch_down"


def test_a_hole_after_the_flight_gives_no_signs():
    outing = make(Plan([Fly(10.0, [0.6] * 10)], gaps=[(16.5, 17.5)]))
    assert signs(outing, outing.flights[0], outing.cycles) is None
    assert signs(make(Plan([Fly(10.0, [0.6] * 10)], length=17.0)), outing.flights[0], outing.cycles) is None


@pytest.mark.parametrize(("share", "period"), [(0.35, 0.6), (0.45, 0.7), (0.55, 0.6)])
def test_four_parts_of_a_known_pump_through_the_detector(share, period):
    """Half-sine push and glide: d/2, d/2, (1-d)/2, (1-d)/2, through sensor, detector and figures."""
    made = make(Plan([Fly(15.0, [period] * 40, share=share, height=0.8, landing_to_push=None)]))
    found = look(from_rows([list(made.rows())], engine_of(None)))
    assert found.figures.flights, "the detector found no flight"
    flight = max(found.figures.flights, key=lambda f: f.pumps)
    parts = [flight.parts[name].share for name in ("catch", "shove", "ease", "gather")]
    assert parts == pytest.approx([share / 2, share / 2, (1 - share) / 2, (1 - share) / 2], abs=PART_WITHIN)


def parts_off(seeds, sensor: Sensor | None) -> np.ndarray:
    """Catch and shove of each flight with eight pumps known to both, minus the truth's (median of either); shape
    [flights, 2]."""
    off = []
    for seed, kind in [(s, k) for s in seeds for k in ("calm", "dock", "mixed")]:
        made = simulate_outing(seed, kind, 100.0, sensor=sensor)
        marks = [(p["onset_s"], p["peak_s"], p["push_end_s"]) for p in made.truth["pumps"]]
        if len(marks) < 8:
            continue
        truth = np.array(marks) - made.accel[0, 0]  # the outing begins at its first sample
        found = look(from_rows(rows_of(made.accel, made.gyro, made.fixes), engine_of(None)))
        for pumps in found.pumps:
            near = np.abs(truth[:, 0][:, None] - pumps.onset[None, :])
            row = near.argmin(axis=0)
            paired = (near.min(axis=0) < 0.08) & (row + 1 < len(truth))
            row = np.minimum(row, len(truth) - 2)
            period = truth[row + 1, 0] - truth[row, 0]
            paired &= np.abs(period - pumps.period) < 0.08
            if paired.sum() < 8:
                continue
            true_parts = np.array([truth[row, 1] - truth[row, 0], truth[row, 2] - truth[row, 1]]) / period
            off.append(np.median(pumps.parts[:2, paired], axis=1) - np.median(true_parts[:, paired], axis=1))
    return np.abs(np.array(off))


def test_parts_of_the_push_with_the_phone_held_firmly():
    """Of 148 flights of 32 seeds not looked at before: catch and shove within 0.02 in 99 %, medians off by 0.004."""
    off = parts_off(list(SEEDS)[: 8 if LONG else 1], Sensor(rate=100.0))
    assert len(off) >= 3
    assert np.median(off) <= PART_WITHIN / 2
    assert (off <= PART_WITHIN).mean() >= (0.95 if LONG else 0.9), off
    assert off.max() <= 2 * PART_WITHIN, off  # two flat-topped pushes of these: 0.025 and 0.0304


def test_parts_of_the_push_in_a_pouch():
    """A pouch that rings at 7-18 Hz bends the flat top of a push: of 326 flights of 64 seeds not looked at before,
    catch within 0.02 in 90 %, shove in 93 %, medians off by 0.006 and 0.005. No way to take the ringing out was
    found that did better (DEVELOPERS.md, "Looking back")."""
    off = parts_off(list(SEEDS)[: 8 if LONG else 1], None)
    assert len(off) >= 4
    assert np.median(off) <= PART_WITHIN / 2
    assert (off <= PART_WITHIN).mean() >= 0.8, off
    assert np.percentile(off, 95) <= 0.03 if LONG else off.max() <= 0.05


@pytest.mark.parametrize("kind", ["short", "rough"])
def test_steadiness_and_cadence_are_those_that_the_coach_told(kind):
    """One figure in word, `replay` and review, also where a bounce in between was none."""
    made = simulate_outing(7001, kind, 100.0)
    outing = from_rows(rows_of(made.accel, made.gyro, made.fixes), engine_of(None))
    found = look(outing).figures.flights
    assert len(found) >= 2
    for f, told in zip(found, outing.flights, strict=True):
        assert (f.steadiness, f.cadence_hz) == pytest.approx((told.steadiness, told.cadence))
