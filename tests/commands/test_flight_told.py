"""The lines that `live` ends with, from figures as the core hands them over."""

from __future__ import annotations

from dataclasses import replace

from cadence_coach.commands.flight_told import end_lines
from cadence_coach.live import Snapshot

FLOWN = [
    ("seconds", 23.4), ("best_today", 1.0), ("pumps", 36.0), ("cadence_early_per_min", 101.2),
    ("cadence_late_per_min", 95.9), ("size_percent", 61.0), ("size_needed_percent", 67.6), ("speed_early_m_s", 4.17),
    ("speed_late_m_s", 4.27),
]  # fmt: skip


def test_the_last_flight_in_words_and_units() -> None:
    shown = replace(
        Snapshot(), time_s=135.0, flights=1, attempts=3, best_s=23.4, summary={"figures": FLOWN}, file="x.outing"
    )
    assert end_lines(shown) == [
        "2:15 min on the water: 1 flight in 3 tries, longest 23 s.",
        "Last flight: 23 s on your own (best today), 36 pumps, cadence 101 to 96 a minute, size 61 % of body weight "
        "(68 % needed), speed 4.2 to 4.3 m/s.",
        "Kept: x.outing",
    ]


def test_a_short_flight_and_what_is_not_known() -> None:
    figures = [("seconds", 3.3), ("best_today", 0.0), ("pumps", 1.0), ("starts_held", 1.0), ("starts_of", 2.0)]
    figures += [("cadence_per_min", 106.0), ("size_percent", 42.0), ("size_needed_percent", None)]
    shown = replace(Snapshot(), summary={"figures": figures}, sink_reason="no sound device: none")
    assert end_lines(shown) == [
        "0:00 min on the water: 0 flights in 0 tries.",
        "Last flight: 3 s on your own, 1 pump, 1 of the last 2 starts held, cadence 106 a minute, size 42 % of body "
        "weight.",
        "No sound: no sound device: none",
    ]


def test_nothing_of_a_rope_drill_is_ones_own() -> None:
    shown = replace(Snapshot(), start="rope_drill", summary={"figures": FLOWN})
    assert "23 s on the rope (best today)" in end_lines(shown)[1] and "own" not in end_lines(shown)[1]
