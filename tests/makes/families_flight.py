"""A try to get going in outings of `families`: its start, its pumps, its end."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import gaussian_filter1d

from cadence_coach.core.units import G

from .drawn_motion import PI, Array
from .families_between import Day
from .families_rider import Glide, Run, meant, run_of
from .families_track import FS, Try, bump, hump, samples, scaled, taper
from .families_waves import U


def attempt(d: Day, start: str, count: int, end: str) -> None:
    """start: run_up, step, tow; count: pumps; end: fall, touch_down, coast_out."""
    r = d.r
    begun = d.now
    STARTS[start](d)
    first = d.now
    onsets = push_ends = np.zeros(0)
    left = None
    if count:
        m = meant(r, d.rider, count, d.side)
        onsets, push_ends = first + m.onset[:-1], first + m.push_end
        run = run_of(d.rider, m)
        pump(d, run, count)
        left = run.left
    finish(d, end, left)
    d.tries.append(Try(onsets, push_ends, "rope" if start == "tow" else start, end))
    if r.random() < 0.8:
        before = begun - r.uniform(0, 2)
        since = first if r.random() < 0.5 else begun
        d.blind.append((before, since + r.uniform(5, 15)))
    if r.random() < 0.38:
        d.blind.append((begun, d.now))


# --- starts: until the first onset, the vertical just under 1 g ---


def run_up(d: Day) -> None:
    """A few steps with the board, a run, a jump."""
    r, rider = d.r, d.rider
    count = int(r.integers(4, 15))
    speed = r.uniform(3.0, 4.4)
    halfway, slower, lean = 1.2 + (speed - 1.2) / 2, max(2, count // 2), r.uniform(6, 20)
    if r.random() < 0.55:
        d.steps(r.uniform(1.8, 2.3), int(r.integers(1, 5)), (0.8, 1.3), lean * 0.6, r.uniform(0.25, 0.45))
    d.steps(rider.run_hz * 0.96, slower, (1.2, halfway), lean)
    d.steps(rider.run_hz * 1.02, count - slower, (halfway, speed), lean)
    v, air = r.uniform(0.5, 1.5), np.clip(r.uniform(0.2, 0.42) * rider.airy, 0.18, 0.44)
    off = bump(r.uniform(0.17, 0.26), v / G + 0.02, 1, r.uniform(0.42, 0.58))
    d.add(1 + off, r.uniform(0.05, 0.35), speed=speed)
    m = samples(air)
    up, fore, side = np.full(m, r.uniform(0, 0.06)), d.wander(m, 2, 0.03), d.wander(m, 2, 0.03)
    d.add(up, fore, side, nod=r.uniform(-8, 8) * np.sin(PI * np.arange(m) / m), speed=speed)
    _landed(d, v - G * air - 0.02 * G)


def step_off(d: Day) -> None:
    """From a dock, or over rocks."""
    r = d.r
    if r.random() < 0.4:
        d.steps(r.uniform(1.3, 1.8), int(r.integers(2, 5)), (0.4, 0.6), 8.0, 0.15)
    speed, air, light = r.uniform(2.4, 3.6), r.uniform(0.18, 0.34), r.uniform(0.05, 0.4)
    m = samples(air)
    up = 1 - (1 - light) * np.minimum(1, 2.2 * hump(m))
    d.add(up, r.uniform(0.1, 0.3), d.wander(m, 2, 0.04), speed=np.linspace(0.8, speed, m))
    _landed(d, -G * (1 - light) * air * 0.85)


def _landed(d: Day, v: float) -> None:
    """The board stops the fall, v [m/s] up, and throws back a little; then the rider is light."""
    r = d.r
    back = r.uniform(0.12, 0.45) if r.random() < 0.6 else r.uniform(0.45, 1.0)
    gap, stop, early = r.uniform(0.2, 0.75), r.uniform(0.17, 0.32), r.uniform(0.3, 0.5)
    impulse = (back - v) / G
    while impulse / (0.6 * stop) > 2.1:
        stop *= 1.1
    shape = hump(samples(stop), r.uniform(0.9, 1.2), early)
    if r.random() < 0.4:  # one foot, then the other
        u = (np.arange(len(shape)) + 0.5) / len(shape)
        shape = shape * (1 - 0.45 * np.exp(-(((u - 0.5) / 0.14) ** 2)))
    d.knocks.append(d.length)
    blow = scaled(shape, impulse)
    fore = -r.uniform(0.05, 0.25) * blow + d.wander(len(blow), 4, 0.04)
    d.add(1 + blow, fore, d.side * r.uniform(0, 0.12) * blow, lean=d.rider.lean)
    light = bump(gap, back / G, r.uniform(0.7, 1), r.uniform(0.35, 0.6))
    fore, side = -0.03 + d.wander(len(light), 2, 0.03), d.wander(len(light), 2, 0.03)
    d.add(1 - np.maximum(light, 0.008), fore, side, lean=d.rider.lean)


def tow(d: Day) -> None:
    """The rope comes tight, the board planes, lifts, flies for a while; the rope is let go."""
    r = d.r
    n = samples(r.uniform(1.5, 4))
    d.add(d.seaway(n), 0.02, lean=r.uniform(-10, 25), speed=0.3)
    speed, n = r.uniform(4.3, 6.2), samples(r.uniform(2.5, 5))
    u, pull = np.arange(n) / n, r.uniform(0.12, 0.3)
    b = np.sin(PI * u) ** 0.7
    up = 1 + b * (d.wander(n, 4, 0.07) + d.wander(n, 1, 0.08))
    fore, side = pull * b + d.wander(n, 3, 0.04), d.wander(n, 3, 0.05)
    d.add(up, fore, side, lean=-r.uniform(0, 14), nod=d.wander(n, 0.7, 4), speed=speed * u)
    n = samples(r.uniform(3, 16))
    up = 1 + taper(n, 0.6) * (d.wander(n, 0.7, r.uniform(0.015, 0.06)) + d.wander(n, 5, 0.008))
    fore, side = 0.07 + d.wander(n, 0.5, 0.03), d.wander(n, 0.4, 0.03)
    lean, nod = r.uniform(-8, 8), d.wander(n, 0.3, 3)
    d.add(up, fore, side, lean=lean, nod=nod, speed=speed + d.wander(n, 0.1, 0.15))
    n = samples(r.uniform(0.5, 1.6))
    b = taper(n, 0.3)
    up = 1 - 0.03 * b + b * d.wander(n, 0.6, 0.01)
    d.add(up, np.linspace(0.06, -0.06, n), lean=r.uniform(0, 12), speed=speed)
    light = bump(r.uniform(0.3, 0.55), r.uniform(0.02, 0.06))
    d.add(1 - np.maximum(0.012, light), -0.05, lean=d.rider.lean * 0.7, speed=speed)


STARTS = {"run_up": run_up, "step": step_off, "tow": tow}


# --- pumps ---


def _turns(d: Day, n: int) -> Array:
    """[g] to the side in turns that the board flies."""
    r, turns = d.r, np.zeros(n)
    for _ in range(int(r.poisson(n / FS / 14))):
        m = samples(r.uniform(3, 9))
        first = int(r.integers(0, max(1, n - m)))
        part = turns[first : first + m]
        part += r.uniform(-0.25, 0.25) * np.sin(PI * np.arange(len(part)) / m) ** 2
    return turns


def _nods(d: Day, t: Array, turn: Array, count: int) -> Array:
    """[degrees] of the trunk at t [s]: with each pump, a wandering arm, straightening up or folding, and all the
    rest."""
    r, rider, n = d.r, d.rider, len(t)
    e = np.minimum(1, t / 0.5)
    nod = e * rider.nod * np.sin(turn + rider.nod_at) + d.arm * e * d.wander(n, 0.3, 6)
    if r.random() < 0.4 and count > 8:
        size, begins, lasts = r.uniform(-18, 18), r.uniform(0.2, 0.8) * t[-1], r.uniform(0.6, 3)
        nod = nod + size * np.clip((t - begins) / lasts, 0, 1)
    return nod + e * d.wander(n, 0.15, r.uniform(1, 5))


def pump(d: Day, run: Run, count: int) -> None:
    """What goes with the vertical of so many pumps."""
    r, rider, n, turn = d.r, d.rider, len(run.up), run.turn
    t = (np.arange(n) + 0.5) / FS
    e = np.minimum(1, t / 0.5)
    side = _turns(d, n)
    speed = d.speed + (rider.speed - d.speed) * (1 - np.exp(-t / 3)) + d.wander(n, 0.08, 0.25)
    speed = np.clip(speed - 0.6 * t / t[-1] * min(1, count / 30), 2.9, 7)
    surge = np.sin(turn + rider.surge_at) + 0.3 * np.sin(2 * turn + 2 * rider.surge_at)
    fore = -0.01 + run.height * rider.surge * surge + d.wander(n, 3, 0.02)
    nod = _nods(d, t, turn, count)
    spin = np.gradient(np.gradient(np.deg2rad(gaussian_filter1d(nod, 12)), 1 / FS), 1 / FS)
    if count > 12 and r.random() < 0.25:  # the board brushes the water
        at, m = int(r.integers(n // 4, n * 3 // 4)), samples(0.15)
        fore[at : at + m] -= r.uniform(0.1, 0.3) * hump(m)
        d.knocks.append(d.length + at)
    sway = run.height * (rider.sway * np.sin(0.5 * turn + 1) + rider.sway_each * np.sin(turn))
    rock = -np.degrees(np.arctan(side)) * np.clip(t / 2, 0, 1) + e * 2 * np.sin(0.5 * turn)
    yaw = np.degrees(side * G / np.maximum(speed, 3)) + 6 * np.sin(0.5 * turn)
    d.add(
        run.up, fore + np.clip(d.lever * spin / G, -0.5, 0.5), side + sway, lean=rider.lean, bank=0.0, nod=nod,
        rock=rock, yaw=yaw, speed=speed, join=False,
    )  # fmt: skip


# --- ends ---


def finish(d: Day, end: str, left: Glide | None) -> None:
    """left: the glide that follows the last push, None where there was no pump."""
    glide = left or Glide(0.4, 0.06, np.sin(PI * U))
    if end == "fall":
        _fall(d, glide)
    else:
        _glide_out(d, glide, stretched=left is not None)
        _sink(d, end == "touch_down")
    d.speed = 0.3


def _fall(d: Day, glide: Glide) -> None:
    """Somewhere in the last glide the rider loses the board."""
    r = d.r
    part = r.uniform(0.3, 0.95)
    m = samples(part * glide.seconds)
    up = 1 - glide.depth * np.interp((np.arange(m) + 0.5) / m * part, U, glide.shape)
    air = r.uniform(0.2, 0.35)
    k, low = samples(air), r.uniform(0, 0.12)
    ramp = np.clip(np.arange(k) / samples(r.uniform(0.04, 0.1)), 0, 1)
    way = r.choice(["front", "back", "side"], p=[0.5, 0.25, 0.25])
    ways = {
        "front": (r.uniform(30, 85), r.normal(0, 15)), "back": (-r.uniform(25, 75), r.normal(0, 15)),
        "side": (r.uniform(0, 30), d.side * r.uniform(30, 75)),
    }  # fmt: skip
    lean, bank = ways[way]
    last, speed = up[-1], d.speed
    d.add(up, d.wander(m, 2, 0.05) - 0.05, d.wander(m, 2, 0.05))
    fore, side = d.wander(k, 2, 0.06) * ramp - 0.03, d.wander(k, 2, 0.06) * ramp
    d.add(last + (low - last) * ramp, fore, side, lean=d.lean + lean * ramp, bank=bank * ramp, speed=speed * 0.9)
    d.enter(G * air * 0.95 + r.uniform(-0.2, 0.5))
    d.splash(r.uniform(1.5, 4), r.uniform(0.1, 0.25))


def _glide_out(d: Day, glide: Glide, *, stretched: bool) -> None:
    """The last glide, made longer or shorter, as deep as keeps its impulse."""
    seconds = glide.seconds * (d.r.uniform(0.9, 1.3) if stretched else 1)
    m = samples(seconds)
    shape = np.interp((np.arange(m) + 0.5) / m, U, glide.shape)
    up = 1 - np.maximum(shape * glide.depth * glide.seconds / seconds, 0.015)
    d.add(up, -0.06 + d.wander(m, 2, 0.03), d.wander(m, 2, 0.02))


def _sink(d: Day, touches: bool) -> None:
    """Coasts, briefly if the board then touches the water and sticks; slows down; into the water or out in the
    shallows."""
    r, speed = d.r, d.speed
    m = samples(r.uniform(0.15, 0.7) if touches else r.uniform(1.8, 6))
    b = taper(m, 0.2 if touches else 0.4)
    up = 1 - 0.015 + b * (d.wander(m, 0.5, r.uniform(0.008, 0.04)) + d.wander(m, 4, 0.006))
    slow = max(2.2, speed - 0.6 * m / FS)
    fore, side = -0.06 + d.wander(m, 1, 0.015), b * d.wander(m, 0.4, 0.03)
    d.add(up, fore, side, speed=np.linspace(speed, slow, m))
    for j in range(int(r.integers(1, 4)) if touches else 0):
        k = samples(r.uniform(0.07, 0.16))
        slap = r.uniform(0.25, 0.85) / (1 + j)
        d.knocks.append(d.length)
        up = np.concatenate([1 + slap * hump(k, 1, 0.4), 1 - 0.35 * slap * hump(int(k * 1.8))])
        d.add(up, -r.uniform(0.15, 0.4), speed=max(1.0, slow - 1.2 * (j + 1)))
        k = samples(r.uniform(0.05, 0.35))
        d.add(1 + d.wander(k, 3, 0.03) * taper(k, 0.1), -0.2, speed=max(0.9, d.speed - 0.5))
    k = samples(r.uniform(0.5, 1.6))
    up, fore = 1 + taper(k, 0.2) * d.wander(k, 2, 0.04), -0.12 * r.uniform(0.5, 2) * taper(k, 0.2)
    d.add(up, fore, nod=d.wander(k, 0.8, 4), speed=np.linspace(d.speed, 0.8, k))
    if r.random() < 0.75:
        impulse = r.uniform(0.06, 0.2)
        d.add(1 - bump(max(0.4, impulse / 0.4), impulse), speed=0.5, lean=d.lean + r.uniform(-20, 30))
        d.enter(impulse * G)
        d.splash(r.uniform(1, 2.5), r.uniform(0.05, 0.15))
    else:
        d.wade_ashore(r.uniform(1.1, 1.5), int(r.integers(2, 7)), 0.15, 0.6)
