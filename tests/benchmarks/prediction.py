"""How well the next onset is foretold, beside three general-purpose ways, on the onsets the engine found.

Error: predicted minus found onset, standard deviation over that of the flight's own periods, so that 1 is a rider
whose every period is drawn anew. Flights of 20 pumps and more of simulated riders, seeds that nothing was tuned on.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from cadence_coach.core.predict import Predictor
from cadence_coach.sim import simulate_outing

from .accuracy import ours
from .tables import missed, table

FIRST_SEED = 735_000
OUTINGS = {"calm": 4, "long": 2, "mixed": 3, "tow": 3}
SETTLED = 8
"""Onsets before the first prediction that counts, for every way."""
GOAL = 1.15


def two_gain_loops(onsets: np.ndarray) -> np.ndarray:
    """Ours: what the predictor says after each onset."""
    predictor, out = Predictor(), []
    for t in onsets.tolist():
        predictor.onset(t)
        out.append(predictor.next)
    return np.array(out)


def last_period(onsets: np.ndarray) -> np.ndarray:
    return np.append(np.nan, onsets[1:] + np.diff(onsets))


def mean_of_eight(onsets: np.ndarray) -> np.ndarray:
    return np.array(
        [t + np.mean(np.diff(onsets[max(0, k - 8) : k + 1])) if k else np.nan for k, t in enumerate(onsets)]
    )


def line_through_eight(onsets: np.ndarray) -> np.ndarray:
    """numpy.polyfit through the last eight onsets."""
    out = np.full(len(onsets), np.nan)
    for k in range(7, len(onsets)):
        out[k] = np.polyval(np.polyfit(np.arange(8), onsets[k - 7 : k + 1], 1), 8)
    return out


WAYS: dict[str, Callable[[np.ndarray], np.ndarray]] = {
    "**cadence coach**": two_gain_loops,
    "last period again": last_period,
    "mean of the last eight (numpy)": mean_of_eight,
    "line through the last eight (numpy polyfit)": line_through_eight,
}


def flights() -> list[np.ndarray]:
    """Onsets [s] of each flight."""
    found = []
    for kind, count in OUTINGS.items():
        for i in range(count):
            got = ours(simulate_outing(FIRST_SEED + i, kind, 100.0))
            found += [got.onset[(got.onset >= a - 0.01) & (got.onset <= b)] for a, b in got.flights]
    return [f for f in found if len(f) >= 20]


def report() -> tuple[str, list[str]]:
    sequences = flights()
    spread = np.sqrt(np.mean([np.var(np.diff(f)) for f in sequences]))
    rows, ratios = [], {}
    for name, way in WAYS.items():
        errors = np.concatenate([(way(f)[SETTLED:-1] - f[SETTLED + 1 :]) for f in sequences])
        ratios[name] = float(np.std(errors) / spread)
        rows.append([name, f"{ratios[name]:.2f}", f"{1e3 * np.percentile(np.abs(errors), 50):.0f}"])
    ours_ratio = next(iter(ratios.values()))
    text = (
        f"{len(sequences)} flights, {sum(map(len, sequences))} onsets; the riders' own spread {1e3 * spread:.0f} ms\n\n"
    )
    text += table(["next onset foretold", "error SD / own spread", "median error, ms"], rows)
    return text, missed(ours_ratio, GOAL, f"prediction {ours_ratio:.2f} of the rider's own spread, goal {GOAL}")
