"""A small picture of a band over speed: a body, its target line and where the rider usually is."""

from __future__ import annotations

from typing import Any

from kivy.graphics import Color, Ellipse, Line, Mesh
from kivy.metrics import dp
from kivy.properties import ColorProperty, ObjectProperty
from kivy.uix.widget import Widget


class BandPicture(Widget):
    """view: an object with `body` [(x, lo, hi)], `target` [(x, y)], `cruise` (x, y) or None, all in 0 to 1."""

    view = ObjectProperty(None, allownone=True)
    body = ColorProperty()
    line = ColorProperty()
    mark = ColorProperty()
    ground = ColorProperty()

    def __init__(self, **given: Any) -> None:
        super().__init__(**given)
        with self.canvas:
            self._body_ink = Color()
            self._body = Mesh(mode="triangle_strip")
            self._line_ink = Color()
            self._line = Line(width=dp(1.6), joint="round")
            self._mark_ink = Color()
            self._mark = Ellipse(size=(dp(14), dp(14)))
        for prop in ("pos", "size", "view", "body", "line", "mark"):
            self.fbind(prop, self._draw)

    def _draw(self, *_: Any) -> None:
        self._body_ink.rgba, self._line_ink.rgba = self.body, self.line
        view = self.view
        if view is None or not view.body:
            self._body.vertices, self._line.points, self._mark_ink.rgba = [], [], (0, 0, 0, 0)
            return

        def at(x: float, y: float) -> tuple[float, float]:
            return self.x + x * self.width, self.y + y * self.height

        corners: list[float] = []
        for x, lo, hi in view.body:
            corners += [*at(x, hi), 0, 0, *at(x, lo), 0, 0]
        self._body.vertices, self._body.indices = corners, list(range(len(corners) // 4))
        self._line.points = [v for x, y in view.target for v in at(x, y)]
        self._mark_ink.rgba = self.mark if view.cruise else (0, 0, 0, 0)
        if view.cruise:
            x, y = at(*view.cruise)
            self._mark.pos = x - dp(7), y - dp(7)
