"""Fit core/likely_fit.py anew: on simulated riders, on as many drawn outings, and on open recordings of people on foot.

    python -m tests.benchmarks.fit_likely [--outings 400] [--seed 7] [--units 16] [--nets 3] [--write]

Needs scikit-learn, which the project itself does not: `pip install scikit-learn` first. Open recordings are taken
from the folder named by CADENCE_COACH_OPEN_DATA (each a folder with accel.csv, nobody in it pumps a foil); without it
they are left out, and that is said. Prints how well unseen outings are told (grouped, by how many bounces have
followed), and with --write puts the weights where they belong.

Half of the outings are simulated, half have the waveforms of `drawn`: what only one way of making outings shows is
not learned. The weights that are there were fitted so on some 900 outings, half of each make. Weights remade with
--outings 300 do as well: F1 at 50 ms on the seeds of `drawn` 0.995 instead of 0.994, on those of `accuracy` 0.996 both.
"""

from __future__ import annotations

import argparse
import os
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from cadence_coach.core import likely_fit
from cadence_coach.core.engine import Engine
from cadence_coach.core.events import Row
from cadence_coach.core.likely import BESIDE, JOINED, Judged, figures
from cadence_coach.sim import SimulatedOuting, simulate_outing
from cadence_coach.sources.simulated import rows_of
from cadence_coach.store.recordings import Recording

from . import drawn

KINDS = ("calm", "rough", "short", "tow", "step", "dock", "mixed", "landwalk", "swell")
NEAR = 0.08
"""A bounce whose onset is this near [s] to a true one is a pump."""
AHEAD = (0, 0, 1, 2, 3, 4, 4)
"""How many of the bounces that followed are shown, drawn for each: live there are none."""


def bounces_of(rows: list[Row]) -> list[Judged]:
    """The bounces of one recording, in order."""
    seen: list[Judged] = []
    engine = Engine()
    likely = engine._cycles.likely
    usual = likely.add

    def noted(*what: Any) -> float:
        odds = usual(*what)
        seen.extend(list(likely._last)[-1:])
        return odds

    likely.add = noted  # type: ignore[method-assign]
    engine.receive(rows)
    engine.end()
    return seen


def beside(row: list[Judged], at: int, ahead: int) -> tuple[list[Judged], int]:
    """The bounces joined to one, so many ahead at most, and its place among them."""

    def joined(k: int) -> bool:
        return abs(row[k].end - row[k + 1].onset) <= JOINED

    first = last = at
    while first > max(0, at - BESIDE) and joined(first - 1):
        first -= 1
    while last < min(len(row) - 1, at + ahead) and joined(last):
        last += 1
    return row[first : last + 1], at - first


def one_of_both(first: int, i: int) -> SimulatedOuting:
    """The i-th outing from seed `first`: even ones simulated, odd ones drawn, every second of each with a gyroscope."""
    seed, turn = first + i, i // 2
    if i % 2:
        kind, lap = drawn.KINDS[turn % len(drawn.KINDS)], turn // len(drawn.KINDS)
        return drawn.drawn_outing(seed, kind, drawn.RATES[(turn + lap) % 3], gyro=(turn + lap) % 2 == 0, speed=False)
    o = simulate_outing(seed, KINDS[turn % len(KINDS)], harsh=(0.2, 0.5, None)[turn // len(KINDS) % 3])
    return replace(o, gyro=None if turn % 2 else o.gyro)


def gather(outings: int, seed: int) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Figures, whether each is a pump, from which recording it is, how many ahead were shown."""
    rng = np.random.default_rng(seed)
    table, label, group, ahead = [], [], [], []

    def take(rows: list[Row], onsets: list[float], name: str) -> None:
        true, row = np.array(onsets), bounces_of(rows)
        for at, bounce in enumerate(row):
            ahead.append(int(rng.choice(AHEAD)))
            table.append(figures(*beside(row, at, ahead[-1])))
            label.append(bool(len(true) and np.abs(true - bounce.onset).min() < NEAR))
            group.append(name)

    for i in range(outings):
        o = one_of_both(seed * 1000, i)
        onsets = [t for a in o.truth["attempts"] for t in a["onsets_s"]]
        take([r for part in rows_of(o.accel, o.gyro, None) for r in part], onsets, str(i))
        print(f"\r{i + 1} of {outings} outings", end="", flush=True)
    print()
    place = os.environ.get("CADENCE_COACH_OPEN_DATA")
    if not place:
        print("CADENCE_COACH_OPEN_DATA is not set: no open recordings; expect more walks taken for pumping.")
    for accel in sorted(Path(place).glob("**/accel.csv*")) if place else []:
        take([r for part in Recording(accel.parent).rows() for r in part], [], accel.parent.name)
    return np.array(table), np.array(label), np.array(group), np.array(ahead)


Plain = tuple[np.ndarray, np.ndarray, np.ndarray]


def text_of(nets: list[Plain]) -> str:
    """likely_fit.py with these numbers, at most 120 characters a line."""

    def row(values: np.ndarray, indent: int) -> str:
        lines, line = [], " " * indent
        for v in values:
            word = f"{v:.4g},"
            if len(line) + len(word) > 119:
                lines.append(line.rstrip())
                line = " " * indent
            line += word + " "
        return "\n".join([*lines, line.rstrip()])

    def net(bias: np.ndarray, weights: np.ndarray, out: np.ndarray) -> str:
        body = "\n".join(f"            (\n{row(w, 16)}\n            )," for w in weights)
        parts = [
            f"        (\n{row(bias, 12)}\n        ),",
            f"        (\n{body}\n        ),",
            f"        (\n{row(out, 12)}\n        ),",
        ]
        return "    (\n" + "\n".join(parts) + "\n    ),\n"

    here = Path(likely_fit.__file__).read_text(encoding="utf-8")
    return here[: here.index("JURY")] + "JURY: tuple[Net, ...] = (\n" + "".join(net(*one) for one in nets) + ")\n"


def plain(model: Any) -> Plain:
    """The fitted pipeline as bias, weights [units, figures] and out, the scaling multiplied in."""
    scale, net = model[0], model[1]
    weights = (net.coefs_[0] / scale.scale_[:, None]).T
    bias = net.intercepts_[0] - weights @ scale.mean_
    return bias, weights, np.concatenate([net.intercepts_[1], net.coefs_[1][:, 0]])


def main() -> None:
    from sklearn.model_selection import GroupKFold
    from sklearn.neural_network import MLPClassifier
    from sklearn.pipeline import make_pipeline
    from sklearn.preprocessing import StandardScaler

    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--outings", type=int, default=400)
    parser.add_argument("--seed", type=int, default=7)
    parser.add_argument("--units", type=int, default=16)
    parser.add_argument("--nets", type=int, default=3)
    parser.add_argument("--write", action="store_true")
    wish = parser.parse_args()
    x, y, group, ahead = gather(wish.outings, wish.seed)

    def model(start: int) -> Any:
        net = MLPClassifier(
            (wish.units,), activation="tanh", alpha=8.0, solver="lbfgs", max_iter=800, random_state=start
        )
        return make_pipeline(StandardScaler(), net)

    learn, test = next(GroupKFold(4).split(x, y, group))
    found = model(1).fit(x[learn], y[learn]).predict(x[test])
    print(f"{len(y)} bounces, {y.sum()} pumps; one net, a quarter of the recordings unseen:")
    for k in sorted(set(AHEAD)):
        here = ahead[test] == k
        many, missed = (found & ~y[test])[here].sum(), (~found & y[test])[here].sum()
        print(f"{k} ahead: {many} too many, {missed} missed of {y[test][here].sum()} pumps, {here.sum()} bounces")
    text = text_of([plain(model(start).fit(x, y)) for start in range(1, wish.nets + 1)])
    if wish.write:
        Path(likely_fit.__file__).write_text(text, encoding="utf-8")
    else:
        print(text)


if __name__ == "__main__":
    main()
