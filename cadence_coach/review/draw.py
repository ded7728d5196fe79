"""Small SVG pictures without matplotlib: the phone draws the same report as a desktop.

A Picture is 360 units wide or a multiple, so that its 12-unit text is readable where a phone shows it one to one.
Colours are classes (`s-rider` strokes, `f-band` fills), bound to the palette by the page: that is what makes light,
dark and print work.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from html import escape

import numpy as np

from cadence_coach.review.say import minutes

LEFT, RIGHT, TOP, BOTTOM = 38.0, 8.0, 20.0, 26.0


def ticks(lo: float, hi: float, about: int = 5) -> list[float]:
    """Round values inside [lo, hi], 1, 2 or 5 times a power of ten apart."""
    if not hi > lo:
        return [lo]
    rough = (hi - lo) / about
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(m * power for m in (1.0, 2.0, 5.0, 10.0) if m * power >= rough * 0.999)
    first = math.ceil(lo / step - 1e-9)
    return [round(k * step, 10) for k in range(first, math.floor(hi / step + 1e-9) + 1)]


class Picture:
    """One diagram: axes in data units, shapes added in order, `svg()` at the end. `label` is read by screen readers."""

    def __init__(
        self,
        x: tuple[float, float],
        y: tuple[float, float],
        label: str,
        *,
        width: float = 360.0,
        height: float = 170.0,
        left: float = LEFT,
        bottom: float = BOTTOM,
        top: float = TOP,
        comma: bool = False,
    ) -> None:
        self.x = x if x[1] > x[0] else (x[0] - 0.5, x[0] + 0.5)
        self.y = y if y[1] > y[0] else (y[0] - 0.5, y[0] + 0.5)
        self.label, self.width, self.height = label, width, height
        self.left, self.bottom, self.top = left, bottom, top
        self.comma = comma
        self.parts: list[str] = []

    # ---- places ----

    def px(self, x: float) -> float:
        lo, hi = self.x
        return self.left + (x - lo) / (hi - lo) * (self.width - self.left - RIGHT)

    def py(self, y: float) -> float:
        lo, hi = self.y
        return self.height - self.bottom - (y - lo) / (hi - lo) * (self.height - self.top - self.bottom)

    def _points(self, xs: Sequence[float] | np.ndarray, ys: Sequence[float] | np.ndarray) -> str:
        return " ".join(f"{self.px(float(x)):.1f},{self.py(float(y)):.1f}" for x, y in zip(xs, ys, strict=True))

    # ---- shapes ----

    def axes(
        self,
        x_ticks: Sequence[tuple[float, str]] = (),
        y_ticks: Sequence[tuple[float, str]] = (),
        x_name: str = "",
        y_name: str = "",
    ) -> Picture:
        """Thin lines across at the y ticks, labels outside, names at the ends of the axes."""
        right, floor = self.width - RIGHT, self.height - self.bottom
        for value, text in y_ticks:
            y = self.py(value)
            self.parts.append(f'<path class="s-line" d="M{self.left:.1f} {y:.1f}H{right:.1f}"/>')
            self.parts.append(
                f'<text class="small" text-anchor="end" x="{self.left - 5:.1f}" y="{y + 4:.1f}">{escape(text)}</text>'
            )
        for value, text in x_ticks:
            x = self.px(value)
            self.parts.append(f'<path class="s-line" d="M{x:.1f} {floor:.1f}v4"/>')
            self.parts.append(
                f'<text class="small" text-anchor="middle" x="{x:.1f}" y="{floor + 15:.1f}">{escape(text)}</text>'
            )
        if x_name:
            self.parts.append(
                f'<text class="small" text-anchor="end" x="{right:.1f}" y="{self.height - 1:.1f}">'
                f"{escape(x_name)}</text>"
            )
        if y_name:
            self.parts.append(f'<text class="small" x="0" y="11">{escape(y_name)}</text>')
        return self

    def number_axes(
        self, x_name: str, y_name: str, *, about: int = 5, clock: bool = False, digits: int | None = None
    ) -> Picture:
        def text(v: float, digits: int | None = digits) -> str:
            said = f"{v:.{digits}f}" if digits is not None else f"{v:g}"
            return said.replace(".", ",") if self.comma else said

        places = clock_ticks(*self.x) if clock else ticks(*self.x, about)
        xs = [(v, minutes(v) if clock else text(v, None)) for v in places]
        return self.axes(xs, [(v, text(v)) for v in ticks(*self.y, 4)], x_name, y_name)

    def line(
        self,
        xs: Sequence[float] | np.ndarray,
        ys: Sequence[float] | np.ndarray,
        kind: str,
        *,
        dashed: bool = False,
        thin: bool = False,
    ) -> Picture:
        """A line that breaks where a value is not known."""
        xs, ys = np.asarray(xs, float), np.asarray(ys, float)
        known = np.isfinite(xs) & np.isfinite(ys)
        style = f"s-{kind}" + (" dashed" if dashed else "") + (" thin" if thin else "")
        edges = np.flatnonzero(np.diff(np.concatenate([[False], known, [False]]).astype(int))).reshape(-1, 2)
        for a, b in edges:
            if b - a == 1:
                self.dots(xs[a:b], ys[a:b], kind, radius=1.5)
            else:
                self.parts.append(f'<polyline class="{style}" points="{self._points(xs[a:b], ys[a:b])}"/>')
        return self

    def area(
        self,
        xs: Sequence[float] | np.ndarray,
        low: Sequence[float] | np.ndarray,
        high: Sequence[float] | np.ndarray,
        kind: str,
        *,
        faint: bool = False,
    ) -> Picture:
        """Filled between two lines, broken where either is not known."""
        xs, low, high = (np.asarray(v, float) for v in (xs, low, high))
        known = np.isfinite(low) & np.isfinite(high)
        edges = np.flatnonzero(np.diff(np.concatenate([[False], known, [False]]).astype(int))).reshape(-1, 2)
        for a, b in edges:
            if b - a > 1:
                ring = self._points(xs[a:b], high[a:b]) + " " + self._points(xs[a:b][::-1], low[a:b][::-1])
                self.parts.append(f'<polygon class="f-{kind}{" faint" if faint else ""}" points="{ring}"/>')
        return self

    def box(
        self, x0: float, x1: float, y0: float, y1: float, kind: str, *, title: str = "", faint: bool = False
    ) -> Picture:
        left, top = self.px(x0), self.py(max(y0, y1))
        wide, high = max(1.5, self.px(x1) - left), max(1.0, self.py(min(y0, y1)) - top)
        told = f"<title>{escape(title)}</title>" if title else ""
        style = f"f-{kind}" + (" faint" if faint else "")
        self.parts.append(
            f'<rect class="{style}" x="{left:.1f}" y="{top:.1f}" width="{wide:.1f}" height="{high:.1f}">{told}</rect>'
        )
        return self

    def dots(
        self,
        xs: Sequence[float] | np.ndarray,
        ys: Sequence[float] | np.ndarray,
        kind: str,
        *,
        radius: float = 2.6,
        hollow: bool = False,
    ) -> Picture:
        style = f"s-{kind} hollow" if hollow else f"f-{kind}"
        for x, y in zip(xs, ys, strict=True):
            if math.isfinite(x) and math.isfinite(y):
                self.parts.append(
                    f'<circle class="{style}" cx="{self.px(float(x)):.1f}" cy="{self.py(float(y)):.1f}" r="{radius}"/>'
                )
        return self

    def mark(self, x: float, kind: str, *, text: str = "", up: bool = False, title: str = "") -> Picture:
        """A small triangle at the top edge (or the bottom), with an optional letter."""
        at, y = self.px(x), (self.height - self.bottom if up else self.top)
        tip = -7 if up else 7
        told = f"<title>{escape(title)}</title>" if title else ""
        self.parts.append(f'<path class="f-{kind}" d="M{at - 4.5:.1f} {y:.1f}h9L{at:.1f} {y + tip:.1f}z">{told}</path>')
        if text:
            self.text(x, None, text, kind=kind, y_px=y - 3 if not up else y + 11, anchor="middle")
        return self

    def rule(
        self, *, x: float | None = None, y: float | None = None, kind: str = "muted", dashed: bool = True
    ) -> Picture:
        """A straight line right across, at an x or at a y."""
        style = f"s-{kind}" + (" dashed" if dashed else "") + " thin"
        if x is not None:
            d = f"M{self.px(x):.1f} {self.top:.1f}V{self.height - self.bottom:.1f}"
        else:
            d = f"M{self.left:.1f} {self.py(float(y or 0.0)):.1f}H{self.width - RIGHT:.1f}"
        self.parts.append(f'<path class="{style}" d="{d}"/>')
        return self

    def text(
        self,
        x: float,
        y: float | None,
        said: str,
        *,
        kind: str = "ink",
        anchor: str = "start",
        y_px: float | None = None,
        dx: float = 0.0,
        dy: float = 0.0,
    ) -> Picture:
        at = y_px if y_px is not None else self.py(float(y or 0.0))
        self.parts.append(
            f'<text class="t-{kind}" text-anchor="{anchor}" x="{self.px(x) + dx:.1f}" y="{at + dy:.1f}">'
            f"{escape(said)}</text>"
        )
        return self

    def key(self, said: str, kind: str) -> Picture:
        """What a dashed line is, above the picture at its right end, where no data can lie under it."""
        return self.text(self.x[1], None, f"- - {said}", kind=kind, anchor="end", y_px=11.0)

    def svg(self, style: str = "") -> str:
        """The picture as text that can stand in a page; with `style` as a file of its own."""
        inner = f"<style>{style}</style>" if style else ""
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {self.width:g} {self.height:g}" role="img"'
            f' aria-label="{escape(self.label)}">'
            f"{inner}{''.join(self.parts)}</svg>"
        )


def clock_ticks(lo: float, hi: float) -> list[float]:
    """Ticks on times [s] at steps that a clock knows."""
    steps = (1, 2, 5, 10, 20, 30, 60, 120, 300, 600, 900, 1800, 3600)
    step = next((s for s in steps if (hi - lo) / s <= 6), 7200)
    return [float(k * step) for k in range(math.ceil(lo / step - 1e-9), math.floor(hi / step + 1e-9) + 1)]


def style(colours: dict[str, str]) -> str:
    """CSS of the classes that pictures use, with the palette as variables (`--rider` and so on) set elsewhere."""
    rules = [
        f".s-{name}{{stroke:var(--{name});fill:none}}.f-{name}{{fill:var(--{name})}}.t-{name}{{fill:var(--{name})}}"
        for name in colours
    ]
    return (
        "svg text{font:12px/1 system-ui,sans-serif}svg .small{font-size:11px;fill:var(--muted)}"
        "polyline{stroke-width:2;stroke-linejoin:round;stroke-linecap:round}path.s-line{stroke-width:1}"
        ".thin{stroke-width:1}.dashed{stroke-dasharray:4 3}.hollow{stroke-width:1.5}.faint{opacity:.35}"
        + "".join(rules)
    )


def variables(colours: dict[str, str]) -> str:
    return "".join(f"--{name}:{value};" for name, value in colours.items())
