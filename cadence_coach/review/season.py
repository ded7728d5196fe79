"""Outings over weeks: is it getting better, and what would the next rung take."""

from __future__ import annotations

import math
from collections.abc import Sequence

import attrs
import numpy as np

from cadence_coach.foil.endurance import Fit, fit
from cadence_coach.review import stats
from cadence_coach.review.counted import added, armchair_said, counted_rows, left_out_said
from cadence_coach.review.ladder import RungResult, merge, next_rung
from cadence_coach.review.rungs import RUNG
from cadence_coach.review.say import Said, say
from cadence_coach.review.season_row import SeasonFlight, SeasonRow
from cadence_coach.store.dates import when

TREND_FROM = 5
"""Outings from which a trend is given."""

LONG_FROM_S = 20.0
"""Flights from which power and duration say something about endurance, and not about the start."""

FEW_FLIGHTS, LONG_ENOUGH_S, SHORT_S = 4, 600.0, 100.0
"""Fewer flights, none as long, one as short: each is a doubt about the fit, as in `endurance.fit`."""

ALIKE = 0.2
"""Lengths that differ by less than this share carry no curve; as in `endurance.fit`."""

SAME_POWER = 0.08
"""Powers closer together than this share are one power: the estimate itself is good to +-30 %."""

WIDE = 0.25
"""Half-width of a lasting power's interval, as a share of it, over which it says nothing (engineering choice): without
any flight it is known to +-13 %, the 200-260 W of recreational riders."""

USUAL_RESERVE_S = (46.0, 56.25, 110.0)
"""Work above the lasting power / that power [s]: edges from 200-260 W and 12-22 kJ of recreational riders (from
memory), middle from "a quarter less power lasts 1800 s instead of 150 s", which fixes W'/CP = 40.91/0.7273 s."""

RUNG_SECONDS = {
    "seconds_10": 10.0,
    "seconds_30": 30.0,
    "seconds_60": 60.0,
    **{f"minutes_{m}": 60.0 * m for m in (2, 3, 5, 10, 20, 30)},
}

FIGURES = ("best_s", "pumps", "steadiness", "drift", "in_band")


@attrs.frozen
class Group:
    """All outings on one foil or one water; `name` is empty where it was not said."""

    name: str
    outings: int
    best_s: float
    pumps: int
    steadiness: float | None


@attrs.frozen
class NextStep:
    """What the next duration needs, from the power of the longest flight [W]: that share less drag (with its range), or
    that much more lasting power [W]. `fitted`: from the rider's own curve, else from a usual rider's."""

    seconds: float
    now_w: float
    less_drag: float
    range: tuple[float, float]
    more_cp_w: float
    fitted: bool


@attrs.frozen
class Season:
    """`trends`: per 30 days, with interval; `points`: the flights that the endurance curve rests on; `why_no_fit`
    where there is none; `left_out`: outings and flights that do not
    count, and why."""

    rows: tuple[SeasonRow, ...]
    days: tuple[float | None, ...]
    trends: dict[str, stats.Slope]
    foils: tuple[Group, ...]
    waters: tuple[Group, ...]
    rungs: tuple[RungResult, ...]
    next: RungResult | None
    points: tuple[SeasonFlight, ...]
    curve: Fit | None
    why_no_fit: Said | None
    step: NextStep | None
    left_out: tuple[Said, ...] = ()

    def over_days(self, name: str, scale: float = 1.0) -> tuple[np.ndarray, np.ndarray]:
        """Days since the first outing and a figure times `scale`, of the outings where both are known."""
        return over_days(self.rows, self.days, name, scale)


def over_days(
    rows: Sequence[SeasonRow], days: Sequence[float | None], name: str, scale: float = 1.0
) -> tuple[np.ndarray, np.ndarray]:
    pairs = [
        (d, scale * getattr(r, name))
        for r, d in zip(rows, days, strict=True)
        if d is not None and getattr(r, name) is not None
    ]
    x, y = np.array(pairs, float).reshape(-1, 2).T
    return x, y


def around(x: np.ndarray, y: np.ndarray) -> tuple[tuple[float, float], tuple[float, float]]:
    """From where to where the axes of a picture over days go; zero is always in it."""
    margin = max(1.0, 0.03 * float(x[-1]))
    return (-margin, float(x[-1]) + margin), (1.1 * min(0.0, float(y.min())), 1.15 * max(float(y.max()), 1.0))


def season(rows: Sequence[SeasonRow]) -> Season:
    """The season of some outings, in the order of time. A training on land has its say in the ladder and no other, an
    armchair outing none where there are others."""
    said, rows = armchair_said(rows), counted_rows(rows)
    rungs = merge(r.rungs for r in rows)
    rows = [r for r in rows if not r.on_land]
    times = [when(r.start_utc) for r in rows]
    first = min((t for t in times if t is not None), default=None)
    days = tuple(None if t is None or first is None else (t - first).total_seconds() / 86400.0 for t in times)
    coming = next_rung(rungs)
    points = best_points([f for r in rows for f in r.flights])
    curve, why = _curve(points)
    return Season(
        rows=tuple(rows),
        days=days,
        trends=_trends(rows, days),
        foils=_groups(rows, "foil"),
        waters=_groups(rows, "water"),
        rungs=rungs,
        next=coming,
        points=points,
        curve=curve,
        why_no_fit=why,
        step=_step(points, curve),
        left_out=said + left_out_said(added(r.left_out for r in rows)),
    )


def best_points(flights: Sequence[SeasonFlight]) -> tuple[SeasonFlight, ...]:
    """The flights that no other one beats in both length and power: the edge of what this rider has shown."""
    usable = [f for f in flights if f.power and f.seconds >= LONG_FROM_S and f.whole]
    usable.sort(key=lambda f: (-f.seconds, -(f.power or 0.0)))
    edge: list[SeasonFlight] = []
    for f in usable:
        if not edge or (f.power or 0.0) > (edge[-1].power or 0.0):
            edge.append(f)
    return tuple(reversed(edge))


def _curve(points: Sequence[SeasonFlight]) -> tuple[Fit | None, Said | None]:
    seconds, powers = [f.seconds for f in points], [f.power or 0.0 for f in points]
    if not points:
        return None, say("no_fit_few", n=0)
    if len(points) == 1:
        return None, say("no_fit_longest_strongest")
    if max(powers) - min(powers) < SAME_POWER * max(powers):
        return None, say("no_fit_same_power")
    try:
        found = fit(seconds, powers)
    except ValueError:  # the one thing that is left to be wrong with them
        return None, say("no_fit_alike" if max(seconds) - min(seconds) < ALIKE * max(seconds) else "no_fit")
    (low, high), (least, most) = found.cp_interval, found.w_interval
    if high - low > 2.0 * WIDE * found.endurance.cp or least <= 0.0:  # not of two flights: they have no interval
        return None, say("no_fit_wide", low=max(0.0, low), high=high, least=max(0.0, least) / 1e3, most=most / 1e3)
    return found, None


def _step(points: Sequence[SeasonFlight], curve: Fit | None) -> NextStep | None:
    """From the longest flight to the next duration of the ladder: on the fitted curve, or, where there is none, for a
    rider whose work above the lasting power is USUAL_RESERVE_S times that power."""
    if not points:
        return None
    longest = max(points, key=lambda f: f.seconds)
    seconds = next((s for s in RUNG_SECONDS.values() if s > longest.seconds), None)
    now = longest.power
    if seconds is None or now is None:
        return None
    if curve is not None:
        lasting = curve.endurance.power(seconds)
        share = max(0.0, 1.0 - lasting / now)
        return NextStep(seconds, now, share, (share, share), max(0.0, now - lasting), True)

    def less(reserve: float) -> float:
        return 1.0 - (1.0 + reserve / seconds) / (1.0 + reserve / longest.seconds)

    low, middle, high = (less(r) for r in USUAL_RESERVE_S)
    return NextStep(seconds, now, middle, (low, high), now * middle, False)


def _trends(rows: Sequence[SeasonRow], days: Sequence[float | None]) -> dict[str, stats.Slope]:
    found = {}
    for name in FIGURES:
        x, y = over_days(rows, days, name)
        if len(x) >= TREND_FROM:
            slope = stats.robust_slope(x / 30.0, y)
            if slope is not None:
                found[name] = slope
    return found


def _groups(rows: Sequence[SeasonRow], name: str) -> tuple[Group, ...]:
    parts: dict[str, list[SeasonRow]] = {}
    for row in rows:
        parts.setdefault(getattr(row, name), []).append(row)
    groups = []
    for key, part in parts.items():
        steady = [r.steadiness for r in part if r.steadiness is not None]
        best = max(r.best_s for r in part)
        groups.append(
            Group(key, len(part), best, sum(r.pumps for r in part), float(np.median(steady)) if steady else None)
        )
    return tuple(sorted(groups, key=lambda g: -g.outings))


def step_said(found: Season) -> tuple[Said, ...]:
    """What it says about the next duration, with what keeps it from being trusted."""
    said = []
    if found.curve is not None:
        e, (low, high) = found.curve.endurance, found.curve.cp_interval
        key = "curve_span" if math.isfinite(low) else "curve"
        said.append(say(key, cp=e.cp, w=e.w / 1000.0, low=max(0.0, low), high=high))
    elif found.points:
        said.append(say("no_curve", why=found.why_no_fit))
    else:
        return (say("no_points"),)
    s = found.step
    if s is not None:
        name = RUNG[next(k for k, v in RUNG_SECONDS.items() if v == s.seconds)].name
        share, (low, high) = 100.0 * s.less_drag, (100.0 * edge for edge in s.range)
        key = "step_carried" if share <= 0.0 else "step_fitted" if s.fitted else "step_usual"
        said.append(say(key, name=name, share=share, low=low, high=high, more=s.more_cp_w, now=s.now_w))
    said.append(say("step_estimates"))
    if found.curve is not None:
        said += [say("step_careful", doubt=doubt) for doubt in _doubts(found.points)]
    return tuple(said)


def _doubts(points: Sequence[SeasonFlight]) -> list[Said]:
    """Those of `endurance.fit`, for people."""
    lengths = [f.seconds for f in points]
    said = []
    if len(points) < FEW_FLIGHTS:
        said.append(say("doubt_few", n=len(points)))
    if max(lengths) < LONG_ENOUGH_S:
        said.append(say("doubt_no_long"))
    if min(lengths) < SHORT_S:
        said.append(say("doubt_short"))
    return said
