"""Outings to learn from whose pumps come from eight mechanisms: a leg spring, stamping, driving, landing on the board,
one foot after the other, a tendon, a leg's velocity, swinging arms.

A rider is of one family (`families_waves`) with habits of its own (`families_rider`): pumping 1.05-1.95 Hz, period CV
2-7 %, push share 0.18-0.55, peak 1.4-2.6 g, fading, hesitating, leaving a pump out. An outing of 4 to 10 minutes is a
track (`families_track`) of tries (`families_flight`) and what lies between them on foot and in the water
(`families_between`); truth is read off its vertical (`families_truth`), and a phone records it (`families_phone`):
50, 100 or 200 Hz, the pouch ringing at 7-18 Hz, jitter to 3 ms, gaps to 0.35 s, a gyroscope in half, speed in three
quarters. No shoulder comes near 1 g, so that each onset has one reading. All values are the maker's own choice.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from scipy.ndimage import gaussian_filter1d

from cadence_coach.sim import SimulatedOuting

from .drawn_motion import Array
from .families_between import Day
from .families_flight import attempt
from .families_phone import recorded
from .families_rider import Rider
from .families_track import FS
from .families_truth import Unclear, truth_of
from .families_waves import FAMILIES

KINDS = ("dock", "beach", "tow", "step", "mixed", "long", "beginner", "noflight", "rough", "short")
"""Where the rider starts, or how long the flights are; rough: the phone is at its worst. In all but noflight one
flies, if there is time."""
PLACES = {"dock": "dock", "beach": "beach", "tow": "tow", "step": "dock"}
"""Where an outing of a kind takes place; of the others it is drawn."""
ENDS = ("fall", "touch_down", "coast_out")
WORN = ("chest", "hip", "back", "arm")
LATEST = 520
"""[s] after which flights are cut short."""


def kind_of(number: int) -> str:
    """Ten numbers in a row have all KINDS."""
    return KINDS[number % len(KINDS)]


def family_of(number: int) -> str:
    """Eighty numbers in a row have each kind with each family."""
    return FAMILIES[(number + number // len(KINDS)) % len(FAMILIES)]


def track_of(seed: int, number: int) -> tuple[Day, Array, dict[str, Any]]:
    """The motion, its vertical [g] at FS, and its truth; number: which kind and family. The day's generator goes on
    to what the phone makes of it. A rider whose pumps have not one reading is replaced. Numbers under 1000 share no
    random numbers with those of another seed."""
    for again in range(30):
        r = np.random.default_rng([1000 * seed + number, again, 77])
        worn = str(r.choice(WORN))
        day = Day(r, Rider(r, family_of(number)), worn)
        Script(day, kind_of(number)).play()
        up = gaussian_filter1d(day.whole()["up"], FS * r.uniform(0.004, 0.007), mode="nearest")
        try:
            return day, up, truth_of(up, day.tries)
        except Unclear:
            continue
    raise RuntimeError(f"no rider for outing {number} of seed {seed}")


def families_outing(seed: int, number: int) -> SimulatedOuting:
    """The outing as a phone records it, accelerations as float32 has them; number: which kind (`kind_of`) and family
    (`family_of`). `attempts` in its truth are all tries with the onsets of every pump, those of no flight too. The
    same arguments give the same outing."""
    day, up, truth = track_of(seed, number)
    accel, gyro, fixes = recorded(day, up, kind_of(number) == "rough")
    accel[:, 1:] = accel[:, 1:].astype(np.float32)
    return SimulatedOuting(accel, gyro, fixes, truth, {})


class Script:
    """What happens in an outing of a kind."""

    def __init__(self, day: Day, kind: str) -> None:
        self.day, self.r, self.kind = day, day.r, kind
        self.seconds = self.r.uniform(265, 530)
        self.place = PLACES.get(kind) or str(self.r.choice(["dock", "beach", "tow", "dock"]))

    def play(self) -> None:
        d, r = self.day, self.r
        d.stand(r.uniform(4, 15))
        if r.random() < 0.6:
            d.walk(r.uniform(8, 55))
        if r.random() < 0.2:
            d.warm_up()
        if self.kind == "noflight" and r.random() < 0.4:
            while d.now < self.seconds - 60:
                self._something_else()
        elif self.place == "tow" and r.random() < 0.7:
            d.boat(r.uniform(10, 40))
            d.jump_in()
        flown = False
        while d.now < self.seconds - 70:
            flown |= self._try(flown)
        d.stand(r.uniform(3, 12))
        if r.random() < 0.5 or d.now < 242:
            d.walk(max(r.uniform(8, 40), 244 - d.now))
        d.stand(r.uniform(1, 5))

    def _something_else(self) -> None:
        """No flight is wanted today."""
        d, r, tow = self.day, self.r, self.place == "tow"
        what = ("walk", "swim", "paddle", "sit", "try", "wait")[r.integers(6)]
        if what == "walk":
            d.walk(r.uniform(20, 80))
        elif what == "swim":
            d.jump_in()
            d.swim(r.uniform(20, 70))
            d.climb()
        elif what == "paddle":
            d.jump_in()
            d.climb()
            d.paddle(r.uniform(20, 90))
            d.climb()
        elif what == "sit":
            d.sit(r.uniform(10, 40))
        elif what == "try":
            attempt(d, "tow" if tow else "run_up", 0, "fall")
            d.back(self.place)
        elif tow:
            d.boat(r.uniform(20, 60))
        else:
            d.stand(r.uniform(10, 40))

    def _try(self, flown: bool) -> bool:
        """A try and the way back; past half time one that flies, if none has flown. Whether it had pumps enough."""
        d, r = self.day, self.r
        count, start = self._count(), self._start()
        flown |= count > 2
        if self.kind != "noflight" and d.now > self.seconds * 0.55 and not flown:
            count, flown = int(r.integers(5, 40)), True
        if start != "tow":
            d.stand(r.uniform(1.5, 10))
        if count > 3:
            count = min(count, max(4, int((LATEST - d.now) * d.rider.cadence)))
        end = r.choice(ENDS, p=[0.5, 0.28, 0.22]) if count else r.choice(ENDS[:2])
        attempt(d, start, count, str(end))
        d.back(self.place)
        if r.random() < 0.1 and self.place != "tow":
            d.jump_in()
            d.swim(r.uniform(5, 20))
            d.climb()
        return flown

    def _start(self) -> str:
        r = self.r
        if self.kind == "step":
            return "step"
        if self.kind == "mixed":
            return str(r.choice(["run_up", "step", "tow"]))
        if self.place == "tow":
            return "tow"
        return "run_up" if self.place == "beach" or r.random() < 0.8 else "step"

    def _count(self) -> int:
        """Pumps of a try."""
        r, kind = self.r, self.kind
        if kind == "beginner":
            return int(r.choice([0, 1, 2, r.integers(4, 9)], p=[0.3, 0.25, 0.2, 0.25]))
        if kind == "noflight":
            return int(r.choice([0, 1, 2]))
        if r.random() < 0.25:
            return int(r.integers(0, 3))
        if kind == "long":
            return int(r.integers(50, 111))
        if kind == "short":
            return int(r.integers(4, 13))
        return int(np.clip(np.exp(r.uniform(np.log(4), np.log(95))), 4, 110))
