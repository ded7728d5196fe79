"""Fit core/timing_fit.py anew: how late onsets and push ends are found, on six makes of outings.

    OMP_NUM_THREADS=1 python -m tests.benchmarks.fit_timing [--part 1.0] [--units 16] [--write]

Prints the errors on outings that were left out, thirds in turn, before and after, and with --write puts the weights of
a fit on all where they belong; --part: of the outings of each make. An hour of one core, shared by all there are. The
loss grows with the square of small errors and evenly with large ones; the makes count alike, and no outing for more
than MOST pumps. The seeds are of these fits alone. The weights that are there were written by this command.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from pathlib import Path

import numpy as np
from scipy.optimize import minimize

from cadence_coach.core import timing_fit
from cadence_coach.core.engine import Engine
from cadence_coach.core.events import Onset, PushEnd
from cadence_coach.core.timing_fit import Net
from cadence_coach.sim import SimulatedOuting, simulate_outing
from cadence_coach.sources.simulated import rows_of
from tests.makes import LONG_ONES, drawn, woven

MAKES = {
    "simulated": (720, 220_000), "drawn": (630, 230_000), "woven": (630, 240_000), "sprung": (300, 250_000),
    "stitched": (300, 260_000), "families": (300, 270_000),
}  # fmt: skip
"""Outings of each make, and their first seed."""
KINDS = ("calm", "rough", "short", "tow", "step", "dock", "swell", "mixed")
RATES = (50.0, 100.0, 200.0, 100.0, 400.0)
HARSH = (None, None, 0.5, 1.0)
NEAR = 0.08
"""What is found this near [s] to a true one is it."""
MOST = 40
"""Pumps that one outing counts for at most."""
SMALL = 0.004
"""Errors well below this [s] count by their square."""
DECAY = 3e-4
TRUST = 0.8
"""Of what a fit says so much is taken: of makes that it has not seen it says too much (two such makes, looked at for
this: least errors between 0.6 and 0.9)."""
ROUNDS = 500

Rows = tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray, np.ndarray]
"""Figures [n, m], how late each was found [s], weight, number and make of its outing."""


def outing(make: str, i: int) -> SimulatedOuting:
    """The i-th of a make; none of the first three all on foot."""
    first, rate, gyro = MAKES[make][1], RATES[i // 3 % len(RATES)], i % 2 == 0
    match make:
        case "simulated":
            kind, harsh = KINDS[i % len(KINDS)], HARSH[i // len(KINDS) % len(HARSH)]
            o = simulate_outing(first + i, kind, rate, harsh=harsh)
            return o if gyro else replace(o, gyro=None)
        case "drawn":
            return drawn.drawn_outing(first + i, drawn.KINDS[i % 7], rate, gyro=gyro, speed=False)
        case "woven":
            return woven.woven_outing(first + i, drawn.KINDS[i % 7], rate, gyro=gyro)
        case _:
            return LONG_ONES[make](first, i)


def shown(o: SimulatedOuting) -> dict[type, list[tuple[float, list[float]]]]:
    """Times [s from the first row] as they were found, uncorrected, and what the nets are shown of each, by event."""
    engine = Engine()
    detector, stash = engine._cycles, [[0.0]]
    seen: dict[type, list[tuple[float, list[float]]]] = {Onset: [], PushEnd: []}

    def keep(figures: list[float]) -> float:
        stash[0] = figures
        return 0.0

    def noting(kind: type, usual: Callable[..., float]) -> Callable[..., float]:
        def better(found: float, *rest: int) -> float:
            usual(found, *rest)
            seen[kind].append((found, stash[0]))
            return found

        return better

    detector._better_onset = noting(Onset, detector._better_onset)  # type: ignore[method-assign]
    detector._better_end = noting(PushEnd, detector._better_end)  # type: ignore[method-assign]
    detector.late = keep, keep
    engine.receive([row for part in rows_of(o.accel, o.gyro, None) for row in part])
    engine.end()
    told = {(type(e), e.time) for e in engine.events() if isinstance(e, Onset | PushEnd)}
    return {kind: [(t, f) for t, f in those if (kind, t) in told] for kind, those in seen.items()}


def of_one(make: str, i: int) -> dict[type, list[tuple[list[float], float, float]]]:
    """Figures, how late [s] and weight of what was found of one outing's pumps."""
    o = outing(make, i)
    found, table = shown(o), {}
    for kind, key in ((Onset, "onset_s"), (PushEnd, "push_end_s")):
        times = np.array([t for t, _ in found[kind]]) + o.accel[0, 0]
        true = np.array([p[key] for p in o.truth["pumps"]])
        pairs = [(int(np.abs(times - t).argmin()), t) for t in true if len(times)]
        pairs = [(k, t) for k, t in pairs if abs(times[k] - t) < NEAR]
        table[kind] = [(found[kind][k][1], times[k] - t, min(1.0, MOST / len(pairs))) for k, t in pairs]
    return table


def gather(part: float) -> tuple[Rows, Rows]:
    """Of onsets and of push ends, from a part of the outings of each make."""
    asked = [(make, i) for make, (count, _) in MAKES.items() for i in range(round(part * count))]
    tables: dict[type, list[tuple[list[float], float, float, int, str]]] = {Onset: [], PushEnd: []}
    with ProcessPoolExecutor() as pool:
        for number, told in enumerate(pool.map(of_one, *zip(*asked, strict=True), chunksize=4)):
            for kind, rows in told.items():
                tables[kind] += [(*row, number, asked[number][0]) for row in rows]
            print(f"\r{number + 1} of {len(asked)} outings", end="", flush=True)
    print()

    def weighed(table: list[tuple[list[float], float, float, int, str]]) -> Rows:
        figures, late, weight, number, make = (np.array(column) for column in zip(*table, strict=True))
        for one in set(make.tolist()):
            weight[make == one] /= weight[make == one].sum()
        return figures, late, weight / weight.sum(), number, make

    return weighed(tables[Onset]), weighed(tables[PushEnd])


def fit(x: np.ndarray, late: np.ndarray, weight: np.ndarray, units: int) -> Net:
    """Least weighted loss by L-BFGS from one fixed start; the scaling of the figures is multiplied in."""
    rng, (_, width) = np.random.default_rng(1), x.shape
    middle, spread = x.mean(0), x.std(0) + 1e-9
    z, y, weight = (x - middle) / spread, late / SMALL, weight / weight.sum()
    cuts = np.cumsum([width * units, units, units, width])

    def parts(p: np.ndarray) -> tuple[np.ndarray, ...]:
        a, b, o, line, c = np.split(p, cuts)
        return a.reshape(width, units), b, o, line, c

    def loss(p: np.ndarray) -> tuple[float, np.ndarray]:
        a, b, o, line, c = parts(p)
        h = np.tanh(z @ a + b)
        r = h @ o + z @ line + c[0] - y
        q = np.sqrt(1.0 + r * r)
        by = weight * r / q
        bend = np.outer(by, o) * (1.0 - h * h)
        slope = [(z.T @ bend + 2 * DECAY * a).ravel(), bend.sum(0), h.T @ by + 2 * DECAY * o,
                 z.T @ by + 2 * DECAY * line, [by.sum()]]  # fmt: skip
        size = (a * a).sum() + (o * o).sum() + (line * line).sum()
        return float((weight * (q - 1.0)).sum() + DECAY * size), np.concatenate(slope)

    start = np.concatenate([rng.normal(0, width**-0.5, width * units), np.zeros(units), rng.normal(0, 0.3, units),
                            np.zeros(width + 1)])  # fmt: skip
    a, b, o, line, c = parts(minimize(loss, start, jac=True, method="L-BFGS-B", options={"maxiter": ROUNDS}).x)
    weights, line, by = (a / spread[:, None]).T, line / spread, TRUST * SMALL
    first = by * (c[0] - line @ middle)
    return tuple(b - weights @ middle), tuple(map(tuple, weights)), tuple(by * o), (first, *(by * line))


def told_late(net: Net, x: np.ndarray) -> np.ndarray:
    constants, weights, counts, line = (np.array(part) for part in net)
    return line[0] + x @ line[1:] + np.tanh(x @ weights.T + constants) @ counts


def errors(late: np.ndarray) -> str:
    size = 1e3 * np.abs(late)
    return f"{np.median(size):.2f} / {np.percentile(size, 95):.1f} ms, {100 * np.mean(size > 25):.2f} % over 25 ms"


def text_of(nets: dict[str, Net]) -> str:
    """timing_fit.py with these numbers, at most 120 characters a line."""

    def row(values: tuple[float, ...]) -> str:
        lines, line = [], "    "
        for v in values:
            word = f" {v:.4g},"
            if len(line) + len(word) > 118:
                lines.append(line)
                line = "    "
            line += word
        return "    (\n" + "\n".join([*lines, line]) + "\n    ),\n"

    def text(net: Net) -> str:
        constants, weights, counts, line = net
        return row(constants) + "    (\n" + "".join(map(row, weights)) + "    ),\n" + row(counts) + row(line)

    here = Path(timing_fit.__file__).read_text(encoding="utf-8")
    head = here[: here.index("ONSET: Net")]
    return head + "\n".join(f"{name}: Net = (\n{text(net)})" for name, net in nets.items()) + "\n"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--part", type=float, default=1.0)
    parser.add_argument("--units", type=int, default=16)
    parser.add_argument("--write", action="store_true")
    wish = parser.parse_args()
    learn(gather(wish.part), wish.units, wish.write)


def learn(gathered: tuple[Rows, Rows], units: int, write: bool) -> None:
    nets = {}
    with ProcessPoolExecutor() as pool:
        for name, (x, late, weight, number, makes) in zip(("ONSET", "PUSH_END"), gathered, strict=True):
            keep = [*(number % 3 != k for k in range(3)), number >= 0]
            *thirds, nets[name] = pool.map(fit, *zip(*((x[k], late[k], weight[k], units) for k in keep), strict=True))
            left = late.copy()
            for k, net in enumerate(thirds):
                left[number % 3 == k] -= told_late(net, x[number % 3 == k])
            for make in sorted(set(makes.tolist())):
                here = makes == make
                print(f"{name}, {make}, {here.sum()}: {errors(late[here])}; left out {errors(left[here])}", flush=True)
    text = text_of(nets)
    if write:
        Path(timing_fit.__file__).write_text(text, encoding="utf-8")
    else:
        print(text)


if __name__ == "__main__":
    main()
