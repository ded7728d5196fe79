"""What makers of outings must hold: flights and pumps are where the clean force crosses 1 g."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

ROUNDED = 0.00005
"""[s, g] half a step of truth's times and peaks, or more."""


def flights_stand_on_one_g(
    n: np.ndarray, fs: int, pumps: list[dict[str, Any]], flights: list[dict[str, Any]], off: float
) -> None:
    """In each flight of n [g] at fs [Hz] as many crossings of 1 g either way as pumps, where truth has them, and no
    pump outside; the mean of whole pumps is 1 g (momentum theorem), but for `off` [g]."""
    assert sum(f["pumps"] for f in flights) == len(pumps)
    for f in flights:
        within = [p for p in pumps if f["start_s"] <= p["onset_s"] < f["end_s"]]
        assert len(within) == f["pumps"] >= 3
        i = np.arange(int((f["start_s"] - 0.1) * fs), int((within[-1]["push_end_s"] + 0.05) * fs))
        for key, over in (("onset_s", n >= 1), ("push_end_s", n < 1)):
            k = i[~over[i] & over[i + 1]]
            found = (k + (1 - n[k]) / (n[k + 1] - n[k])) / fs
            assert found.tolist() == pytest.approx([p[key] for p in within], abs=ROUNDED + 1e-9)
        for p in within:
            push = n[round(p["onset_s"] * fs) : round(p["push_end_s"] * fs)]
            assert push.max() == pytest.approx(p["peak_g"], abs=ROUNDED)
        whole = n[round(within[0]["onset_s"] * fs) : round(within[-1]["onset_s"] * fs)]
        assert whole.mean() == pytest.approx(1.0, abs=off)
