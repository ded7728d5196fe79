"""Starts, trains and ends of `sprung`: what the body does from the jump, the step or the rope into the water."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from cadence_coach.core.units import G

from .drawn_motion import PI, Array, eased
from .sprung_body import STROKES, Body, band, bump, clock, rad
from .sprung_legs import FS
from .sprung_train import Train, plan_of, train


def take_off(body: Body, speed: float, drop: float, *, step: bool = False) -> float:
    """Push off, fly, land on the board drop [m] lower, and sag with the foil until the first glide. No pump, by
    truth. Returns the speed [m/s]."""
    r, u = body.r, body.r.uniform
    up = u(0.15, 0.7) if step else body.jump * u(0.8, 1.15)
    push = _pushed(r, up)
    fly_s = np.clip((up + np.sqrt(max(up * up + 2 * G * drop, 0))) / G, 0.16, 0.62)
    count = int(fly_s * FS)
    air = np.full(count, u(0, 0.05)) + 0.02 * np.sin(np.arange(count) / FS * 9)
    landing, settling, blow = _landed(r, up - G * fly_s, air, fly_s)
    n = np.concatenate([push, air, landing, settling])
    down = slice(len(push) + len(air), len(push) + len(air) + len(landing))
    after = speed if step else max(speed * u(0.9, 1.0), 1.5)
    t = (np.arange(len(n)) - len(push)) / FS
    fore, buzz = np.zeros(len(n)), np.full(len(n), 0.01)
    fore[: len(push)] = 1.0 if step else -0.6
    fore[down] = -u(0.5, 3.5) * blow / blow.max()
    buzz[down] += 0.25 * np.exp(-np.arange(len(landing)) / FS / 0.05)
    rocked = rad(u(3, 14)) * eased(t / (fly_s + 0.05)) * (1 - eased((t - fly_s) / 0.5))
    own = np.arange(len(n)) / FS
    body.add(
        n, blend=0.25, quick=0.03, speed=speed + (after - speed) * eased(t / 0.3), fore=fore,
        pitch=body.rider.lean + rocked - rad(6) * (t < 0), roll=rad(3) * np.sin(own * 5), yaw=0.2 * np.sin(own * 3),
        buzz=buzz,
    )  # fmt: skip
    return after


def _pushed(r: np.random.Generator, up: float) -> Array:
    """Force [g] whose impulse gives the speed up [m/s], the feet leaving at its end."""
    seconds = r.uniform(0.2, 0.32)
    x = np.arange(int(seconds * FS)) / FS / seconds
    base = np.sin(PI * x) ** r.uniform(0.8, 1.5) * (1 + 0.25 * np.sin(2 * PI * x))
    leaving = eased((x - 0.88) / 0.12)
    push = base * (1 - leaving) - leaving
    lost, won = push[push < 0].sum() / len(push), push[push > 0].sum() / len(push)
    return np.where(push > 0, push * (up / G / seconds - lost) / won, push) + 1


def _landed(r: np.random.Generator, rising: float, air: Array, fly_s: float) -> tuple[Array, Array, Array]:
    """Force [g] of a landing and of the sag after it, and the landing's shape. rising [m/s] at the touch, under 0:
    legs and foil take it out, and with it what the air and the sag owe to gravity."""
    u = r.uniform
    seconds, twice, sag = u(0.18, 0.36), r.random() < 0.35, u(0.02, 0.30)
    sag_s = u(0.16, 0.55) if r.random() < 0.8 else u(0.5, 1.0)
    count = int(sag_s * FS)
    settling = 1 - sag * np.sin(PI * (np.arange(count) / count)) ** 0.8 - 0.02
    owed = -rising / G + (1 - settling).sum() / FS + (1 - air).sum() / FS - fly_s
    top = u(0.2, 0.5)
    while True:
        count = int(seconds * FS)
        blow = bump(count, 0, seconds, top)
        if twice:  # one foot after the other
            later = int(0.3 * count)
            blow = 0.55 * blow + 0.45 * np.roll(blow, later) * (np.arange(count) > 0.3 * count)
        landing = 1 + owed * blow / blow.mean() / (count / FS)
        if landing.max() < 4.2:
            return landing, settling, blow
        seconds *= 1.1


def tow(body: Body) -> float:
    """Lying or standing behind a rope until the board flies, then on to its release. Returns the speed [m/s]."""
    r, u = body.r, body.r.uniform
    slow_s, fast_s, aloft_s = u(2, 6), u(2.5, 6), u(1, 7)
    t, lasts = clock(slow_s + fast_s + aloft_s), slow_s + fast_s + aloft_s
    count = len(t)
    towed, slow = u(4.0, 5.6), u(0.2, 0.45)
    speed = towed * (slow * eased(t / slow_s) + (1 - slow) * eased((t - slow_s * 0.7) / fast_s))
    lifts = slow_s + fast_s * 0.6
    aloft = eased((t - slow_s - fast_s * 0.6) / 0.8)
    chop = (speed / towed) * (1 - aloft)
    n = 1 + 0.10 * u(0.5, 1.6) * chop * band(r, count, 0.8, 5) + 0.02 * aloft * band(r, count, 0.1, 1.5)
    n = n + u(0.03, 0.10) * (bump(count, lifts - 0.2, 0.5) - bump(count, lifts + 0.25, 0.7))
    stands = lifts - fast_s * 0.35
    n = n + u(0.02, 0.10) * (bump(count, stands + 0.3, 0.5) - bump(count, stands, 0.5))
    jerks = [u(-1.2, 1.6) * bump(count, at, 0.3) * 0.15 for at in u(0, slow_s + fast_s, 5)]
    last = int(0.2 * FS)
    n[-last:] = 1 - (1 - n[-last]) * np.linspace(1, 0.3, last)  # calm at the release
    released = 0.5 * eased((t - (lasts - 0.4)) / 0.3)
    leans_back = rad(12) * eased(t / 2) * (1 - aloft * 0.7)
    body.add(
        n, blend=1.0, speed=speed, fore=np.gradient(speed) * FS + np.sum(jerks, 0) - released,
        pitch=rad(55) * (1 - eased(t / slow_s)) * (r.random() < 0.5) + body.rider.lean - leans_back,
        roll=rad(3) * band(r, count, 0.03, 0.8), yaw=0.1 * band(r, count, 0.03, 0.6), buzz=0.008 + 0.05 * chop,
        wet=(t < slow_s * 0.8).astype(float),
    )  # fmt: skip
    return towed


def pump(body: Body, count: int, speed: float, started_by: str, ended_by: str, **changes: Any) -> float | None:
    """A train in the present try, planned anew until the rider can, as a plan with these changes. Returns the speed
    [m/s] at its end, None without pumps if the rider never could."""
    for _ in range(30):
        columns = train(body.r, body.rider, count, speed, replace(plan_of(body.r, count), **changes))
        if columns is not None:
            first = body.length
            body.add(columns.pop("n"), blend=0.35, quick=0.03, **columns)
            body.tries[-1].append(Train(first, body.length, count, started_by, ended_by))
            return float(columns["speed"][-1])
    return None


def fall(body: Body, speed: float) -> None:
    r, u = body.r, body.r.uniform
    fall_s = u(0.2, 0.35)
    t = clock(fall_s + u(1.5, 3.5))
    count, under = len(t), t - fall_s
    n = 1 - eased(t / 0.06) * u(0.9, 1.0)
    down, hit_s = G * fall_s, u(0.15, 0.32)
    hit = down / G * bump(count, fall_s, hit_s, u(0.15, 0.45))
    n = n + eased(under / 0.03) * (1 - n) + hit
    bobs = np.exp(-np.clip(under, 0, 9) / u(0.5, 1.2)) * (t > fall_s)
    n = n + 0.2 * bobs * np.sin(2 * PI * u(0.5, 1.0) * under + u(2.5, 4)) + 0.06 * bobs * band(r, count, 0.5, 6)
    stop_s = u(0.35, 0.8)
    stopping = -speed * bump(count, fall_s, stop_s, 0.25)
    pitched, rolled = rad(u(-70, 80)), rad(u(-70, 70))
    knock = 0.5 * np.exp(-np.clip(under, 0, 9) / 0.07) * (t > fall_s)
    body.add(
        np.maximum(n, 0), blend=0.2, quick=0.05, speed=speed * (1 - eased(under / stop_s)),
        fore=stopping * 0.8, side=stopping * 0.3 * np.sign(rolled),
        pitch=body.rider.lean + pitched * eased((t - 0.05) / u(0.45, 0.9)) * (1 - 0.5 * eased((t - 1) / 1.5)),
        roll=rolled * eased((t - 0.05) / u(0.4, 0.9)) * (1 - 0.6 * eased((t - 1) / 1.5)),
        yaw=u(-2, 2) * bump(count, 0.1, 1.0) * 0.5, buzz=0.01 + knock + 0.05 * bobs,
        wet=(t > fall_s + 0.1).astype(float),
    )  # fmt: skip


def touch_down(body: Body, speed: float) -> None:
    """The board meets the water, drags and stumbles; then the rider falls, or now and then floats."""
    r, u = body.r, body.r.uniform
    seconds, at = u(1.3, 2.0), u(0.12, 0.4)
    t = clock(seconds)
    count, lost = len(t), u(0.55, 0.95)
    stumble = u(0.03, 0.11) * (bump(count, at, u(0.2, 0.4)) - 0.8 * bump(count, at + 0.35, 0.5))
    chop = 0.05 * band(r, count, 1, 6) * eased((t - 0.15) / 0.1) * np.exp(-t / 0.6)
    bowed = rad(u(4, 22)) * np.sin(PI * np.clip((t - 0.15) / seconds, 0, 1))
    body.add(
        1 - 0.12 * bump(count, 0.02, 0.3) * 0.15 + stumble + chop, blend=0.3,
        speed=speed * (1 - lost * eased((t - 0.15) / 0.8)), fore=-speed * lost * bump(count, 0.15, 0.8, 0.35),
        pitch=body.rider.lean + bowed, roll=rad(5) * band(r, count, 0.1, 1.5), yaw=0.2 * band(r, count, 0.1, 1.5),
        buzz=0.01 + 0.12 * (t > 0.15) * np.exp(-np.clip(t - 0.15, 0, 9) / 0.3),
    )  # fmt: skip
    if r.random() < 0.75:
        fall(body, speed * (1 - lost))
    else:
        body.drift(u(2, 4))


def coast(body: Body, speed: float, seconds: float, *, on: bool) -> float:
    """Gliding without pumps, losing speed, less if it goes on after. Returns the speed [m/s]."""
    r, t = body.r, clock(seconds)
    count, after = len(t), speed - min(0.55 * seconds, speed - 2.2) * (0.4 if on else 1)
    sway = r.uniform(0.006, 0.02) * band(r, count, 0.15, 1.3) * eased(t / 0.4) * eased((seconds - t) / 0.3)
    body.add(
        1 - 0.05 * np.exp(-t / 0.25) + sway, blend=0.8, quick=0.25,
        speed=speed + (after - speed) * t / seconds, fore=(after - speed) / seconds,
        pitch=body.rider.lean - rad(3) + rad(1.5) * band(r, count, 0.03, 0.7),
        roll=rad(2) * band(r, count, 0.03, 0.7), yaw=0.06 * band(r, count, 0.02, 0.4), buzz=0.004,
    )  # fmt: skip
    return after


# --- a try to get going ---


def attempt(body: Body, how: str, count: int, end: str, swell: float) -> None:
    """A start from a dock, a beach, a tow or a step, count pumps or a little fewer, an end. swell: how often a coast
    goes on into more pumps."""
    u = body.r.uniform
    if how == "tow":
        started_by, speed = "rope", tow(body)
    elif how == "step":
        body.stand(u(1, 3))
        started_by, speed = "step", take_off(body, u(2.2, 3.2), u(0.1, 0.45), step=True)
    else:
        speed = body.run(u(1.2, 4.5))
        started_by, speed = "run_up", take_off(body, speed, u(0.25, 0.65) if how == "dock" else u(-0.05, 0.15))
    body.tries.append([])
    if count < 3:
        _failed(body, count, max(speed, 2.6), started_by)
    else:
        _flown(body, count, max(speed, 3.4), started_by, end, swell)


def _failed(body: Body, count: int, speed: float, started_by: str) -> None:
    r, u = body.r, body.r.uniform
    if count:
        pump(body, count, speed, started_by, "fall", weak=u(0, 0.4), hesitant=0, missed=0, cut=0.4)
    ends = fall if r.random() < 0.6 else touch_down
    ends(body, speed * 0.8)


def _flown(body: Body, count: int, speed: float, started_by: str, end: str, swell: float) -> None:
    r, u = body.r, body.r.uniform
    cut = {"fall": 0.4, "touch_down": 0.28, "coast_out": 0.1}[end]
    over = None
    while over is None:
        sink = end != "fall" and r.random() < 0.6
        over = pump(body, count, speed, started_by, end, cut=cut, sink=sink)
        count = max(4, count // 2) if over is None else count
    if end == "fall":
        fall(body, over)
    elif end == "touch_down":
        touch_down(body, over)
    else:
        on = count > 8 and r.random() < swell
        over = coast(body, over, u(3.5, 7) if on else u(1.8, 4.5), on=on)
        # aloft on a swell, then pumping on: another flight, as there was none for so long
        more = pump(body, int(r.integers(5, 20)), max(over, 3.4), "unknown", "fall", sink=False) if on else None
        if more is not None:
            fall(body, more)
        else:
            ends = touch_down if r.random() < 0.5 else fall
            ends(body, max(over * 0.8, 1.2))


def back(body: Body, how: str) -> None:
    """From the water to where the next try begins."""
    r, u = body.r, body.r.uniform
    body.drift(u(1.5, 6))
    if r.random() < 0.75:
        seconds = u(6, 40)
        body.swim(seconds, str(r.choice(tuple(STROKES))) if r.random() < 0.4 else None)
    if how == "tow":
        body.drift(u(3, 12))
        return
    if how == "beach" and r.random() < 0.6:
        body.walk(u(4, 12), rate=u(1.0, 1.4), heavy=0.6, speed=u(0.4, 0.8), wading=True)
    else:
        body.climb()
    if r.random() < 0.6:
        body.walk(u(5, 30), heavy=u(0.8, 1.3))
    if r.random() < 0.7:
        body.stand(u(2, 20), sitting=r.random() < 0.3)
