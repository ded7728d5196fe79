"""How long a power lasts, and what power lasts so long: power-duration models, always as a range.

    Endurance(cp, w, p_max)     critical power [W], work above it [J], highest power [W] or None for the two-parameter
    model .duration(power) -> s, inf at or below cp        .power(duration) -> W
        .duration_range(power) -> (shortest, longest) for a power known to +-30 %
    fit(durations, powers) -> Fit       least squares from a rider's own best flights, with 95 % intervals

Two parameters: t = W'/(P - CP) (Monod & Scherrer 1965, Ergonomics 8, 329). Three: t = W'/(P - CP) - W'/(Pmax - CP)
(Morton 1996, Ergonomics 39, from memory). Good for about 2 to 20 min of steady work; outside that it is a guess.
Powers here are modelled leg powers, +-30 %: compare, do not believe. Not medical advice:
what is said beside it is answer.SAFETY.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import attrs
import numpy as np

UNSURE = 0.30
"""Modelled powers are known to this share, either way."""


@attrs.frozen
class Endurance:
    """Critical power [W], work above it W' [J]; p_max [W] for the three-parameter model."""

    cp: float = attrs.field()
    w: float = attrs.field()
    p_max: float | None = None

    def __attrs_post_init__(self) -> None:
        if not (math.isfinite(self.cp) and math.isfinite(self.w) and self.cp > 0 and self.w > 0):
            raise ValueError(f"critical power {self.cp} W and work above it {self.w} J must be finite and above 0")
        if self.p_max is not None and not self.p_max > self.cp:
            raise ValueError(f"highest power {self.p_max} W must be above the critical power {self.cp} W")

    @property
    def _head(self) -> float:
        """Seconds that the three-parameter curve is moved by; 0 for two parameters."""
        return 0.0 if self.p_max is None else self.w / (self.p_max - self.cp)

    def duration(self, power: float) -> float:
        """How long a steady power [W] lasts [s]; inf at or below cp, 0 at or above p_max."""
        if power <= self.cp:
            return math.inf
        return max(0.0, self.w / (power - self.cp) - self._head)

    def power(self, duration: float) -> float:
        """The steady power [W] that lasts so long [s]; cp for inf, p_max (or inf) for 0."""
        if duration < 0 or math.isnan(duration):
            raise ValueError(f"duration {duration} s must not be negative")
        time = duration + self._head
        return math.inf if time == 0 else self.cp + self.w / time

    def duration_range(self, power: float, unsure: float = UNSURE) -> tuple[float, float]:
        """Shortest and longest duration [s] for a power [W] that is only known to +-`unsure`."""
        return self.duration(power * (1 + unsure)), self.duration(power * (1 - unsure))

    def power_range(self, duration: float, unsure: float = UNSURE) -> tuple[float, float]:
        """The power [W] for so long [s], +-`unsure`."""
        power = self.power(duration)
        return power * (1 - unsure), power * (1 + unsure)


@attrs.frozen
class Fit:
    """A fitted Endurance, the 95 % interval of each parameter (two-sided, from the residuals; (nan, nan) when there
    are no more trials than parameters), and what keeps it from being trusted, in words."""

    endurance: Endurance
    cp_interval: tuple[float, float]
    w_interval: tuple[float, float]
    p_max_interval: tuple[float, float] | None
    trials: int
    doubts: tuple[str, ...]


def fit(durations: Sequence[float], powers: Sequence[float], three: bool = False) -> Fit:
    """Least squares of power over duration [s], [W] from steady all-out flights of one rider.

    Two parameters are linear in 1/t and solved at once (two trials or more, of different length). Three: Gauss-Newton
    on t = ... in the form P = CP + W'/(t + h), from the best of many h (four trials or more). ValueError where the
    trials cannot carry the model: too few, not finite, power that does not fall with duration.
    """
    t, p = np.asarray(durations, dtype=float), np.asarray(powers, dtype=float)
    need = 4 if three else 2
    if t.shape != p.shape or t.ndim != 1:
        raise ValueError("durations and powers must be two lists of one length")
    if len(t) < need:
        raise ValueError(f"too few flights, {len(t)}: {need} or more of different length are needed")
    if not (np.isfinite(t).all() and np.isfinite(p).all() and (t > 0).all() and (p > 0).all()):
        raise ValueError("durations and powers must be finite and above 0")
    if np.ptp(t) < 0.2 * t.max():
        raise ValueError("the flights are too alike in length; add a longer or a shorter one")
    heads = np.concatenate([[0.0], np.geomspace(0.1, t.max(), 400)]) if three else np.array([0.0])
    errors = [_linear(t, p, h)[2] for h in heads]
    head = float(heads[int(np.argmin(errors))])
    if three and head > 0:
        head = _refine(t, p, head)
    cp, w, _ = _linear(t, p, head)
    if not (cp > 0 and w > 0):
        raise ValueError("power does not fall with duration as it must; use only flights that were all-out")
    p_max = cp + w / head if head > 0 else None
    spread = _intervals(t, p, cp, w, head)
    doubts = []
    if len(t) < 4:
        doubts.append(f"{len(t)} flights only")
    if t.max() < 600:
        doubts.append("no flight of 10 min or more: the critical power comes out too high")
    if t.min() < 100:
        doubts.append("flights under 2 min: the model is for 2 to 20 min")
    if three and p_max is None:
        doubts.append("no limit to the highest power can be seen in these flights")
    return Fit(Endurance(cp, w, p_max), spread[0], spread[1], spread[2] if p_max else None, len(t), tuple(doubts))


def _linear(t: np.ndarray, p: np.ndarray, head: float) -> tuple[float, float, float]:
    """CP, W' and the sum of squares for P = CP + W' / (t + head)."""
    x = 1 / (t + head)
    dx = x - x.mean()
    w = float((dx * (p - p.mean())).sum() / (dx * dx).sum())
    cp = float(p.mean() - w * x.mean())
    return cp, w, float(((p - cp - w * x) ** 2).sum())


def _refine(t: np.ndarray, p: np.ndarray, head: float) -> float:
    """The head of least squares near a good one, by golden section over its logarithm."""
    lo, hi = math.log(head) - 0.05, math.log(head) + 0.05
    ratio = (math.sqrt(5) - 1) / 2
    for _ in range(60):
        a, b = hi - ratio * (hi - lo), lo + ratio * (hi - lo)
        if _linear(t, p, math.exp(a))[2] < _linear(t, p, math.exp(b))[2]:
            hi = b
        else:
            lo = a
    return math.exp((lo + hi) / 2)


def _intervals(t: np.ndarray, p: np.ndarray, cp: float, w: float, head: float) -> list[tuple[float, float]]:
    """95 % intervals of CP, W' and Pmax from the Jacobian at the solution (Wald, Student's t)."""
    count = 3 if head > 0 else 2
    free = len(t) - count
    nothing = (math.nan, math.nan)
    if free < 1:
        return [nothing] * 3
    x = 1 / (t + head)
    columns = [np.ones_like(t), x]
    if head > 0:  # parameters CP, W', Pmax with head = W'/(Pmax - CP)
        by_head = -w * x**2
        gap = w / head
        columns = [1 + by_head * head / gap, x + by_head / gap, -by_head * head / gap]
    jacobian = np.stack(columns, axis=1)
    scale = np.linalg.norm(jacobian, axis=0)
    inverse = np.linalg.pinv((jacobian / scale).T @ (jacobian / scale)) / np.outer(scale, scale)
    variance = float(((p - cp - w * x) ** 2).sum()) / free
    half = student_95(free) * np.sqrt(np.maximum(np.diag(inverse) * variance, 0))
    values = [cp, w] + ([cp + w / head] if head > 0 else [])
    found = [(float(v - h), float(v + h)) for v, h in zip(values, half, strict=True)]
    return found + [nothing] * (3 - len(found))


def student_95(free: int) -> float:
    """97.5 % point of Student's t for 1, 2, 3 ... degrees of freedom, without scipy: exact for 1 and 2, else by
    bisecting the distribution's closed form for whole degrees (Abramowitz & Stegun 26.7.3-4)."""
    lo, hi = 1.9, 12.8
    for _ in range(60):
        middle = (lo + hi) / 2
        lo, hi = (middle, hi) if _inside_t(middle, free) < 0.95 else (lo, middle)
    return (lo + hi) / 2


def _inside_t(t: float, free: int) -> float:
    """P(|T| < t) for whole degrees of freedom."""
    angle = math.atan2(t, math.sqrt(free))
    cos2, term = math.cos(angle) ** 2, 1.0
    if free % 2:
        total = term if free > 1 else 0.0
        for n in range(3, free - 1, 2):
            term *= cos2 * (n - 1) / n
            total += term
        return 2 / math.pi * (angle + math.sin(angle) * math.cos(angle) * total)
    total = term
    for n in range(2, free - 1, 2):
        term *= cos2 * (n - 1) / n
        total += term
    return math.sin(angle) * total
