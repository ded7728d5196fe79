"""Each look just holding and just not, on pumps made by hand; edges worked out from the rules as they are written."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace

import pytest

from cadence_coach.core.events import CycleDone
from cadence_coach.core.looks import Finding, Looks, Own, Streak
from cadence_coach.core.targets import Band

BAND = Band(4.5, 1.20, 1.40, 1.60, 1.0, 2.2, 0.36, 0.5, 0.62, 0.60, 0.2)
A_LITTLE = 1e-6


def pump(period: float, size: float = 0.6, glide: float = 0.9, shove: float = 0.24, at: float = 0.0) -> CycleDone:
    """A push of 0.8 g; the glide as a share of it."""
    peak = at + 0.25 * period
    return CycleDone(
        at + period,
        at + period,
        0,
        at,
        peak,
        peak + shove * period,
        at + 0.7 * period,
        1.8,
        1.0 - 0.8 * glide,
        size,
        0.2,
    )


def see(looks: Looks, pumps: Iterable[CycleDone], needed: float | None = 0.60) -> list[list[Finding]]:
    """What each look found, one a pump at which looking made sense."""
    return [looks.look(BAND, needed) for p in pumps if looks.add(p, None, needed)]


def steady(n: int, cadence: float = 1.4, **how: float) -> list[CycleDone]:
    return [pump(1.0 / cadence, **how) for _ in range(n)]


def test_the_first_four_pumps_are_in_no_window_and_two_looks_must_agree() -> None:
    """Five pumps after the four: the ninth is the first that is looked at, the tenth the first that is spoken of."""
    looks = Looks()
    slow = [looks.add(p, None, 0.6) for p in steady(9, 1.0)]
    assert slow == [False] * 8 + [True]
    assert looks.cadence == pytest.approx(1.0)
    assert looks.look(BAND, 0.6) == [] and looks.off
    assert looks.add(pump(1.0), None, 0.6)
    assert [f.kind for f in looks.look(BAND, 0.6)] == ["quicker"] and looks.out == -1


@pytest.mark.parametrize(
    "cadence, kind, reason",
    [
        (1.20 * 0.975 - A_LITTLE, "quicker", "cadence 70.2 a minute, under 72.0 (mean of 5)"),
        (1.20 * 0.975 + A_LITTLE, None, ""),
        (1.60 * 1.025 + A_LITTLE, "slower_bigger", "cadence 98.4 a minute, over 96.0 (mean of 5)"),
        (1.60 * 1.025 - A_LITTLE, None, ""),
    ],
)
def test_a_cadence_counts_as_out_2_5_per_cent_beyond_the_edge(cadence: float, kind: str | None, reason: str) -> None:
    last = see(Looks(), steady(10, cadence))[-1]
    assert last == ([Finding(kind, reason)] if kind else [])


def test_in_band_nothing_is_off() -> None:
    looks = Looks()
    assert looks.off is False
    for one in steady(12):
        if looks.add(one, None, 0.6):
            assert looks.look(BAND, 0.6) == [] and looks.off is False and looks.out == 0


@pytest.mark.parametrize("slow, back", [(1.0, 1.25), (2.0, 1.55)])
def test_back_in_band_a_quarter_of_the_way_from_the_edge(slow: float, back: float) -> None:
    """Edges 1.20 and 1.60, target 1.40: in band again at 1.25 and 1.55, not before."""
    side = 1 if slow > 1.4 else -1
    for cadence, out in ((back + side * A_LITTLE, side), (back - side * A_LITTLE, 0)):
        looks = Looks()
        see(looks, steady(10, slow))
        assert looks.out == side
        see(looks, steady(12, cadence))
        assert looks.out == out


@pytest.mark.parametrize(
    "size, glide, kind",
    [
        (0.85 * 0.60 - A_LITTLE, 0.60 + A_LITTLE, "bigger"),
        (0.85 * 0.60 - A_LITTLE, 0.60 - A_LITTLE, "lighter"),
        (0.85 * 0.60 + A_LITTLE, 0.30, None),
    ],
)
def test_size_under_85_per_cent_of_needed(size: float, glide: float, kind: str | None) -> None:
    """Lighter, where the glide is under 60 % of the push; bigger, where it is not."""
    (*_, last) = see(Looks(), steady(10, size=size, glide=glide))
    assert [f.kind for f in last] == ([kind] if kind else [])
    if kind == "bigger":
        assert last[0].reason == "size 0.51 g, under 0.85 of 0.60 g"
    if kind == "lighter":
        assert last[0].reason == "size 0.51 g, under 0.85 of 0.60 g; glide 0.60 of the push"


def test_without_a_need_or_a_band_size_and_cadence_are_left_alone() -> None:
    (*_, last) = see(Looks(), steady(10, 1.0, size=0.1), needed=None)
    assert [f.kind for f in last] == ["quicker"]
    looks = Looks()
    see(looks, steady(10, 1.0, size=0.1))
    assert looks.look(None, 0.6) == [] and looks.out == 0


@pytest.mark.parametrize("scatter, kind", [(0.0638 + 0.001, "even_out"), (0.0638 - 0.001, None)])
def test_periods_that_differ(scatter: float, kind: str | None) -> None:
    """Periods p (1 +- s) in turn: all nine differences are 2 s p, so RMSSD / (sqrt 2 p) x 1.22 is 1.22 sqrt 2 s, which
    is 11 % at s = 6.38 %. Ten periods after the first four, then a second look."""
    pumps = [pump(p) for _ in range(8) for p in ((1 - scatter) / 1.4, (1 + scatter) / 1.4)]
    assert 1.22 * math.sqrt(2) * 0.0638 == pytest.approx(0.11, abs=1e-4)
    looks = see(Looks(), pumps)
    assert [f.kind for f in looks[-1]] == ([kind] if kind else [])
    assert not any(looks[:6]), "ten periods are looked at: the tenth is the sixth look"
    if kind:
        assert looks[-1][0].reason == "periods differ by 11 %, over 11 %"


@pytest.mark.parametrize(
    "shove, kind", [(0.19 - A_LITTLE, "shove_later"), (0.29 + A_LITTLE, "shove_sooner"), (0.19 + A_LITTLE, None)]
)
def test_shove_against_the_own_median(shove: float, kind: str | None) -> None:
    """Own shove 0.24 from 30 steady pumps without scatter: off beyond 0.05."""
    looks = Looks()
    assert not any(see(looks, steady(34)))
    assert looks.own.shove == pytest.approx(0.24)
    (*_, last) = see(looks, steady(6, shove=shove))
    assert [f.kind for f in last] == ([kind] if kind else [])


def test_own_figures_need_30_steady_pumps_of_one_flight() -> None:
    own = Own()
    for _ in range(29):
        own.add(0.7, 0.25, 0.9)
    assert own.shove is None
    own.start()
    for k in range(30):  # periods 0.7 (1 +- 6.1 %): too rough
        own.add(0.7 * (1 + (0.061 if k % 2 else -0.061)), 0.25, 0.9)
    assert own.shove is None
    own.start()
    for k in range(30):
        own.add(0.7 * (1 + (0.059 if k % 2 else -0.059)), 0.2 + 0.01 * (k % 3), None if k % 2 else 0.9)
    assert own.shove == pytest.approx(0.21) and own.size_factor == 0.9
    assert own.shove_scatter == pytest.approx(1.4826 * 0.01)
    for _ in range(30):
        own.add(0.7, 0.4, 0.5)
    assert own.shove == pytest.approx(0.21), "settled: a bad habit does not become the measure"


def test_own_size_is_a_share_of_what_is_needed() -> None:
    """0.72 g where 0.60 is needed: 1.2 times."""
    looks = Looks()
    see(looks, steady(40, size=0.72), needed=0.60)
    assert looks.own.size_factor == pytest.approx(1.2)


def test_a_missed_pump_enters_no_window_and_three_in_a_row_are_a_tempo() -> None:
    looks = Looks()
    see(looks, steady(9))
    assert not looks.add(pump(1.5 / 1.4 + A_LITTLE), None, 0.6)
    assert looks.add(pump(1.5 / 1.4 - A_LITTLE), None, 0.6), "just no outlier"
    assert not looks.add(pump(0.6 / 1.4 - A_LITTLE), None, 0.6)
    assert looks.add(pump(0.6 / 1.4 + A_LITTLE), None, 0.6)
    looks = Looks()
    see(looks, steady(9))
    added = [looks.add(pump(2.0 / 1.4), None, 0.6) for _ in range(7)]
    assert added == [False] * 6 + [True], "the third empties the windows and is the first in them"
    assert looks.cadence == pytest.approx(0.7)


def test_a_gap_empties_the_windows_but_not_what_is_known_of_the_rider() -> None:
    looks = Looks()
    see(looks, steady(34))
    looks.gap()
    assert [looks.add(p, None, 0.6) for p in steady(5)] == [False] * 4 + [True]
    assert looks.own.shove is not None
    looks.start()
    assert [looks.add(p, None, 0.6) for p in steady(9)] == [False] * 8 + [True]


def test_in_swell_the_window_is_eight_pumps() -> None:
    """A wave of 6 s in travel, 30 % of it. The cadence is then the mean period of the last eight pumps."""
    looks, t, lengths = Looks(), 0.0, [0.70 + 0.01 * (k % 7) for k in range(40)]
    for length in lengths:
        made = pump(length, at=t)
        t += length
        looks.add(replace(made, travel_m=0.2 * (1 + 0.3 * math.sin(2 * math.pi * t / 6.0))), None, 0.6)
    assert looks.swell.found and looks.window == 8
    assert looks.cadence == pytest.approx(8 / sum(lengths[-8:]))


def test_a_streak_is_broken_by_another_answer() -> None:
    streak = Streak()
    assert [streak.see(w) for w in ("a", "a", "a", "b", "a", "", "", "a", "a")] == [
        "",
        "a",
        "a",
        "",
        "",
        "",
        "",
        "",
        "a",
    ]
