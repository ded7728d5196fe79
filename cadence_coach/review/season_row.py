"""What a season keeps of one outing, and the cache of it outside the outing files.

A row is small and plain. The cache is a folder of JSON files named by UUID and version; an index of path, size and time
tells without opening a file whether a row is still right, since a correction or a note changes the file.
"""

from __future__ import annotations

import hashlib
import json
import math
import os
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Any

import attrs

from cadence_coach import VERSIONS
from cadence_coach.errors import CouldNot, Refused
from cadence_coach.review import stats
from cadence_coach.review.counted import armchair, left_out
from cadence_coach.review.ladder import RungResult, score
from cadence_coach.review.looking import looked, told_as_damage
from cadence_coach.review.say import texts
from cadence_coach.store.copying import state_of
from cadence_coach.store.folders import home
from cadence_coach.store.outing import Outing
from cadence_coach.store.outing_file import load_outing

FIGURES_VERSION = "10"
"""Raise when figures, ladder or this row change for the same outing."""

MANY = 8
"""New files from which other cores are asked: under that starting them takes longer than the work."""

STEADY_FROM = 10
"""Pumps from which a flight has a say in steadiness: under that the figure is mostly chance."""


@attrs.frozen
class SeasonFlight:
    """A flight of the rider's own: length [s], pumps, cadence [Hz], speed [m/s], estimated power [W], fade: slope of
    cadence per minute / cadence, and whether it ended because the rider was done (not by a hole or the end of the
    recording)."""

    seconds: float
    pumps: int
    cadence: float | None
    speed: float | None
    power: float | None
    fade: float | None
    whole: bool


@attrs.frozen
class SeasonRow:
    """One outing of a season. steadiness and in_band: medians over flights with STEADY_FROM pumps; drift: median of
    late against early cadence; left_out: flights that do not count, by reason; armchair: simulated,
    nobody rode."""

    uuid: str
    start_utc: str | None
    rider: str
    foil: str
    water: str
    tries: int
    pumps: int
    own_s: float
    best_s: float
    best_pumps: int
    steadiness: float | None
    drift: float | None
    in_band: float | None
    flights: tuple[SeasonFlight, ...]
    rungs: tuple[RungResult, ...]
    left_out: dict[str, int] = attrs.field(factory=dict)
    armchair: bool = False

    @property
    def on_land(self) -> bool:
        """A training on land: the rungs of the water say so."""
        return any(said.key == "on_water_only" for rung in self.rungs for said in rung.missing)


def season_row(outing: Outing) -> SeasonRow:
    """The row of an outing, from its events as they are kept."""
    seen = looked(outing)
    f = seen.figures
    # a set of squats looks like a flight and is none
    own = () if f.on_land else f.counted
    long = [x for x in own if x.pumps >= STEADY_FROM]
    best = max(own, key=lambda x: x.own_s, default=None)

    def median(values: Sequence[float | None]) -> float | None:
        known = [v for v in values if v is not None]
        return stats.middle(known) if known else None  # type: ignore[arg-type]

    return SeasonRow(
        uuid=f.uuid,
        start_utc=f.start_utc,
        rider=f.rider,
        foil=f.foil,
        water=f.water,
        tries=sum(s.tries for s in f.starts.values()),
        pumps=f.pumps,
        own_s=f.own_s,
        best_s=best.own_s if best else 0.0,
        best_pumps=best.pumps if best else 0,
        steadiness=median([x.steadiness for x in long]),
        drift=median([x.drift for x in long]),
        in_band=median([x.in_band for x in long]),
        flights=tuple(
            SeasonFlight(
                x.own_s,
                x.pumps,
                x.cadence_hz,
                x.speed_m_s,
                x.power_w,
                x.fade_cadence.slope / (60.0 * x.cadence_hz) if x.fade_cadence and x.cadence_hz else None,
                x.ended_by not in ("gap", "end_of_data"),
            )
            for x in own
        ),
        rungs=score(seen),
        left_out=left_out(f.flights),
        armchair=armchair(outing),
    )


@attrs.frozen
class Fresh:
    """What came of one file: its row, or why there is none in one line."""

    path: str
    row: SeasonRow | None
    error: str


Run = Callable[[Callable[[str], Fresh], Sequence[str]], Iterable[Fresh]]
"""A way to go through many files, like `map`: `restudy.on_cores(n, lost)` uses n cores."""


def row_of(path: Path) -> SeasonRow:
    """The row of a file. Raises Refused when it is none, or damaged."""
    with told_as_damage(path):
        return season_row(load_outing(path))


def fresh_row(path: str) -> Fresh:
    """The row of one file, worked out anew, in any process."""
    try:
        return Fresh(path, row_of(Path(path)), "")
    except (Refused, CouldNot) as error:
        return Fresh(path, None, str(error))


def lost(path: str) -> Fresh:
    """For a file that took its process down."""
    return Fresh(path, None, f"{path}: its worker died; there may not be enough memory")


class Cache:
    """Rows of outing files, kept in `folder` (the data folder's `cache` when None)."""

    def __init__(self, folder: Path | None = None) -> None:
        self.folder = folder or home() / "cache" / "season"
        self.version = "-".join([FIGURES_VERSION, *VERSIONS.values()])
        self._index_path = self.folder / "index.json"
        self._index: dict[str, list[Any]] = _read(self._index_path) or {}

    def rows(
        self,
        paths: Sequence[Path],
        told: Callable[[int], None] = lambda done: None,
        most_bytes: float = math.inf,
        many: Run | None = None,
    ) -> tuple[list[SeasonRow], list[tuple[Path, str]]]:
        """Rows in the order of time, one an outing (a copy of a file counts once), and the files that could not be
        read. Of files that have no row yet, no more than `most_bytes` are read, in the order given; `many` runs them
        where there are MANY and more."""
        found: dict[Path, SeasonRow] = {}
        failed: dict[Path, str] = {}
        new: dict[str, tuple[Path, list[int]]] = {}
        done = 0
        for path in paths:
            try:
                state = _state(path)
                if (row := self._known(path, state)) is not None:
                    found[path] = row
                elif state[0] <= most_bytes:
                    new[str(path)] = path, state
                    most_bytes -= state[0]
            except (Refused, CouldNot) as error:
                failed[path] = str(error)
        run = many if many is not None and len(new) >= MANY else map
        told(done := len(paths) - len(new))
        for fresh in run(fresh_row, list(new)):
            path, state = new[fresh.path]
            if fresh.row is None:
                failed[path] = fresh.error
            else:
                found[path] = fresh.row
                self._keep(path, state, fresh.row)
            told(done := done + 1)
        self._save()
        rows = {found[path].uuid: found[path] for path in paths if path in found}
        return sorted(rows.values(), key=lambda r: (r.start_utc or "", r.uuid)), [
            (path, failed[path]) for path in paths if path in failed
        ]

    def row(self, path: Path) -> SeasonRow:
        state = _state(path)
        return self._known(path, state) or self._new(path, state)

    def _known(self, path: Path, state: list[int]) -> SeasonRow | None:
        known = self._index.get(str(path.resolve()))
        return self._kept(known[2], state) if known and known[:2] == state else None

    def _new(self, path: Path, state: list[int]) -> SeasonRow:
        row = row_of(path)
        self._keep(path, state, row)
        return row

    def _keep(self, path: Path, state: list[int], row: SeasonRow) -> None:
        self._index[str(path.resolve())] = [*state, row.uuid]
        _write(self._file(row.uuid), {"file": state, "row": attrs.asdict(row)})

    def _file(self, uuid: str) -> Path:
        name = uuid if uuid.replace("-", "").isalnum() and len(uuid) < 60 else hashlib.sha256(uuid.encode()).hexdigest()
        return self.folder / f"{name}.{self.version}.json"

    def _kept(self, uuid: str, state: list[int]) -> SeasonRow | None:
        body = _read(self._file(str(uuid)))
        if not body or body.get("file") != state:
            return None
        try:
            row = body["row"]
            flights = tuple(SeasonFlight(**f) for f in row.pop("flights"))
            rungs = tuple(
                RungResult(**(r | {"said": texts(r["said"]), "missing": texts(r["missing"])})) for r in row.pop("rungs")
            )
            return SeasonRow(**row, flights=flights, rungs=rungs)
        except (KeyError, TypeError, AttributeError):
            return None  # of another version or damaged: worked out again

    def _save(self) -> None:
        _write(self._index_path, self._index)


def _state(path: Path) -> list[int]:
    """Whether a file is still the one a row was made of."""
    try:
        return state_of(path)
    except OSError as error:
        raise Refused(f"{path}: cannot be read ({error.strerror}); check your rights to it") from None


def _read(path: Path) -> dict[str, Any] | None:
    try:
        body = json.loads(path.read_text("utf-8"))
    except (OSError, ValueError):
        return None
    return body if isinstance(body, dict) else None


def _write(path: Path, body: dict[str, Any]) -> None:
    """A cache that cannot be written costs time next time and nothing else."""
    fresh = path.with_name(f"{path.name}.{os.getpid()}.new")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        fresh.write_text(json.dumps(body), encoding="utf-8")
        os.replace(fresh, path)
    except OSError:
        fresh.unlink(missing_ok=True)
