"""Outings to learn from that begin with the legs: programmes of leg force over a foil, and what motion comes of them.

Where `drawn` and `woven` draw the shape of a pump, here it follows from when which leg pushes how hard (`sprung_legs`),
scaled until the mean is 1 g, from tempo, effort and a foil whose heave drives the board (`sprung_train`). Between lie
pieces on foot and in the water (`sprung_body`), starts and ends (`sprung_flight`); `sprung_phone` writes the rows. The
maker had seen neither the detector nor the other makes. As riders are expected to be: 1.05-1.95 Hz, period CV 2-7 %,
push share 0.18-0.55, peak 1.4-2.6 g; ringing 7-18 Hz with damping 0.18-0.6, jitter to 3 ms, gaps to 0.35 s, spikes,
rows that come twice; 50, 100, 200 Hz; a gyroscope in half, speed in three quarters. A quarter of the tries end after
0-2 pumps. All values are the maker's own choice. Nothing is scored on these.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from cadence_coach.core.units import G
from cadence_coach.sim import SimulatedOuting

from .drawn_motion import Array
from .sprung_body import STROKES, Body
from .sprung_flight import attempt, back
from .sprung_legs import FS
from .sprung_phone import recorded
from .sprung_train import Train

KINDS = (
    "mixed", "dock", "beach", "tow", "step", "long", "short", "fails", "rough", "noflight", "mixed", "surge",
)  # fmt: skip
"""dock, beach, tow, step: every start is one; long: 60-110 pumps twice; short: 4-12; fails: most tries of 0-2 pumps;
surge: coasts on a swell, then more pumps; rough: chop and a bad phone; noflight: 0-2 pumps at most."""
STARTS = ("dock", "beach", "tow", "step")
FAILED = {"fails": 0.65, "short": 0.3, "long": 0.1}
"""Share of tries with 0-2 pumps; a quarter otherwise."""


class Unclean(Exception):
    """The motion has not as many onsets as pumps were ridden."""


def kind_of(number: int) -> str:
    """Each 12 numbers in a row have the kinds in KINDS."""
    return KINDS[number % len(KINDS)]


Made = tuple[np.random.Generator, dict[str, Array], dict[str, list[dict[str, Any]]]]
"""The generator as it goes on to the phone, the body's columns (`sprung_body`), and what is true of them."""


def motion_of(seed: int, number: int) -> Made:
    """A rider who cannot be clean is replaced."""
    for again in range(8):
        r = np.random.default_rng([seed, number, again])
        body = _ridden(r, kind_of(number))
        columns = body.whole()
        try:
            return r, columns, truth_of(columns["n"], body.tries)
        except Unclean:
            continue
    raise RuntimeError(f"no rider for outing {number} of seed {seed}")


def _ridden(r: np.random.Generator, kind: str) -> Body:
    u, body = r.uniform, Body(r)
    lasts = u(240, 590)
    body.stand(u(4, 20))
    if r.random() < 0.8:
        body.walk(u(8, 50))
    if r.random() < 0.5:
        body.stand(u(3, 15), sitting=r.random() < 0.4)
    home = _start(r)
    while body.now < lasts - 45:
        how = home
        if kind in STARTS:
            how = kind
        elif kind in ("mixed", "rough") and r.random() < 0.3:
            how = _start(r)
        if kind == "noflight":
            _ashore(body, how)
        else:
            count = _count(r, kind, len(body.tries), lasts - body.now)
            end = str(r.choice(["fall", "touch_down", "coast_out"], p=[0.45, 0.3, 0.25]))
            attempt(body, how, count, end, swell=0.6 if kind == "surge" else 0.1)
            back(body, how)
    if r.random() < 0.6:
        body.walk(u(5, 25))
    body.stand(u(2, 10))
    return body


def _start(r: np.random.Generator) -> str:
    return str(r.choice(STARTS))


def _count(r: np.random.Generator, kind: str, tried: int, left: float) -> int:
    """Pumps of the next try, of which there is time for about one a second; left [s]."""
    count = int(np.exp(r.uniform(np.log(4), np.log(75))))
    if kind == "long":
        count = int(r.uniform(60, 111)) if tried < 2 else int(r.uniform(10, 50))
    elif kind == "short":
        count = int(r.integers(4, 13))
    if r.random() < FAILED.get(kind, 0.25):
        return int(r.integers(0, 3))
    return min(count, max(4, int(left)), 110)


def _ashore(body: Body, how: str) -> None:
    """Anything but a flight."""
    r, u = body.r, body.r.uniform
    what = r.random()
    if what < 0.3:
        attempt(body, how, int(r.integers(0, 3)), "fall", swell=0.0)
        back(body, how)
    elif what < 0.45:
        body.run(u(5, 20), u(2.5, 3.5))
        body.walk(u(5, 20))
    elif what < 0.65:
        body.walk(u(10, 60), heavy=u(0.8, 1.6))
    elif what < 0.8:
        body.drift(u(2, 6))
        body.swim(u(15, 60), str(r.choice(tuple(STROKES))))
        body.climb()
    else:
        body.stand(u(5, 25), sitting=r.random() < 0.5, afloat=r.random() < 0.3)


# --- what is true of it ---


def truth_of(n: Array, tries: list[list[Train]]) -> dict[str, list[dict[str, Any]]]:
    """From the force on the body [g] before pouch and phone: an onset is its upward crossing of 1 g, a push end the
    next downward one, between samples; `attempts` have the onsets of every try, those of no flight too."""
    truth: dict[str, list[dict[str, Any]]] = {"pumps": [], "flights": [], "attempts": []}
    for trains in tries:
        onsets: list[float] = []
        for ridden in trains:
            at = _rises(n, ridden)
            times = _crossings(n, at)
            onsets += [round(float(t), 5) for t in times]
            if ridden.pumps < 3:
                continue
            if len(at) != ridden.pumps:
                raise Unclean(f"{len(at)} onsets of {ridden.pumps} pumps")
            over = times[-1] + float(np.median(np.diff(times)[-5:]))
            truth["pumps"] += _pumps(n, at, np.append(times, over))
            truth["flights"].append({
                "start_s": round(float(times[0]), 5), "end_s": round(float(over), 5), "pumps": ridden.pumps,
                "started_by": ridden.started_by, "ended_by": ridden.ended_by,
            })  # fmt: skip
        truth["attempts"].append({"onsets_s": onsets})
    return truth


def _rises(n: Array, ridden: Train) -> Array:
    """Samples of a train just before each upward crossing of 1 g."""
    over = n[ridden.first : ridden.end + 1] >= 1
    return np.flatnonzero(~over[:-2] & over[1:-1]) + ridden.first


def _crossings(n: Array, at: Array) -> Array:
    """Times [s] at which the force is 1 g, just after each of these samples."""
    return (at + (1 - n[at]) / (n[at + 1] - n[at])) / FS


def _pumps(n: Array, at: Array, onsets: Array) -> list[dict[str, Any]]:
    """at: the sample before each onset; onsets [s]: of each pump, and what would be the next one."""
    falls = np.flatnonzero((n[:-1] >= 1) & (n[1:] < 1))
    pumps = []
    for k, before in enumerate(at):
        end = falls[np.searchsorted(falls, before, "right")]
        top = before + 1 + int(np.argmax(n[before + 1 : end + 1]))
        pumps.append({
            "onset_s": round(float(onsets[k]), 5), "peak_s": round((top + _beside(n[top - 1 : top + 2])) / FS, 5),
            "push_end_s": round(float(_crossings(n, end)), 5), "peak_g": round(float(n[top]), 4),
            "travel_m": round(_travel(n, onsets[k], onsets[k + 1]), 4),
        })  # fmt: skip
    return pumps


def _beside(three: Array) -> float:
    """Samples from the middle one of three to the top of the parabola through them, half a sample at most."""
    a, b, c = three
    bend = a - 2 * b + c
    return float(np.clip(0.5 * (a - c) / bend, -0.5, 0.5)) if bend < -1e-9 else 0.0


def _travel(n: Array, begins: float, ends: float) -> float:
    """[m] that the body goes up and down in a pump, its climb from begin to end [s] taken away."""
    own = n[int(begins * FS) : int(ends * FS) + 1]
    v = np.cumsum((own - 1) * G) / FS
    z = np.cumsum(v - v.mean()) / FS
    return float(np.ptp(z - np.linspace(z[0], z[-1], len(z))))


def sprung_outing(seed: int, number: int) -> SimulatedOuting:
    """The outing as a phone records it; number: its kind, with `kind_of`. `attempts` in its truth have the onsets of
    every pump and bounce, those of no flight too. The same arguments give the same outing."""
    r, columns, truth = motion_of(seed, number)
    accel, gyro, fixes = recorded(r, columns, truth["flights"], kind_of(number) == "rough")
    accel[:, 1:] = accel[:, 1:].astype(np.float32)  # as phones tell them
    return SimulatedOuting(accel, gyro, fixes, truth, {})
