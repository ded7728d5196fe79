"""A chart as plain data: shapes and labels in 0 to 1, x to the right, y up. What it shows is also said in words. Pure.

The colours are those of the theme by use (rider, band, target, muted, cue, speed, the four parts).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import attrs
import numpy as np

from cadence_coach.review.draw import clock_ticks, ticks
from cadence_coach.review.say import minutes

Point = tuple[float, float]


@attrs.frozen
class Area:
    """Between a lower and an upper edge: (x, lo, hi)."""

    kind: str
    edges: tuple[tuple[float, float, float], ...]
    faint: bool = False


@attrs.frozen
class Box:
    kind: str
    x0: float
    x1: float
    y0: float
    y1: float
    faint: bool = False


@attrs.frozen
class Stroke:
    kind: str
    points: tuple[Point, ...]
    dashed: bool = False


@attrs.frozen
class Dots:
    kind: str
    points: tuple[Point, ...]
    hollow: bool = False
    big: bool = False


@attrs.frozen
class Label:
    """Text at a place; middle of its lower edge. on: the colour it lies on, where that is not the page's."""

    x: float
    y: float
    text: str
    kind: str = "muted"
    on: str = ""


@attrs.frozen
class Chart:
    """`says` tells in words what the shapes show. Ticks are (place, text)."""

    areas: tuple[Area, ...] = ()
    boxes: tuple[Box, ...] = ()
    strokes: tuple[Stroke, ...] = ()
    dots: tuple[Dots, ...] = ()
    labels: tuple[Label, ...] = ()
    x_ticks: tuple[tuple[float, str], ...] = ()
    y_ticks: tuple[tuple[float, str], ...] = ()
    x_name: str = ""
    y_name: str = ""
    says: str = ""


class Axes:
    """From values to places; what lies outside sits on the edge. comma: decimals as German writes them."""

    def __init__(self, x: tuple[float, float], y: tuple[float, float], comma: bool = False) -> None:
        self.x, self.y = _edges(x), _edges(y)
        self.comma = comma

    def at_x(self, value: float) -> float:
        return _share(value, self.x)

    def at_y(self, value: float) -> float:
        return _share(value, self.y)

    def points(self, xs: Iterable[float], ys: Iterable[float]) -> tuple[Point, ...]:
        pairs = zip(xs, ys, strict=True)
        return tuple((self.at_x(x), self.at_y(y)) for x, y in pairs if math.isfinite(x) and math.isfinite(y))

    def strokes(self, kind: str, xs: Sequence[float], ys: Sequence[float], dashed: bool = False) -> tuple[Stroke, ...]:
        """A line that breaks where a value is not known."""
        known = np.isfinite(np.asarray(xs, float)) & np.isfinite(np.asarray(ys, float))
        edges = np.flatnonzero(np.diff(np.concatenate([[False], known, [False]]).astype(int))).reshape(-1, 2)
        return tuple(Stroke(kind, self.points(xs[a:b], ys[a:b]), dashed) for a, b in edges if b - a > 1)

    def area(
        self, kind: str, xs: Sequence[float], lo: Sequence[float], hi: Sequence[float], faint: bool = False
    ) -> tuple[Area, ...]:
        known = np.isfinite(np.asarray(lo, float)) & np.isfinite(np.asarray(hi, float))
        edges = np.flatnonzero(np.diff(np.concatenate([[False], known, [False]]).astype(int))).reshape(-1, 2)
        return tuple(
            Area(kind, tuple((self.at_x(xs[i]), self.at_y(lo[i]), self.at_y(hi[i])) for i in range(a, b)), faint)
            for a, b in edges
            if b - a > 1
        )

    def rule(self, kind: str, *, x: float | None = None, y: float | None = None) -> Stroke:
        if x is not None:
            return Stroke(kind, ((self.at_x(x), 0.0), (self.at_x(x), 1.0)), True)
        return Stroke(kind, ((0.0, self.at_y(y or 0.0)), (1.0, self.at_y(y or 0.0))), True)

    def x_ticks(self, about: int = 5, clock: bool = False) -> tuple[tuple[float, str], ...]:
        values = clock_ticks(*self.x) if clock else ticks(*self.x, about)
        return tuple((self.at_x(v), minutes(v) if clock else self.text(v)) for v in values)

    def y_ticks(self, about: int = 4) -> tuple[tuple[float, str], ...]:
        return tuple((self.at_y(v), self.text(v)) for v in ticks(*self.y, about))

    def text(self, value: float) -> str:
        said = f"{value:g}"
        return said.replace(".", ",") if self.comma else said


def _edges(span: tuple[float, float]) -> tuple[float, float]:
    """As plain floats: widgets take no numpy ones."""
    lo, hi = float(span[0]), float(span[1])
    return (lo, hi) if hi > lo else (lo - 0.5, lo + 0.5)


def _share(value: float, edges: tuple[float, float]) -> float:
    return min(1.0, max(0.0, (float(value) - edges[0]) / (edges[1] - edges[0])))


def room(lo: float, hi: float, least: float) -> tuple[float, float]:
    """A range with some air around, at least 2 `least` wide."""
    middle, half = (lo + hi) / 2.0, max((hi - lo) * 0.56, least)
    return middle - half, middle + half


def thinned(values: np.ndarray, most: int = 300) -> np.ndarray:
    """Indices of at most `most` values: more than a phone has room for across a chart."""
    return np.unique(np.linspace(0, len(values) - 1, min(len(values), most)).astype(int)) if len(values) else values
