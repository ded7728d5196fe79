"""How often a correction may be made, and whether there is swell."""

from __future__ import annotations

import math
import random

import numpy as np
import pytest

from cadence_coach.core.pace import Pace
from cadence_coach.core.swell import Swell

PERIOD = 0.7


class Clock:
    """A pace that is asked once a pump."""

    def __init__(self, level: str = "full") -> None:
        self.pace, self.t, self.said = Pace(level), 0.0, []

    def pumps(self, n: int, off: bool) -> Clock:
        for _ in range(n):
            self.t += PERIOD
            self.pace.pump()
            self.pace.look(off, PERIOD)
            if off and not self.pace.why_not(self.t):
                self.pace.spoke(self.t)
                self.said.append(self.t)
        return self


def test_two_looks_for_one_correction() -> None:
    clock = Clock().pumps(1, True)
    assert "half of the looks" in clock.pace.why_not(clock.t)
    clock.pumps(1, True)
    assert len(clock.said) == 1


def test_ten_pumps_and_eight_seconds() -> None:
    clock = Clock().pumps(200, True)
    assert all(b - a >= max(8.0, 11 * PERIOD) - 1e-9 for a, b in zip(clock.said, clock.said[1:], strict=False))


@pytest.mark.parametrize(("level", "most"), [("full", 4), ("basic", 2), ("quiet", 0)])
def test_ceiling(level: str, most: int) -> None:
    clock = Clock(level).pumps(600, True)
    counts = [sum(t <= u < t + 60.0 for u in clock.said) for t in clock.said] or [0]
    assert max(counts) == most


def test_halved_after_each_minute_in_band_and_whole_on_relapse() -> None:
    clock = Clock().pumps(2, True)
    for minutes, ceiling in ((0.5, 4), (1.1, 2), (2.1, 1), (5.0, 1)):
        clock.pumps(int(minutes * 60 / PERIOD) - round(clock.pace._in_band / PERIOD), False)
        assert clock.pace.ceiling == ceiling, minutes
    clock.pumps(19, True)
    assert clock.pace.ceiling == 1
    clock.pumps(1, True)
    assert clock.pace.ceiling == 4


def pumping(
    seed: int, wave_s: float, height: float, pumps: int = 60, slope: float = 0.0, on: str = "travel"
) -> list[bool]:
    rng, swell, t, found = random.Random(seed), Swell(), 0.0, []
    for _ in range(pumps):
        t += PERIOD * (1 + rng.gauss(0.0, 0.04))
        wave = 1.0 + height * math.sin(2 * math.pi * t / wave_s) + slope * t
        noise = 1.0 + rng.gauss(0.0, 0.06)
        travel, speed = (0.2 * wave * noise, 4.5) if on == "travel" else (0.2 * noise, 4.5 * wave)
        swell.add(t, travel, speed)
        found.append(swell.found)
    return found


@pytest.mark.parametrize("seed", range(20))
@pytest.mark.parametrize("wave_s", [4.0, 5.5, 7.0, 10.0])
@pytest.mark.parametrize("on", ["travel", "speed"])
def test_swell_is_seen_in_travel_and_in_speed(seed: int, wave_s: float, on: str) -> None:
    found = pumping(seed, wave_s, 0.25, on=on)
    assert not any(found[:23])
    assert sum(found[30:]) >= 0.8 * len(found[30:])


def waves(wave_s: float, height: float, other: float = 0.0, every: float = PERIOD, pumps: int = 24) -> bool:
    """Whether a sine in travel, with alternating pumps `other` bigger and smaller, is swell after so many pumps."""
    swell = Swell()
    for k in range(pumps):
        t = 1000.0 + every * k
        swell.add(t, 0.2 * (1 + height * math.sin(2 * math.pi * t / wave_s) + other * (-1) ** k), None)
    return swell.found


@pytest.mark.parametrize("wave_s", [4.0, 5.0, 6.0, 8.0, 10.0])
def test_swell_is_a_tenth_of_the_travel_at_least(wave_s: float) -> None:
    """Without any noise: 12 % is, 9 % is not; 23 pumps are too few to say."""
    assert waves(wave_s, 0.12)
    assert not waves(wave_s, 0.09)
    assert not waves(wave_s, 0.12, pumps=23)


@pytest.mark.parametrize("wave_s", [4.0, 5.0, 6.0, 8.0])
def test_swell_is_half_of_the_variance(wave_s: float) -> None:
    """A sine of height h has a mean square of h^2 / 2, alternating +-a one of a^2: half each at a = h / sqrt 2."""
    assert waves(wave_s, 0.3, 0.3 / math.sqrt(2) * 0.7)
    assert not waves(wave_s, 0.3, 0.3 / math.sqrt(2) * 1.25)


def test_a_wave_must_fit_one_and_a_half_times() -> None:
    """24 pumps, 0.16 s apart, take 3.7 s: not even the shortest wave fits, so nothing can be said; 0.27 s: 6.2 s, one
    of 4 s does."""
    assert not waves(4.0, 0.5, every=0.16)
    assert waves(4.0, 0.5, every=0.27)
    assert not waves(4.0, 0.5, every=0.25), "5.75 s are less than 6"


def test_a_wave_that_just_fits_is_seen() -> None:
    """24 pumps from 0 to 6 s exactly, one and a half waves of 4 s."""
    swell = Swell()
    for t in [*np.arange(23) * 0.25, 6.0]:
        swell.add(float(t), 0.2 * (1 + 0.3 * math.sin(2 * math.pi * t / 4.0)), None)
    assert swell.found


def by_lines(t: np.ndarray, v: np.ndarray) -> tuple[bool, float]:
    """Independently computed: numpy.polyfit takes the straight line out, numpy.linalg.lstsq fits each sine. Is there
    swell, and by how much (as a share) does the nearest bound miss or hold?"""
    rest = v - np.polyval(np.polyfit(t - t.mean(), v, 1), t - t.mean())
    ripple, total = 0.10 * abs(v.mean()), float(rest @ rest)
    found, near = False, abs(math.sqrt(total / (len(t) * ripple**2 / 2)) - 1)
    for wave in (4.0, 5.0, 6.0, 8.0, 10.0):
        if 1.5 * wave > t[-1] - t[0]:
            continue
        sine = np.column_stack([np.cos(2 * np.pi * t / wave), np.sin(2 * np.pi * t / wave)])
        (a, b), left, *_ = np.linalg.lstsq(sine, rest, rcond=None)
        share, height = 1 - float(left[0]) / total, math.hypot(a, b) / ripple
        found = found or (share > 0.5 and height > 1.0 and total > len(t) * ripple**2 / 2)
        near = min(near, abs(share / 0.5 - 1), abs(height - 1))
    return found, near


def test_swell_is_what_least_squares_say() -> None:
    """500 of uneven pumps, slowing down, in waves of all lengths and heights about the bounds (numpy, seed 1)."""
    rng, seen = np.random.default_rng(1), []
    for _ in range(500):
        t = 50.0 + np.cumsum(rng.uniform(0.5, 1.1) * rng.uniform(0.7, 1.3, 24))
        wave = rng.uniform(0.08, 0.3) * np.sin(2 * np.pi * t / rng.uniform(3.5, 13.0) + rng.uniform(0, 7))
        v = 0.2 * (1 + wave + rng.uniform(-0.02, 0.02) * (t - t[0]) + rng.uniform(0.0, 0.2) * rng.standard_normal(24))
        expected, near = by_lines(t, v)
        if near > 1e-6:
            swell = Swell()
            for at, travel in zip(t.tolist(), v.tolist(), strict=True):
                swell.add(at, travel, None)
            assert swell.found == expected
            seen.append(expected)
    assert 100 < sum(seen) < len(seen) - 100


def test_calm_water_is_no_swell() -> None:
    looks = [f for seed in range(20) for f in pumping(seed, 6.0, 0.0, 120)[24:]]
    assert sum(looks) <= 0.01 * len(looks)


def test_slowing_down_is_no_swell() -> None:
    looks = [f for seed in range(20) for f in pumping(seed, 6.0, 0.0, 40, slope=-0.015, on="speed")[24:]]
    assert sum(looks) <= 0.01 * len(looks)


def test_chop_of_two_seconds_is_no_swell() -> None:
    looks = [f for seed in range(20) for f in pumping(seed, 2.1, 0.25)[24:]]
    assert sum(looks) <= 0.05 * len(looks)


def ready(level: str = "full", off: int = 100) -> Pace:
    """A pace with so many looks that were off, and nothing said yet."""
    pace = Pace(level)
    for _ in range(off):
        pace.pump()
        pace.look(True, PERIOD)
    return pace


def test_ten_pumps_are_still_too_soon_and_so_is_a_moment_under_eight_seconds() -> None:
    pace = ready()
    pace.spoke(100.0)
    for n in range(1, 12):
        pace.pump()
        assert pace.why_not(200.0) == ("within 10 pumps of the last correction" if n <= 10 else ""), n
    assert pace.why_not(108.0 - 1e-9) == "within 8 s of the last correction"
    assert pace.why_not(108.0) == ""


def test_a_minute_is_sixty_seconds() -> None:
    """Four were said in the last minute, the first of them 60 s ago or a moment less."""
    pace = ready()
    for k in range(4):
        pace.spoke(100.0 + 10.0 * k)
        for _ in range(11):
            pace.pump()
    assert pace.why_not(160.0 - 1e-9) == "the ceiling of 4 a minute"
    assert pace.why_not(160.0) == ""


def test_half_of_the_looks_are_answered_and_a_new_flight_counts_anew() -> None:
    pace = ready(off=4)
    for t in (100.0, 120.0):
        assert pace.why_not(t) == ""
        pace.spoke(t)
        for _ in range(11):
            pace.pump()
    assert pace.why_not(140.0) == "half of the looks that were off are answered"
    pace.start()
    pace.look(True, PERIOD)
    assert pace.why_not(140.0) == "half of the looks that were off are answered"
    pace.look(True, PERIOD)
    assert pace.why_not(140.0) == "", "two looks of this flight"


def test_a_relapse_is_twenty_pumps_of_one_spell() -> None:
    pace = Pace("full")
    for _ in range(100):
        pace.look(False, PERIOD)
    assert pace.ceiling == 2
    for spell in (19, 19):
        for _ in range(spell):
            pace.look(True, PERIOD)
        pace.look(False, PERIOD)
    assert pace.ceiling == 2
    for _ in range(15):
        pace.look(True, PERIOD)
    pace.start()  # a spell is one flight's
    for _ in range(19):
        pace.look(True, PERIOD)
    assert pace.ceiling == 2
    pace.look(True, PERIOD)
    assert pace.ceiling == 4


def test_hours_in_band_leave_one_a_minute() -> None:
    pace = Pace("full")
    pace.look(False, 36_000.0)
    assert pace.ceiling == 1 and Pace("quiet").ceiling == 0
