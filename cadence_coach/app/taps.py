"""How late an output is heard, by taps on the phone's case: clicks at 60 a minute, timed on the clock of the samples.
No Kivy; runs on a thread beside the screen."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

import attrs
import numpy as np

from cadence_coach.core.events import ACCEL, Row
from cadence_coach.core.units import G
from cadence_coach.sound.latency import TAPS_PER_MIN, tap_lag, taps_in
from cadence_coach.sound.mixer import Mixer

CLICKS = 20
"""Four to find the beat, twelve that are needed, and some that go wrong."""
FIRST_S = 2.0
LOOK_S = 0.05


@attrs.frozen
class Tapped:
    """Median of tap - click [s], and the name of the output that was heard."""

    output: str
    lag_s: float


def measure(
    sink: Any,
    source: Any,
    told: Callable[[int], None] = lambda taps: None,
    going: Callable[[], bool] = lambda: True,
    per_min: float = TAPS_PER_MIN,
) -> Tapped:
    """Plays the clicks, listens for taps, tells how many were heard so far. Closes both. Raises Refused where it is no
    measurement (too few taps, too much scatter)."""
    try:
        mixer = Mixer(sink.rate)
        sink.start(mixer)
        period = 60.0 / per_min
        first = max(sink.soonest(), sink.frame_now() + round(FIRST_S * sink.rate))
        frames = [first + round(k * period * sink.rate) for k in range(CLICKS)]
        clicks = _heard(frames, sink)
        for at in frames:
            mixer.place("click", at)
        if hasattr(source, "hear"):
            source.hear(clicks)
        rows: list[Row] = []
        while time.monotonic() < clicks[-1] + period and going():
            rows += [r for r in source.poll() if r[0] == ACCEL]
            told(len(_taps(rows, source)))
            time.sleep(LOOK_S)
        # dated anew: only now the output has told how late it is, and by that an outing's clicks are placed
        return Tapped(sink.name, tap_lag(_taps(rows, source).tolist(), _heard(frames, sink)))
    finally:
        source.close()
        sink.close()


def _heard(frames: list[int], sink: Any) -> list[float]:
    """Monotonic times [s] of the frames, by what the output has told of itself so far."""
    now = time.monotonic()
    about = [now + (f - sink.frame_at(now)) / sink.rate for f in frames]
    return [t + (f - sink.frame_at(t)) / sink.rate for f, t in zip(frames, about, strict=True)]  # its clock drifts


def _taps(rows: list[Row], source: Any) -> np.ndarray:
    """Monotonic times of the taps so far [s]."""
    if len(rows) < 2:
        return np.array([])
    data = np.array([r[1:5] for r in rows])
    return np.array([source.monotonic(t) for t in taps_in(data[:, 0], data[:, 1:])])


class Tapper:
    """Somebody invented who taps some 30 ms ahead of each click, for a machine without a sensor."""

    def __init__(self, seed: int = 1, ahead_s: float = 0.03, scatter_s: float = 0.008) -> None:
        self._rng = np.random.default_rng(seed)
        self._zero = time.monotonic()
        self._ahead_s, self._scatter_s = ahead_s, scatter_s
        self._taps = np.array([])
        self._sent = 0

    def hear(self, clicks: list[float]) -> None:
        away = self._scatter_s * self._rng.standard_normal(len(clicks)) - self._ahead_s
        self._taps = np.array(clicks) - self._zero + away

    def poll(self) -> list[Row]:
        """100 samples a second up to now; a tap is one hard one."""
        until = int((time.monotonic() - self._zero) * 100)
        t = np.arange(self._sent, until) / 100.0
        self._sent = until
        z = np.full(len(t), G)
        for tap in self._taps:
            z[(t >= tap) & (t < tap + 0.01)] += 12.0
        return [(ACCEL, float(a), 0.0, 0.0, float(b)) for a, b in zip(t, z, strict=True)]

    def monotonic(self, t: float) -> float:
        return self._zero + t

    def close(self) -> None:
        pass
