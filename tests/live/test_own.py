"""What earlier outings say about a rider is in the band of the next one from its first pump."""

from __future__ import annotations

from contextlib import ExitStack
from dataclasses import replace

import attrs
import pytest

from cadence_coach.core.settings import Settings
from cadence_coach.foil.profile import demo_profile
from cadence_coach.live import Plan, begin
from cadence_coach.live.begin import band_of
from cadence_coach.store.folders import outings_folder
from cadence_coach.store.outing_file import load_outing, save_outing
from tests.live import build
from tests.review.build import Fly, make
from tests.review.build import Plan as Ride

SPEED = 5.0
LEAN = 1.1


@pytest.fixture(scope="module")
def recording(tmp_path_factory):
    return str(build.recording(tmp_path_factory.mktemp("ride") / "ride", until=20.0))


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.setenv("CADENCE_COACH_HOME", str(tmp_path))
    return outings_folder()


def cadence() -> float:
    return LEAN * build.band().model_at(SPEED).target


def rode(folder, number: int, *, flights: int = 3, start: str = "dock", profile=None):
    """An outing of steady flights of some 40 s at LEAN times the model's cadence."""
    pumps = round(40.0 * cadence())
    tries = [Fly(10.0 + 60.0 * n, [1.0 / cadence()] * pumps, speed=SPEED) for n in range(flights)]
    outing = make(
        Ride(
            tries,
            uuid=f"00000000-0000-4000-8000-{number:012d}",
            start_utc=f"2026-06-{number:02d}T09:00:00Z",
            profile=profile or demo_profile().table,
            settings=Settings(start=start).plain(),
        )
    )
    return save_outing(outing, folder / f"2026-06-{number:02d}T09-00-00Z.outing")


def begun(recording, **settings):
    """Engine's band, settings and what was told of the next outing, and what its file keeps."""
    lines: list[str] = []
    with ExitStack() as stack:
        live = begin(Plan(recording, Settings(**settings), fast=True), stack, lines.append)
        live.run()
    kept = load_outing(max(outings_folder().glob("*.outing"), key=lambda p: p.stat().st_mtime))
    return band_of(kept.meta["band"]), Settings.from_plain(kept.settings), lines


def test_the_band_of_the_next_outing_leans_half_way(folder, recording):
    for number in (1, 2, 3):
        rode(folder, number)
    table, settings, lines = begun(recording)
    model = build.band()
    assert not lines
    assert table.q == pytest.approx(LEAN, rel=0.005)
    assert table.cruise_speed == pytest.approx(SPEED, rel=0.01)
    band, alone = table.at(None), model.model_at(table.cruise_speed)
    assert alone.lo < alone.target < band.target < alone.hard_hi
    assert band.target == pytest.approx((1.0 + LEAN) / 2.0 * alone.target, rel=0.005)  # half-way, design of the band
    assert settings.own_best_cadence == pytest.approx(cadence(), rel=0.005)
    assert table.bands == model.bands, "what the model says is kept as it is"


def test_nobody_elses_outings_and_no_squats_lean_it(folder, recording):
    other = demo_profile().table
    other = {**other, "rider": {**other["rider"], "name": "Somebody else (invented)"}}
    for number in (1, 2):
        rode(folder, number, profile=other)
        rode(folder, 10 + number, start="land")
    table, settings, _ = begun(recording)
    assert table == build.band() and settings.own_best_cadence is None


def test_an_empty_home_leaves_the_models_band(folder, recording):
    table, settings, lines = begun(recording)
    assert table == build.band() and settings.own_best_cadence is None and not lines


def test_a_bad_file_is_told_in_one_line_and_left_out(folder, recording):
    rode(folder, 1, flights=6)
    (folder / "2026-06-02T09-00-00Z.outing").write_bytes(b"no outing at all" * 100)
    (folder / "2026-06-03T09-00-00Z.outing").mkdir()
    table, _, lines = begun(recording)
    assert table.q == pytest.approx(LEAN, rel=0.005)
    assert len(lines) == 1 and "and 1 more" in lines[0] and "\n" not in lines[0]


def test_what_was_chosen_stays_and_an_impossible_own_speed_leaves_the_models(folder, recording):
    from cadence_coach.review.so_far import SoFar, leaned

    rode(folder, 1, flights=6)
    _, settings, _ = begun(recording, own_best_cadence=1.25)
    assert settings.own_best_cadence == 1.25
    model = build.band()
    slow = SoFar(own_ratio=1.05, cruise_speed=1.0, best_cadence=1.4, best_seconds=60.0)
    assert model.model_at(1.0).target is None
    assert leaned(model, slow) == replace(model, q=1.05)


def test_rows_come_from_the_cache_the_second_time(folder, recording):
    """And an outing too long to be looked at now waits until there is time: the start does not."""
    from cadence_coach.review import season_row

    path = rode(folder, 1, flights=6)
    cache = season_row.Cache()
    assert cache.rows([path], most_bytes=path.stat().st_size - 1) == ([], [])
    (row,), _ = cache.rows([path], most_bytes=path.stat().st_size)
    kept = cache._file(row.uuid)
    body = kept.read_text().replace(f'"tries": {row.tries}', '"tries": 77')
    kept.write_text(body)  # only somebody who reads the cache sees this
    (again,), _ = season_row.Cache().rows([path], most_bytes=0)
    assert again == attrs.evolve(row, tries=77)


def test_an_outing_that_is_over_is_in_the_cache(folder, recording):
    from cadence_coach.review.season_row import Cache

    begun(recording)
    (path,) = folder.glob("*.outing")
    (row,), failed = Cache().rows([path], most_bytes=0)
    assert row.uuid == load_outing(path).uuid and not failed
