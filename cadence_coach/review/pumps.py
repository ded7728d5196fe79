"""The pumps of one flight as columns: what every figure of a flight is computed from."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import attrs
import numpy as np

from cadence_coach.core import events as ev
from cadence_coach.core.cycles import SHORTEST
from cadence_coach.core.flown import NO_BEAT
from cadence_coach.core.targets import Band, BandTable
from cadence_coach.review.track import Track

LOOK = 5
"""Pumps in the running mean that is held against the band: the window of the live coach."""


@attrs.frozen(eq=False)
class Pumps:
    """One row a whole pump, in order; arrays of shape [n]. Times and parts in s, cadence in Hz, sizes in g, travel in
    m, speed in m/s; NaN where a value is not known. `needed_g` is the size that level flight needs at the cadence of
    that pump, `lo`, `target`, `hi` the band at its speed (at the cruise speed where there is none)."""

    onset: np.ndarray
    end: np.ndarray
    peak: np.ndarray
    push_end: np.ndarray
    low: np.ndarray
    peak_g: np.ndarray
    lowest_g: np.ndarray
    size_g: np.ndarray
    travel_m: np.ndarray
    speed: np.ndarray
    lo: np.ndarray
    target: np.ndarray
    hi: np.ndarray
    needed_g: np.ndarray

    def __len__(self) -> int:
        return len(self.onset)

    @property
    def period(self) -> np.ndarray:
        return self.end - self.onset

    @property
    def cadence(self) -> np.ndarray:
        return 1.0 / self.period

    @property
    def push_share(self) -> np.ndarray:
        return (self.push_end - self.onset) / self.period

    @property
    def sizes_percent(self) -> tuple[np.ndarray, np.ndarray, float]:
        """Size and size needed [% of weight], and what nearly all of both lie under."""
        own, needed = 100.0 * self.size_g, 100.0 * self.needed_g
        most = float(np.nanmax(needed)) if np.isfinite(needed).any() else 0.0
        return own, needed, max(float(np.nanpercentile(own, 98)), most)

    @property
    def parts_s(self) -> np.ndarray:
        """Catch, shove, ease, gather [s]; shape [4, n]."""
        return np.array(
            [self.peak - self.onset, self.push_end - self.peak, self.low - self.push_end, self.end - self.low]
        )

    @property
    def parts(self) -> np.ndarray:
        """The four parts as shares of their pump; shape [4, n], columns add to one."""
        return self.parts_s / self.period

    @property
    def running_cadence(self) -> np.ndarray:
        """Cadence of the last LOOK pumps up to each (fewer at the start) [Hz]. A rest, and a pump that was not heard
        (`flown.NO_BEAT`), is left out where another stands beside it: no band is left by them."""
        last = np.arange(1, len(self) + 1)
        first = np.maximum(0, last - LOOK)

        def within(values: np.ndarray) -> np.ndarray:
            total = np.concatenate([[0.0], np.cumsum(values)])
            return total[last] - total[first]

        beat = self.period <= NO_BEAT * (np.median(self.period) if len(self) else 1.0)
        count = within(beat)
        beats = within(beat * self.period)
        return np.where(count > 0, count, last - first) / np.where(count > 0, beats, within(self.period))

    @property
    def inside(self) -> np.ndarray:
        """Whether the running cadence is in the band; NaN where no band is known."""
        cadence = self.running_cadence
        known = np.isfinite(self.lo)
        return np.where(known, (cadence >= self.lo) & (cadence <= self.hi), np.nan)

    def rows(self, chosen: slice) -> Pumps:
        return Pumps(*(column[chosen] for column in attrs.astuple(self, recurse=False)))


def without(cycles: Sequence[ev.CycleDone], skipped: Sequence[int]) -> list[ev.CycleDone]:
    """A flight's cycles less those between that are no pumps; the pump before one goes on until the next true onset."""
    pumps: list[ev.CycleDone] = []
    for c in cycles:
        if c.number not in skipped:
            pumps.append(c)
        elif pumps:
            pumps[-1] = replace(pumps[-1], time=c.time, whole=pumps[-1].whole and c.whole)
    return pumps


def pumps_of(cycles: Sequence[ev.CycleDone], track: Track, table: BandTable | None) -> Pumps:
    """Columns of a flight's cycles, with the speed and the band that go with each."""
    whole = [c for c in cycles if c.whole]  # a last one without a next onset has no period of its own
    columns = np.array(
        [(c.onset, c.time, c.peak, c.push_end, c.low, c.peak_g, c.lowest_g, c.size_g, c.travel_m) for c in whole], float
    ).reshape(-1, 9)
    onset, end = columns[:, 0], columns[:, 1]
    late = onset[1:] - end[:-1]  # a splash that was taken back closed the cycle; the pump goes on until the push
    end[:-1] = np.where((late > 0.0) & (late < SHORTEST), onset[1:], end[:-1])
    speed = track.at((onset + end) / 2.0)
    bands = np.full((4, len(onset)), np.nan)
    if table is not None:
        for i, value in enumerate(speed):
            bands[:, i] = _band_row(table.at(float(value) if math.isfinite(value) else None), 1.0 / (end[i] - onset[i]))
    return Pumps(*columns.T, speed, *bands)


def gaps_of(cycles: Sequence[ev.CycleDone]) -> np.ndarray:
    """Times of a flight from onset to onset [s], one fewer than pumps, as the coach takes them: what closes the last
    pump is no pump but the fall, the board that touches or nothing, and would pass for unevenness."""
    return np.diff([c.onset for c in cycles])


def _band_row(band: Band, cadence: float) -> tuple[float, float, float, float]:
    if band.target is None or band.lo is None or band.hi is None:
        return (math.nan,) * 4
    return band.lo, band.target, band.hi, needed_size(band, cadence)


def needed_size(band: Band, cadence: float) -> float:
    """Least size [g] that carries the power at a cadence [Hz] other than the target: it grows with the square root of
    the cadence (physics: r_min = sqrt(4 P mu w / (m g^2)))."""
    if band.size_needed is None or band.target is None:
        return math.nan
    return band.size_needed * math.sqrt(cadence / band.target)
