"""Flights and attempts from simulated outings with truth (seeds that nothing was fitted on), and parts by hand."""

from __future__ import annotations

import functools
import math
import pickle
from collections import Counter

import numpy as np
import pytest
from mir_eval.util import match_events

from cadence_coach.core.events import (
    AttemptEnded,
    AttemptStarted,
    Calm,
    CycleDone,
    Event,
    FlightEnded,
    FlightStarted,
    Impact,
    Onset,
    PushEnd,
)
from cadence_coach.core.flights import GRACE, SLOWEST_WAIT, FlightFinder, best_stretch
from cadence_coach.core.flown import RECENT, Flown, Swing
from cadence_coach.core.motion import FREE_FALL_TIME, Motion
from cadence_coach.core.units import G
from cadence_coach.sim import simulate_outing

from .plain import Magnitude, Points
from .streams import of, pump_onsets, rows, run

OUTINGS = [("short", 90211), ("step", 90212), ("tow", 90213), ("calm", 90214), ("mixed", 90215), ("dock", 90216)]


@functools.cache
def heard(kind: str, seed: int) -> tuple[list[Event], dict]:
    o = simulate_outing(seed, kind, 100.0, harsh=0.3)
    return run(rows(o)), o.truth


def matched() -> list[tuple[dict, FlightEnded | None]]:
    pairs = []
    for kind, seed in OUTINGS:
        events, truth = heard(kind, seed)
        ours = of(events, FlightEnded)
        for flight in truth["flights"]:
            near = [e for e in ours if abs(e.start - flight["start_s"]) < 1.0 and abs(e.time - flight["end_s"]) < 1.5]
            pairs.append((flight, near[0] if near else None))
    return pairs


def test_pumps_of_flights_are_found_to_50_ms() -> None:
    """Goal 0.995; asked here is what one unlucky rider among six still leaves."""
    right = found = true = 0
    for kind, seed in OUTINGS:
        events, truth = heard(kind, seed)
        onsets, expected = pump_onsets(events), np.array([p["onset_s"] for p in truth["pumps"]])
        right += len(match_events(expected, onsets, 0.05))
        found, true = found + len(onsets), true + len(expected)
    assert true > 200
    assert 2 * right / (found + true) > 0.98


def test_flights_are_found_and_none_invented() -> None:
    pairs = matched()
    assert len(pairs) >= 10
    assert sum(e is None for _, e in pairs) <= 1
    found = sum(len(of(heard(kind, seed)[0], FlightEnded)) for kind, seed in OUTINGS)
    assert found <= len(pairs) + 1
    counts = [abs(e.pumps - f["pumps"]) for f, e in pairs if e is not None]
    assert max(counts) <= 2 and sum(c > 0 for c in counts) <= 0.3 * len(counts)


def test_beginnings_and_endings_are_right_or_unknown() -> None:
    """A dock is left by a leap with or without a run: both words are right there. `unknown` is never wrong."""
    pairs = [(f, e) for f, e in matched() if e is not None]
    wrong_begin = [
        (f["started_by"], e.started_by) for f, e in pairs
        if e.started_by not in (f["started_by"], "unknown") and (f["started_by"], e.started_by) != ("step", "run_up")
    ]  # fmt: skip
    wrong_end = [(f["ended_by"], e.ended_by) for f, e in pairs if e.ended_by not in (f["ended_by"], "unknown")]
    assert len(wrong_begin) <= 1, wrong_begin
    assert len(wrong_end) <= 0.15 * len(pairs), wrong_end
    assert sum(e.started_by != "unknown" for _, e in pairs) >= 0.8 * len(pairs)
    assert sum(f["ended_by"] == e.ended_by for f, e in pairs) >= 0.75 * len(pairs)
    assert len(Counter(e.started_by for _, e in pairs)) >= 3


def test_hardly_a_flight_ashore() -> None:
    """Walking, jogging, hops, knee bends, swimming: of eight outings without a flight at most one has one. Measured: 4
    of 240 unseen ones (seeds from 530000 and 540000); here the first is a walk without heel strikes."""
    found = 0
    for seed in range(90301, 90309):
        o = simulate_outing(seed, "landwalk", 100.0, harsh=0.3)
        assert not o.truth["flights"]
        found += bool(of(run(rows(o)), FlightStarted))
    assert found <= 1


def test_who_steps_off_and_walks_on_has_landed() -> None:
    """Steps follow the last pump at once, as quick as pumps. Six simulated outings off a beach; the bounds
    are our own: all but one right, told within 8 s, where the walk goes on for 8 to 30 s."""
    flights, late = 0, []
    for seed in range(20, 26):
        events, truth = heard("beach", seed)
        flights += len(truth["flights"])
        for f in truth["flights"]:
            right = [
                e for e in of(events, FlightEnded)
                if abs(e.start - f["start_s"]) < 1.0 and abs(e.time - f["end_s"]) < 1.5
            ]  # fmt: skip
            late += [e.known - e.time for e in right]
    assert flights - 1 <= len(late) and flights >= 15
    assert max(late) < 8.0


def test_every_flight_belongs_to_an_attempt() -> None:
    for kind, seed in OUTINGS:
        events, _ = heard(kind, seed)
        begun, over = of(events, AttemptStarted), of(events, AttemptEnded)
        assert [e.attempt for e in begun] == [e.attempt for e in over] == list(range(len(over)))
        assert [e.flight for e in over if e.flight is not None] == [e.flight for e in of(events, FlightEnded)]
        for start, end in zip(of(events, FlightStarted), of(events, FlightEnded), strict=True):
            assert start.flight == end.flight and start.time == end.start and start.known <= end.known
        for e in over:
            assert e.flight is not None or e.pumps <= 2
            assert e.start <= e.time <= e.known


# ---- by hand: events of an even rider, straight into the finder ----


def cycle(
    number: int, onset: float, period: float, peak: float = 2.0, size: float = 0.8, odds: float = 6.0
) -> CycleDone:
    end, push = onset + period, onset + 0.4 * period
    return CycleDone(
        end,
        end + 0.06,
        number,
        onset,
        onset + 0.2 * period,
        push,
        onset + 0.7 * period,
        peak,
        0.3,
        size,
        0.2,
        True,
        odds,
    )


def ride(
    finder: FlightFinder, pumps: int, start: float = 1.0, period: float = 0.625, odd: dict[int, float] | None = None
) -> float:
    """Even pumps, each handed on when the next begins; odd: log-odds of some."""
    t, done, points = start, None, Points(finder)
    for k in range(pumps + 1):
        if done is not None:
            finder.receive(done)
        finder.receive(Onset(t, t + 0.06, k))
        if k == pumps:
            break
        finder.receive(PushEnd(t + 0.4 * period, t + 0.5 * period, k))
        done = cycle(k, t, period, odds=(odd or {}).get(k, 6.0))
        for i in range(round(period / 0.01)):
            phase = i * 0.01 / period
            v = 1.0 + math.sin(2 * math.pi * phase)
            points.step(t + i * 0.01, max(v, 0.0), t + i * 0.01)
        t += period
    return t


def test_an_even_rider_by_hand() -> None:
    """1.6 Hz as made; steadiness 0 and share 0.4 by construction; coasting: the rest is calm."""
    finder = FlightFinder()
    t = ride(finder, 12)
    points = Points(finder)
    for i in range(320):  # and no word from the detector
        points.step(t + i * 0.01, 1.0, t + i * 0.01)
    (start,), (end,) = of(finder.out, FlightStarted), of(finder.out, FlightEnded)
    assert start.time == 1.0 and end.cadence == pytest.approx(1.6) and end.push_share == pytest.approx(0.4)
    assert end.steadiness == pytest.approx(0.0, abs=1e-9) and end.size_g == pytest.approx(0.8)
    assert end.pumps == 13 and end.known == pytest.approx(1.0 + 12 * 0.625 + SLOWEST_WAIT + GRACE, abs=0.011)


@pytest.mark.parametrize("how", ["gap", "end_of_data"])
def test_a_stream_that_stops(how: str) -> None:
    finder = FlightFinder()
    t = ride(finder, 8)
    (finder.gap if how == "gap" else finder.end)(t + 0.1)
    (end,) = of(finder.out, FlightEnded)
    assert end.ended_by == how and end.time <= end.known and not finder.in_flight


def test_a_bounce_in_a_level_glide_is_not_counted() -> None:
    finder, plain = FlightFinder(), FlightFinder()
    for f, odd in ((finder, {8: -3.0}), (plain, {})):
        f.end(ride(f, 16, odd=odd) + 0.1)
    (end,), (other,) = of(finder.out, FlightEnded), of(plain.out, FlightEnded)
    assert end.skipped == (8,) and other.skipped == ()
    assert end.pumps == other.pumps - 1


def test_what_is_none_before_and_after_is_left_out() -> None:
    """Two steps before, a splash in the middle, two strokes after: the flight is what lies between."""
    finder = FlightFinder()
    finder.end(ride(finder, 20, odd={0: -6.0, 1: -6.0, 9: -7.0, 17: -6.0, 18: -6.0, 19: -6.0}) + 0.1)
    (start,), (end,) = of(finder.out, FlightStarted), of(finder.out, FlightEnded)
    assert start.first_cycle == 2 and end.last_cycle == 16 and end.skipped == (9,)
    assert end.pumps == 14


def test_the_best_stretch_is_the_best_of_all() -> None:
    """Against all stretches tried one by one, on 300 random rows."""
    rng = np.random.default_rng(6)
    for _ in range(300):
        row = list(map(float, rng.integers(-6, 5, rng.integers(0, 9))))
        n = len(row)
        for kind, spans in (
            ({}, [(a, b) for a in range(n) for b in range(a + 1, n + 1)]),
            ({"from_the_start": True}, [(0, b) for b in range(1, n + 1)]),
            ({"to_the_end": True}, [(a, n) for a in range(n)]),
        ):
            first, end, total = best_stretch(row, **kind)
            assert total == max([0.0, *(sum(row[a:b]) for a, b in spans)])
            assert total == sum(row[first:end])
            assert total == 0.0 or (first, end) in spans


def test_steadiness_has_its_check_value() -> None:
    """Coefficient of variation (ddof 1) of .60 .62 .58 .61 .59 .60 .64 .57 s: 0.03712385 (numpy gives the same)."""
    gaps = [0.60, 0.62, 0.58, 0.61, 0.59, 0.60, 0.64, 0.57]
    onsets = np.concatenate([[0.0], np.cumsum(gaps)])
    swings = [Swing(Onset(float(t), float(t), k)) for k, t in enumerate(onsets)]
    flown = Flown(swings)
    flown.close(swings)
    assert flown.steadiness == pytest.approx(0.03712385, abs=1e-8)
    assert flown.steadiness == pytest.approx(np.std(gaps, ddof=1) / np.mean(gaps))
    assert flown.period == pytest.approx(np.median(gaps)) and flown.pumps == 9


def test_ten_hours_of_pumping_stay_small() -> None:
    first = [Swing(Onset(0.6 * k, 0.6 * k, k)) for k in range(4)]
    flown = Flown(first)
    sizes = []
    for k in range(4, 60_000):
        swing = Swing(Onset(0.6 * k, 0.6 * k, k))
        swing.done = cycle(k, 0.6 * k, 0.6)
        flown.add(swing)
        if k % 5000 == 0:
            sizes.append(len(pickle.dumps(flown.gaps.kept)) + len(pickle.dumps(flown.sizes.kept)))
            assert len(flown.recent) <= 2 * RECENT + 1 and len(flown.gaps.kept) <= 5000
    flown.close(flown.recent)
    assert flown.pumps == 60_000 and flown.period == pytest.approx(0.6)
    assert max(sizes) < 100_000


# ---- leaps, blows, calm ----


def test_a_leap_lasts_as_long_as_its_drop() -> None:
    """Free fall from height h takes sqrt(2 h / g) (uniform acceleration, any handbook of physics): 0.5 m, 0.319 s."""
    fall = math.sqrt(2 * 0.5 / G)
    motion = Motion([])
    magnitudes = Magnitude(motion)
    magnitude = [1.0] * 50 + [0.0] * round(fall * 100) + [4.0] * 5 + [1.0] * 700
    for i, n in enumerate(magnitude):
        magnitudes.push(0.01 * i, n, 0.01 * i + 0.02)
    (leap,) = motion.leaps
    assert leap[1] == pytest.approx(fall, abs=0.02) and leap[1] > FREE_FALL_TIME
    (blow,) = of(motion.out, Impact)
    assert blow.peak_g == 4.0 and blow.time == pytest.approx(0.5 + fall, abs=0.03)
    (calm,) = of(motion.out, Calm)
    assert calm.time - blow.time > 3.0
    assert motion.roughness(2.0, 3.0) == 0.0 and math.isnan(motion.roughness(50.0, 51.0))


def test_landing_to_push_is_from_the_first_touch() -> None:
    """Against the simulator's truth, seeds not looked at before: of 71 other starts off by 5 ms in the median, 5 to 95
    % by -9 to 44 ms (the landing's hardest moment, which was taken before, comes 0.13 s later)."""
    off = []
    for seed in range(8810, 8822):
        made = simulate_outing(seed, "dock", 100.0)
        found = of(run(rows(made)), AttemptEnded)
        for true in made.truth["attempts"]:
            mine = [a for a in found if a.flight is not None and abs(a.start - true["start_s"]) < 1.0]
            if mine and mine[0].landing_to_push_s is not None and true["landing_to_push_s"] is not None:
                off.append(mine[0].landing_to_push_s - true["landing_to_push_s"])
    assert len(off) >= 15 and abs(np.median(off)) < 0.02 and np.percentile(np.abs(off), 90) < 0.06
