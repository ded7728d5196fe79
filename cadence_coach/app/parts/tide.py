"""Cadence against its band as one shape: a broad stretch of water across the screen, and the rider as a lens that
floats in it, lies under it or over it. Under and over the lens is hollow and carries a wedge that points back."""

from __future__ import annotations

from math import pi, sin
from typing import Any

from kivy.graphics import Color, Line, Mesh, PopMatrix, PushMatrix, Translate
from kivy.metrics import dp
from kivy.properties import BooleanProperty, ColorProperty, NumericProperty
from kivy.uix.floatlayout import FloatLayout

PIECES = 24
BAND = 0.42
"""Height of the band as a share of the widget's."""


class Tide(FloatLayout):
    """place: -1 the lower edge of the band, 1 the upper one; `known` False draws no lens. Children lie on it."""

    place = NumericProperty(0.0)
    known = BooleanProperty(False)
    lens_y = NumericProperty(0.0)
    """Middle of the lens, for what stands on it."""
    water = ColorProperty()
    edge = ColorProperty()
    lens = ColorProperty()

    def __init__(self, **given: Any) -> None:
        self._shape: Any = None
        super().__init__(**given)
        with self.canvas.before:
            self._water = Color()
            self._body = Mesh(mode="triangle_strip")
            self._edge = Color()
            self._edges = [Line(width=dp(1.5)), Line(width=dp(1.5))]
            PushMatrix()
            self._move = Translate()
            self._ink = Color()
            self._full = Mesh(mode="triangle_fan")
            self._hollow = Line(width=dp(3), close=True)
            self._wedge = Line(width=dp(3), cap="round", joint="round")
            PopMatrix()
        for prop in ("pos", "size", "water", "edge", "lens"):
            self.fbind(prop, self._lay)
        for prop in ("place", "known"):
            self.fbind(prop, self._float)

    @property
    def lens_height(self) -> float:
        return float(self.height * BAND * 0.62)

    def _lay(self, *_: Any) -> None:
        """The band: only when the widget moves or its colours change."""
        self._water.rgba, self._edge.rgba, self._ink.rgba = self.water, self.edge, self.lens
        half = self.height * BAND / 2
        swell = min(dp(7), half / 4)
        top, low, strip = [], [], []
        for n in range(PIECES + 1):
            x = self.x + self.width * n / PIECES
            up = swell * sin(2 * pi * n / PIECES * 1.5)
            top += [x, self.center_y + half + up]
            low += [x, self.center_y - half + up]
            strip += [x, self.center_y + half + up, 0, 0, x, self.center_y - half + up, 0, 0]
        self._body.vertices, self._body.indices = strip, list(range(2 * (PIECES + 1)))
        self._edges[0].points, self._edges[1].points = top, low
        self._shape = None
        self._float()

    def _float(self, *_: Any) -> None:
        """The lens: moved, and made anew only when it changes between full and hollow."""
        inside = -1 <= self.place <= 1
        shape = (inside, self.place > 0, self.known, self.width, self.height)
        half = self.height * BAND / 2
        reach = self.height / 2 - self.lens_height / 2 - dp(2)
        if inside:
            away = self.place * max(0.0, half - self.lens_height / 4)
        else:
            past = min(1.0, abs(self.place) - 1)
            away = half + past * max(0.0, reach - half)
            away = min(away + self.lens_height * 0.35, reach) * (1 if self.place > 0 else -1)
        self.lens_y = self.center_y + (away if self.known else 0.0)
        self._move.xy = self.center_x, self.lens_y
        if shape == self._shape:
            return
        self._shape = shape
        outline = _lens(min(self.width * 0.62, dp(420)), self.lens_height) if self.known else []
        corners = [v for x, y in zip(outline[::2], outline[1::2], strict=True) for v in (x, y, 0, 0)]
        self._full.vertices = [0, 0, 0, 0, *corners] if inside and outline else []
        self._full.indices = list(range(len(self._full.vertices) // 4))
        self._hollow.points = [] if inside else outline
        self._wedge.points = []
        if outline and not inside:
            down = -1 if self.place > 0 else 1
            x, y, s = min(self.width * 0.38, dp(250)), 0.0, dp(13)
            self._wedge.points = [x - s, y - down * s / 2, x, y + down * s / 2, x + s, y - down * s / 2]


def _lens(width: float, height: float) -> list[float]:
    """Outline around 0, 0: flat like a board, pointed at both ends."""
    points: list[float] = []
    for n in range(2 * PIECES + 1):
        t = n / PIECES  # 0 to 1 along the top, 1 to 2 back along the bottom
        along = t if t <= 1 else 2 - t
        side = 1 if t <= 1 else -1
        points += [width * (along - 0.5), side * height / 2 * sin(pi * along) ** 0.75]
    return points
