"""The headset's delay by taps: a known delay is found again, and what is no measurement is refused."""

from __future__ import annotations

import time

import pytest

from cadence_coach.app.taps import Tapper, measure
from cadence_coach.errors import Refused
from cadence_coach.sound.latency import Latencies, latency_against
from cadence_coach.sound.sinks import SilentSink

QUICK = 200.0
"""Clicks a minute: faster than a person's, so that the test is short."""


class Late(Tapper):
    """The same person, who hears through a headset that is late."""

    def __init__(self, late_s: float) -> None:
        super().__init__(seed=3)
        self.late_s = late_s

    def hear(self, clicks: list[float]) -> None:
        super().hear([t + self.late_s for t in clicks])


def test_the_difference_of_two_outputs_is_the_headset_s_delay(tmp_path) -> None:
    """100 samples a second time a tap to 10 ms at best; the medians of 16 do better."""
    counts: list[int] = []
    speaker = measure(SilentSink(), Late(0.0), told=counts.append, per_min=QUICK)
    headset = measure(SilentSink(), Late(0.09), per_min=QUICK)
    assert counts[-1] >= 19 and counts[0] == 0
    assert speaker.lag_s == pytest.approx(-0.03, abs=0.012)
    late = latency_against(headset.lag_s, speaker.lag_s)
    assert late == pytest.approx(0.09, abs=0.012)
    Latencies(tmp_path / "l.json").keep("headset", late)
    assert Latencies(tmp_path / "l.json").of("headset") == pytest.approx(late)


class Settling(SilentSink):
    """An output that is late, and says so itself once it has played for a while, as phones and sound cards do."""

    def __init__(self, late_s: float) -> None:
        super().__init__()
        self.late_s = late_s

    def frame_at(self, monotonic_s: float) -> int:
        known = time.monotonic() - self._began > 1.0
        return super().frame_at(monotonic_s - (self.late_s if known else 0.0))


def test_of_a_delay_that_the_output_tells_itself_nothing_is_measured() -> None:
    """An outing's clicks are placed by what it tells: what was kept besides would be taken off twice."""
    headset = measure(Settling(0.09), Late(0.09), per_min=QUICK)
    assert headset.lag_s == pytest.approx(-0.03, abs=0.012)


def test_scattered_taps_and_too_few_are_no_measurement() -> None:
    with pytest.raises(Refused, match="scatter"):
        measure(SilentSink(), Tapper(seed=1, scatter_s=0.1), per_min=QUICK)
    going = iter([True] * 60 + [False] * 1000)
    with pytest.raises(Refused, match="taps after the first"):
        measure(SilentSink(), Tapper(), going=lambda: next(going), per_min=QUICK)
