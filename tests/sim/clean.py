"""What the tests of several makes of outings (tests/makes) ask: is truth what the clean motion says?"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from cadence_coach.sim import SimulatedOuting

ROUNDED = 0.00005
"""[s], [g] half a step of truth's numbers."""

Pumps = list[dict[str, Any]]


def flights_of(
    n: np.ndarray, rate: float, pumps: Pumps, flights: list[dict[str, Any]], top: float = ROUNDED
) -> list[Pumps]:
    """The pumps of each flight. Asserts that each has as many crossings of 1 g either way as pumps, where truth has
    them, and no more; and that they are as high, to within top [g]. n: clean vertical [g] at rate [Hz]."""
    assert sum(f["pumps"] for f in flights) == len(pumps)
    found = []
    for f in flights:
        own = [p for p in pumps if f["start_s"] <= p["onset_s"] < f["end_s"]]
        assert len(own) == f["pumps"] >= 3
        i = np.arange(int((f["start_s"] - 0.1) * rate), int((own[-1]["push_end_s"] + 0.05) * rate))
        for key, over in (("onset_s", n >= 1), ("push_end_s", n < 1)):
            k = i[~over[i] & over[i + 1]]
            crossings = (k + (1 - n[k]) / (n[k + 1] - n[k])) / rate
            assert crossings.tolist() == pytest.approx([p[key] for p in own], abs=ROUNDED + 1e-9)
        for p in own:
            push = n[round(p["onset_s"] * rate) : round(p["push_end_s"] * rate)]
            assert push.max() == pytest.approx(p["peak_g"], abs=top)
        found.append(own)
    return found


def weigh(n: np.ndarray, rate: float, pumps: Pumps) -> float:
    """Mean [g] of whole pumps, from the first onset to the last: 1, or the rider would climb or sink without end
    (momentum theorem)."""
    return float(n[round(pumps[0]["onset_s"] * rate) : round(pumps[-1]["onset_s"] * rate)].mean())


def assert_same(one: SimulatedOuting, other: SimulatedOuting) -> None:
    assert one.truth == other.truth and one.meta == other.meta
    for a, b in ((one.accel, other.accel), (one.gyro, other.gyro), (one.fixes, other.fixes)):
        assert np.array_equal(a, b, equal_nan=True) if a is not None and b is not None else a is b
