"""The click train: in phase with the rider, never double, never dropped, never moved noticeably."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from statistics import fmean

import pytest

from cadence_coach.core.beat import Beat
from cadence_coach.core.events import Click, Event, FlightEnded, FlightStarted, Gap, Onset
from cadence_coach.core.rules import ACTS_AFTER_S, ACTS_BEFORE_S, CLICK_FADES_S, FADE_BEATS
from tests.core.riders import TARGET, Flight, Outing

ROUNDING = 1e-9
"""Relative, for sums of floats."""


def clicks(events: list[Event], *, until: float = math.inf, **chosen: object) -> list[Click]:
    """Drive a Beat as the coach does; `chosen` are attributes of it."""
    beat = Beat()
    for name, value in chosen.items():
        setattr(beat, name, value)
    out: list[Event] = []
    for e in events:
        if e.known > until:
            break
        beat.advance(e.known)
        beat.receive(e)
        if isinstance(e, FlightStarted):
            beat.begin(e.first_cycle, e.known)
        elif isinstance(e, FlightEnded):
            beat.stop()
        out += beat.events()
    beat.advance(1e9)
    out += beat.events()
    assert all(isinstance(e, Click) for e in out)
    return [e for e in out if isinstance(e, Click)]


def flown(seed: int, pumps: int = 120, **how: object) -> Outing:
    return Outing(seed).fly(Flight(pumps, **how))  # type: ignore[arg-type]


def step(by: float, at: int = 60) -> Callable[[int], float]:
    return lambda k: TARGET * (1.0 if k < at else by)


def moves(train: list[Click]) -> None:
    """The limits: from one beat to the next, and of tempo in four beats."""
    times = [c.time for c in train]
    intervals = [b - a for a, b in pairwise(times)]
    for before, after in pairwise(intervals):
        assert abs(after - before) <= 0.025 * before * (1 + ROUNDING)
    for interval, click in zip(intervals, train[1:], strict=False):
        assert abs(interval - click.period) <= 0.025 * click.period * (1 + ROUNDING)
    for j in range(1, 5):
        for a, b in zip(train, train[j:], strict=False):
            assert abs(b.period - a.period) <= 0.03 * a.period * (1 + ROUNDING)


@pytest.mark.parametrize("seed", range(20))
@pytest.mark.parametrize(
    "how",
    [
        {"cv": 0.02},
        {"cv": 0.04},
        {"cv": 0.04, "motor": 0.6},
        {"cadence": step(1.1), "cv": 0.03},
        {"cadence": step(0.9), "cv": 0.03},
        {"cadence": lambda k: TARGET * (1 + 0.06 * math.sin(k / 9)), "cv": 0.03},
        {"missed": (30, 55, 80), "cv": 0.03},
        {"cadence": step(1.06), "missed": (58, 63), "cv": 0.04},
    ],
    ids=["steady", "rough", "motor", "quicker", "slower", "wave", "missed", "missed at a step"],
)
@pytest.mark.parametrize("lead", ["rider", "target"])
def test_one_click_a_beat_within_the_limits(seed: int, how: dict[str, object], lead: str) -> None:
    outing = flown(seed, **how)
    train = clicks(outing.events, lead=lead, goal=1.5 if lead == "target" else None)
    assert len(train) > 100
    moves(train)  # so no interval is doubled or halved
    assert all(c.time - c.known >= 0.3 - ROUNDING for c in train)
    # as many clicks as pumps from the first to the last: none too many, none too few
    aloft = [c for c in train if c.time <= outing.onsets[-1] + 0.25 * c.period]
    pumps = sum(t >= aloft[0].time - 0.25 / TARGET for t in outing.onsets)
    assert abs(len(aloft) - pumps) <= 1


@pytest.mark.parametrize("seed", range(20))
def test_the_click_is_with_the_rider(seed: int) -> None:
    """Mean asynchrony inside what is left alone (80 ms before to 20 ms after the click), spread not much over the
    rider's own."""
    outing = flown(seed, pumps=200, cv=0.03)
    train = clicks(outing.events)
    off = [min((t - c.time for t in outing.onsets), key=abs) for c in train[:150]]
    assert -ACTS_BEFORE_S <= fmean(off) <= ACTS_AFTER_S
    assert math.sqrt(fmean(x * x for x in off)) < 0.09


def test_a_rider_ahead_of_the_click_is_not_chased() -> None:
    """Someone who steps 50 ms before each click, as people do (Repp 2005, from memory), keeps the tempo; a click
    moved to the onset each beat would be at 1.7 times the tempo by then (0.05 s gained a beat)."""
    beat, t, out = Beat(), 10.0, []
    period = 0.7
    for k in range(8):
        beat.receive(Onset(t, t + 0.05, k))
        t += period
    beat.begin(0, t - period + 0.06)
    out += beat.events()
    for k in range(8, 208):
        while not out or out[-1].time < t - 0.35 * period:  # the click this onset goes with
            beat.advance(beat.deadline)
            out += beat.events()
        t = out[-1].time - 0.05
        beat.receive(Onset(t, t + 0.05, k))
        t += period
    assert 0.98 * period <= out[-1].time - out[-2].time <= 1.02 * period


def test_off_until_six_pumps_within_eight_per_cent() -> None:
    outing = flown(3, cv=0.0)
    train = clicks(outing.events)
    assert train[0].known >= outing.onsets[6]
    assert train[0].known <= outing.onsets[6] + 0.1
    rough = flown(3, pumps=40, cadence=lambda k: TARGET * (1.15 if k % 2 else 0.9), cv=0.0)
    assert clicks(rough.events) == []


def test_the_run_up_is_no_beat() -> None:
    """Steps at 2.8 Hz before the first pump: the click goes by the pumps alone."""
    outing = flown(4, cv=0.01)
    steps = [Onset(5.0 - 0.36 * k, 5.05 - 0.36 * k, -k) for k in range(8, 0, -1)]
    train = clicks([*steps, *outing.events])
    assert train == clicks(outing.events)
    assert abs(train[0].period - 1 / TARGET) < 0.02


def test_a_stop_is_not_clicked_into() -> None:
    outing = flown(5, pumps=40, cv=0.02)
    last = outing.onsets[-1]
    train = clicks(outing.events)
    assert sum(c.time > last + 0.25 / TARGET for c in train) <= 2
    assert train[-1].time < last + 2.3 / TARGET


def test_two_clicks_at_most_without_an_onset_and_back_in_phase_when_pumping_goes_on() -> None:
    """The end of the flight is not known yet, and need not come: nothing is clicked into the silence."""
    outing = flown(5, pumps=60, cv=0.01)
    stop, on = outing.onsets[30], outing.onsets[40]
    aloft = [e for e in outing.events if not stop < e.time < on and not isinstance(e, FlightEnded)]
    train = clicks(aloft, until=on)
    assert 1 <= sum(c.time > stop + 0.25 / TARGET for c in train) <= 2
    again = [c for c in clicks(aloft) if c.known > on]
    assert again
    assert all(
        abs(min((c.time - t for t in outing.onsets), key=abs)) < 0.1 for c in again if c.time < outing.onsets[-1]
    )


def test_a_second_flight_starts_its_own_train() -> None:
    outing = flown(6, pumps=30, cv=0.02).wait(20)
    outing.fly(Flight(30, cv=0.02, cadence=lambda k: 1.25))
    train = clicks(outing.events)
    second = [c for c in train if c.time > outing.starts[1]]
    assert second[0].time > outing.starts[1] + 5 / 1.25
    off = min((second[0].time - t for t in outing.onsets[30:]), key=abs)
    assert abs(off) < 0.06
    assert abs(second[0].period - 0.8) < 0.03


def test_a_gap_stops_the_train() -> None:
    outing = flown(7, pumps=60, cv=0.02)
    at = outing.onsets[30]
    gapped = [e for e in outing.events if not at < e.known < at + 1.0]
    gapped.append(Gap(at, at + 1.0, at + 1.0))
    gapped.sort(key=lambda e: e.known)
    train = clicks(gapped)
    assert not [c for c in train if at + 1.0 < c.known < at + 1.0 + 5 / TARGET]
    assert [c for c in train if c.known > at + 1.0 + 6 / TARGET]


def test_the_goal_is_reached_when_the_rider_follows() -> None:
    """A rider who takes over half of each asynchrony and of the tempo is led from 1.4 to 1.5 Hz; the click never runs
    further than an eighth of a period and a step ahead."""
    beat, t, period, out = Beat("target"), 10.0, 1 / 1.4, []
    beat.goal = 1.5
    for k in range(8):
        beat.receive(Onset(t, t + 0.05, k))
        t += period
    beat.begin(0, t - period + 0.06)
    out += beat.events()
    for k in range(8, 108):
        while not out or out[-1].time < t - 0.4 * period:
            beat.advance(beat.deadline)
            out += beat.events()
        ahead = t - out[-1].time
        assert ahead < (0.125 + 0.05) * period
        t -= 0.5 * ahead
        period += 0.1 * (out[-1].period - period)
        beat.receive(Onset(t, t + 0.05, k))
        t += period
    moves(out)
    assert 1 / out[-1].period == pytest.approx(1.5, rel=0.005)
    assert 1 / period == pytest.approx(1.5, rel=0.01)


def test_a_rider_who_does_not_follow_is_pulled_but_not_left() -> None:
    outing = flown(8, pumps=150, cv=0.0)
    train = clicks(outing.events, lead="target", goal=1.6)
    for c in train[30:140]:
        off = min((c.time - t for t in outing.onsets), key=abs)
        assert -0.16 / TARGET < off < 0.02, "ahead of the rider, and on this side of him"


@pytest.mark.parametrize("lead", ["silent", "muted"])
def test_silence_is_chosen(lead: str) -> None:
    outing = flown(9)
    how = {"lead": "silent"} if lead == "silent" else {"muted": True}
    assert clicks(outing.events, **how) == []


def test_fades_in_band_and_comes_back() -> None:
    outing = flown(10, pumps=150, cv=0.01)
    beat, out = Beat(), []
    since = outing.onsets[8]
    back = outing.onsets[100]
    for e in outing.events:
        beat.advance(e.known)
        beat.receive(e)
        if isinstance(e, FlightStarted):
            beat.begin(e.first_cycle, e.known)
        beat.in_band(since if since <= e.known < back else None)
        out += beat.events()
    faded = [c for c in out if since + CLICK_FADES_S < c.known < back]
    assert len(faded) == FADE_BEATS - 1
    assert [c.level for c in faded] == pytest.approx([1 - (k + 1) / FADE_BEATS for k in range(FADE_BEATS - 1)])
    again = [c for c in out if c.known >= back]
    assert all(c.level == 1.0 for c in again)
    off = min((t - again[0].time for t in outing.onsets), key=abs)
    assert -ACTS_BEFORE_S - 0.02 < off < ACTS_AFTER_S + 0.02, "the train went on silently: back on the beat"


def test_no_click_in_the_first_pumps_after_the_sound_took_another_way() -> None:
    outing = flown(11, pumps=60, cv=0.01)
    beat, out, told = Beat(), [], outing.onsets[30] + 0.2
    done = False
    for e in outing.events:
        if e.known > told and not done:
            beat.advance(told)
            beat.route_changed()
            done = True
        beat.advance(e.known)
        beat.receive(e)
        if isinstance(e, FlightStarted):
            beat.begin(e.first_cycle, e.known)
        out += beat.events()
    assert not [c for c in out if told < c.known <= outing.onsets[34]]
    assert [c for c in out if outing.onsets[34] + 0.06 < c.known < outing.onsets[36]]


def test_on_land_a_tick_marks_the_push_end_and_nothing_fades() -> None:
    beat, out = Beat(land=True), []
    beat.push_share = 0.45
    beat.in_band(0.0)
    for k in range(100):
        t = 10.0 + 0.7 * k
        beat.advance(t + 0.05)
        beat.receive(Onset(t, t + 0.05, k))
        out += beat.events()
    sounds = [c.sound for c in out]
    assert sounds == ["click", "tick"] * (len(out) // 2)
    for click, tick in zip(out[::2], out[1::2], strict=True):
        assert tick.time - click.time == pytest.approx(0.45 * 0.7, abs=1e-9)
        assert click.level == 1.0


def test_a_longer_way_out_is_planned_for() -> None:
    """An output that takes 0.9 s, more than a pump: clicks are still decided on in time, and still on the beat."""
    outing = flown(12, pumps=60, cv=0.01)
    beat, out = Beat("rider", 0.9), []
    for e in outing.events[:-2]:
        beat.advance(e.known)
        beat.receive(e)
        if isinstance(e, FlightStarted):
            beat.begin(e.first_cycle, e.known)
        out += beat.events()
    assert all(c.time - c.known >= 0.9 - ROUNDING for c in out)
    moves(out)
    for c in out:
        if c.time < outing.onsets[-1]:
            assert abs(min((c.time - t for t in outing.onsets), key=abs)) < 0.1


@pytest.mark.parametrize("lead", ["rider", "target"])
def test_a_splash_before_the_push_moves_no_click(lead: str) -> None:
    """The detector tells a splash for an onset and then, within 0.18 s, the push itself: before every seventh pump."""
    events = flown(7).events
    splashed: list[Event] = []
    for e in events:
        if isinstance(e, Onset) and e.number % 7 == 3:
            splashed.append(replace(e, time=e.time - 0.12, known=e.known - 1e-4))
        splashed.append(e)
    assert len(splashed) > len(events) + 10
    plain = clicks(events, lead=lead, goal=TARGET * 1.02)
    assert len(plain) > 50 and clicks(splashed, lead=lead, goal=TARGET * 1.02) == plain


@pytest.mark.parametrize(("apart", "taken_back"), [(0.17, True), (0.19, False)])
def test_from_0_18_s_on_an_onset_is_no_splash(apart: float, taken_back: bool) -> None:
    """The detector's bound (`cycles.SHORTEST`), from both sides."""
    beat, without = Beat(), Beat()
    for one in (beat, without):
        one.begin(0, 0.0)
    for k in range(8):
        beat.receive(Onset(1.0 + 0.3 * k, 1.05 + 0.3 * k, k))
        if k < 7:
            without.receive(Onset(1.0 + 0.3 * k, 1.05 + 0.3 * k, k))
    for one in (beat, without):
        one.receive(Onset(3.1 + apart, 3.15 + apart, 8))
    assert (beat.predictor.next == without.predictor.next) == taken_back


def test_on_land_it_clicks_without_a_flight() -> None:
    beat = Beat(land=True)
    for k in range(12):
        beat.receive(Onset(1.0 + 0.6 * k, 1.05 + 0.6 * k, k))
        beat.advance(1.05 + 0.6 * k)
    assert [e for e in beat.events() if isinstance(e, Click) and e.sound == "click"]


def test_pumping_goes_on_after_a_blow_if_the_period_is_within_a_third() -> None:
    beat = Beat()
    assert beat.in_rhythm(5.0), "before there is a rhythm, always"
    beat.begin(0, 0.0)
    for k in range(9):
        beat.receive(Onset(1.0 + 0.6 * k, 1.05 + 0.6 * k, k))
    assert [beat.in_rhythm(p) for p in (0.39, 0.41, 0.79, 0.81)] == [False, True, True, False]
