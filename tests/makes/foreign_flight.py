"""A flight in outings of `foreign`: from run-up, step or rope over bursts of pumps to its end, with its truth."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Any

import numpy as np

from cadence_coach.core.units import G

from .foreign_motion import D, Track, ease, padded, pulse
from .foreign_riders import FS, PI, Burst, Rider

MOST_LANDING = 2.6
"""[g] over 1 g."""


def ride(t: Track, rider: Rider, counts: Sequence[int], how: str, end: str, wave: float) -> None:
    """A start and bursts of so many pumps with coasts between, each a flight (or an attempt, under three pumps) of
    its own; a single 0: a start and no more. how: run_up, step, rope; end: fall, coast_out, touch_down."""
    r = t.r
    speed = r.uniform(3.8, 6)
    start(t, how, speed)
    for i, count in enumerate(counts):
        if not count:
            continue
        last = i == len(counts) - 1
        pump(t, rider, count, how if i == 0 else "unknown", end if last else "coast_out", speed, wave)
        if not last:
            coast(t, 3.4 / rider.cadence + r.uniform(0.6, 5), speed)
    if end == "fall":
        t.fall(speed)
        return
    if end == "coast_out":
        coast(t, r.uniform(1.2, 3.5), speed * 0.75)
        falls = 0.5
    else:
        touch(t, speed)
        falls = 0.6
    if r.random() < falls:
        t.fall(1.5)
    else:
        t.sit(r.uniform(2, 4))


def start(t: Track, how: str, speed: float) -> None:
    """To flying at this speed [m/s]."""
    r = t.r
    if how == "run_up":
        if r.random() < 0.6:
            t.walk(r.uniform(2, 5))
        t.run(r.uniform(1.4, 4.0), "run-up", r.uniform(3.2, 5))
        catch_board(t, t.leap(), speed)
    elif how == "step":
        t.stand(r.uniform(2, 5), "on the edge")
        m = int(r.uniform(0.5, 1.2) * FS)
        n, fore, side = 1 + t.noise(m, 1.4, 0.07), 0.15 * t.noise(m, 1, 1), t.noise(m, 1, 0.05)
        t.add("shove board", n, fore, side, 25 * D, 4 * D, tissue=0.03, speed=0.8)
        catch_board(t, t.leap(r.uniform(0.1, 0.2), r.uniform(0.25, 0.75)) * 0.8 + 0.35, speed)
    else:
        t.sit(r.uniform(3, 8))
        m = int(r.uniform(1.2, 3) * FS)
        t.add(
            "pulled up", 1 + t.noise(m, 0.9, 0.12), 0.15 + t.noise(m, 0.8, 0.08), t.noise(m, 0.8, 0.07),
            25 * D + t.noise(m, 0.5, 8 * D), t.noise(m, 0.5, 6 * D), tissue=0.05, speed=np.linspace(0.5, speed, m),
            splash=0.5,
        )  # fmt: skip
        m = int(r.uniform(4, 14) * FS)
        t.add(
            "on the rope", 1 + t.noise(m, 0.5, 0.03) + t.noise(m, 2.2, 0.025), 0.06 + t.noise(m, 0.6, 0.04),
            t.noise(m, 0.8, 0.04), -6 * D + t.noise(m, 0.4, 4 * D), t.noise(m, 0.4, 3 * D), t.noise(m, 0.1, 0.2),
            tissue=0.03, speed=speed,
        )  # fmt: skip
        m = int(r.uniform(0.5, 1.6) * FS)
        t.add(
            "let go", 1 + t.noise(m, 0.8, 0.012), -0.05 + t.noise(m, 0.8, 0.03), t.noise(m, 0.8, 0.03), 8 * D,
            t.noise(m, 0.4, 2 * D), tissue=0.03, speed=speed,
        )  # fmt: skip


def catch_board(t: Track, down: float, speed: float) -> None:
    """Landing on the board: an impact and an absorption that together stop the fall [m/s]; then near 1 g."""
    r = t.r
    m = r.integers(200, 360)
    caught = pulse(m, 1, r.uniform(0.15, 0.4)) + r.uniform(0.1, 0.6) * padded(pulse(m // 3, 1, 0.4), m)
    caught = np.minimum(caught * (down / (caught.sum() / FS * G)), MOST_LANDING)
    t.kicks.append((t.now + 0.06, r.uniform(0.1, 0.5)))
    t.add(
        "landing", 1 + caught, -0.25 * pulse(m, 1), t.noise(m, 2, 0.08), r.uniform(5, 30) * D, r.uniform(-6, 6) * D,
        tissue=0.06, speed=speed,
    )  # fmt: skip
    m = int(r.uniform(0.1, 1.0) * FS)
    s = np.arange(m) / FS
    dip = -r.uniform(0.05, 0.22) * np.exp(-s / 0.18) * np.sin(2 * PI * r.uniform(1.2, 2) * s) * ease(s / 0.08)
    t.add(
        "settle", 1 + np.minimum(dip, 0.04) + t.noise(m, 0.8, 0.008), t.noise(m, 1, 0.03), t.noise(m, 1, 0.03),
        r.uniform(5, 28) * D, t.noise(m, 0.7, 2 * D), tissue=0.03, speed=speed,
    )  # fmt: skip


def coast(t: Track, s: float, speed: float) -> None:
    m = int(s * FS)
    t.add(
        "coast", 1 + t.noise(m, 0.45, 0.018) + t.noise(m, 1.2, 0.008), -0.05 + t.noise(m, 0.5, 0.02),
        t.noise(m, 0.6, 0.02), 12 * D + t.noise(m, 0.4, 2 * D), t.noise(m, 0.4, 2.5 * D), t.noise(m, 0.1, 0.2),
        speed=speed,
    )  # fmt: skip


def touch(t: Track, speed: float) -> None:
    """The board comes down on the water and slows."""
    r = t.r
    m = int(r.uniform(0.5, 1) * FS)
    t.add(
        "touch", 1 + padded(pulse(m // 2, r.uniform(0.15, 0.5), 0.3), m) + t.noise(m, 2, 0.05),
        -r.uniform(0.25, 0.6) * pulse(m, 1, 0.3), t.noise(m, 2, 0.08), 25 * D, 4 * D, tissue=0.08, speed=speed * 0.5,
        splash=2,
    )  # fmt: skip


def pump(t: Track, rider: Rider, count: int, how: str, end: str, speed: float, wave: float) -> None:
    """One burst of pumps, one at least; its truth is a flight's from three pumps on."""
    r, k = t.r, rider.trunk
    burst = rider.burst(count, wave)
    begun, cut = t.now, len(burst.n)
    if end == "fall":  # somewhere after the last push end
        low = int((burst.end[-1] + 0.06) * FS)
        cut = int(np.clip(low + r.uniform(0, 1) * max(cut - low, 1), low, cut))
    n, phi = burst.n[:cut], burst.phi[:cut]
    m, x = len(n), 2 * PI * phi
    on = ease(np.clip((phi + 0.6) / 0.6, 0, 1) * np.clip((count + 0.05 - phi) / 0.5, 0, 1))
    swings = on * (1 + t.noise(m, 0.5, 0.12))
    pitch = swings * (k.pitch * np.sin(x + k.pitch_at) + k.pitch2 * np.sin(2 * x + k.pitch2_at))
    t.add(
        f"{count} pumps", n, swings * (k.fore * np.sin(x + k.fore_at) + k.fore2 * np.sin(2 * x + k.fore2_at)),
        on * k.side * np.sin(x / 2 + 1) + t.noise(m, 0.8, 0.02), (k.lean + pitch) * D + t.noise(m, 0.25, 2 * D),
        on * k.roll * D * np.sin(x + k.roll_at) + t.noise(m, 0.3, 2 * D),
        on * k.yaw * D * np.sin(x + 1) + t.noise(m, 0.08, 0.3), tissue=0.012 + 0.03 * t.harsh * r.random(),
        speed=speed + t.noise(m, 0.1, 0.2), splash=0.02 + 0.25 * t.harsh,
    )  # fmt: skip
    cycles = _cycles(burst, begun)
    for onset, push_end, peak in zip(burst.onset, burst.end, burst.peak, strict=True):
        slap, early = push_end + r.uniform(0, 0.05), onset + r.uniform(0.02, 0.1)
        for chance, at in ((0.8, slap), (0.35 * t.harsh, early)):
            if r.random() < chance:
                t.kicks.append((begun + at, t.knock * r.uniform(0.4, 1.3) * (peak - 0.6)))
    told = {
        "start_s": cycles[0]["onset_s"], "end_s": round(cycles[-1]["onset_s"] + burst.period, 4), "pumps": count,
        "started_by": how, "ended_by": end,
    }  # fmt: skip
    if count >= 3:
        t.pumps += cycles
        t.flights.append(told)
    else:
        t.attempts.append(told | {"cycles": cycles})
    t.blind.append((begun, begun + r.uniform(5, 15)))


def _cycles(burst: Burst, begun: float) -> list[dict[str, Any]]:
    """The burst's pumps as truth has them, to 0.1 ms; begun: its beginning [s]."""
    travels = [round(_travel(burst.n[int(a * FS) : int(b * FS)]), 4) for a, b in pairwise(burst.onset)]
    columns = (burst.onset, burst.peak_at, burst.end, burst.peak, [*travels, None])
    return [
        {
            "onset_s": round(float(begun + onset), 4), "peak_s": round(float(begun + at), 4),
            "push_end_s": round(float(begun + push_end), 4), "peak_g": round(float(peak), 4), "travel_m": travel,
        }
        for onset, at, push_end, peak, travel in zip(*columns, strict=True)
    ]  # fmt: skip


def _travel(n: np.ndarray) -> float:
    """[m] from top to bottom of a pump that ends as high and as fast as it began."""
    a = (n - 1) * G
    v = np.cumsum(a - a.mean()) / FS
    z = np.cumsum(v - v.mean()) / FS
    return float(np.ptp(z - np.linspace(0, z[-1], len(z))))
