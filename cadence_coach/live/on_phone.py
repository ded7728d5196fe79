"""The engine's process on a phone: what the app hands over becomes a running coach, until the outing ends.

The app starts a service; Android runs it in a process of its own and starts it anew when it was killed, then without
an argument. So the plan being ridden lies in the data folder (`riding.json`) from the start of an outing to its clean
end: a process that finds it goes on with the same plan in a new outing, after the one that was cut off has been made
whole. When there is nothing to go on with, the service is told that it is over, or Android would start it for ever.
The rider sees of all this one notification; `say` puts a line into it.
"""

from __future__ import annotations

import contextlib
import json
import os
import time
import traceback
from collections.abc import Callable, Iterable
from contextlib import ExitStack
from pathlib import Path
from typing import Any, Protocol

import attrs

from cadence_coach.core.settings import Settings
from cadence_coach.errors import CouldNot, Refused
from cadence_coach.land.engine import plain_plan, plan_from
from cadence_coach.land.plan import Plan as LandPlan
from cadence_coach.live.begin import LATENCIES, Plan, begin, rescue_all
from cadence_coach.live.reasons import reason
from cadence_coach.live.serve import Server
from cadence_coach.live.shell import Live
from cadence_coach.review.say import span
from cadence_coach.sound.latency import Latencies
from cadence_coach.sound.mixer import DEFAULT_VOLUME_DB
from cadence_coach.store.folders import home, outings_folder
from cadence_coach.store.rescue import died

RIDING = "riding.json"
TROUBLE = "engine-trouble.txt"
"""One line about why the last engine could not start or stopped by an error: for a screen that waits for it."""
LOOK_S = 0.1
STOP_S = 60.0

KEY_NEXT = 87
KEYS_OF_ONE_BUTTON = (79, 85, 126, 127)
"""android.view.KeyEvent: KEYCODE_HEADSETHOOK, MEDIA_PLAY_PAUSE, MEDIA_PLAY, MEDIA_PAUSE; above MEDIA_NEXT, which many
headsets send for a double press."""
DOUBLE_S = 0.6

TEXTS = {
    "en": {
        "listening": "Listening for pumps",
        "rescued": "The last outing was cut off and is whole again. Listening for pumps",
        "cut_off": "The last outing was cut off; it is kept, and made whole after this one. Listening for pumps",
        "flights": "Flights: {flights}, longest {best}",
        "muted": "Muted",
        "ended": "Outing kept",
        "failed": "Stopped: {why}",
    },
    "de": {
        "listening": "Hört auf Pumpstöße",
        "rescued": "Die letzte Ausfahrt brach ab und ist wieder ganz. Hört auf Pumpstöße",
        "cut_off": "Die letzte Ausfahrt brach ab; sie bleibt und wird nach dieser ganz. Hört auf Pumpstöße",
        "flights": "Flüge: {flights}, längster {best}",
        "muted": "Stumm",
        "ended": "Ausfahrt gesichert",
        "failed": "Angehalten: {why}",
    },
}


class Notification(Protocol):
    """The service's side: CoachService on a phone."""

    def say(self, text: str) -> None: ...
    def endAsked(self) -> bool: ...
    def nextPlan(self) -> str:
        """The plan that the app has handed over since the process began, or since last asked; "" when none."""

    def over(self, text: str) -> bool:
        """Ends the service, and leaves this as the notification's last line ("" takes it away). False, and nothing is
        ended, when the app has asked for another outing: that one is in `nextPlan`, or about to be."""


class Buttons:
    """Presses of a headset's one button into commands: once repeats the last word, twice mutes or unmutes."""

    def __init__(self) -> None:
        self._waiting: float | None = None

    def heard(self, presses: Iterable[tuple[float, int]], now: float) -> list[str]:
        """presses: (monotonic time [s], key code) since the last call. Returns "repeat" and "mute" in order."""
        out = []
        for at, key in presses:
            if key == KEY_NEXT:
                self._waiting = None
                out.append("mute")
            elif key in KEYS_OF_ONE_BUTTON:
                if self._waiting is not None and at - self._waiting <= DOUBLE_S:
                    self._waiting = None
                    out.append("mute")
                else:
                    if self._waiting is not None:
                        out.append("repeat")
                    self._waiting = at
        if self._waiting is not None and now - self._waiting > DOUBLE_S:
            self._waiting = None
            out.append("repeat")
        return out


def plan_text(
    settings: Settings,
    profile: Path | None = None,
    lang: str = "en",
    tags: dict[str, str] | None = None,
    count_in: int = 0,
    land: LandPlan | None = None,
    volume_db: float = DEFAULT_VOLUME_DB,
) -> str:
    """What the app hands over to the service. count_in: seconds counted before it starts; land: a training instead."""
    return json.dumps(
        {
            "settings": settings.plain(),
            "profile": profile and str(profile),
            "lang": lang,
            "tags": tags or {},
            "count_in": count_in,
            "land": land and plain_plan(land),
            "volume_db": volume_db,
        }
    )


def plan_of(text: str) -> Plan:
    """The inverse. Raises Refused."""
    try:
        told = json.loads(text)
        profile = told.get("profile")
        return Plan(
            source=str(told.get("source", "phone:")),
            settings=Settings.from_plain(told["settings"]),
            profile=Path(profile) if profile else None,
            sound=str(told.get("sound", "phone")),
            lang=str(told.get("lang", "en")),
            count_in=int(told.get("count_in", 0)),
            tags={str(k): str(v) for k, v in told.get("tags", {}).items()},
            land=plan_from(told["land"]) if told.get("land") else None,
            volume_db=float(told.get("volume_db", DEFAULT_VOLUME_DB)),
        )
    except (ValueError, TypeError, KeyError, AttributeError) as error:
        raise Refused(f"the plan from the app cannot be read ({error}); start the outing from the app") from None


def run(argument: str, service: Notification) -> str:
    """Outings, each from its plan to its end, until the app wants no other; returns how the last one ended. `argument`
    is empty when Android started the process anew. Raises what cut off a ride that is to go on: the service is left
    for Android to start it anew."""
    how, word = _outing(argument, service)
    while not service.over(word):
        if plan := service.nextPlan():
            how, word = _outing(plan, service)
        else:
            time.sleep(LOOK_S)
    return how


def _outing(argument: str, service: Notification) -> tuple[str, str]:
    """One outing: how it ended, and the notification's last line."""
    riding, trouble = home() / RIDING, home() / TROUBLE
    lang = "en"
    again = goes_on = not argument
    trouble.unlink(missing_ok=True)
    try:
        try:
            text = riding.read_text("utf-8") if again else argument
        except FileNotFoundError:
            return "nothing to ride", ""  # started anew by Android after a clean end
        plan = plan_of(text)
        if again:  # who rides already is not counted in, and a pause that is kept up would end with it
            plan = attrs.evolve(plan, count_in=0)
        lang = plan.lang if plan.lang in TEXTS else "en"
        rescued = rescue_all()
        cut_off = again and any(died(path) for path in outings_folder().glob("*.outing"))  # too long for now
        with ExitStack() as stack:
            live = begin(plan, stack)
            ride = _ride_of(text) if again else {}
            start = ride.pop("start", since_boot() + (plan.count_in or 0))
            keep = _Kept(riding, text, start)
            keep(ride)
            server = Server(live, home())
            stack.callback(server.close)
            if hasattr(live.sink, "latency_of"):
                live.sink.latency_of = Latencies(home() / LATENCIES).of
            service.say(TEXTS[lang]["rescued" if rescued else "cut_off" if cut_off else "listening"])
            goes_on = True
            live.start()
            if again and plan.land is None:
                _go_on(live, ride, since_boot() - start)
            _attend(live, service, lang, keep)
            live.join()
            riding.unlink(missing_ok=True)  # before the tidying up, in which the process may be killed
            service.nextPlan()  # asked for while this one went on: the app showed this one then, and so it was
        service.say(TEXTS[lang]["ended"])
        return str(live.snapshot.ended_by), TEXTS[lang]["ended"]
    except Exception as error:  # the rider must see that nobody listens any more
        told = isinstance(error, Refused | CouldNot)
        why = str(error) if told else f"{type(error).__name__}: {error}"
        word = TEXTS[lang]["failed"].format(why=reason(why, lang))
        service.say(word)
        with contextlib.suppress(OSError):  # where a full disk is what is wrong, it holds no line about it
            trouble.write_text(why, "utf-8")
        if isinstance(error, Refused) or (told and not again):
            goes_on = False  # it would be refused again; what did not start must not start later, unasked
        if goes_on:
            raise
        if not told:
            traceback.print_exc()
        riding.unlink(missing_ok=True)
        return why, word


class _Kept:
    """The plan's file, with what of the ride so far must outlive this process."""

    def __init__(self, path: Path, plan: str, start: float) -> None:
        self._path, self._plan, self._start = path, json.loads(plan), start
        self._ride: dict[str, Any] | None = None

    def __call__(self, ride: dict[str, Any]) -> None:
        if ride == self._ride:
            return
        told = {**self._plan, "ride": {"start_boot_s": self._start, **ride}}
        new = self._path.with_suffix(".new")
        new.write_text(json.dumps(told), "utf-8")
        os.replace(new, self._path)
        self._ride = ride  # only now: what found no room is written at the next look


def _ride_of(text: str) -> dict[str, Any]:
    """`start` and values of the command "go_on", from the file of a ride that was cut off; nothing where there
    are none."""
    try:
        ride = dict(json.loads(text)["ride"])
        ride["start"] = float(ride.pop("start_boot_s"))
        return ride
    except (KeyError, ValueError, TypeError):
        return {}


def _go_on(live: Live, ride: dict[str, Any], ridden_s: float) -> None:
    """Tells an engine that is made anew of the ride so far; muted and paused it is as the one before was."""
    told = {**ride, "ridden_s": ridden_s}
    muted, paused = told.pop("muted", None), told.pop("paused", False)
    wishes: list[tuple[str, dict[str, Any]]] = [("go_on", told)]
    if muted not in (None, live.snapshot.muted):
        wishes.append(("mute", {"on": muted}))
    if paused:
        wishes.append(("pause", {}))
    for name, given in wishes:
        with contextlib.suppress(Refused):  # whatever the file says of the ride so far, it goes on
            _ask(live, name, **given)


def since_boot() -> float:
    """Time since the phone was switched on, its sleep too [s]: the one clock of two processes that nobody sets."""
    clock = getattr(time, "CLOCK_BOOTTIME", None)
    return time.monotonic() if clock is None else time.clock_gettime(clock)  # not every desktop has it


def _attend(live: Live, service: Notification, lang: str, keep: Callable[[dict[str, Any]], None]) -> None:
    """What only a phone has, ten times a second: the headset's button, its coming and going, "End", the
    notification, what is kept of the ride; and a training ends when its last set is done."""
    buttons = Buttons()
    presses: Callable[[], list[tuple[float, int]]] = getattr(live.source, "presses", list)
    moved: Callable[[], int] = getattr(live.sink, "route_changes", int)
    seen, told, ending = 0, None, False
    while not live.join(LOOK_S):
        for name in buttons.heard(presses(), time.monotonic()):
            _ask(live, name, **({"on": not live.snapshot.muted} if name == "mute" else {}))
        if (now := moved()) != seen:
            seen = now
            _ask(live, "route_changed")
        if (service.endAsked() or (live.snapshot.land or {}).get("over")) and not ending:
            ending = True
            _ask(live, "stop")
        shown = live.snapshot
        ride = getattr(live.engine, "ride", {})  # a training has none
        with contextlib.suppress(OSError):  # a full disk ends no outing
            keep({**ride, "muted": shown.muted, "paused": shown.phase == "paused"})
        if shown.land is not None:
            continue  # whoever trains looks at the screen
        say = (
            TEXTS[lang]["muted"]
            if shown.muted
            else TEXTS[lang]["flights"].format(flights=shown.flights, best=span(shown.best_s))
        )
        if say != told and (shown.flights or shown.muted or told):
            told = say
            service.say(say)


def _ask(live: Live, name: str, **given: Any) -> None:
    with contextlib.suppress(CouldNot):  # the outing has just ended by itself
        live.command(name, timeout=STOP_S, **given)
