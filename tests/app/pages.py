"""How a test gets to each page, with something on it: name -> what is done with the driver. A new screen is a line
here; it is then checked at every size, in every theme and language. What stands before a colon is the screen's name."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from tests.app.driver import Driver
from tests.app.kept import outings

BAND = {"lo": 1.2, "target": 1.4, "hi": 1.93, "reason": None, "size_needed": 0.65, "speed": 4.55, "cruise": True}
GOING: dict[str, Any] = {
    "phase": "going",
    "sensor": "ok",
    "sensor_hz": 100.0,
    "sink": "device",
    "band": BAND,
    "file": "/a.outing",
}
FLIGHT = {
    **GOING,
    "motion": "flight",
    "flight_s": 83.4,
    "flight_pumps": 131,
    "flights": 11,
    "cadence_hz": 1.5,
    "time_s": 600.0,
}
TOLD = {
    "flight": 3,
    "figures": [
        ["seconds", 83.4], ["best_today", 1.0], ["pumps", 131.0], ["cadence_early_per_min", 98.2],
        ["cadence_late_per_min", 91.0], ["size_percent", 61.0], ["size_needed_percent", 66.0],
        ["speed_early_m_s", 4.71], ["speed_late_m_s", 4.41],
    ],
    "spoken": [],
    "sentence": "rest_then_hold",
}  # fmt: skip
SHORT = {
    "flight": 4,
    "figures": [
        ["seconds", 4.1], ["best_today", 0.0], ["pumps", 6.0], ["starts_held", 4.0], ["starts_of", 5.0],
        ["cadence_per_min", 104.6], ["size_percent", 45.4], ["size_needed_percent", 72.5], ["landing_to_push_s", 0.45],
    ],
    "spoken": [],
    "sentence": "push_at_once",
}  # fmt: skip


def home(app: Driver) -> None:
    app.first_page()


def at(name: str) -> Callable[[Driver], None]:
    def there(app: Driver) -> None:
        app.first_page()
        app.go(name)

    return there


def gear_in_full(app: Driver) -> None:
    at("gear")(app)
    app.tap("gear.more")
    app.write("gear.rider.mass_kg", "7")


def water(kind: str = "here", **snapshot: Any) -> Callable[[Driver], None]:
    def there(app: Driver) -> None:
        app.first_page()
        app.go("water")
        app.line(kind, **snapshot)

    return there


def unlocked(app: Driver) -> None:
    water(**{**GOING, "muted": True})(app)
    app.unlock()


def look_back(page: str, **given: Any) -> Callable[[Driver], None]:
    """A page about outings that are kept, once they are read."""

    def there(app: Driver) -> None:
        files = outings(app.home)
        app.first_page()
        app.go(page, **{name: str(files[value]) if name == "path" else value for name, value in given.items()})
        app.until(lambda: not any("…" in text for text in app.texts()))

    return there


def note_written(app: Driver) -> None:
    look_back("outing", path="water")(app)
    app.tap("note")
    app.tap("keep_note")
    app.until(lambda: any("4000" in text for text in app.texts()))


SCORE = {
    "tempo_per_min": 96.0, "clicks": 56, "moves": 52, "matched": 51, "extra": 1, "lock_r": 0.91, "lead_s": 0.031,
    "v_p": 1e-9, "rayleigh_p": 1e-9, "cadence_per_min": 96.4, "steadiness": 0.071, "push_share": 0.44,
    "offsets_s": [-0.03, -0.08, 0.02, -0.04, -0.01, -0.05, -0.12, 0.03, -0.04, -0.02],
}  # fmt: skip
TRAINS: dict[str, Any] = {
    "sets": 3, "set": 2, "tempo_per_min": 96.0, "first_s": 100.0, "ends_s": 140.0, "next_s": None, "moves": 10,
    "offsets_s": SCORE["offsets_s"], "scores": [SCORE], "over": False,
}  # fmt: skip


def training(kind: str = "here", time_s: float = 110.0, sink_reason: str | None = None, **land: Any) -> Any:
    def there(app: Driver) -> None:
        app.first_page()
        app.go("land")
        app.line(kind, **{**GOING, "start": "land", "time_s": time_s, "sink_reason": sink_reason}, land=TRAINS | land)

    return there


def own_tempo(app: Driver) -> None:
    app.line("none")
    at("land")(app)
    app.tap("mode.own")
    app.write("tempo", "9")


def tested(app: Driver) -> None:
    """With a test that found something, a measured speaker and a saver that is on."""
    app.line("none")
    lines = [["Samples a second: 199 Hz", True], ["Battery saver for the coach: on. Set it to unrestricted", False]]
    kept = {"checked": {"day": "2026-06-01", "passed": False, "lines": lines}}
    app.change(kept=kept | {"speaker": {"output": "silent", "lag_s": -0.03}})
    at("phone")(app)


def riding(page: str) -> Callable[[Driver], None]:
    """A page from which something else would be started while an outing goes on."""

    def there(app: Driver) -> None:
        at(page)(app)
        app.line("here", **GOING)

    return there


def denied(page: str) -> Callable[[Driver], None]:
    """On a phone that was allowed nothing."""

    def show(app: Driver) -> None:
        app.line("none")
        app.deny(names=["ACCESS_FINE_LOCATION", "POST_NOTIFICATIONS"], gives=False)
        at(page)(app)

    return show


PAGES: dict[str, Callable[[Driver], None]] = {
    "home": home,
    "gear": at("gear"),
    "gear:in full": gear_in_full,
    "before": at("before"),
    "before:riding": riding("before"),
    "water:coming": water("coming"),
    "water:armed": water(**{**GOING, "phase": "armed"}),
    "water:shore": water(**GOING),
    "water:deaf": water(**{**GOING, "sensor": "silent"}),
    "water:in the band": water(**FLIGHT),
    "water:under": water(**{**FLIGHT, "cadence_hz": 1.05, "last_cue": {"kind": "quicker", "reason": "", "t_s": 598.0}}),
    "water:over": water(
        **{**FLIGHT, "cadence_hz": 2.4, "last_cue": {"kind": "slower_bigger", "reason": "", "t_s": 598.0}}
    ),
    "water:no band": water(
        **{**FLIGHT, "cadence_hz": None, "band": {**BAND, "lo": None, "hi": None, "reason": "stall"}}
    ),
    "water:rest": water(**GOING, last_flight_s=83.4, flight_pumps=131, summary=TOLD, muted=True, store="full"),
    "water:short": water(**GOING, last_flight_s=4.1, flight_pumps=6, summary=SHORT),
    "water:paused": water(**{**GOING, "phase": "paused"}),
    "water:unlocked": unlocked,
    "water:ended": water("ended", **{**GOING, "phase": "ended"}, last_flight_s=83.4, flight_pumps=131, summary=TOLD),
    "water:ended itself": water(
        "ended", **{**GOING, "phase": "ended"}, summary=TOLD, ended_by="battery", battery_percent=8.0, store="full"
    ),
    "water:gone": water("gone", **GOING),
    "water:failed": water("failed", why="another coach (process 4711) is running in this folder; stop it"),
    "outings": look_back("outings"),
    "outing": look_back("outing", path="water"),
    "outing:short": look_back("outing", path="short"),
    "outing:land": look_back("outing", path="land"),
    "outing:damaged": look_back("outing", path="damaged"),
    "outing:a note": note_written,
    "flight": look_back("flight", path="water", number=2),
    "flight:short": look_back("flight", path="water", number=0),
    "land": own_tempo,
    "land:riding": riding("land"),
    "land:coming": training("coming"),
    "land:ready": training(time_s=2.0, set=0, first_s=None, next_s=6.0, scores=[], sink_reason="no device was found"),
    "land:count in": training(time_s=99.0),
    "land:going": training(),
    "land:rest": training(set=1, first_s=None, next_s=140.0),
    "land:over": training("ended", over=True, first_s=None, scores=[SCORE, SCORE, None]),
    "land:gone": training("gone"),
    "land:failed": training("failed"),
    "ladder": look_back("ladder"),
    "season": look_back("season"),
    "phone": tested,
    "phone:riding": riding("phone"),
    "before:denied": denied("before"),
    "phone:denied": denied("phone"),
}
