"""How late an output is: measured by taps on the phone's own body, kept per output.

The rider hears clicks at 60 a minute and taps the phone with them; the accelerometer times the taps, on the clock
that times the pumps. People tap some 20-80 ms ahead of what they hear (Repp 2005, Psychon Bull Rev 12:969, from
memory), so one measurement alone says little: the headset is measured against the built-in speaker by the same
person, and the difference is kept.
"""

from __future__ import annotations

import json
import math
import os
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from cadence_coach.errors import Refused

TAPS_PER_MIN = 60.0
DROPPED = 4
"""The first taps find the beat; they do not count."""
FEWEST = 12
LARGEST_MAD_S = 0.025
TAP_M_S2 = 6.0
"""A finger on the case gives well over this in one or two samples, with the phone lying or held (common practice, no
source)."""
APART_S = 0.25


def taps_in(t: np.ndarray, accel: np.ndarray) -> np.ndarray:
    """Times [s] of taps on the phone's body, from t (n,) [s] and accel (n, 3) [m/s2]: where it jumps, first sample of
    each."""
    jump = np.linalg.norm(np.diff(accel, axis=0), axis=1)
    hits = t[1:][jump > TAP_M_S2]
    kept: list[float] = []
    for hit in hits:
        if not kept or hit - kept[-1] > APART_S:
            kept.append(float(hit))
    return np.array(kept)


def tap_lag(taps: Sequence[float], clicks: Sequence[float]) -> float:
    """Median of (tap - nearest click) [s] after the first four taps; both on one clock. Refused when it is no
    measurement."""
    beats = np.sort(np.asarray(clicks, dtype=float))
    if len(beats) < 2:
        raise Refused("fewer than two clicks: let the clicks run while you tap")
    lags = []
    for tap in list(taps)[DROPPED:]:
        away = tap - beats
        lags.append(float(away[np.argmin(np.abs(away))]))
    if len(lags) < FEWEST:
        raise Refused(f"{len(lags)} taps after the first {DROPPED}: tap on with the clicks until there are {FEWEST}")
    median = float(np.median(lags))
    mad = float(np.median(np.abs(np.array(lags) - median)))
    if mad > LARGEST_MAD_S:
        raise Refused(
            f"taps scatter by {mad * 1000:.0f} ms (at most {LARGEST_MAD_S * 1000:.0f}): sit still and tap again"
        )
    return median


def latency_against(headset_lag_s: float, speaker_lag_s: float) -> float:
    """How much later the headset is heard than the built-in speaker [s]: the tapper's own habit falls out."""
    return headset_lag_s - speaker_lag_s


class Latencies:
    """Output name -> latency [s], in one small JSON file. A file that cannot be read counts as empty and is said to
    be so."""

    def __init__(self, file: Path) -> None:
        self.file = file
        self.reason: str | None = None
        self._values: dict[str, float] = {}
        try:
            raw = json.loads(file.read_text("utf-8"))
            self._values = {str(k): float(v) for k, v in raw.items() if math.isfinite(float(v))}
        except FileNotFoundError:
            pass
        except (OSError, ValueError, AttributeError, TypeError) as error:
            self.reason = f"{file}: not a list of latencies ({error}); measured latencies are gone, measure again"

    def of(self, output: str) -> float:
        return self._values.get(output, 0.0)

    def keep(self, output: str, latency_s: float) -> None:
        if not -0.2 <= latency_s <= 1.0:
            raise Refused(
                f"latency {latency_s * 1000:.0f} ms for {output}: no output is so early or late; measure again"
            )
        self._values[output] = latency_s
        self.file.parent.mkdir(parents=True, exist_ok=True)
        new = self.file.with_suffix(".new")
        new.write_text(json.dumps(self._values, indent=1, sort_keys=True), "utf-8")
        os.replace(new, self.file)
