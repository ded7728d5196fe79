"""Outings to learn from whose pumps have no formula: push and glide run through random points, up and down but once.

Where `drawn` bends half-sines, here a push climbs to its top and falls again through knots anywhere, so that it
crosses 1 g steeply or flatly, with a ledge or without, early top or late; a glide likewise, its area that of the push
(the mean is 1 g, by momentum). Trunk and surge swing with two harmonics in any phase. Riders leap onto the board and
wait a moment before they push; on foot both legs are alike. The rest, and what a phone makes of it, is `drawn`'s.
Nothing is scored on these: nets fitted on `drawn` and the simulator alone were worse on outings of a maker they had
not seen.
"""

from __future__ import annotations

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.ndimage import gaussian_filter1d

from cadence_coach.core.units import G
from cadence_coach.sim import SimulatedOuting

from .drawn import Run, Style, cycles, start_by, story_of
from .drawn_motion import DT, PI, Array, Story, eased, samples
from .drawn_phone import recorded

FLOOR = 0.95
"""No glide is deeper under 1 g than this [g]."""


FLAT = 0.5
"""A climb keeps above this part of the straight line: along 1 g itself there would be no time to be found."""


def _climb(r: np.random.Generator) -> tuple[Array, Array]:
    """None to three knots between the level and the top: how far along, how high, 0 to 1 each."""
    count = r.integers(0, 4)
    along = np.sort(r.uniform(0.08, 0.92, count))
    return along, np.maximum(np.sort(r.uniform(0, 1, count)), FLAT * along)


class Half:
    """One rider's push, or glide: from 0 up to 1 and back to 0 through knots, over a phase from 0 to 1."""

    def __init__(self, r: np.random.Generator) -> None:
        top = r.uniform(0.2, 0.8)
        rise, risen = _climb(r)
        fall, fallen = _climb(r)
        self.at = np.concatenate([[0], top * rise, [top], 1 - (1 - top) * fall[::-1], [1]])
        self.high = np.concatenate([[0], risen, [1], fallen[::-1], [0]])
        self.loose = r.uniform(0, 0.12)

    def drawn(self, r: np.random.Generator, count: int) -> Array:
        """Count points of one pump's, a little unlike the last one's."""
        inner = slice(1, -1)
        at, high = self.at.copy(), self.high.copy()
        at[inner] += self.loose * r.uniform(-0.5, 0.5, len(at) - 2)
        high[inner] *= 1 + self.loose * r.standard_normal(len(high) - 2)
        at = np.concatenate([[0], np.maximum.accumulate(np.clip(at[inner], 0.02, 0.9)) + 0.002 * np.arange(len(at) - 2),
                             [1]])  # fmt: skip
        x = np.arange(count) / count
        return np.asarray(PchipInterpolator(at, np.clip(high, 0, None))(x))


def woven_run(story: Story, count: int, style: Style, end: str) -> Run:
    """Pumps without a pause, and the swing of trunk and surge that goes with them."""
    r = story.rng
    push, glide, smooth = Half(r), Half(r), r.uniform(0.004, 0.02) / DT
    drawn = cycles(r, count, style)
    waves = []
    for period, share, height in drawn:
        m = samples(period)
        k = int(share * m)
        up, down = height * push.drawn(r, k), glide.drawn(r, m - k)
        depth = up.sum() / max(down.sum(), 1e-9)
        most = FLOOR / down.max()
        waves.append(np.concatenate([up * min(1.0, most / depth), -min(depth, most) * down]))
    if end == "fall":
        waves[-1] = waves[-1][: int(len(waves[-1]) * (drawn[-1][1] + (1 - drawn[-1][1]) * r.uniform(0.3, 1)))]
    begins = np.cumsum([0] + [len(wave) for wave in waves])
    m = int(begins[-1])
    turn = np.interp(np.arange(m), begins, 2 * PI * np.arange(count + 1))
    e = eased(np.arange(m) * DT / 0.5)

    def swing(most: float) -> Array:
        """Two harmonics in any phase."""
        one, two = most * r.random(), 0.5 * most * r.random()
        return e * (one * np.cos(turn + r.uniform(0, 6.3)) + two * np.cos(2 * turn + r.uniform(0, 6.3)))

    first = story.length
    n = 1 + gaussian_filter1d(np.concatenate(waves), smooth, mode="nearest")
    story.add(
        n + r.uniform(0, 0.02) * story.wobble(m, 0.3), swing(0.4) + 0.03 * story.wobble(m, 0.3), swing(0.2),
        swing(r.choice([0.06, 0.3])), swing(0.06), to=r.uniform(0, 0.6), to_roll=r.normal(0, 0.1),
        speed=story.speed * r.uniform(0.8, 1.1),
    )  # fmt: skip
    return [first + int(b) for b in begins], drawn


def woven_start(story: Story, start: str, flying: float) -> None:
    """As `start_by`; or a leap onto the board, from a run or from standing, after whose landing the rider stands
    lightly for a moment before the first push."""
    r = story.rng
    if start == "tow" or r.random() < 0.3:
        start_by(story, start, flying)
        return
    if start == "run_up":
        story.steps(int(r.integers(3, 13)), r.uniform(2.3, 3.2), 1.0, r.uniform(0.5, 0.85), r.uniform(0.1, 1.0), flying)
    else:
        story.stand(r.uniform(0.5, 3))
    down = story.leap(r.uniform(0.1, 0.24) if start == "step" else r.uniform(0.15, 0.5), r.uniform(0, 0.3))
    m = samples(r.uniform(0.12, 0.35))
    landing = Half(r).drawn(r, m)
    story.add(1 + landing * min(down / (G * landing.sum() * DT), 3.5 / landing.max()), -0.2 * landing, speed=flying)
    light = np.sin(PI * np.linspace(0, 1, samples(r.uniform(0.1, 0.9)))) ** r.uniform(0.3, 1)
    story.add(1 - r.uniform(0.05, 0.3) * light + 0.01 * story.wobble(len(light), 0.2))


def hopping(story: Story) -> None:
    """On foot with both legs alike: hops, high or hardly off the ground, knee bends, leaps into the water; between
    them walks and runs."""
    r = story.rng
    for _ in range(int(r.integers(5, 10))):
        what = r.choice(["hop", "hop", "bend", "leap", "walk", "run"])
        if what == "hop":
            rate, duty = r.uniform(1.5, 2.7), r.uniform(0.45, 0.85)
            story.steps(
                int(r.integers(3, 20)), rate, 1.0, duty, r.uniform(0, 0.6), 0.0, two=0.0, cv=r.uniform(0.01, 0.06)
            )
        elif what == "bend":
            story.bends(int(r.integers(3, 9)))
        elif what == "leap":
            story.dive(0.55)
        elif what == "run":
            duty = r.uniform(0.5, 0.85)
            story.steps(int(r.integers(6, 40)), r.uniform(2.2, 3.2), 1.0, duty, r.uniform(0.1, 1.0), 4.0, cv=0.04)
        else:
            story.walk(r.uniform(6, 20))
        story.stand(r.uniform(0.5, 3))


def woven_outing(seed: int, kind: str, rate_hz: float, *, gyro: bool = True) -> SimulatedOuting:
    """The outing as a phone records it, of a kind that `drawn` knows; none has speed. The same arguments give the same
    outing."""
    story = story_of(seed, kind, 78, woven_start, woven_run, hopping)
    accel, turns, _ = recorded(story, rate_hz, story.rng.choice([0.1, 0.4, 0.6, 1.0]), gyro, speed=False)
    truth = {"pumps": story.pumps, "flights": story.flights, "attempts": story.attempts}
    return SimulatedOuting(accel, turns, None, truth, {"kind": kind, "seed": seed})
