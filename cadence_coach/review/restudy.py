"""Many outings again with today's detector: on all cores of this machine, or on a cluster; the same tables either way.

    study(path, profile) -> Study          one file, anywhere; never raises for a bad file
    restudy(paths, run, told) -> [Study]   all of them, in the order of their paths
    serial, on_cores(n), on_cluster(address)   ways to run

A study is a plain value that goes through pickle to a worker and back; a worker shares nothing, so adding machines adds
nothing but throughput.
"""

from __future__ import annotations

import json
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from functools import lru_cache, partial
from multiprocessing import get_context
from pathlib import Path
from time import perf_counter
from typing import Any

import attrs

from cadence_coach.core.engine import Engine
from cadence_coach.core.settings import STARTS, Settings
from cadence_coach.errors import CouldNot, Refused
from cadence_coach.foil.band import band_table
from cadence_coach.foil.profile import demo_profile, profile_from
from cadence_coach.land.engine import LandEngine, plain_plan, plan_from
from cadence_coach.review.again import again, from_rows
from cadence_coach.review.ladder import score
from cadence_coach.review.looking import looked
from cadence_coach.review.tables import FLIGHT_COLUMNS, columns_of, csv_text, write_parquet
from cadence_coach.store.outing import Outing
from cadence_coach.store.outing_file import load_outing
from cadence_coach.store.recordings import Recording

Row = dict[str, Any]
Run = Callable[[Callable[[str], "Study"], Sequence[str]], Iterable["Study"]]


@attrs.frozen
class Study:
    """What came of one file: a row for the outing and rows for its flights; `error`: in one line why there is none, or
    which corrections are left out. `seconds`: of samples; `took`: of one core [s], no part of the tables."""

    path: str
    outing: Row | None
    flights: tuple[Row, ...]
    error: str | None
    seconds: float
    took: float


def engine_of(profile: dict[str, Any] | None, settings: dict[str, Any] | None = None, land: Any = None) -> Any:
    """A fresh engine as it would have run with that profile and those settings; settings of another version that this
    one does not know are left out. land: the plan of a training, as the file keeps it."""
    known = {k: v for k, v in (settings or {}).items() if k in Settings.__dataclass_fields__}
    try:
        chosen = Settings.from_plain(known)
    except (ValueError, TypeError):
        chosen = Settings()
    engine = Engine(chosen, _table(json.dumps(profile, sort_keys=True) if profile else ""))
    return engine if land is None else LandEngine(engine, plan_from(land))


def started(meta: dict[str, Any]) -> dict[str, Any]:
    """How what these words of a recording, or of an outing, are about began, where they say so: `start`, and `land`,
    the plan of a training. What is none of ours there says nothing."""
    if meta.get("start") not in STARTS:
        return {}
    plan = meta.get("land") if meta["start"] == "land" else None
    try:
        return {"start": meta["start"], "land": plan if plan is None else plain_plan(plan_from(plan))}
    except Refused:
        return {"start": "land", "land": None}


def engine_for(profile: dict[str, Any] | None, how: dict[str, Any] | None = None) -> Any:
    """A fresh engine as it would have run for that rider and foil; how: what `started` gives. Squats are no flights,
    and without their first click there are no sets."""
    start = (how or {}).get("start")
    engine = engine_of(profile, {"start": start} if start else None)
    return LandEngine(engine, None) if start == "land" else engine


def gone_through(rows: Iterable[Any], meta: dict[str, Any], profile: dict[str, Any] | None) -> Outing:
    """A recording's lists of rows as an outing that began as its meta says; without a word there, as one of the
    water."""
    how = started(meta)
    outing = from_rows(rows, engine_for(profile, how), profile, meta)
    plan = {"land": how["land"]} if how.get("land") else {}
    return attrs.evolve(outing, settings={"start": how["start"]} if how else {}, meta={**outing.meta, **plan})


@lru_cache(maxsize=16)
def _table(profile: str) -> Any:
    return band_table((profile_from(json.loads(profile)) if profile else demo_profile()).setup)


def find(folder: str | Path) -> list[str]:
    """Every outing file and recording under a folder, sorted."""
    folder = Path(folder)
    if not folder.exists():
        raise Refused(f"{folder}: no such folder; name one with outings or recordings")
    if folder.is_file():
        return [str(folder)]
    outings = [str(p) for p in folder.rglob("*.outing")]
    recordings = {str(p.parent) for name in ("accel.csv", "accel.csv.gz") for p in folder.rglob(name)}
    return sorted([*outings, *recordings])


def open_again(path: str, profile: dict[str, Any] | None = None, gone: list[int] | None = None) -> Outing:
    """A file gone through again with today's engine; `profile` for those that carry none. gone: as `again` has it."""
    if path.endswith(".outing"):
        kept = load_outing(path)
        if kept.profile is None and profile is not None:
            kept = attrs.evolve(kept, profile=profile)
        if kept.settings.get("start") == "land" and kept.meta.get("land") is None:
            return again(kept, engine_for(kept.profile, {"start": "land"}), gone)
        return again(kept, engine_of(kept.profile, kept.settings, kept.meta.get("land")), gone)
    recording = Recording(path)
    try:
        return gone_through(recording.rows(), recording.meta, profile)
    finally:
        recording.close()


def study(path: str, profile: dict[str, Any] | None = None) -> Study:
    """One file: events, figures and ladder anew. A file that cannot be read is an answer and stops nothing."""
    began = perf_counter()
    gone: list[int] = []
    try:
        seen = looked(open_again(path, profile, gone))
        figures, rungs = seen.figures, score(seen)
    except (Refused, CouldNot) as error:
        return Study(path, None, (), str(error), 0.0, perf_counter() - began)
    except Exception as error:  # a defect of ours in one file of ten thousand must not cost the rest
        return Study(
            path, None, (), f"{path}: {type(error).__name__}: {error}; please report it", 0.0, perf_counter() - began
        )
    first: Row = {
        "path": path,
        "uuid": figures.uuid,
        "start_utc": figures.start_utc,
        "rider": figures.rider,
        "foil": figures.foil,
        "water": figures.water,
        "duration_s": figures.duration_s,
        "tries": sum(s.tries for s in figures.starts.values()),
        "flights": len(figures.flights),
        "pumps": figures.pumps,
        "own_s": figures.own_s,
        "best_s": figures.best_s,
        "gap_s": figures.gap_s,
        "rungs": " ".join(r.key for r in rungs if r.passed),
        **{f"version_{name}": v for name, v in figures.versions.items() if name in ("detector", "coach", "model")},
    }
    flights = tuple({"path": path, **{name: getattr(f, name) for name in FLIGHT_COLUMNS}} for f in figures.flights)
    which = ", ".join(str(n + 1) for n in gone)
    said = f"{path}: what was said of flight {which} is left out, as none is found there any more" if gone else None
    return Study(path, first, flights, said, figures.duration_s, perf_counter() - began)


def restudy(
    paths: Sequence[str],
    run: Run,
    profile: dict[str, Any] | None = None,
    told: Callable[[Study], None] = lambda one: None,
) -> list[Study]:
    """A study of every path, in the order of the paths whichever finished first; `told` hears each as it is done."""
    found = []
    for one in run(partial(study, profile=profile), paths):
        told(one)
        found.append(one)
    return sorted(found, key=lambda one: one.path)


# ---- ways to run ----


def serial(work: Callable[[str], Study], paths: Sequence[str]) -> Iterator[Study]:
    return map(work, paths)


def lost(path: str) -> Study:
    """For a file that took its process down."""
    return Study(path, None, (), f"{path}: its worker died; there may not be enough memory", 0.0, 0.0)


def on_cores(workers: int, lost: Callable[[str], Any] = lost) -> Callable[..., Iterator[Any]]:
    """Processes of this machine. At most one file a process is under way, so that when one dies (out of memory, say)
    the files under way are the suspects: each of those is tried alone, and the others go on. `lost` makes the answer
    for a file whose process died alone, too."""

    def run(work: Callable[[str], Any], paths: Sequence[str]) -> Iterator[Any]:
        waiting = deque(paths)
        while waiting:
            suspects: list[str] = []
            yield from _pooled(work, waiting, workers, suspects)
            for path in suspects:
                alone: list[str] = []
                yield from _pooled(work, deque([path]), 1, alone)
                if alone:
                    yield lost(path)

    return run


def _pooled(work: Callable[[str], Any], waiting: deque[str], workers: int, suspects: list[str]) -> Iterator[Any]:
    """What a pool of processes finishes of the waiting paths. It ends early when a process dies: what was under way is
    then in `suspects`, what was not yet begun still in `waiting`."""
    with ProcessPoolExecutor(max_workers=workers, mp_context=get_context("spawn")) as pool:
        under_way: dict[Future[Any], str] = {}
        while waiting or under_way:
            while waiting and len(under_way) < workers:
                path = waiting.popleft()
                try:
                    under_way[pool.submit(work, path)] = path
                except BrokenProcessPool:
                    waiting.appendleft(path)
                    break
            if not under_way:
                return  # the pool broke with nothing under way: the next one goes on
            done, _ = wait(under_way, return_when=FIRST_COMPLETED)
            for future in done:
                path = under_way.pop(future)
                try:
                    yield future.result()
                except BrokenProcessPool:
                    suspects.append(path)
            if suspects:
                suspects += under_way.values()
                return


def on_cluster(address: str) -> Run:
    """Workers of a Dask cluster (extra `club`); they must see the same paths and have this package."""
    try:
        from dask.distributed import Client
        from dask.distributed import as_completed as finished
    except ImportError:
        raise CouldNot("a cluster needs dask and distributed: pip install 'cadence-coach[club]'") from None

    def run(work: Callable[[str], Study], paths: Sequence[str]) -> Iterator[Study]:
        try:
            client = Client(address, timeout=5)
        except ValueError as error:
            raise Refused(f"--cluster {address}: no address ({error}); give tcp://HOST:PORT") from None
        except (OSError, TimeoutError) as error:
            raise CouldNot(
                f"--cluster {address}: no cluster answers there ({error}); start a scheduler and name it"
            ) from None
        with client:
            # a worker runs in a folder of its own: it is given whole paths, and answers under the names given here
            asked = {client.submit(work, str(Path(path).absolute()), pure=False): path for path in paths}
            for future in finished(list(asked)):
                path = asked[future]
                if future.status == "error":
                    yield Study(path, None, (), f"{path}: its worker died ({future.exception()})", 0.0, 0.0)
                else:
                    yield _named(future.result(), path)

    return run


def _named(study: Study, path: str) -> Study:
    """The same study under another name of its file."""
    return attrs.evolve(
        study,
        path=path,
        outing=study.outing and {**study.outing, "path": path},
        flights=tuple({**row, "path": path} for row in study.flights),
        error=study.error and study.error.replace(study.path, path),
    )


def write_tables(out: Path, studies: Sequence[Study], *, parquet: bool = False) -> list[Path]:
    """outings, flights and, where there are any, failures: CSV or Parquet. The files that were written."""
    parts: list[tuple[str, list[Row]]] = [
        ("outings", [s.outing for s in studies if s.outing is not None]),
        ("flights", [row for s in studies for row in s.flights]),
        ("failures", [{"path": s.path, "error": s.error} for s in studies if s.error is not None]),
    ]
    written = []
    try:
        out.mkdir(parents=True, exist_ok=True)
        for name, rows in parts:
            columns = columns_of(rows) if rows else list(EMPTY[name])
            path = out / f"{name}.{'parquet' if parquet else 'csv'}"
            if name == "failures" and not rows:
                path.unlink(missing_ok=True)  # of an earlier run
                continue
            if parquet:
                write_parquet(path, rows, columns)
            else:
                path.write_text(csv_text(rows, columns), encoding="utf-8")
            written.append(path)
    except OSError as error:
        raise CouldNot(f"{out}: cannot be written ({error.strerror}); choose another --out") from None
    return written


EMPTY = {"outings": ("path", "uuid"), "flights": ("path", *FLIGHT_COLUMNS), "failures": ("path", "error")}
