"""Outings that lie in the data folder of a test: invented riders, made by hand or trained, and a damaged file."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import attrs

from cadence_coach.core import events as ev
from cadence_coach.land.engine import plain_plan
from cadence_coach.land.plan import Plan as LandPlan
from cadence_coach.review.again import from_rows
from cadence_coach.store.outing_file import save_outing
from tests.land.test_training import SETTINGS, engine, trained
from tests.review.build import Fly, Plan, make, steady

PROFILE = {
    "rider": {"name": "Mika Sand (invented)", "mass_kg": 78.0},
    "foil": {"name": "Heron 165 (invented)", "wing_area_m2": 0.165, "span_m": 1.15},
    "water": {"kind": "fresh", "temperature_c": 18.0},
}
TRAINING = LandPlan((90.0, 96.0), 2, set_s=14.0, rest_s=3.0)
SUMMARY = ev.Summary(
    130.0,
    130.0,
    2,
    (("seconds", 31.4), ("best_today", 1.0), ("pumps", 48.0), ("cadence_early_per_min", 98.2),
     ("cadence_late_per_min", 84.0), ("size_percent", 49.0), ("size_needed_percent", 66.0),
     ("speed_early_m_s", 4.71), ("speed_late_m_s", 4.41)),
    (),
    "rest_then_hold",
)  # fmt: skip


def outings(home: Path) -> dict[str, Path]:
    """water (fading flights, a short one, tries, notes, a hole), short (one try), land (two sets), damaged; each by
    what it is. Made when missing."""
    folder = home / "outings"
    files = {name: folder / f"2026-06-0{n}T09-00-00Z-{name}.outing" for n, name in enumerate(NAMES, start=1)}
    if not files["water"].exists():
        folder.mkdir(parents=True, exist_ok=True)
        save_outing(water(), files["water"])
        short = make(Plan([Fly(20.0, [0.6])], profile=PROFILE, start_utc="2026-06-06T08:00:00Z"))
        save_outing(attrs.evolve(short, uuid="short-one"), files["short"])
        save_outing(land(), files["land"])
        files["damaged"].write_bytes(b"SQLite format 3\0" + b"x" * 5000)
    return files


NAMES = ("water", "short", "land", "damaged")


def water():
    tries = [
        Fly(20.0, steady(104.0, 5, seed=1), started_by="run_up", speed=4.6, ended_by="touch_down"),
        Fly(60.0, steady(100.0, 1, seed=2)),
        Fly(80.0, steady(98.0, 34, seed=3, drift=-0.12), height=0.55, speed=4.7, speed_end=4.3),
        Fly(130.0, steady(98.0, 48, seed=4, drift=-0.14), height=0.55, speed=4.7, speed_end=4.4, coast=1.0),
        Fly(220.0, steady(96.0, 12, seed=5), coast=8.0, ended_by="coast_out", speed=4.5),
    ]
    notes = [("Ines (invented)", None, "Calm day, long swell."), ("Lea (invented)", 140.0, "Hips late here.")]
    outing = make(Plan(tries, gaps=[(100.0, 100.6)], notes=notes, profile=PROFILE, cues=[(150.0, "bigger")]))
    return attrs.evolve(outing, uuid="water-one", summaries=[SUMMARY])


@lru_cache
def land():
    _, rows = trained(TRAINING)
    fresh = engine(TRAINING)
    fresh.command("start")
    outing = from_rows([rows], fresh, PROFILE, {"start_utc": "2026-06-03T09:00:00Z"})
    meta = {**outing.meta, "land": plain_plan(TRAINING)}
    return attrs.evolve(outing, uuid="land-one", settings=SETTINGS.plain(), meta=meta)
