"""Every bounce in hindsight: triangles whose crossings are known, each rule just below and just above its bound."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pytest

from cadence_coach.core.afoot import RING, Afoot
from cadence_coach.core.cycles import STEP
from cadence_coach.core.events import Bounce

from .plain import Late

DELAY = 16
"""Points by which the low-pass is late: 0.16 s."""
EXACT = 0.0002
"""[s]: the level is the mean of a bounce's points, one of 61 too many: 0.3 mg at 4 g a second."""


def triangles(lengths: Sequence[int], highs: Sequence[float]) -> np.ndarray:
    """Half a low to begin with, then bounces of so many points, and half a push: all of them cross 0 half-way between
    two points."""
    parts = []
    for n, high in zip(lengths, highs, strict=True):
        x = (np.arange(n) + 0.5) / n
        parts.append(high * np.interp(x, [0, 0.25, 0.75, 1], [0, 1, -1, 0]))
    return np.concatenate([parts[0][len(parts[0]) // 2 :], *parts, parts[0][: len(parts[0]) // 2]])


def heard(
    v: np.ndarray, c: np.ndarray | None = None, end: float | None = None, afoot: Afoot | None = None, start: float = 0.0
) -> list[Bounce]:
    """Bounces of a vertical less 1 g, and of its low-pass (the same, DELAY points late); end: so long after the last
    point [s] it is known to be that."""
    c = v if c is None else c
    late = np.concatenate([np.zeros(DELAY), c])[: len(v)]
    afoot, before = afoot or Afoot(STEP), 0.0
    afoot.begin(start)
    had = len(afoot.out)
    for k, (y, low) in enumerate(zip(v.tolist(), late.tolist(), strict=True)):
        afoot.raw[k % RING] = 1.0 + y
        afoot.lowest, afoot.n = min(afoot.lowest, low), k + 1
        afoot.point(start + k * STEP, before, low, start + k * STEP)
        before = low
    if end is not None:
        afoot.end(start + (len(v) - 1) * STEP + end)
    return afoot.out[had:]  # type: ignore[return-value]


def onsets(lengths: Sequence[int]) -> list[float]:
    return [(lengths[0] // 2 + n - 0.5) * STEP for n in [0, *np.cumsum(lengths).tolist()]]


@pytest.mark.parametrize("offset", [0.0, 0.2, -0.12])
def test_even_bounces_are_timed_about_their_own_mean(offset: float) -> None:
    """Whatever the sensor reads for 1 g; known when the low-pass has come up again, 0.16 s after the next onset."""
    lengths = [60] * 6
    found = heard(triangles(lengths, [0.6] * 6) + offset, triangles(lengths, [0.6] * 6))
    at = onsets(lengths)
    assert [e.number for e in found] == list(range(6))
    assert [e.onset for e in found] == pytest.approx(at[:6], abs=EXACT)
    assert [e.push_end for e in found] == pytest.approx([t + 0.3 for t in at[:6]], abs=EXACT)
    assert [e.time for e in found] == pytest.approx(at[1:], abs=1e-9)
    assert [e.known for e in found] == pytest.approx([t + 0.165 for t in at[1:]])
    for e in found:
        assert e.peak - e.onset == pytest.approx(0.15, abs=0.0061)
        assert (e.peak_g, e.lowest_g) == (
            pytest.approx(1.58 + offset, abs=0.001),
            pytest.approx(0.42 + offset, abs=0.001),
        )


def test_the_last_bounce_is_a_period_long() -> None:
    """A gap of 1 s after it, or the last row: no more of it is claimed than there was time for."""
    v = triangles([60] * 6, [0.6] * 6)
    found = heard(v, end=1.0)
    assert len(found) == 7 and found[-1].time == pytest.approx(onsets([60] * 6)[6] + 0.6, abs=0.06)
    assert found[-1].known == pytest.approx(5.19)
    found = heard(v, end=0.0)
    assert len(found) == 7 and found[-1].time == found[-1].known == pytest.approx(4.19)
    assert heard(np.zeros(100), end=1.0) == []
    afoot = Afoot(STEP)
    heard(triangles([60] * 6, [0.6] * 6), end=1.0, afoot=afoot)
    afoot.end(9.0)
    assert len(afoot.out) == 7, "it ends once"


@pytest.mark.parametrize(("high", "own"), [(0.338, True), (0.328, False)])
def test_only_of_a_big_bounce_its_own_crossings_are_believed(high: float, own: bool) -> None:
    """0.3 g of the smoothed signal (of a triangle the smoother leaves 1 - 1.49 x 4 / 60, by its weights): else the
    onset is that of the low-pass, here 50 ms later. 1 ms: the level is then taken 5 points too late."""
    v, late = triangles([60] * 6, [high] * 6), np.zeros(5)
    found = heard(v, np.concatenate([late, v])[: len(v)])
    at = onsets([60] * 6)
    assert [e.onset for e in found[1:4]] == pytest.approx([t + (0.0 if own else 0.05) for t in at[1:4]], abs=0.001)
    assert [e.push_end for e in found[1:4]] == pytest.approx([t + 0.3 for t in at[1:4]], abs=0.001)


def test_a_bounce_with_three_crossings_is_not_smooth() -> None:
    """A heel strike before and after the push."""
    v = triangles([60] * 6, [0.6] * 6)
    rough = v.copy()
    for k in range(1, 6):
        for at in (36, 50):
            rough[30 + 60 * k + at : 30 + 60 * k + at + 8] = 0.25
    late = np.concatenate([np.zeros(5), v])[: len(v)]
    assert [e.onset for e in heard(v, late)[2:4]] == pytest.approx(onsets([60] * 6)[2:4], abs=0.001)
    assert [e.onset for e in heard(rough, late)[2:4]] == pytest.approx([t + 0.05 for t in onsets([60] * 6)[2:4]])


def test_the_peak_is_not_that_of_the_next_push() -> None:
    """Weak and strong in turn, by a low-pass that is 0.12 s too late: the last quarter is left out."""
    v = triangles([60] * 8, [0.35, 0.6] * 4)
    found = heard(v, np.concatenate([np.zeros(12), v])[: len(v)])
    for e, at in zip(found[2:6], onsets([60] * 8)[2:6], strict=True):
        assert e.peak == pytest.approx(at + 0.15, abs=0.011)


def test_a_push_that_does_not_end_has_no_end() -> None:
    """Up and up until the low-pass calls the next bounce."""
    v = np.concatenate([np.full(30, -0.5), np.linspace(-0.5, 0.9, 60), np.full(40, 0.9)])
    low = np.concatenate([np.full(20, -0.5), np.full(30, 0.5), np.full(20, -0.5), np.full(60, 0.5)])
    (found,) = heard(v, low)
    assert found.push_end is None and found.onset <= found.peak <= found.time


@pytest.mark.parametrize(("reads", "found"), [(1.14, 0), (1.16, 15), (0.86, 0), (0.84, 15)])
def test_a_sensor_that_reads_far_from_1_g_is_brought_back(reads: float, found: int) -> None:
    """By more than 0.15 g: then the slow mean is taken off. 0.1 g about it, 1.5 times a second, for 10 s."""
    late = Late()
    for k in range(1500):
        late.push(k * STEP, reads + 0.1 * math.sin(2 * math.pi * 1.5 * k * STEP), k * STEP)
    assert len([e for e in late.out if e.time > 5.0]) == pytest.approx(found, abs=1)


# ---- which are bounces ----


def count(lengths: Sequence[int], highs: Sequence[float]) -> int:
    """How many onsets: a bounce is told when the next has begun, the last at the end."""
    return len(heard(triangles(lengths, highs), end=1.0))


@pytest.mark.parametrize(("low", "found"), [(0.0205, 0), (0.0209, 7)])
def test_the_low_pass_must_dip_by_20_mg(low: float, found: int) -> None:
    """... or by a fifth of the running dip, 0.1 g at first. The lowest point shown is 0.967 of the height; the very
    first low counts with the others."""
    v = triangles([60] * 6, [0.6] * 6)
    assert len(heard(v, v / 0.6 * low, end=1.0)) == found


@pytest.mark.parametrize(("deep", "bound"), [(40, 0.116), (1, 0.0392), (2, 0.0547)])
def test_a_shallow_dip_between_deep_ones_is_none(deep: int, bound: float) -> None:
    """A fifth of the running dip; that starts at 0.1 g and goes a fifth of the way to 0.58 g with each."""
    for dip, extra in ((0.98 * bound, 0), (1.02 * bound, 1)):
        v = triangles([60] * (deep + 2), [0.6] * (deep + 2))
        at = 30 + 60 * deep + 45
        low = v.copy()
        low[at - 14 : at + 14] = -dip  # all of the low but its first and last point
        assert len(heard(v, low, end=1.0)) == deep + 2 + extra


@pytest.mark.parametrize(("points", "found"), [(25, 1), (28, 2)])
def test_no_bounce_within_two_thirds_of_the_period(points: int, found: int) -> None:
    """0.65 of 0.4 s at first: 0.26 s."""
    assert count([points, 100], [0.6, 0.6]) == found


def test_a_period_that_was_twice_too_long_is_mended() -> None:
    """0.6 s, then 0.3 s (under 0.39 s): one is refused, the next ends a period, the one after that is believed."""
    assert count([*[60] * 12, *[30] * 10], [0.6] * 22) == 12 + 10 + 1 - 1


def test_two_refusals_far_apart_do_not_mend_it() -> None:
    lengths = [*[60] * 25, 30, 30, 60, 60, 60, 30, 30, 60]
    assert count(lengths, [0.6] * len(lengths)) == 25 + 1 + 3 + 1 + 1 + 1


def test_a_quick_beat_from_the_start() -> None:
    """0.24 s (under 0.65 of 0.4 s): the first is refused, and the third shows that it is the beat."""
    assert count([24] * 9, [0.6] * 9) == 8


def test_after_a_gap_it_begins_anew_and_counts_on() -> None:
    """The same bounces 50 s later, with other numbers."""
    v = triangles([*[60] * 5, *[33] * 6, 60, 60], [*[0.6] * 5, *[0.4] * 6, 0.2, 0.5])
    afoot = Afoot(STEP)
    first = heard(v, afoot=afoot)
    afoot.restart()
    again = heard(v, afoot=afoot, start=50.0)
    assert len(again) == len(first) > 10
    assert [e.number for e in again] == [e.number + len(first) for e in first]
    for name in ("time", "known", "onset", "peak", "push_end"):
        assert [getattr(e, name) - 50.0 for e in again] == pytest.approx([getattr(e, name) for e in first], abs=1e-9)
    assert [(e.peak_g, e.lowest_g) for e in again] == [(e.peak_g, e.lowest_g) for e in first]


@pytest.mark.parametrize(("shallow", "extra"), [(0.34, 0), (0.38, 4)])
def test_shallow_dips_between_do_not_mend_it(shallow: float, extra: int) -> None:
    """Every other dip is shallower: of 0.6 of the depth (0.36 g) and more they are bounces, from the second on."""
    assert count([*[60] * 25, *[30] * 10], [*[0.6] * 25, *[shallow, 0.6] * 5]) == 25 + 5 + 1 + extra


@pytest.mark.parametrize(("points", "extra"), [(19, 0), (21, 4)])
def test_nor_does_what_comes_within_a_fifth_of_a_second(points: int, extra: int) -> None:
    lengths = [*[60] * 25, *[points, 60 - points] * 5]
    assert count(lengths, [0.6] * 35) == 25 + 5 + 1 + extra


@pytest.mark.parametrize(("rest", "period"), [(160, 0.6), (140, 0.632)])
def test_rests_do_not_stretch_the_period(rest: int, period: float) -> None:
    """Over 1.5 s is a rest; 1.4 s count as 1.4 periods: a fifth of the way from 0.6 to 0.84 s, and back again a fifth
    of the way with the next two."""
    lengths = [*[60] * 25, rest, 60]
    last = heard(triangles(lengths, [0.6] * len(lengths)), end=1.0)[-1]
    expected = 0.6
    if rest < 150:
        expected += 0.2 * 0.24
        expected += 0.2 * (0.6 - expected)
    assert last.time - onsets(lengths)[-1] == pytest.approx(expected, abs=0.001)


def test_the_period_goes_a_fifth_of_the_way_and_no_less_than_0_7_of_itself() -> None:
    """0.40 s after many of 0.6 s counts as 0.42 s."""
    lengths = [*[60] * 25, 40]
    last = heard(triangles(lengths, [0.6] * 26), end=1.0)[-1]
    assert last.time - onsets(lengths)[-1] == pytest.approx(0.6 - 0.2 * 0.18, abs=0.001)


def test_a_bounce_is_two_seconds_long_at_most() -> None:
    """A rest of 3 s after it does not belong to it."""
    v = np.concatenate([triangles([60] * 4, [0.6] * 4)[:-30], np.full(300, -0.04), triangles([60], [0.6])[30:]])
    assert heard(v)[3].time - onsets([60] * 4)[3] == pytest.approx(2.0)
