"""A simulated outing as a source, as fast as it can be read: sim:KIND:SEED."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain
from typing import TYPE_CHECKING, Any

import numpy as np

from cadence_coach.core.events import ACCEL, FIX, GYRO, Row
from cadence_coach.errors import Refused
from cadence_coach.store.columns import BLOCK
from cadence_coach.store.merge import merged

if TYPE_CHECKING:
    from cadence_coach.sim.outing import SimulatedOuting

DEMO = "demo"
NS = 1_000_000_000


class SimulatedSource:
    """See `sources`; `outing` is what was simulated, with its truth."""

    def __init__(self, outing: SimulatedOuting, name: str) -> None:
        self.outing = outing
        self.name = name
        self.start_s = float(outing.accel[0, 0])
        self.meta: dict[str, Any] = outing.meta
        self.notes: list[str] = []
        self._done = 0
        self._rows = rows_of(outing.accel, outing.gyro, outing.fixes)

    def __iter__(self) -> Iterator[list[Row]]:
        return self

    def __next__(self) -> list[Row]:
        rows = next(self._rows)
        self._done += len(rows)
        return rows

    def progress(self) -> float:
        total = sum(len(a) for a in (self.outing.accel, self.outing.gyro, self.outing.fixes) if a is not None)
        return self._done / total

    def close(self) -> None:
        self._rows.close()


def open(rest: str) -> SimulatedSource:
    """KIND or KIND:SEED (seed 1); the kind "demo" is the outing that the demo shows."""
    from cadence_coach.sim.outing import demo_outing, simulate_outing

    kind, number = meant(rest)
    return SimulatedSource(demo_outing(number) if kind == DEMO else simulate_outing(number, kind), f"{kind}-{number}")


def meant(rest: str) -> tuple[str, int]:
    """Kind and seed of KIND or KIND:SEED, nothing simulated yet. Raises Refused."""
    from cadence_coach.sim.outing import KINDS

    kind, _, seed = rest.partition(":")
    if kind not in (DEMO, *KINDS):
        raise Refused(f"sim:{rest}: no kind {kind!r}; choose from {', '.join((DEMO, *KINDS))}")
    if seed and not seed.isdecimal():
        raise Refused(f"sim:{rest}: the seed {seed!r} is no whole number; give sim:{kind}:1 or the like")
    return kind, int(seed or 1)


def rows_of(accel: np.ndarray, gyro: np.ndarray | None, fixes: np.ndarray | None) -> Iterator[list[Row]]:
    """The rows that reading these arrays from a recording would give (shapes as in `write_recording`)."""
    start = _nanoseconds(accel[:1, 0])[0]

    def seconds(data: np.ndarray) -> list[float]:
        return [(ns - start) / NS for ns in _nanoseconds(data[:, 0])]

    def vectors(data: np.ndarray, kind: int) -> Iterator[list[Row]]:
        for at in range(0, len(data), BLOCK):
            block = data[at : at + BLOCK]
            xyz = block[:, 1:].astype(np.float32).T.tolist()
            yield list(zip([kind] * len(block), seconds(block), *xyz, strict=True))

    def places(data: np.ndarray) -> Iterator[Row]:
        t = seconds(data)
        return zip([FIX] * len(data), t, t, *data[:, 1:].T.tolist(), strict=True)

    others: Iterator[list[Row]] = vectors(gyro, GYRO) if gyro is not None else iter(())
    if fixes is not None:
        others = merged(places(fixes), others)
    return merged(chain.from_iterable(others), vectors(accel, ACCEL))


def _nanoseconds(t: np.ndarray) -> list[int]:
    """As `store.columns.exact_seconds` writes them."""
    whole = np.floor(t)
    ns = whole.astype(np.int64) * NS + np.rint((t - whole) * 1e9).astype(np.int64)
    return ns.tolist()  # type: ignore[no-any-return]
