"""The three rope rungs, scored from the raw signal: level, up and down, faster than the rope."""

from __future__ import annotations

import numpy as np

from cadence_coach.review import stats
from cadence_coach.review.figures import Looked
from cadence_coach.review.say import Said, say
from cadence_coach.review.vertical import up_axes, vertical

LEVEL_S, LEVEL_RMS_G, LEVEL_PEAK_G, LEVEL_TILT_DEG, LEVEL_TIMES = 10.0, 0.10, 0.4, 10.0, 2
LEVEL_BAND_HZ = (0.5, 5.0)
LEAST_SPEED = 2.0
"""Behind a boat [m/s]: slower than that nothing flies. Only asked where the speed is known."""

PUMP_COUNT, PUMP_PERIOD_S, PUMP_CV, PUMP_TRAVEL_M = 10, (0.5, 1.0), 0.10, 0.06
PUMP_PARTS, PUMP_PARTS_MASTERED = (0.12, 0.40), (0.18, 0.32)

FASTER_PUMPS, FASTER_BY, FASTER_BEFORE_S, FASTER_FOR_S = 8, 0.4, 5.0, 3.0

GRID_HZ = 50.0

Scored = tuple[float | None, float, Said]
"""Best value, what passes, and the words for it."""


def level_runs(looked: Looked) -> Scored:
    """How many quiet spans of LEVEL_S that do not overlap."""
    need, nothing = float(LEVEL_TIMES), say("nothing_to_score")
    accel = looked.outing.accel
    if len(accel) < 2:
        return None, need, nothing
    start, end = float(accel[0, 0]), float(accel[-1, 0])
    t, g = vertical(looked.outing, start, end)
    up_t, up = up_axes(looked.outing, start, end)
    grid = np.arange(start, end, 1.0 / GRID_HZ)
    if len(grid) < LEVEL_S * GRID_HZ:
        return None, need, nothing
    on_grid = np.interp(grid, t, g)
    swing = _band(on_grid)
    holes = np.zeros(len(grid), bool)
    for gap in looked.outing.gaps:
        holes |= (grid >= gap.time) & (grid <= gap.end)
    speed = looked.track.at(grid)
    bad = holes | (np.abs(on_grid - 1.0) > LEVEL_PEAK_G) | (speed < LEAST_SPEED)
    axes = np.column_stack([np.interp(grid, up_t, up[:, i]) for i in range(3)])
    span = int(LEVEL_S * GRID_HZ)
    energy = np.concatenate([[0.0], np.cumsum(swing**2)])
    wrong = np.concatenate([[0], np.cumsum(bad)])
    runs, i = 0, 0
    while i + span <= len(grid):
        quiet = np.sqrt((energy[i + span] - energy[i]) / span) <= LEVEL_RMS_G
        if quiet and wrong[i + span] == wrong[i] and _within(axes[i : i + span]):
            runs += 1
            i += span
        else:
            i += int(GRID_HZ / 2)
    return float(runs), need, say("level_times", n=float(runs), times=LEVEL_TIMES)


def _within(axes: np.ndarray) -> bool:
    mean = axes.mean(axis=0)
    cosine = axes @ mean / (np.linalg.norm(axes, axis=1) * np.linalg.norm(mean))
    return bool(np.degrees(np.arccos(np.clip(cosine.min(), -1.0, 1.0))) <= LEVEL_TILT_DEG)


def _band(values: np.ndarray) -> np.ndarray:
    """The part of a signal on the grid in LEVEL_BAND_HZ, by Fourier transform."""
    spectrum = np.fft.rfft(values - values.mean())
    f = np.fft.rfftfreq(len(values), 1.0 / GRID_HZ)
    spectrum[(f < LEVEL_BAND_HZ[0]) | (f > LEVEL_BAND_HZ[1])] = 0.0
    return np.fft.irfft(spectrum, len(values))


def pump_runs(looked: Looked) -> Scored:
    """Longest run of whole pumps that fits the rule at once, counted up to where one pump breaks it."""
    best = _longest_run(looked, PUMP_PARTS)
    mastered = _longest_run(looked, PUMP_PARTS_MASTERED) >= PUMP_COUNT
    said = say("in_a_row_mastered" if mastered else "in_a_row", n=float(best))
    return (float(best) if looked.outing.cycles else None), float(PUMP_COUNT), said


def _longest_run(looked: Looked, share: tuple[float, float]) -> int:
    cycles = [c for c in looked.outing.cycles if c.whole]
    best, run = 0, 0
    for n, c in enumerate(cycles):
        parts = np.array([c.peak - c.onset, c.push_end - c.peak, c.low - c.push_end, c.time - c.low]) / c.period
        fits = (
            PUMP_PERIOD_S[0] <= c.period <= PUMP_PERIOD_S[1]
            and c.travel_m >= PUMP_TRAVEL_M
            and bool(((parts >= share[0]) & (parts <= share[1])).all())
        )
        joined = n > 0 and abs(cycles[n - 1].time - c.onset) < 0.02
        run = (run + 1 if joined else 1) if fits else 0
        steady = (
            run < 2 or (stats.variation(np.array([x.period for x in cycles[n - run + 1 : n + 1]])) or 0.0) <= PUMP_CV
        )
        run = run if steady else 1
        best = max(best, run)
    return best


def faster_than_rope(looked: Looked) -> Scored:
    """Most gain in speed [m/s] over the FASTER_BEFORE_S before, held for FASTER_FOR_S with FASTER_PUMPS pumps under
    way."""
    onsets = np.array([c.onset for c in looked.outing.cycles])
    if len(onsets) < FASTER_PUMPS:
        return None, FASTER_BY, say("nothing_to_score")
    best = None
    for i in range(len(onsets) - FASTER_PUMPS + 1):
        begin, last = onsets[i], onsets[i + FASTER_PUMPS - 1]
        if last - begin > 2.0 * FASTER_PUMPS:
            continue
        before = looked.track.within(begin - FASTER_BEFORE_S, begin)[1]
        for at in looked.track.within(begin, last + FASTER_FOR_S)[0]:
            held = looked.track.within(at, at + FASTER_FOR_S)
            if len(before) >= 3 and len(held[0]) >= 3 and held[0][-1] - held[0][0] >= FASTER_FOR_S - 1.0:
                gain = float(held[1].min() - before.mean())
                best = gain if best is None else max(best, gain)
    return best, FASTER_BY, say("faster_by", n=best or 0.0)
