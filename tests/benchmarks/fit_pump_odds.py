"""Fit the pump odds of core/shape.py anew, on simulated riders and open recordings of people on foot.

    python -m tests.benchmarks.fit_pump_odds [--outings 90] [--seed 7] [--units 6]

Needs scikit-learn, which the project itself does not: `pip install scikit-learn` first. Open recordings are taken
from the folder named by CADENCE_COACH_OPEN_DATA (each a folder with accel.csv, nobody in it pumps a foil); without it
they are left out, and that is said. Prints how well unseen outings are told (grouped cross-validation) and the
constants HIDDEN and OUT as they stand in core/shape.py.
"""

from __future__ import annotations

import argparse
import os
from pathlib import Path

import numpy as np

from cadence_coach.core import cycles
from cadence_coach.core.engine import Engine
from cadence_coach.core.events import CycleDone, Row
from cadence_coach.core.shape import Shape, figures_of
from cadence_coach.sim import simulate_outing
from cadence_coach.sources.simulated import rows_of
from cadence_coach.store.recordings import Recording

KINDS = ("calm", "rough", "short", "long", "tow", "step", "dock", "mixed", "landwalk")
NEAR = 0.08
"""A cycle whose onset is this near [s] to a true one is a pump."""


def cycles_of(rows: list[Row]) -> tuple[list[tuple[float, ...]], list[CycleDone]]:
    """The figures and the cycles of one recording, in step."""
    figures: list[tuple[float, ...]] = []

    def remember(shape: Shape, period: float, push_share: float) -> float:
        figures.append(figures_of(shape, period, push_share))
        return -9.0

    usual, cycles.pump_odds = cycles.pump_odds, remember
    try:
        engine = Engine()
        engine.receive(rows)
        engine.end()
        done = [e for e in engine.events() if isinstance(e, CycleDone)]
    finally:
        cycles.pump_odds = usual
    return figures, done


def gather(outings: int, seed: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Figures [n, 13], whether each is a pump, and from which recording it is."""
    table, label, group = [], [], []

    def take(rows: list[Row], onsets: list[float], name: str) -> None:
        true = np.array(onsets)
        for figures, cycle in zip(*cycles_of(rows), strict=True):
            if cycle.whole:
                table.append(figures)
                label.append(bool(len(true) and np.abs(true - cycle.onset).min() < NEAR))
                group.append(name)

    for i in range(outings):
        kind = KINDS[i % len(KINDS)]
        o = simulate_outing(seed * 1000 + i, kind, harsh=float(np.random.default_rng([seed, i]).uniform(0.1, 0.9)))
        onsets = [t for a in o.truth["attempts"] for t in a["onsets_s"]]
        take([r for part in rows_of(o.accel, None if i % 2 else o.gyro, None) for r in part], onsets, f"{i}-{kind}")
        print(f"\r{i + 1} of {outings} outings", end="", flush=True)
    print()
    place = os.environ.get("CADENCE_COACH_OPEN_DATA")
    if not place:
        print(
            "CADENCE_COACH_OPEN_DATA is not set: no open recordings in this fit; expect more walks taken for pumping."
        )
        return np.array(table), np.array(label), np.array(group)
    for accel in sorted(Path(place).glob("**/accel.csv*")):
        take([r for part in Recording(accel.parent).rows() for r in part], [], accel.parent.name)
    return np.array(table), np.array(label), np.array(group)


def main() -> None:
    from sklearn.model_selection import GroupKFold, cross_val_predict
    from sklearn.neural_network import MLPClassifier
    from sklearn.pipeline import make_pipeline
    from sklearn.preprocessing import StandardScaler

    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--outings", type=int, default=90)
    parser.add_argument("--seed", type=int, default=7)
    parser.add_argument("--units", type=int, default=6)
    wish = parser.parse_args()
    x, y, group = gather(wish.outings, wish.seed)
    net = MLPClassifier((wish.units,), activation="tanh", alpha=1.0, solver="lbfgs", max_iter=500, random_state=1)
    model = make_pipeline(StandardScaler(), net)
    p = cross_val_predict(model, x, y, groups=group, cv=GroupKFold(4), method="predict_proba")[:, 1]
    print(
        f"{len(y)} cycles, {y.sum()} pumps; unseen: {((p > 0.5) & ~y).sum()} too many, {((p <= 0.5) & y).sum()} missed"
    )
    model.fit(x, y)
    scale, net = model[0], model[1]
    weights = net.coefs_[0] / scale.scale_[:, None]
    bias = net.intercepts_[0] - (scale.mean_ / scale.scale_) @ net.coefs_[0]

    def short(row: np.ndarray) -> str:
        return "(" + ", ".join(f"{v:.3g}" for v in row) + ")"

    print("HIDDEN = (")
    for k in range(wish.units):
        print(f"    ({bias[k]:.3f}, {short(weights[:, k])}),")
    print(f")\nOUT = ({net.intercepts_[1][0]:.3f}, {short(net.coefs_[1][:, 0])})")


if __name__ == "__main__":
    main()
