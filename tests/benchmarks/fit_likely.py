"""Fit core/likely_fit.py anew: on eight makes of outings, and open recordings of people on foot.

    OMP_NUM_THREADS=1 python -m tests.benchmarks.fit_likely --write

Options: --part 1.0 (of the outings of each make), --seed 400000; without --write nothing is written. The weights that
are there were written by just this command, with CADENCE_COACH_OPEN_DATA naming a folder of open recordings (each a
folder with accel.csv, nobody in it pumps a foil); without it they are left out, and that is said.
Another processor, numpy or number of threads rounds otherwise and gives other weights, as good.

What only one way of making outings shows is not learned: hence the makes (MAKES). Each bounce is shown twice: as it
looks at once, and with one to four of those that followed. Prints how well outings are told that were left out, by how
many bounces had followed.
"""

from __future__ import annotations

import argparse
import os
from concurrent.futures import ProcessPoolExecutor
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
from tests.makes import LONG_ONES, drawn, woven

SIMULATED = (
    "calm", "rough", "short", "tow", "step", "dock", "swell", "mixed", "landwalk", "short", "swell", "long", "beach",
    "beach",
)  # fmt: skip
DRAWN = ("calm", "rough", "short", "weak", "tow", "step", "mixed", "foot", "rough", "shore", "weak", "long")
HARSH = (0.2, 0.5, None, 0.8)
"""How hard the day of simulated riders is, one lap through the kinds after the other; None: as the kind has it."""
MAKES = {
    "simulated": 1080, "drawn": 1080, "woven": 1080, "sprung": 450, "stitched": 450, "families": 450, "chained": 450,
    "strapped": 450,
}  # fmt: skip
"""Outings of each make. The last five are longer, each thought out by somebody who had not seen the others."""
APART = 30_000
"""The seeds of a make begin so far after those of the make before."""
NEAR = 0.08
"""A bounce whose onset is this near [s] to a true one is a pump."""
AHEAD = (1, 2, 3, 4, 4)
"""How many of the bounces that followed are shown the second time, drawn for each."""
UNITS_AT_ONCE, UNITS_IN_HINDSIGHT = 16, 64
EPOCHS, BATCH = 24, 1024
RATE = 5e-3
"""Greatest step; it grows over the first STEPS_TO_IT and then falls to nothing along a cosine."""
STEPS_TO_IT = 200
DECAY = 1.6e-4
"""Half the weight of the sum of the squared weights, beside the mean loss: without it a net learns its outings by
heart."""


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


def outing(make: str, seed: int, i: int) -> SimulatedOuting:
    """The i-th of a make, seeds from `seed`; about half of each make's with a gyroscope."""
    first, lap = seed + APART * list(MAKES).index(make), i // len(DRAWN)
    kind, even = DRAWN[i % len(DRAWN)], (i + lap) % 2 == 0
    match make:
        case "simulated":
            o = simulate_outing(first + i, SIMULATED[i % len(SIMULATED)], harsh=HARSH[lap % len(HARSH)])
            return replace(o, gyro=None) if even else o
        case "drawn":
            return drawn.drawn_outing(first + i, kind, drawn.RATES[(i + lap) % 3], gyro=even, speed=False)
        case "woven":
            return woven.woven_outing(first + i, kind, drawn.RATES[(i + lap) % 3], gyro=even)
        case _:
            return LONG_ONES[make](first, i)


Table = tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]
"""Figures [n, figures], whether each is a pump, from which recording it is, how many ahead were shown."""


def examples(row: list[Judged], onsets: list[float], group: int) -> Table:
    """Each bounce of a recording as it looks at once, and once more by what followed."""
    rng, true = np.random.default_rng(group), np.array(onsets)
    shown, pump, aheads = [], [], []
    for at, bounce in enumerate(row):
        for ahead in (0, int(rng.choice(AHEAD))):
            shown.append(figures(*beside(row, at, ahead)))
            pump.append(bool(len(true) and np.abs(true - bounce.onset).min() < NEAR))
            aheads.append(ahead)
    table = np.array(shown, np.float32).reshape(len(shown), -1)
    return table, np.array(pump, bool), np.full(len(pump), group), np.array(aheads, int)


def made(make: str, seed: int, i: int, group: int) -> Table:
    """Examples of the i-th outing of a make."""
    o = outing(make, seed, i)
    onsets = [t for a in o.truth["attempts"] for t in a["onsets_s"]]
    return examples(bounces_of([r for part in rows_of(o.accel, o.gyro, None) for r in part]), onsets, group)


def recorded(accel: Path, group: int) -> Table:
    """Examples of an open recording: nobody in it pumps."""
    return examples(bounces_of([r for part in Recording(accel.parent).rows() for r in part]), [], group)


def gather(part: float, seed: int) -> Table:
    """Of a part of the outings of each make, and of all open recordings."""
    found: list[Table] = []
    place = os.environ.get("CADENCE_COACH_OPEN_DATA")
    if not place:
        print("CADENCE_COACH_OPEN_DATA is not set: no open recordings; expect more walks taken for pumping.")
    open_data = sorted(Path(place).glob("**/accel.csv*")) if place else []
    asked = [(make, seed, i) for make, count in MAKES.items() for i in range(round(part * count))]
    with ProcessPoolExecutor() as pool:
        for group, table in enumerate(pool.map(made, *zip(*asked, strict=True), range(len(asked)), chunksize=4)):
            found.append(table)
            print(f"\r{group + 1} of {len(asked)} outings", end="", flush=True)
        print()
        found += pool.map(recorded, open_data, range(len(asked), len(asked) + len(open_data)))
    x, y, group_, ahead = (np.concatenate(column) for column in zip(*(t for t in found if len(t[1])), strict=True))
    return x, y, group_, ahead


Plain = tuple[np.ndarray, np.ndarray, np.ndarray]
"""Constants of the units, weights [units, figures], what the units count: constant, then one a unit."""


def fit(x: np.ndarray, y: np.ndarray, units: int) -> Plain:
    """A net of tanh units with the least logistic loss, found by Adam (Kingma and Ba 2015, with its usual values)."""
    mean, spread = x.mean(axis=0, dtype=float), x.std(axis=0, dtype=float) + 1e-9
    z, want = ((x - mean) / spread).astype(np.float32), y.astype(np.float32)
    (n, k), rng = z.shape, np.random.default_rng(1)
    w = (rng.standard_normal((k, units)) / k**0.5).astype(np.float32)
    b, c = np.zeros(units, np.float32), np.zeros(1, np.float32)
    v = (rng.standard_normal(units) / units**0.5).astype(np.float32)
    parts = [(p, np.zeros_like(p), np.zeros_like(p)) for p in (w, b, v, c)]
    steps = EPOCHS * (n // BATCH)
    for step in range(1, steps + 1):
        at = (step - 1) % (n // BATCH)
        if at == 0:
            order = rng.permutation(n)
        some = order[at * BATCH : (at + 1) * BATCH]
        shown = z[some]
        h = np.tanh(shown @ w + b)
        g = (1 / (1 + np.exp(-(h @ v + c))) - want[some]) / BATCH
        back = np.outer(g, v) * (1 - h * h)
        slopes = (shown.T @ back + DECAY * w, back.sum(axis=0), h.T @ g + DECAY * v, g.sum(keepdims=True))
        rate = RATE * min(step / STEPS_TO_IT, 0.5 + 0.5 * np.cos(np.pi * step / steps))
        for (part, first, second), slope in zip(parts, slopes, strict=True):
            first += 0.1 * (slope - first)
            second += 0.001 * (slope * slope - second)
            small = np.sqrt(second / np.float32(1 - 0.999**step)) + np.float32(1e-8)
            part -= np.float32(rate / (1 - 0.9**step)) * first / small
    weights = (w.astype(float) / spread[:, None]).T
    return b - weights @ mean, weights, np.concatenate([c, v]).astype(float)


def both(x: np.ndarray, y: np.ndarray, ahead: np.ndarray) -> tuple[Plain, Plain]:
    """The net for every bounce at once, shown what `figures` has without hindsight, and the one in hindsight."""
    at_once = ahead == 0
    few = len(likely_fit.AT_ONCE[1][0])
    return fit(x[at_once, :few], y[at_once], UNITS_AT_ONCE), fit(x, y, UNITS_IN_HINDSIGHT)


def odds_of(net: Plain, x: np.ndarray) -> np.ndarray:
    bias, weights, out = net
    return np.asarray(out[0] + np.tanh(x[:, : weights.shape[1]] @ weights.T + bias) @ out[1:])


def text_of(at_once: Plain, in_hindsight: Plain) -> str:
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

    def net(name: str, one: Plain) -> str:
        bias, weights, out = one
        body = "\n".join(f"        (\n{row(w, 12)}\n        )," for w in weights)
        return (
            f"{name}: Net = (\n    (\n{row(bias, 8)}\n    ),\n    (\n{body}\n    ),\n    (\n{row(out, 8)}\n    ),\n)\n"
        )

    here = Path(likely_fit.__file__).read_text(encoding="utf-8")
    return here[: here.index("AT_ONCE")] + net("AT_ONCE", at_once) + net("IN_HINDSIGHT", in_hindsight)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--part", type=float, default=1.0)
    parser.add_argument("--seed", type=int, default=400_000)
    parser.add_argument("--write", action="store_true")
    wish = parser.parse_args()
    x, y, group, ahead = gather(wish.part, wish.seed)

    test = group % 8 == 7
    at_once, in_hindsight = both(x[~test], y[~test], ahead[~test])
    print(f"{len(y)} times a bounce, {y.sum()} a pump; an eighth of the recordings left out:")
    for name, net, k in (("at once", at_once, 0), *((f"{k} ahead", in_hindsight, k) for k in sorted({0, *AHEAD}))):
        here = test & (ahead == k)
        found, true = odds_of(net, x[here]) > 0, y[here]
        many, missed = (found & ~true).sum(), (~found & true).sum()
        print(f"{name}: {many} too many, {missed} missed of {true.sum()} pumps, {here.sum()} bounces")
    if wish.write:
        Path(likely_fit.__file__).write_text(text_of(*both(x, y, ahead)), encoding="utf-8")


if __name__ == "__main__":
    main()
