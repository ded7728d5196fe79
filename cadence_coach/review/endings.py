"""How a flight ended, looked at again with what came after it.

The live coach has to decide within seconds; a review sees what followed. Everything ends in the water, so what tells is
how long the rider still stood on the board after the last pump, and how he left it:

    coasting out   calm near 1 g for a second and more, or right up to where he drops off, or pumping again soon
    touch-down     short of that, but standing: the board bumps or brakes, then the rider steps or drops off
    fall           support goes with the last glide: light, then a blow, and turned over by it

A board that stalls in the last glide drops its rider too, only not as far: where how long he was light and how far he
was turned lie between the two, the answer is "unknown", never a guess; a tap or `review --ended` sets it right.
Magnitude and the angle between two means are enough for all that and need no orientation.
"""

from __future__ import annotations

from collections.abc import Sequence

import attrs
import numpy as np

from cadence_coach.core import events as ev
from cadence_coach.core.units import G
from cadence_coach.store.outing import Outing

LOOK_AFTER_S = 7.0
LEAST_AFTER_S = 2.0
"""Samples needed after the flight before anything is judged."""

SMOOTH_S = 0.08
"""About one period of a ringing pouch (7-18 Hz): without it each ring is a blow."""

BLOW_G = 1.35
LIGHT_G = 0.72
"""A blow is magnitude through BLOW_G within BLOW_AFTER_S of being under LIGHT_G: light, then caught by the water."""
BLOW_AFTER_S = 0.3

CALM_G = 0.2
COAST_S = 1.05
"""Calm: within CALM_G of 1 g. Longer than any glide of a pump that still ends in an onset."""

GLIDED_S, UP_TO_DROP_S, NO_BUMP_G = 0.35, 0.05, 1.08
"""A shorter calm that holds right up to the drop, without a bump: the board never touched, it ran out."""

STOOD_S = 0.18
NO_DROP_S = 0.02
"""Support that is there longer than this after the last pump is standing, and who stood drops off the board in the end;
a fall takes the rider out of the last glide."""

PUMP_TIME, PUMP_HEIGHT, PUMP_GAP, FEW = (0.75, 1.3), (0.6, 1.5), (0.75, 1.4), 4
"""A last pump whose push lasts, rises over 1 g, or comes after the one before it, outside of these times what is usual
in this flight is no pump but the board that touches, or the water. With fewer pumps nothing is usual."""

PUMPED_ON_S = 7.0
"""Who pumps again so soon was never in the water."""

FALL_LIGHT_S, FALL_TIPPED_DEG = 0.2, 60.0
"""Out of the last glide, with no standing between: a fall is light for longer and turns the rider over, a board that
stalls under him drops him a hand's breadth and leaves him upright. What is measured over these, added up, is how much
of a fall it was: ..."""
STALL, FALL = 0.9, 1.2
"""... up to the first a stall, from the second on a fall; between them nobody can tell."""

BRAKED_S = 2.5
"""Longer than this nobody stands on a board that has touched: it is braked, and sinks."""

AGAIN_FROM_S, AGAIN_UNTIL_S, AGAIN = 0.5, 2.5, 1.2
"""Light and a blow once more, this long after the first: who falls is in the water by then, so the first was the board
that touched; unless it was this much of a fall and more."""

LYING_DEG = 60.0
"""Calm, but as far from how he stood as this: that is the water."""

HARD_BLOW_G = 1.9
"""A blow as high as this without being light before is a fall from near the water, not a board that touches."""


@attrs.frozen
class Signs:
    """What the samples after the last pump show. calm_s: near 1 g from the flight's end on; blow_s: from the flight's
    end to the blow, None where none came; light_s: how long the magnitude was under LIGHT_G before it; stood_s: from
    the flight's end to where that began; bump_g: highest magnitude in between; tipped_deg: direction of the force in
    the half second after the blow against that of the flight; leaned_deg: the same while it is calm; again: light and
    blown once more; pumped_on: another flight within PUMPED_ON_S."""

    calm_s: float
    blow_s: float | None
    light_s: float
    stood_s: float
    bump_g: float
    tipped_deg: float
    leaned_deg: float
    again: bool = False
    pumped_on: bool = False


def signs(outing: Outing, flight: ev.FlightEnded, cycles: Sequence[ev.CycleDone] = ()) -> Signs | None:
    """The signs in the LOOK_AFTER_S after a flight; None where the samples stop, or have a hole, within LEAST_AFTER_S.
    `cycles`: the pumps of the flight, where they are known."""
    last, end = _last_pump(flight, cycles)
    first, until = np.searchsorted(outing.accel[:, 0], [min(flight.start, last - 6.0), end + LOOK_AFTER_S])
    part = outing.accel[first : until + 1]
    part = part[np.isfinite(part).all(axis=1)]
    if not len(part):
        return None
    part = part[np.concatenate([[True], np.diff(np.maximum.accumulate(part[:, 0])) > 0.0])]
    t, force = part[:, 0], part[:, 1:4] / G
    near = (t > last) & (t < end + LEAST_AFTER_S)
    if t[-1] < end + LEAST_AFTER_S or near.sum() < 40 or np.max(np.diff(t[near])) > 0.3:
        return None
    after = t > last
    level = _smoothed(t, np.linalg.norm(force, axis=1))
    times, g = t[after], level[after]
    blow = _first_blow(times, g, last + 0.15)
    at = times[-1] if blow is None else times[blow]
    light_from, light = at, 0.0
    if blow is not None:
        under = np.flatnonzero((g[: blow + 1] <= LIGHT_G) & (times[: blow + 1] > at - BLOW_AFTER_S))
        start = under[-1]
        while start > 0 and g[start - 1] <= LIGHT_G:
            start -= 1
        light_from, light = times[start], float(times[under[-1]] - times[start])
    later = times >= end
    off = np.flatnonzero(np.abs(g[later] - 1.0) > CALM_G)
    between = (times > end - 0.12) & (times < light_from - 0.02)
    flying = (t > max(flight.start, last - 6.0)) & (t < last)
    caught = (t > at + 0.3) & (t < at + 0.8)
    calm = float(times[later][off[0]] - end) if len(off) else float(times[-1] - end)
    standing = (t > end) & (t < end + min(calm, 2.0))
    upright = force[flying].mean(axis=0)
    return Signs(
        calm_s=calm,
        blow_s=None if blow is None else float(at - end),
        light_s=light,
        stood_s=float(light_from - end),
        bump_g=float(g[between].max()) if between.any() else 1.0,
        tipped_deg=_angle(upright, np.median(force[caught], axis=0)) if caught.any() else 0.0,
        leaned_deg=_angle(upright, np.median(force[standing], axis=0)) if standing.any() else 0.0,
        again=blow is not None and _again(times, g, at),
        pumped_on=any(flight.time < f.start < flight.time + PUMPED_ON_S for f in outing.flights),
    )


def judged(flight: ev.FlightEnded, found: Signs | None) -> str:
    """The ending. A hole or the end of the data is known for certain and stays; without signs the detector's word
    does."""
    if flight.ended_by in ("gap", "end_of_data") or found is None:
        return flight.ended_by
    fallen = found.light_s / FALL_LIGHT_S + found.tipped_deg / FALL_TIPPED_DEG
    if found.pumped_on and (found.stood_s > STOOD_S or fallen < AGAIN):
        return "coast_out"
    blown = found.blow_s is not None and found.blow_s < found.calm_s
    if found.calm_s >= COAST_S and not blown:
        return "coast_out" if found.leaned_deg < LYING_DEG else "fall"
    if found.blow_s is None:
        return "fall" if found.bump_g >= HARD_BLOW_G else "touch_down" if found.bump_g > 1.0 + CALM_G else "unknown"
    if found.stood_s > BRAKED_S:
        return "coast_out"
    if found.stood_s > GLIDED_S and found.calm_s > found.stood_s - UP_TO_DROP_S and found.bump_g < NO_BUMP_G:
        return "coast_out"
    if found.stood_s > STOOD_S:
        return "touch_down" if found.light_s > NO_DROP_S else "fall"
    if fallen < STALL or (found.again and fallen < AGAIN):
        return "touch_down"
    return "fall" if fallen > FALL else "unknown"


def _last_pump(flight: ev.FlightEnded, cycles: Sequence[ev.CycleDone]) -> tuple[float, float]:
    """Push end of the last real pump, and where its period ends. A board that touches, or the water that catches the
    rider, can look like one more."""
    if len(cycles) < FEW:
        return (cycles[-1].push_end if cycles else flight.time - 0.4), flight.time
    period = max(float(np.median([c.period for c in cycles[:-1]])), 1e-3)
    push = max(float(np.median([c.push_end - c.onset for c in cycles[:-1]])), 1e-3)
    height = max(float(np.median([c.peak_g for c in cycles[:-1]])) - 1.0, 1e-3)
    for at in range(len(cycles) - 1, len(cycles) - 4, -1):
        c, before = cycles[at], cycles[at - 1]
        ratios = ((c.push_end - c.onset) / push, (c.peak_g - 1.0) / height, (c.onset - before.onset) / period)
        bounds = (PUMP_TIME, PUMP_HEIGHT, PUMP_GAP)
        if all(low <= ratio <= high for ratio, (low, high) in zip(ratios, bounds, strict=True)):
            return c.push_end, flight.time if at == len(cycles) - 1 else c.onset + period
    return cycles[-1].push_end, flight.time


def _again(t: np.ndarray, g: np.ndarray, at: float) -> bool:
    """Whether it is light and then blown once more; what is light before AGAIN_FROM_S less a drop belongs to `at`."""
    later = t > at + AGAIN_FROM_S - BLOW_AFTER_S / 2.0
    blow = _first_blow(t[later], g[later], at + AGAIN_FROM_S)
    return blow is not None and bool(t[later][blow] < at + AGAIN_UNTIL_S)


def _first_blow(t: np.ndarray, g: np.ndarray, start: float) -> int | None:
    for k in np.flatnonzero((g[:-1] < BLOW_G) & (g[1:] >= BLOW_G) & (t[1:] > start)) + 1:
        if g[(t >= t[k] - BLOW_AFTER_S) & (t <= t[k])].min() <= LIGHT_G:
            return int(k)
    return None


def _angle(a: np.ndarray, b: np.ndarray) -> float:
    lengths = float(np.linalg.norm(a) * np.linalg.norm(b))
    return float(np.degrees(np.arccos(np.clip(a @ b / lengths, -1.0, 1.0)))) if lengths > 0.0 else 0.0


def _smoothed(t: np.ndarray, g: np.ndarray) -> np.ndarray:
    """Mean over SMOOTH_S around each sample: symmetric, so nothing moves in time."""
    total = np.concatenate([[0.0], np.cumsum(np.diff(t) * (g[1:] + g[:-1]) / 2.0)])
    left, right = np.maximum(t - SMOOTH_S / 2.0, t[0]), np.minimum(t + SMOOTH_S / 2.0, t[-1])
    return (np.interp(right, t, total) - np.interp(left, t, total)) / np.maximum(right - left, 1e-9)
