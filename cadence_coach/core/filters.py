"""Causal filters, stepped one sample at a time: irregular samples to a fixed grid, a symmetric smoother of known delay.

Nothing here works in blocks, so that cutting the stream differently cannot change a bit of the result.
"""

from __future__ import annotations

import math


class Resampler:
    """Irregular samples of three axes to a fixed grid: the mean of the straight lines between samples over each grid
    cell.

    The cell mean is both the interpolation and the anti-alias filter (its first zero is at the grid rate), and knows
    no block size. A grid value at time g covers [g - h/2, g + h/2] and is there once a sample at or after g + h/2 has
    come.
    """

    __slots__ = ("_edge", "_index", "_origin", "_t", "_u", "_v", "_w", "_x", "_y", "_z", "step")

    def __init__(self, step: float) -> None:
        self.step = step
        self.restart(0.0, 0.0, 0.0, 0.0)

    def restart(self, t: float, x: float, y: float, z: float) -> None:
        """Begin anew with a first sample at t [s]; the first grid point is half a step later."""
        self._t, self._x, self._y, self._z = t, x, y, z
        self._origin = t
        self._index = 1
        self._edge = t + self.step
        self._u = self._v = self._w = 0.0

    def push(self, t: float, x: float, y: float, z: float) -> list[tuple[float, float, float, float]]:
        """Take a sample later than the last; give the grid points (time, x, y, z) that it completes."""
        t0, x0, y0, z0 = self._t, self._x, self._y, self._z
        out: list[tuple[float, float, float, float]] = []
        edge = self._edge
        if t >= edge:
            h = self.step
            span = t - t0
            ax, ay, az = (x - x0) / span, (y - y0) / span, (z - z0) / span
            xb, yb, zb = x0, y0, z0
            tb = t0
            while t >= edge:
                d = edge - t0
                xe, ye, ze = x0 + ax * d, y0 + ay * d, z0 + az * d
                half = 0.5 * (edge - tb)
                out.append(
                    (
                        edge - 0.5 * h,
                        (self._u + (xb + xe) * half) / h,
                        (self._v + (yb + ye) * half) / h,
                        (self._w + (zb + ze) * half) / h,
                    )
                )
                self._u = self._v = self._w = 0.0
                tb, xb, yb, zb = edge, xe, ye, ze
                self._index += 1
                edge = self._origin + self._index * h
            self._edge = edge
            t0, x0, y0, z0 = tb, xb, yb, zb
        half = 0.5 * (t - t0)
        self._u += (x0 + x) * half
        self._v += (y0 + y) * half
        self._w += (z0 + z) * half
        self._t, self._x, self._y, self._z = t, x, y, z
        return out


def hann_weights(half_width: int) -> tuple[float, ...]:
    """Weights of a Hann smoother with 2 * half_width + 1 taps that sum to 1; its delay is half_width steps at every
    frequency."""
    n = 2 * half_width + 2
    raw = [0.5 - 0.5 * math.cos(2.0 * math.pi * (i + 1) / n) for i in range(2 * half_width + 1)]
    total = sum(raw)
    return tuple(w / total for w in raw)
