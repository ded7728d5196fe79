"""Draws a views.chart.Chart on the canvas. Its words are labels, so that they scale and are checked like all others;
where two would run into each other, the later one is left out."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

from kivy.app import App
from kivy.clock import Clock
from kivy.graphics import Color, Ellipse, InstructionGroup, Line, Mesh, Rectangle
from kivy.metrics import dp
from kivy.properties import ObjectProperty
from kivy.uix.label import Label
from kivy.uix.widget import Widget

FAINT = 0.35
GAP = 3.0
"""Air between labels [dp]."""


class ChartView(Widget):
    chart = ObjectProperty(None, allownone=True)

    def __init__(self, **given: Any) -> None:
        super().__init__(**given)
        self._shapes = InstructionGroup()
        self.canvas.add(self._shapes)
        app = App.get_running_app()
        self._soon = Clock.create_trigger(self._draw, 0)  # once it lies still: a layout moves it several times
        for name in ("pos", "size", "chart"):
            self.fbind(name, self._again)
        app.bind(colours=self._again, type=self._again)  # bind, not fbind: it lets go of a chart whose page is gone

    def _again(self, *_: Any) -> None:
        self._soon()

    def _draw(self, *_: Any) -> None:
        self._shapes.clear()
        self.clear_widgets()
        if self.chart is None or self.width < dp(80) or self.height < dp(60):
            return
        self._colours = App.get_running_app().colours
        self._taken: list[tuple[float, float, float, float]] = []
        self._lay_out()
        self._grid()
        for area in self.chart.areas:
            self._ink(area.kind, FAINT if area.faint else 1.0)
            corners = [v for x, lo, hi in area.edges for y in (lo, hi) for v in (*self._at(x, y), 0, 0)]
            self._add(Mesh(vertices=corners, indices=list(range(len(corners) // 4)), mode="triangle_strip"))
        for box in self.chart.boxes:
            self._ink(box.kind, FAINT if box.faint else 1.0)
            (left, low), (right, top) = self._at(box.x0, box.y0), self._at(box.x1, box.y1)
            self._add(Rectangle(pos=(left, low), size=(max(dp(2), right - left), max(dp(1), top - low))))
        for stroke in self.chart.strokes:
            self._ink(stroke.kind, 1.0)
            for part in self._dashes(stroke.points) if stroke.dashed else [stroke.points]:
                points = [v for x, y in part for v in self._at(x, y)]
                self._add(Line(points=points, width=dp(0.8) if stroke.dashed else dp(1.5), joint="round"))
        for dots in self.chart.dots:
            self._ink(dots.kind, 1.0)
            r = dp(4.0 if dots.big else 2.4)
            for x, y in dots.points:
                at = self._at(x, y)
                if dots.hollow:
                    self._add(Line(circle=(*at, r), width=dp(1.1)))
                else:
                    self._add(Ellipse(pos=(at[0] - r, at[1] - r), size=(2 * r, 2 * r)))
        for label in self.chart.labels:
            x, y = self._at(label.x, label.y)
            self._say(label.text, x, y, "middle", label.kind, label.on)

    # ---- places ----

    def _lay_out(self) -> None:
        """The field that is drawn in: what the labels beside and under it leave."""
        widest = max((self._made(text).width for _, text in self.chart.y_ticks), default=0.0)
        high = self._made("0").height
        self._left = self.x + widest + dp(6)
        self._right = self.right - dp(8)
        self._low = self.y + (high + dp(6) if self.chart.x_ticks or self.chart.x_name else dp(4))
        self._top = self.top - (high + dp(6) if self.chart.y_name or self.chart.labels else dp(8))

    def _at(self, x: float, y: float) -> tuple[float, float]:
        return self._left + x * (self._right - self._left), self._low + y * (self._top - self._low)

    def _grid(self) -> None:
        chart = self.chart
        if chart.y_name:
            self._say(chart.y_name, self.x, self._top + dp(4), "start")
        if chart.x_name:
            self._say(chart.x_name, self._right, self.y, "end")
        for place, text in chart.y_ticks:
            self._ink("line", 1.0)
            y = self._at(0, place)[1]
            self._add(Line(points=[self._left, y, self._right, y], width=dp(0.6)))
            self._say(text, self._left - dp(5), y - self._made(text).height / 2, "end")
        for place, text in chart.x_ticks:
            x = self._at(place, 0)[0]
            self._ink("line", 1.0)
            self._add(Line(points=[x, self._low, x, self._low - dp(4)], width=dp(0.6)))
            self._say(text, x, self.y, "middle")

    def _dashes(self, points: Any) -> Any:
        """The line in pieces of 6 dp with gaps of 4 dp."""
        along, on = 0.0, True
        for a, b in pairwise(points):
            (x0, y0), (x1, y1) = self._at(*a), self._at(*b)
            length = ((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5
            at = 0.0
            while at < length:
                piece = min(dp(6 if on else 4) - along, length - at)
                if on and length:
                    s, e = at / length, (at + piece) / length
                    yield [_between(a, b, s), _between(a, b, e)]
                at, along = at + piece, along + piece
                if along >= dp(6 if on else 4) - 1e-6:
                    along, on = 0.0, not on

    # ---- inks and words ----

    def _ink(self, kind: str, alpha: float) -> None:
        self._add(Color(*getattr(self._colours, kind)[:3], alpha))

    def _add(self, what: Any) -> None:
        self._shapes.add(what)

    def _made(self, text: str, kind: str = "muted") -> Label:
        label = Label(text=text, font_size=App.get_running_app().type.small, color=getattr(self._colours, kind))
        label.texture_update()
        label.size_hint = (None, None)
        label.size = label.texture_size
        return label

    def _say(self, text: str, x: float, y: float, anchor: str, kind: str = "muted", on: str = "") -> None:
        label = self._made(text, kind)
        if on:
            label.ground = getattr(self._colours, on)  # what it lies on, for whoever checks the contrast
        left = x - {"start": 0.0, "middle": label.width / 2, "end": label.width}[anchor]
        left = min(max(left, self.x), self.right - label.width)
        y = min(max(y, self.y), self.top - label.height)
        box = (left, y, left + label.width, y + label.height)
        gap = dp(GAP)
        if label.width > self.width or any(
            box[0] < b[2] + gap and b[0] < box[2] + gap and box[1] < b[3] and b[1] < box[3] for b in self._taken
        ):
            return
        self._taken.append(box)
        label.pos = box[:2]
        self.add_widget(label)


def _between(a: tuple[float, float], b: tuple[float, float], share: float) -> tuple[float, float]:
    return a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])
