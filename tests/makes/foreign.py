"""Outings by a maker who had seen none of the others, nor the detector: its judge, NEVER to be learned or chosen from.

Neither weights nor rules, nor which of two weights is taken, may rest on these outings, of whatever seed; nor may the
makers in `foreign_riders` go into what `fit_likely` and `fit_timing` learn from. Who looks into single outings to mend
the detector has used them up.

A rider is one of five makers of pumps (`foreign_riders`); an outing a string of pieces on foot, in the water
(`foreign_motion`) and in flight (`foreign_flight`), and what a phone makes of it (`foreign_phone`). As riders are
expected to be: 1.03-1.97 Hz, period CV 2-7 %, push share 0.17-0.56, peak 1.38-2.6 g, ringing 7-18 Hz with damping
0.18-0.6, jitter to 3 ms, gaps to 0.35 s, a gyroscope in half, speed in three quarters. About one start in six ends
after 0-2 pumps. Kinder than life in one respect: no shoulder comes within 0.02 g of 1 g, so that no onset has two
readings.
"""

from __future__ import annotations

import numpy as np

from cadence_coach.sim import SimulatedOuting

from .foreign_flight import ride
from .foreign_motion import Track
from .foreign_phone import Phone, recorded
from .foreign_riders import MAKERS, Rider, Unclean

MIX = (
    ["plain"] * 11 + ["harsh"] * 12 + ["brief"] * 9 + ["far"] * 7 + ["rope"] * 7 + ["edge"] * 6 + ["lulls"] * 4
    + ["ashore"] * 4
)  # fmt: skip
"""brief: 4-10 pumps; far: 60-110; edge: stepped off; lulls: bursts with coasts of 4-9 s; ashore: no flight at all."""
HARSH = {
    "plain": 0.2, "harsh": 1, "brief": 0.5, "far": 0.4, "rope": 0.5, "edge": 0.4, "lulls": 0.4, "ashore": 0.7,
}  # fmt: skip
"""How much the phone and the sea spoil, 0-1."""
PLANS = {
    "plain": (3, 5, 8, 45), "harsh": (3, 5, 6, 50), "brief": (5, 8, 4, 10), "far": (1, 2, 60, 110),
    "rope": (2, 4, 8, 60), "edge": (3, 5, 5, 40), "lulls": (2, 3, 6, 25),
}  # fmt: skip
"""Least and most starts, least and most pumps of each."""
STARTS = {"rope": "rope", "edge": "step"}


def kind_of(number: int) -> str:
    """Each 60 numbers in a row have the kinds in MIX."""
    return MIX[number * 7 % len(MIX)]


def track_of(seed: int, number: int) -> tuple[Track, Phone]:
    """The motion with its truth, and the phone; number: which outing of the mix. The track's generator goes on to
    what the phone makes of it. A rider who cannot make the planned flights cleanly is replaced."""
    for again in range(40):
        try:
            return _composed(np.random.default_rng([20771, seed, number, again]), kind_of(number))
        except Unclean:
            continue
    raise RuntimeError(f"no rider for outing {number} of seed {seed}")


def _composed(r: np.random.Generator, kind: str) -> tuple[Track, Phone]:
    harsh = HARSH[kind]
    phone = Phone(r, harsh)
    rider = Rider(r, MAKERS[int(r.integers(len(MAKERS)))], harsh)
    wave = r.uniform(0, 0.015 + 0.025 * harsh)
    if kind == "far":
        rider.burst(60, wave)  # is this a rider who can?
    t = Track(r, harsh)
    t.stand(r.uniform(3, 8))
    if r.random() < 0.7:
        t.walk(r.uniform(6, 20))
        t.stand(r.uniform(2, 5))
    if kind == "ashore":
        _ashore(t, rider, wave)
    else:
        _starts(t, rider, kind, wave)
    t.stand(r.uniform(3, 6))
    return t, phone


def _start(r: np.random.Generator) -> str:
    return str(r.choice(["run_up", "run_up", "step", "rope"]))


def _ashore(t: Track, rider: Rider, wave: float) -> None:
    r = t.r

    def swim() -> None:
        t.swim(r.uniform(15, 40))
        t.climb_out()

    def paddle() -> None:
        t.remount()
        t.paddle(r.uniform(20, 60))
        t.sit(r.uniform(15, 40))
        t.climb_out()

    def attempt() -> None:
        count = int(r.integers(0, 3))
        ride(t, rider, [count], _start(r), "fall", wave)

    todo = [
        lambda: t.walk(r.uniform(20, 60)), lambda: t.run(r.uniform(10, 30)), lambda: t.hop(int(r.integers(4, 14))),
        lambda: t.knee_bends(int(r.integers(4, 12))), t.dock_jump, swim, paddle, attempt,
        lambda: t.walk(r.uniform(20, 60)), t.dock_jump,
    ]  # fmt: skip
    for k in r.permutation(len(todo)):
        todo[k]()
        t.stand(r.uniform(2, 6))


def _starts(t: Track, rider: Rider, kind: str, wave: float) -> None:
    r = t.r
    fewest, most, least_pumps, most_pumps = PLANS[kind]
    for _ in range(int(r.integers(fewest, most + 1))):
        how = STARTS.get(kind) or _start(r)
        if r.random() < 0.18:
            ride(t, rider, [int(r.integers(0, 3))], how, "fall", wave)
        else:
            counts = [int(r.integers(least_pumps, most_pumps + 1))]
            if kind == "lulls":
                counts += [int(r.integers(4, 22)) for _ in range(int(r.integers(1, 4)))]
            ride(t, rider, counts, how, str(r.choice(["fall", "fall", "touch_down", "coast_out"])), wave)
        t.between()
        x = r.random()
        if x < 0.08:
            t.hop(int(r.integers(3, 9)))
        elif x < 0.16:
            t.dock_jump()
            t.swim(r.uniform(5, 15))
        elif x < 0.24:
            t.knee_bends(int(r.integers(3, 8)))


def foreign_outing(seed: int, number: int) -> SimulatedOuting:
    """The outing as a phone records it; number: which of the mix. `attempts` in its truth are the starts that ended
    after one or two pumps, with their `cycles`; meta has what began when (`story`). The same arguments give the same
    outing."""
    t, phone = track_of(seed, number)
    accel, gyro, fixes = recorded(t, phone)
    truth = {"pumps": t.pumps, "flights": t.flights, "attempts": t.attempts}
    meta = {"kind": kind_of(number), "seed": seed, "number": number, "story": t.story}
    return SimulatedOuting(accel, gyro, fixes, truth, meta)
