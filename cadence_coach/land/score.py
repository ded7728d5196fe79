"""How well squats or hops went with the clicks of one set.

Each movement is its onset, the upward crossing of 1 g, as on the water. Its phase against the nearest click is an
angle: 2 pi x (onset - click) / period, positive when late. Sources: Mardia & Jupp, Directional Statistics (2000), 5.3
(Rayleigh, V test); Zar, Biostatistical Analysis, eq. 27.4 for the p value of Rayleigh's test; all from memory,
checked in the tests against pingouin.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import median

from cadence_coach.core.flown import beats

SETTLING = 4
"""The first clicks of a set are for finding the beat and do not count."""
PASS_LOCK = 0.90
"""R of about 50 ms of scatter at 1.5 Hz: exp(-sigma^2 / 2) = 0.895 (computed)."""
PASS_STEADINESS = 0.06
"""An uneven interval is heard from 6 % on (Drake & Botte 1993)."""
PASS_TEMPO = 0.03
"""A wrong tempo over several intervals from 3 % on (same source)."""
PASS_SHARE_OF_CLICKS = 0.85
FEWEST = 8
"""Fewer movements than this say nothing about a lock."""


@dataclass(frozen=True, slots=True)
class Move:
    """One squat or hop: onset, push end and next onset on the clock of the clicks [s]; the last two may be unknown."""

    onset: float
    push_end: float | None = None
    next_onset: float | None = None


@dataclass(frozen=True, slots=True)
class SetScore:
    """One set. Times in s; `lead_s` > 0 is ahead of the click, None where clicks and movement share no clock.

    `lock_r` 0 (anywhere) to 1 (always at the same place of the beat); `v_p`: chance that movement without regard to the
    clicks lands as near to them; `rayleigh_p`: ... as close together, wherever that is. `offsets_s`: each movement
    after (+) or before (-) its click. `steadiness`: standard deviation (n - 1) over mean of the intervals, as of a
    flight without those over 1.6 times the median: there a movement was left out or not heard, which `missed` counts.
    None where there was too little to say.
    """

    tempo_per_min: float
    clicks: int
    moves: int
    matched: int
    extra: int
    lock_r: float | None
    lead_s: float | None
    v_p: float | None
    rayleigh_p: float | None
    cadence_per_min: float | None
    steadiness: float | None
    push_share: float | None
    offsets_s: tuple[float, ...]

    @property
    def missed(self) -> int:
        return self.clicks - self.matched

    @property
    def shortfalls(self) -> tuple[str, ...]:
        """What keeps this set from counting as passed, the plainest first; empty when it is passed."""
        if self.moves < FEWEST or self.cadence_per_min is None or self.lock_r is None or self.steadiness is None:
            return ("too_few",)
        out = []
        if abs(2 * self.cadence_per_min / self.tempo_per_min - 1) <= 2 * PASS_TEMPO:
            return ("every_second",)
        if self.matched < PASS_SHARE_OF_CLICKS * self.clicks:
            out.append("missed")
        if abs(self.cadence_per_min / self.tempo_per_min - 1) > PASS_TEMPO:
            out.append("faster" if self.cadence_per_min > self.tempo_per_min else "slower")
        if self.steadiness > PASS_STEADINESS:
            out.append("uneven")
        if self.lock_r < PASS_LOCK:
            out.append("loose")
        return tuple(out)

    @property
    def passed(self) -> bool:
        return not self.shortfalls


def lock(phases: Sequence[float]) -> tuple[float, float]:
    """(R, mean direction [rad]) of angles: R = |mean exp(i phi)|."""
    c = sum(map(math.cos, phases)) / len(phases)
    s = sum(map(math.sin, phases)) / len(phases)
    return math.hypot(c, s), math.atan2(s, c)


def v_test(phases: Sequence[float], direction: float = 0.0) -> float:
    """p of the V test: uniform angles against a mean direction that is given beforehand."""
    r, mean = lock(phases)
    u = r * math.cos(mean - direction) * math.sqrt(2 * len(phases))
    return 0.5 * math.erfc(u / math.sqrt(2))


def rayleigh_test(phases: Sequence[float]) -> float:
    """p of Rayleigh's test: uniform angles against any one mean direction."""
    n = len(phases)
    total = n * lock(phases)[0]
    return min(1.0, math.exp(math.sqrt(1 + 4 * n + 4 * (n * n - total * total)) - (1 + 2 * n)))


def score_set(clicks: Sequence[float], moves: Sequence[Move], same_clock: bool = True) -> SetScore:
    """The score of one set: click times [s], rising and evenly spaced, and the movements on the same time scale.

    `same_clock` False: the two were put together by how they fit, so the lead and the V test say nothing.
    """
    if len(clicks) < 2:
        raise ValueError("a set has two clicks or more")
    period = (clicks[-1] - clicks[0]) / (len(clicks) - 1)
    counted = list(clicks[SETTLING:]) or list(clicks[-1:])
    inside = [m for m in moves if counted[0] - period / 2 <= m.onset < counted[-1] + period / 2]
    phases, offsets, taken = [], [], set()
    for move in inside:
        beat = round((move.onset - clicks[0]) / period)
        beat = min(max(beat, 0), len(clicks) - 1)
        off = move.onset - clicks[beat]
        offsets.append(off)
        phases.append(2 * math.pi * off / period)
        taken.add(beat)
    enough = len(inside) >= FEWEST
    r, mean = lock(phases) if enough else (None, None)
    periods = [b.onset - a.onset for a, b in pairwise(inside)]
    shares = [
        (m.push_end - m.onset) / (m.next_onset - m.onset)
        for m in inside
        if m.push_end is not None and m.next_onset is not None and m.next_onset > m.onset
    ]
    return SetScore(
        tempo_per_min=round(60 / period, 6),  # as it was asked; click times are floats, in files whole ns
        clicks=len(counted),
        moves=len(inside),
        matched=len(taken),
        extra=len(inside) - len(taken),
        lock_r=r,
        lead_s=-mean * period / (2 * math.pi) if mean is not None and same_clock else None,
        v_p=v_test(phases) if enough and same_clock else None,
        rayleigh_p=rayleigh_test(phases) if enough else None,
        cadence_per_min=60 / median(periods) if enough else None,
        steadiness=_variation(beats(periods)) if enough else None,
        push_share=median(shares) if enough and shares else None,
        offsets_s=tuple(offsets),
    )


def _variation(values: Sequence[float]) -> float:
    """Coefficient of variation with the sample SD (n - 1)."""
    mean = sum(values) / len(values)
    return math.sqrt(sum((v - mean) ** 2 for v in values) / (len(values) - 1)) / mean
