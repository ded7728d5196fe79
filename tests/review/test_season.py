"""A season: rows and their cache, trends, groups, endurance and the next rung."""

from __future__ import annotations

import json
import os
import sqlite3
from contextlib import closing
from datetime import date, timedelta

import attrs
import numpy as np
import pytest
import scipy.stats

from cadence_coach.commands.riders import rider_lines
from cadence_coach.errors import Refused
from cadence_coach.foil.endurance import Endurance
from cadence_coach.review import terminal
from cadence_coach.review.advice import one_thing
from cadence_coach.review.counted import counted_rows
from cadence_coach.review.figures import look
from cadence_coach.review.ladder import RungResult
from cadence_coach.review.looking import open_looked
from cadence_coach.review.rungs import RUNGS
from cadence_coach.review.say import say, tell
from cadence_coach.review.season import best_points, season, step_said
from cadence_coach.review.season_page import season_html, span
from cadence_coach.review.season_row import Cache, SeasonFlight, SeasonRow, fresh_row, lost, season_row
from cadence_coach.review.so_far import so_far
from cadence_coach.review.words import Words
from cadence_coach.sources import open_source
from cadence_coach.store.convert import source_meta
from cadence_coach.store.outing_file import save_outing
from tests.review.build import Plan, make, table
from tests.review.test_outing import flies

PROFILE = {
    "rider": {"name": "Lea (invented)", "mass_kg": 70.0},
    "foil": {"name": "Tern 150 (invented)", "wing_area_m2": 0.15, "span_m": 1.2},
}


def outing(n, counts=(12, 40), **changes):
    return make(
        Plan(
            flies(list(counts)),
            uuid=f"00000000-0000-4000-8000-{n:012d}",
            start_utc=f"2026-06-{n:02d}T09:00:00Z",
            **changes,
        )
    )


def flight(seconds, power, whole=True):
    return SeasonFlight(float(seconds), int(seconds / 0.6), 1.5, 4.5, power, -0.01, whole)


def row(n, best=30.0, flights=(), **changes):
    values = {"rider": "Lea", "foil": "Tern 150", "water": "fresh", "steadiness": 0.04, "drift": -0.05, "in_band": 0.8}
    values |= changes
    return SeasonRow(
        uuid=f"u{n}",
        start_utc=f"{date(2026, 5, 1) + timedelta(n)}T09:00:00Z",
        tries=5,
        pumps=100,
        own_s=best * 2,
        best_s=best,
        best_pumps=int(best / 0.6),
        flights=tuple(flights),
        rungs=tuple(RungResult(r.key, False, None, (), ()) for r in RUNGS),
        **values,
    )


def test_row_of_an_outing():
    found = season_row(outing(1, profile=PROFILE))
    assert (found.rider, found.foil, found.tries, found.pumps) == ("Lea (invented)", "Tern 150 (invented)", 2, 52)
    assert found.best_pumps == 40 and len(found.flights) == 2
    assert found.flights[1].power > 50.0 and found.flights[1].fade is not None


@pytest.mark.parametrize(
    ("hole", "best", "out"),
    [
        (0.4, 40, {}),  # of 24 s: what a review calls the best flight is the season's too
        (1.0, 12, {"holed": 1}),
    ],
)
def test_a_small_hole_takes_no_flight_out_of_the_season_and_a_large_one_is_said(hole, best, out):
    made = outing(1, counts=(12, 40))
    began = made.flights[1].start
    made = outing(1, counts=(12, 40), gaps=[(began + 5.0, began + 5.0 + hole)])
    found = season_row(made)
    assert (found.best_pumps, found.left_out) == (best, out)
    figures = look(made).figures
    assert figures.best_s == found.best_s and figures.flights[figures.best].pumps == best
    reviewed = "\n".join(terminal.lines(look(made), one_thing(look(made)), Words()))
    assert ("Over 2 % missing in the data: flight 2." in reviewed and "(gap in the data)" in reviewed) is bool(out)
    said = tell(season([found]).left_out)
    assert said == ("1 flight not scored: gap in the data." if out else "")
    assert (said in season_html(season([found]))) and rider_lines([found], Words())[-1].endswith(said)


@pytest.mark.parametrize("spec", ["sim:short:1", "squats:3"])
def test_what_was_simulated_is_known_as_such_live_and_as_a_recording(spec):
    source = open_source(spec)
    live = attrs.evolve(outing(1), meta={**outing(1).meta, "source": source_meta(source)})
    kept = attrs.evolve(outing(1), meta={**outing(1).meta, "device": source.meta["device"]})
    source.close()
    assert season_row(live).armchair and season_row(kept).armchair and not season_row(outing(1)).armchair


def test_armchair_outings_count_only_where_a_rider_has_no_others():
    """By season, club table, ladder and what the band leans by alike."""
    passed = tuple(RungResult(r.key, r.key == "ten_pumps", None, (), ()) for r in RUNGS)
    chair = attrs.evolve(row(1, best=90.0, flights=[flight(90, 220.0)]), uuid="chair", armchair=True, rungs=passed)
    rode = row(2, best=20.0, flights=[flight(20, 220.0)])
    mixed, alone = season([chair, rode]), season([chair])
    assert [r.uuid for r in mixed.rows] == [rode.uuid] and not any(r.passed for r in mixed.rungs)
    assert tell(mixed.left_out) == "1 armchair outing not counted: simulated, nobody rode."
    assert [r.uuid for r in alone.rows] == ["chair"] and tell(alone.left_out).startswith("Armchair outings only")
    assert tell(season([rode]).left_out) == ""
    ola = attrs.evolve(chair, rider="Ola", uuid="ola")  # who only sat keeps that, whatever others did
    assert {r.uuid for r in counted_rows([chair, rode, ola])} == {rode.uuid, "ola"}
    lines = rider_lines([chair, rode, ola], Words())
    assert " 20 s " in next(x for x in lines if x.startswith("Lea ")) and " 90 s " in lines[1]
    assert "Lea: 1 armchair outing not counted" in lines[-1] + lines[-2]
    assert so_far([chair, rode], "Lea", "Tern 150", table()).best_seconds == 20.0
    assert so_far([chair], "Lea", "Tern 150", table()).best_seconds == 90.0


def test_rows_are_kept_outside_the_files_and_worked_out_once(tmp_path, monkeypatch):
    paths = [save_outing(outing(n), tmp_path / f"{n}.outing") for n in (3, 1, 2)]
    before = {p: p.read_bytes() for p in paths}
    rows, failed = Cache(tmp_path / "cache").rows(paths)
    assert [r.start_utc[8:10] for r in rows] == ["01", "02", "03"] and not failed
    monkeypatch.setattr(
        "cadence_coach.review.season_row.load_outing", lambda path: pytest.fail(f"{path} was opened again")
    )
    again, _ = Cache(tmp_path / "cache").rows(paths)
    assert again == rows
    assert {p: p.read_bytes() for p in paths} == before


def test_outings_of_other_zones_and_of_none_have_their_place_in_the_season(tmp_path):
    """By the clock of the file the first would be the earlier; the second names no zone, which is UTC."""
    starts = ("2026-06-13T23:30:00-10:00", "2026-06-14T01:00:00", "2026-06-16T01:00:00Z")
    for n, start in enumerate(starts):
        save_outing(attrs.evolve(outing(n + 1), start_utc=start), tmp_path / f"{n}.outing")
    rows, failed = Cache(tmp_path / "cache").rows(sorted(tmp_path.glob("*.outing")))
    found = season(rows)
    assert [r.uuid[-1] for r in found.rows] == ["2", "1", "3"] and not failed
    assert found.days == pytest.approx((0.0, 8.5 / 24.0, 2.0))
    w = Words()
    assert span(found, w) == "3 outings, 14 June 2026 to 16 June 2026"
    assert w.when(starts[0]) == "14 June 2026, 09:30 UTC"


def test_a_changed_file_is_worked_out_again(tmp_path):
    from cadence_coach.store.rescue import set_tag

    path = save_outing(outing(1), tmp_path / "1.outing")
    assert Cache(tmp_path / "cache").row(path).best_pumps == 40
    set_tag(path, "helped:1", "wake")
    os.utime(path, ns=(1, 1))  # a file system with coarse times
    assert Cache(tmp_path / "cache").row(path).best_pumps == 12


def test_a_broken_cache_and_another_version_are_no_trouble(tmp_path):
    path = save_outing(outing(1), tmp_path / "1.outing")
    folder = tmp_path / "cache"
    cache = Cache(folder)
    rows, _ = cache.rows([path])
    for file in folder.iterdir():
        file.write_text('{"file": 3')
    assert Cache(folder).rows([path])[0] == rows
    for file in folder.glob("0000*"):
        body = json.loads(file.read_text())
        del body["row"]["pumps"]
        file.write_text(json.dumps(body))
    assert Cache(folder).rows([path])[0] == rows


def test_copies_count_once_and_bad_files_are_listed(tmp_path):
    save_outing(outing(1), tmp_path / "1.outing")
    (tmp_path / "2.outing").write_bytes((tmp_path / "1.outing").read_bytes())
    (tmp_path / "3.outing").write_text("no outing")
    rows, failed = Cache(tmp_path / "cache").rows(sorted(tmp_path.glob("*.outing")))
    assert len(rows) == 1 and [p.name for p, _ in failed] == ["3.outing"]


def test_many_new_files_on_other_cores_give_the_same_rows(tmp_path):
    """Real processes; one file is no outing, one takes its process down; progress ends at the count of all."""
    from cadence_coach.review.restudy import on_cores

    paths = [save_outing(outing(n), tmp_path / f"{n}.outing") for n in range(1, 9)]
    serial, _ = Cache(tmp_path / "serial").rows(paths)
    bad, deadly = tmp_path / "bad.outing", tmp_path / "deadly.outing"
    bad.write_text("no outing")
    deadly.write_text("")
    told: list[int] = []
    run = on_cores(2, lost)
    rows, failed = Cache(tmp_path / "many").rows(
        [*paths, bad, deadly], told.append, many=lambda work, new: run(dies_of_one, new)
    )
    assert rows == serial and told[0] == 0 and told[-1] == 10 and told == sorted(told)
    assert [p for p, _ in failed] == [bad, deadly] and "its worker died" in failed[1][1]
    told.clear()
    again, _ = Cache(tmp_path / "many").rows(paths, told.append, many=lambda work, new: pytest.fail("nothing is new"))
    assert again == rows and told == [8]


def test_the_row_of_an_outing_that_goes_on_grows_with_it(tmp_path):
    path, cache = save_outing(outing(1, profile=PROFILE), tmp_path / "a.outing"), Cache(tmp_path / "cache")
    with closing(sqlite3.connect(path, isolation_level=None)) as db:
        db.execute("PRAGMA journal_mode = WAL")
        tries = cache.row(path).tries
        db.execute("DELETE FROM attempts WHERE flight IS NULL OR flight > 0")
        assert cache.row(path).tries < tries


DAMAGE = {
    "profile": """update meta set value='{"rider": 5}' where key='profile'""",
    "no end": "update flights set end_s=null",
    "endless": "update flights set end_s=9e999",
    "sizes": "update cycles set size_g=1e300",
    "backwards": "update cycles set onset_s=-onset_s",
}
"""What a file may hold by its schema, and no figure can be made of."""


@pytest.mark.filterwarnings("ignore::RuntimeWarning")
@pytest.mark.parametrize("damage", DAMAGE)
def test_what_no_figure_can_be_made_of_is_a_damaged_file_and_no_other_suffers(tmp_path, damage):
    good, bad = tmp_path / "good.outing", tmp_path / "bad.outing"
    save_outing(outing(1, profile=PROFILE), good)
    save_outing(outing(2, profile=PROFILE), bad)
    with closing(sqlite3.connect(bad)) as db, db:
        db.execute(DAMAGE[damage])
    rows, ((path, why),) = Cache(tmp_path / "cache").rows([bad, good])
    assert len(rows) == 1 and path == bad
    assert why.startswith(f"{bad}: is damaged (") and "\n" not in why
    for again in (open_looked, Cache(tmp_path / "cache").row):
        with pytest.raises(Refused, match="is damaged"):
            again(bad)


def dies_of_one(path: str):
    if path.endswith("deadly.outing"):
        os._exit(9)
    return fresh_row(path)


def test_trends_are_theil_sen_over_days_with_their_interval():
    rng = np.random.default_rng(1)
    rows = [row(3 * n, best=20.0 + n + rng.normal()) for n in range(12)]
    found = season(rows).trends["best_s"]
    judge = scipy.stats.theilslopes([r.best_s for r in rows], np.arange(12) * 3 / 30.0)
    assert found == pytest.approx((judge.slope, judge.low_slope, judge.high_slope))
    assert not season(rows[:4]).trends  # four outings are no trend


def test_groups_by_foil_and_water():
    found = season([row(1), row(2, best=50.0), row(3, foil="Gull", water="sea"), row(4, foil="", steadiness=None)])
    assert [(g.name, g.outings, g.best_s) for g in found.foils] == [
        ("Tern 150", 2, 50.0),
        ("Gull", 1, 30.0),
        ("", 1, 30.0),
    ]
    assert {g.name for g in found.waters} == {"fresh", "sea"}
    assert found.foils[2].steadiness is None


def test_points_are_the_flights_that_none_beats_in_both():
    flights = [
        flight(30, 300),
        flight(60, 280),
        flight(45, 250),
        flight(100, 240),
        flight(20, 260),
        flight(200, 235, whole=False),
    ]
    assert [(f.seconds, f.power) for f in best_points(flights)] == [(30, 300), (60, 280), (100, 240)]


def test_endurance_curve_and_what_the_next_duration_needs():
    """Monod & Scherrer 1965, P = CP + W'/t, with CP 220 W and W' 15 kJ: 120 s 345.0 W, 150 s 320.0, 300 s 270.0, 600 s
    245.0 (independently computed)."""
    rider = Endurance(220.0, 15_000.0)
    rows = [row(n, flights=[flight(s, p)]) for n, (s, p) in enumerate(((120, 345.0), (150, 320.0), (300, 270.0)))]
    found = season(rows)
    assert (found.curve.endurance.cp, found.curve.endurance.w) == pytest.approx((220.0, 15_000.0), rel=1e-6)
    assert found.step.seconds == 600.0 and found.step.fitted
    assert found.step.less_drag == pytest.approx(1.0 - rider.power(600.0) / 270.0)  # 245 / 270: 9.3 %
    assert found.step.more_cp_w == pytest.approx(25.0)
    assert "9 % less drag" in tell(step_said(found)) and "±30 %" in tell(step_said(found))


def test_one_power_says_nothing_about_the_curve_and_is_said_so():
    rows = [row(n, flights=[flight(s, 230.0 - n)]) for n, s in enumerate((30, 60, 150))]
    found = season(rows)
    assert found.curve is None and "hardly in power" in tell(found.why_no_fit)
    assert "also your strongest" in tell(season(rows[2:]).why_no_fit)
    # 25 % less power, 150 s to 1800 s: W'/CP = 40.909 / 0.72727 = 56.25 s; from 150 to 180 s
    assert found.step.seconds == 180.0 and not found.step.fitted
    assert found.step.less_drag == pytest.approx(1.0 - (1.0 + 56.25 / 180.0) / (1.0 + 56.25 / 150.0))
    assert found.step.range[0] < found.step.less_drag < found.step.range[1]
    long = season([row(1, flights=[flight(150, 300.0)])])
    quarter = 1.0 - (1.0 + 56.25 / 1800.0) / (1.0 + 56.25 / 150.0)
    assert quarter == pytest.approx(0.25, abs=1e-9) and long.step is not None


@pytest.mark.parametrize(
    ("seconds", "powers", "wide"),
    [
        ((120, 150, 200, 300), (345.0, 325.0, 290.0, 272.0), None),  # half-width 16 % of CP, W' from 9.3 kJ
        ((120, 150, 200, 300), (350.0, 312.0, 299.0, 262.0), "cp"),  # 26 %, W' from 7.7 kJ
        ((300, 600, 900, 1800), (258.0, 257.0, 240.0, 232.0), "w"),  # 15 %, W' from under nothing
    ],
)
def test_flights_that_scatter_too_widely_tell_no_endurance(seconds, powers, wide):
    """Intervals by scipy's straight line of power on 1 / t. As with too few flights the next step is a usual rider's,
    and no curve is drawn."""
    judge = scipy.stats.linregress(1.0 / np.array(seconds), powers)
    student = scipy.stats.t.ppf(0.975, len(seconds) - 2)
    half, least = student * judge.intercept_stderr, judge.slope - student * judge.stderr
    assert bool(half > 0.25 * judge.intercept) is (wide == "cp") and bool(least <= 0.0) is (wide == "w")
    found = season([row(n, flights=[flight(s, p)]) for n, (s, p) in enumerate(zip(seconds, powers, strict=True))])
    assert (found.curve is None) is (wide is not None)
    if wide:
        said = tell(step_said(found))
        assert f"anything from {judge.intercept - half:.0f} to {judge.intercept + half:.0f} W" in said
        assert "Careful" not in said and (found.step is None or not found.step.fitted)
    if wide == "cp":
        assert "for a usual rider" in said and found.step.seconds == 600.0


def test_a_season_of_nothing_one_and_unknown_dates():
    for rows in ([], [row(1)], [attrs.evolve(row(1), start_utc=None), attrs.evolve(row(2), start_utc="?", uuid="b")]):
        found = season(rows)
        page = season_html(found)
        assert "None" not in page and "nan" not in page.lower()
        assert step_said(found)
    assert "No outing yet" in season_html(season([]))


def test_page_has_pictures_and_names_are_text():
    rows = [row(3 * n, best=20.0 + n, foil="<b>Gull</b>", flights=[flight(20 + n, 220.0 + n)]) for n in range(8)]
    page = season_html(season(rows), [("x", "<i>bad</i> file")])
    assert page.count("<svg") == 6
    assert "<b>Gull" not in page and "&lt;b&gt;Gull" in page and "<i>bad" not in page


def test_what_earlier_outings_say_for_the_next():
    flights = [flight(s, 220.0) for s in (9, 10, 11, 12, 40, 50, 60, 70, 80)]
    found = so_far([row(1, flights=flights)], "Lea", "Tern 150", table(target=1.4))
    assert (
        found.cruise_speed == pytest.approx(4.5)
        and found.best_cadence == pytest.approx(1.5)
        and found.best_seconds == 80.0
    )
    assert found.own_ratio == pytest.approx(1.5 / 1.4)
    assert so_far([row(1, flights=flights)], "Lea", "Gull", table()).best_seconds is None
    quick = [attrs.evolve(f, cadence=1.9) for f in flights[:4]]  # the short ones have another beat: not the best
    assert so_far([row(1, flights=quick + flights[4:])], "Lea", "Tern 150", table()).best_cadence == pytest.approx(1.5)


def test_a_training_on_land_counts_in_the_ladder_alone():
    land = attrs.evolve(
        row(9),
        uuid="land",
        rungs=tuple(
            RungResult(r.key, r.land, 0.97 if r.land else None, (), () if r.land else (say("on_water_only"),))
            for r in RUNGS
        ),
    )
    found = season([row(1), row(2), land])
    assert [r.uuid for r in found.rows] == [row(1).uuid, row(2).uuid]
    assert {r.key for r in found.rungs if r.passed} == {"land_beat"}
