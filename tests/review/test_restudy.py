"""Many outings again: the same tables whichever way it ran, bad files listed, a dead worker survived, and real
files."""

from __future__ import annotations

import csv
import os
from dataclasses import replace
from pathlib import Path

import pytest
from attrs import evolve

from cadence_coach.errors import CouldNot, Refused
from cadence_coach.review.again import again, from_rows
from cadence_coach.review.restudy import (
    Study,
    engine_of,
    find,
    on_cluster,
    on_cores,
    open_again,
    restudy,
    serial,
    study,
    write_tables,
)
from cadence_coach.store.outing_file import save_outing
from cadence_coach.store.recordings import write_recording
from tests.review.build import Plan, make
from tests.review.test_outing import flies
from tests.review.test_season import PROFILE


@pytest.fixture(scope="module")
def club(tmp_path_factory):
    """Two recordings, an outing file, a file that is none and a recording without rows."""
    folder = tmp_path_factory.mktemp("club")
    for n, counts in enumerate(([8, 12], [20])):
        write_recording(folder / "riders" / f"rec{n}", make(Plan(flies(counts, pause=15.0))).accel)
    save_outing(make(Plan(flies([10, 6], pause=15.0), profile=PROFILE)), folder / "a.outing")
    (folder / "broken.outing").write_text("not an outing")
    (folder / "empty").mkdir()
    (folder / "empty" / "accel.csv").write_text("t_s,ax_m_s2,ay_m_s2,az_m_s2\n")
    return folder


@pytest.fixture(scope="module")
def studies(club):
    return restudy(find(club), serial)


def tables(studies, out):
    return {path.name: path.read_text() for path in write_tables(out, studies)}


def test_everything_is_found_at_any_depth(club):
    assert [Path(p).name for p in find(club)] == ["a.outing", "broken.outing", "empty", "rec0", "rec1"]
    with pytest.raises(Refused):
        find(club / "nowhere")


def test_bad_files_are_listed_and_the_rest_is_done(studies, tmp_path):
    written = tables(studies, tmp_path)
    assert set(written) == {"outings.csv", "flights.csv", "failures.csv"}
    outings = list(csv.DictReader(written["outings.csv"].splitlines()))
    failures = list(csv.DictReader(written["failures.csv"].splitlines()))
    assert len(outings) == 3 and len(failures) == 2
    assert all(row["error"] and "\n" not in row["error"] for row in failures)
    assert outings[0]["rider"] == "Lea (invented)" and outings[0]["version_detector"]


def test_processes_give_the_same_tables(club, studies, tmp_path):
    found = restudy(find(club), on_cores(2))
    assert tables(found, tmp_path / "cores") == tables(studies, tmp_path / "serial")


def test_a_cluster_gives_the_same_tables(club, studies, tmp_path, monkeypatch):
    """A real scheduler and two real worker processes of Dask on this machine, reached by its address; named from a
    folder that is not the workers' own, too."""
    from dask.distributed import LocalCluster

    with LocalCluster(n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None) as cluster:
        found = restudy(find(club), on_cluster(cluster.scheduler_address))
        monkeypatch.chdir(club)
        here = restudy(find("."), on_cluster(cluster.scheduler_address))
    assert tables(found, tmp_path / "cluster") == tables(studies, tmp_path / "serial")
    assert tables(here, tmp_path / "here") == tables(restudy(find("."), serial), tmp_path / "serial-here")
    assert sum(one.error is None for one in here) == 3


def test_an_address_that_is_none_is_asked_wrongly():
    with pytest.raises(Refused, match="tcp://HOST:PORT"):
        list(on_cluster("nonsense")(study, ["x"]))


def test_no_cluster_at_that_address_is_one_line():
    with pytest.raises(CouldNot) as said:
        list(on_cluster("tcp://127.0.0.1:9")(study, ["x"]))
    assert "tcp://127.0.0.1:9" in str(said.value) and "\n" not in str(said.value)


def test_parquet_holds_what_csv_holds(studies, tmp_path):
    import pyarrow.parquet

    write_tables(tmp_path, studies, parquet=True)
    write_tables(tmp_path, studies)
    for name in ("outings", "flights", "failures"):
        rows = pyarrow.parquet.read_table(tmp_path / f"{name}.parquet").to_pylist()
        texts = list(csv.DictReader((tmp_path / f"{name}.csv").read_text().splitlines()))
        assert len(rows) == len(texts)
        for row, text in zip(rows, texts, strict=True):
            assert list(row) == list(text)
            for key, value in row.items():
                assert (
                    text[key] == ("" if value is None else repr(value) if isinstance(value, float) else str(value))
                    or text[key] == f"'{value}"
                )


@pytest.mark.parametrize("parquet", [False, True])
def test_names_that_are_no_text_are_written_as_far_as_they_are(studies, tmp_path, parquet):
    """Latin-1 on a system of UTF-8, of a recording and of the folder to write to: half a surrogate pair."""
    out = Path(os.fsdecode(bytes(tmp_path) + b"/\xfc"))
    path = os.fsdecode(b"club/f\xfchrte.csv")
    found = [evolve(one, outing=one.outing and {**one.outing, "path": path}) for one in studies]
    written = write_tables(out, found, parquet=parquet)
    assert len(written) == 3 and b"club/f?hrte.csv" in written[0].read_bytes()


def dies(path: str) -> Study:
    if "kill" in path:
        os._exit(9)
    return Study(path, {"path": path}, (), None, 1.0, 0.0)


def test_a_file_that_kills_its_worker_costs_no_other():
    paths = ["a", "kill", "b", "c"]
    found = {s.path: s for s in on_cores(2)(dies, paths)}
    assert set(found) == set(paths)
    assert [p for p, s in found.items() if s.error] == [p for p in found if "kill" in p]
    assert "its worker died" in found["kill"].error


def test_the_same_engine_gives_the_same_outing_again(club):
    first = open_again(str(club / "riders" / "rec0"))
    second = again(first, engine_of(None))
    assert second.cycles == first.cycles and second.flights == first.flights and second.attempts == first.attempts
    assert from_rows([list(first.rows())], engine_of(None)).uuid == first.uuid


def test_a_correction_follows_its_flight_when_flights_are_found_anew(club, tmp_path):
    """Kept by a detector that missed the first flight and took a pause for one: what was said of the second, its first,
    is of the second still; what was said of the pause is left out in one line, and nothing else."""
    now = open_again(str(club / "riders" / "rec0"))
    first, second = now.flights
    old = evolve(
        now,
        flights=[replace(second, flight=0), replace(second, start=second.time + 3.0, time=second.time + 9.0, flight=1)],
        flight_starts=[replace(now.flight_starts[1], flight=n) for n in (0, 1)],
        tags={"helped:0": "wake", "ended_by:0": "coast_out", "started_by:1": "dock", "kit": "large wing"},
    )
    save_outing(old, tmp_path / "old.outing")
    found = study(str(tmp_path / "old.outing"))
    assert [(f["pumps"], f["helped"], f["ended_by"]) for f in found.flights] == [
        (first.pumps, None, study(str(club / "riders" / "rec0")).flights[0]["ended_by"]),
        (second.pumps, "wake", "coast_out"),
    ]
    assert found.error.endswith("what was said of flight 2 is left out, as none is found there any more")
    (row,) = csv.DictReader(tables([found], tmp_path / "tables")["failures.csv"].splitlines())
    assert row["error"] == found.error
    with pytest.raises(Refused, match="flight 2, which somebody corrected"):
        again(old, engine_of(None))
    whole = again(evolve(old, tags={"helped:0": "wake", "kit": "large wing"}), engine_of(None))
    assert whole.tags == {"helped:1": "wake", "kit": "large wing"}


def test_settings_of_another_version_are_no_trouble():
    engine_of(None, {"start": "rope_drill", "wings": 3})
    engine_of(None, {"start": "balloon"})


def test_squats_are_no_flights_again_either(tmp_path):
    """The same samples on the water and as a training: a recording whose words say so, an outing kept as one."""
    outing = make(Plan(flies([8, 12], pause=15.0)))
    for name, meta in (("water", {}), ("squats", {"start": "land"})):
        write_recording(tmp_path / name, outing.accel, None, None, meta)
    found = {name: study(str(tmp_path / name)) for name in ("water", "squats")}
    assert [len(found[name].flights) for name in ("water", "squats")] == [2, 0]
    kept = evolve(open_again(str(tmp_path / "squats")), meta={**outing.meta, "land": None})
    assert kept.settings["start"] == "land"
    save_outing(kept, tmp_path / "kept.outing")
    assert study(str(tmp_path / "kept.outing")).flights == ()
