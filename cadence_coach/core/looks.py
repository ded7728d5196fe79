"""Looks at a flight, one a pump: what is off, by how much, and has it been so twice in a row?

    periods  . . . . [. . . . .]          window: the last 5 (8 in swell), the first 4 pumps of the flight left out
                       mean -> cadence

             lo         target          hi
    ---------|--+---------|---------+---|---------
      out    |  quarter back         |  |   out      out: past the edge by 2 %, two looks in a row
             nearly back                           in band again: a quarter of the way back in

Pure bookkeeping with bounded memory; whether anything is said is decided elsewhere.
"""

from __future__ import annotations

import itertools
import math
from collections import deque
from collections.abc import Collection
from dataclasses import dataclass
from statistics import median

from .events import CycleDone
from .rules import (
    LIGHTNESS_SHARE,
    LOOKS_IN_A_ROW,
    OUTLIERS_ARE_TEMPO,
    OWN_PUMPS,
    PERIOD_OUTLIER,
    QUARTER_BACK,
    SETTLING_PUMPS,
    SHOVE_OFF,
    SHOVE_SIGMAS,
    SIZE_SHARE,
    SPEAK_BEYOND,
    STEADY_CV,
    UNEVEN,
    UNEVEN_UNTRIM,
    UNEVEN_WINDOW,
    WINDOW,
    WINDOW_IN_SWELL,
)
from .swell import Swell
from .targets import Band


def fmean(values: Collection[float]) -> float:
    """Plain sum over count: a dozen values of one size need no exact summation, which costs ten times as much."""
    return sum(values) / len(values)


KEPT = 12
"""Pumps kept for the windows."""


@dataclass(frozen=True, slots=True)
class Finding:
    """Something to correct: the kind of cue and the figures it rests on."""

    kind: str
    reason: str


class Streak:
    """How many looks in a row gave the same answer; `what` is the last one, "" when nothing was off."""

    def __init__(self) -> None:
        self.what = ""
        self.count = 0

    def see(self, what: str) -> str:
        """`what` once it has been seen often enough in a row, else ""."""
        self.count = self.count + 1 if what == self.what else 1
        self.what = what
        return what if what and self.count >= LOOKS_IN_A_ROW else ""


class Own:
    """The rider's own shove and size, from the first 30 steady pumps of a flight; kept for the outing."""

    def __init__(self) -> None:
        self.shove: float | None = None
        self.shove_scatter = 0.0
        self.size_factor: float | None = None  # own size / size needed at the same cadence and speed
        self.start()

    def start(self) -> None:
        """A new flight: what was collected must come from one flight."""
        self._pumps: deque[tuple[float, float, float | None]] = deque(maxlen=OWN_PUMPS)

    def add(self, period: float, shove: float, size_factor: float | None) -> None:
        if self.shove is not None:  # settled: rolling on would turn a bad habit into the measure
            return
        self._pumps.append((period, shove, size_factor))
        if len(self._pumps) < OWN_PUMPS:
            return
        periods = [p for p, _, _ in self._pumps]
        mean = fmean(periods)
        if math.sqrt(fmean([(p - mean) ** 2 for p in periods])) > STEADY_CV * mean:
            return
        shoves = [s for _, s, _ in self._pumps]
        self.shove = median(shoves)
        self.shove_scatter = 1.4826 * median(abs(s - self.shove) for s in shoves)
        factors = [f for _, _, f in self._pumps if f is not None]
        self.size_factor = median(factors) if factors else None


class Looks:
    """`add` a pump, then `look`. One object an outing; `start` at each flight."""

    def __init__(self) -> None:
        self.own = Own()
        self.start()

    def start(self) -> None:
        self.pumps = 0
        self.own.start()
        self.swell = Swell()
        self._forget()
        self.out = 0
        """-1 below the band, 1 above it, 0 in it (with the hysteresis)."""

    def gap(self) -> None:
        """Samples were missing: no window may span it."""
        self._forget()

    def _forget(self) -> None:
        self._periods: deque[float] = deque(maxlen=KEPT)
        self._sizes: deque[float] = deque(maxlen=WINDOW_IN_SWELL)
        self._glides: deque[float] = deque(maxlen=WINDOW)
        self._shoves: deque[float] = deque(maxlen=WINDOW)
        self._outliers = 0
        self._cadence, self._size, self._even, self._shove = Streak(), Streak(), Streak(), Streak()

    def add(self, pump: CycleDone, speed: float | None, size_needed: float | None) -> bool:
        """Take a pump in; `size_needed` at its own cadence. True when a look makes sense."""
        self.pumps += 1
        self.swell.add(pump.time, pump.travel_m, speed)
        if self.pumps <= SETTLING_PUMPS:
            return False
        period = pump.period
        if self._periods:
            lo, hi = PERIOD_OUTLIER
            if not lo <= period / median(self._periods) <= hi:
                self._outliers += 1
                if self._outliers < OUTLIERS_ARE_TEMPO:
                    return False
                self._forget()
        self._outliers = 0
        shove = (pump.push_end - pump.peak) / period
        self._periods.append(period)
        self._sizes.append(pump.size_g)
        self._glides.append((1.0 - pump.lowest_g) / max(pump.peak_g - 1.0, 1e-6))
        self._shoves.append(shove)
        self.own.add(period, shove, pump.size_g / size_needed if size_needed else None)
        return len(self._periods) >= self.window

    @property
    def off(self) -> bool:
        """Was anything off at the last look, be it the first in a row?"""
        return any(s.what for s in (self._cadence, self._size, self._even, self._shove))

    @property
    def window(self) -> int:
        return WINDOW_IN_SWELL if self.swell.found else WINDOW

    @property
    def cadence(self) -> float:
        """Of the window [Hz]."""
        return 1.0 / fmean(list(self._periods)[-self.window :])

    def look(self, band: Band | None, size_needed: float | None) -> list[Finding]:
        """Everything that is off at this pump, in the order of the cue book. `size_needed` at the window's cadence."""
        found = []
        if band is not None and band.lo is not None and band.target is not None and band.hi is not None:
            found += self._look_cadence(band.lo, band.target, band.hi)
            found += self._look_size(size_needed)
        else:
            self.out = 0
            self._cadence.see("")
        return found + self._look_even() + self._look_shove()

    def _look_cadence(self, lo: float, target: float, hi: float) -> list[Finding]:
        cadence = self.cadence
        inner_lo, inner_hi = lo + QUARTER_BACK * (target - lo), hi - QUARTER_BACK * (hi - target)
        beyond = -1 if cadence < lo * (1.0 - SPEAK_BEYOND) else 1 if cadence > hi * (1.0 + SPEAK_BEYOND) else 0
        kind = self._cadence.see({-1: "quicker", 0: "", 1: "slower_bigger"}[beyond])
        if kind:
            self.out = beyond
        elif inner_lo <= cadence <= inner_hi:
            self.out = 0
        if not kind:
            return []
        edge = lo if beyond < 0 else hi
        said = f"cadence {60 * cadence:.1f} a minute, {'under' if beyond < 0 else 'over'} {60 * edge:.1f}"
        return [Finding(kind, f"{said} (mean of {self.window})")]

    def _look_size(self, needed: float | None) -> list[Finding]:
        if not needed:
            self._size.see("")
            return []
        factor = self.own.size_factor
        if factor is not None:  # who flies level with less needs no more: the model's need is known to +-30 % only
            needed *= min(1.0, factor)
        size = fmean(list(self._sizes)[-self.window :])
        glide = median(self._glides)
        small = size < SIZE_SHARE * needed
        kind = self._size.see("" if not small else "lighter" if glide < LIGHTNESS_SHARE else "bigger")
        if not kind:
            return []
        reason = f"size {size:.2f} g, under {SIZE_SHARE:.2f} of {needed:.2f} g"
        return [Finding(kind, reason if kind == "bigger" else f"{reason}; glide {glide:.2f} of the push")]

    def _look_even(self) -> list[Finding]:
        periods = list(self._periods)[-UNEVEN_WINDOW:]
        if len(periods) < UNEVEN_WINDOW:
            self._even.see("")
            return []
        squares = sorted((b - a) ** 2 for a, b in itertools.pairwise(periods))
        uneven = UNEVEN_UNTRIM * math.sqrt(0.5 * fmean(squares[:-1])) / fmean(periods)
        kind = self._even.see("even_out" if uneven > UNEVEN else "")
        return [Finding(kind, f"periods differ by {100 * uneven:.0f} %, over {100 * UNEVEN:.0f} %")] if kind else []

    def _look_shove(self) -> list[Finding]:
        own = self.own.shove
        if own is None or len(self._shoves) < WINDOW:
            self._shove.see("")
            return []
        shove = fmean(self._shoves)
        limit = max(SHOVE_OFF, SHOVE_SIGMAS * self.own.shove_scatter / math.sqrt(WINDOW))
        off = shove - own
        kind = self._shove.see("" if abs(off) <= limit else "shove_later" if off < 0.0 else "shove_sooner")
        if not kind:
            return []
        return [Finding(kind, f"shove {shove:.2f} of the period against own {own:.2f} +-{limit:.2f}")]
