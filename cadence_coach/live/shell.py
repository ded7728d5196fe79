"""The coach as it runs: a source feeds the engine, the engine's events go to sound, file and screen.

    source -> feeder thread -> inbox -> engine thread -> score (frames), writer (its own thread), snapshot (assigned)
                    commands, faults ->

A source that is faster than real time is paced by the feeder, or drives the engine's thread directly (fast). One that
has `poll` is asked by the engine's thread itself: on a phone, waking one more thread costs as much as what it brings.
It is the same engine with the same rows each way, so events and file are the same. Time comes with the rows: the engine
hears of the clock on the wall only when rows stay away, and each time that mattered is kept in the file like a command.
"""

from __future__ import annotations

import contextlib
import queue
import threading
import time
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future
from dataclasses import replace
from typing import Any

from cadence_coach.core import events as ev
from cadence_coach.core.settings import Settings
from cadence_coach.core.targets import BandTable
from cadence_coach.errors import Refused
from cadence_coach.live import machine
from cadence_coach.live.asked import answered, checked
from cadence_coach.live.feed import VirtualClock, ask_at, on_grid, paced, pieces
from cadence_coach.live.snapshot import Snapshot, Tracker
from cadence_coach.sound import cues
from cadence_coach.sound.clocks import Clocks, EarliestArrivals
from cadence_coach.sound.mixer import DEFAULT_VOLUME_DB, Mixer
from cadence_coach.sound.score import Score
from cadence_coach.sound.sinks import Sink
from cadence_coach.sources import Source
from cadence_coach.store.chunks import to_grid
from cadence_coach.store.outing import Command
from cadence_coach.store.rescue import Engine, tell
from cadence_coach.store.writer import OutingWriter

WAKE_S = 0.1
QUIET_S = 0.5
"""No row for so long: the engine hears of the passing time, ..."""
BEHIND_S = 0.3
"""... this much behind the sensor's clock, for rows that are still on their way."""
CHECK_S = 1.0
SHOW_S = 0.1
"""A new snapshot at most so often: as often as a screen looks. Each costs as much as some ten samples."""
LATE_S = 60.0
"""The longest delay that is shown is of the last minute or two."""
LAST_WORDS_S = 4.0
"""Time for what the coach says last."""


class Live:
    """One outing. `snapshot` is the latest frozen value; `command` may be called from any thread; `run` is its loop.

    The sink must not be started yet. writer None: nothing is kept. fast: as fast as the source can be read, by a clock
    that goes with the rows and that the sink must have been given too. count_in: seconds; None: armed by command.
    """

    def __init__(
        self,
        source: Source,
        engine: Engine,
        band: BandTable,
        settings: Settings,
        sink: Sink,
        *,
        writer: OutingWriter | None = None,
        fast: VirtualClock | None = None,
        lang: str = "en",
        latency_s: float = 0.0,
        battery: Callable[[], float | None] | None = None,
        first: Snapshot | None = None,
        count_in: int | None = None,
        volume_db: float = DEFAULT_VOLUME_DB,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self.source, self.engine, self.sink = source, engine, sink
        self.writer = writer
        self.fast = fast
        self.delays: deque[float] = deque(maxlen=5000)
        """Time [s] from a row's arrival to its events being scheduled and handed to the store, latest last."""
        self.ended_by: str | None = None
        self._clock = clock
        self._mixer = Mixer(sink.rate, volume_db)
        self._arrivals = EarliestArrivals()
        self._clocks = Clocks(self._arrivals.fit, latency_s)
        self._monotonic: Callable[[float], float] | None = getattr(source, "monotonic", None)
        self.score = Score(self._mixer, self._frame_of, sink.soonest, lang)
        self.score.muted = settings.muted
        chosen = {"start": settings.start, "muted": settings.muted, "focus": settings.focus, "lead": settings.lead}
        self._tracker = Tracker(replace(first or Snapshot(), source=source.name, **chosen), band)
        self.snapshot: Snapshot = self._tracker.snapshot(0.0, sink=sink.name)
        self._inbox: queue.SimpleQueue[tuple[str, Any, Any]] = queue.SimpleQueue()
        self._progress = source.progress()
        self._paced = self._progress is not None
        self._received, self._row_at = 0, clock()
        self._checked_at = self._shown_at = self._late_at = float("-inf")
        self._late = (0.0, 0.0)  # longest delay of the minute before this one, and of this
        self._stop_at: float | None = None
        self._count_in = count_in
        self._start_at, self._asked_at = float("inf"), float("-inf")
        self._around = machine.Around()
        self._closing, self.finished, self._done = threading.Event(), threading.Event(), threading.Event()
        self._watch = machine.Watch(battery, settings.water_temperature_c, self.fault) if battery is not None else None
        self._thread: threading.Thread | None = None
        self._feeder: threading.Thread | None = None
        self._poll: Callable[[], Sequence[ev.Row] | None] | None = getattr(source, "poll", None)
        self._error: BaseException | None = None

    # ---- from any thread ----

    def command(self, name: str, timeout: float = 5.0, **given: Any) -> None:
        """Tells the engine, and returns once it has taken it. Raises Refused for what does not exist, CouldNot when
        over."""
        values, done = checked(name, given), Future[None]()
        if not self.finished.is_set():
            self._inbox.put(("command", (name, values), done))
        answered(name, done, self.finished.is_set, timeout)

    def fault(self, kind: str) -> None:
        """Something is wrong with the machine (core.events.FAULTS); the engine says whether the rider must hear it."""
        self._inbox.put(("fault", kind, None))

    def start(self) -> None:
        """Runs the loop in a thread of its own; `join` waits for its end."""
        self._thread = threading.Thread(target=self._run_quietly, name="engine", daemon=True)
        self._thread.start()

    def join(self, timeout: float | None = None) -> bool:
        """True when the outing is over. Raises what ended the engine, if that was an error."""
        # not Thread.join: a ctrl-C in it would make Python take the running thread for ended (bpo-45274)
        over = self._done.wait(timeout)
        if self._error is not None:
            raise self._error
        return over

    def _run_quietly(self) -> None:
        try:
            self.run()
        except BaseException as e:  # handed over by join(), in the thread that can tell somebody
            self._error = e
        finally:
            self._done.set()

    # ---- the engine's thread ----

    def run(self) -> None:
        """Until the source ends, or "stop"."""
        ended = "error"
        try:
            self.sink.start(self._mixer)
            if self._watch is not None:
                self._watch.start()
            self._begin()
            ended = self._fast_loop() if self.fast is not None else self._live_loop()
            self.engine.end()
            self._said([], self.engine.events())
            if self.fast is None and self.sink.name != "silent":
                self._last_words()
        finally:
            self._close(ended)

    def _begin(self) -> None:
        """Armed, counted in, started."""
        if self._count_in is None:
            return
        self._tell("arm", {"start": self._tracker.start})
        first = max(self.sink.soonest(), self.score.until)
        for second in range(self._count_in):
            self.score.place(cues.pcm("count_in", self.sink.rate), first + second * self.sink.rate, "count_in")
        self._start_at = self._clock() + self._count_in
        self._start_when_due()

    def _start_when_due(self) -> None:
        if self._clock() >= self._start_at:
            self._start_at = float("inf")
            self._tell("start", {})

    def _fast_loop(self) -> str:
        for rows in self._source_lists():
            for piece in pieces(rows):
                self._take(piece, self._clock())
                if self.writer is not None:
                    self.writer.wait()
                while not self._inbox.empty():
                    self._deal(self._inbox.get())
                if self._stop_at is not None:
                    return self.ended_by or "stopped"
        return "end_of_data"

    def _live_loop(self) -> str:
        began = self._row_at = self._clock()
        if self._paced:  # the feeder's own pace joins the clocks: nothing to be fitted
            self._monotonic = lambda t: began + t
        if self._poll is None:
            self._feeder = threading.Thread(target=self._feed, args=(began,), name="feeder", daemon=True)
            self._feeder.start()
        while True:
            item = self._next()
            if item is not None and item[0] == "end":
                if item[1] is not None:
                    raise item[1]
                return self.ended_by or "end_of_data"
            if item is not None:
                self._deal(item)
            else:  # an inbox that is behind is no silence
                self._pass_time()
                self._look_around(self._clock())
            self._start_when_due()
            if self._stop_at is not None and self._clock() >= self._stop_at:
                return self.ended_by or "stopped"

    def _next(self) -> tuple[str, Any, Any] | None:
        """What is to be dealt with next, None after a while without anything."""
        with contextlib.suppress(queue.Empty):
            return self._inbox.get(timeout=self._patience())
        if self._poll is None:
            return None
        rows, self._asked_at = self._poll(), self._clock()
        return ("end", None, None) if rows is None else ("rows", rows, self._asked_at) if rows else None

    def _patience(self) -> float:
        """How long to wait for what others put into the inbox [s]."""
        if self._poll is None:
            return WAKE_S
        at = due = self.engine.deadline
        if due < float("inf"):
            at = self._monotonic(due) if self._monotonic is not None and self._received else float("inf")
        return max(0.0, ask_at(self._asked_at, at) - self._clock())

    def _feed(self, began: float) -> None:
        """The device's side."""
        error: BaseException | None = None
        try:
            for rows in paced(self._source_lists(), began if self._paced else None, self._clock, self._closing):
                self._inbox.put(("rows", rows, self._clock()))
        except BaseException as e:  # the engine's thread ends the outing and says why
            error = e
        finally:
            self.source.close()
        self._inbox.put(("end", error, None))

    def _source_lists(self) -> Iterator[Sequence[ev.Row]]:
        """The source is asked by the thread that reads it, and by no other."""
        for rows in self.source:
            self._progress = self.source.progress()
            yield rows

    def _deal(self, item: tuple[str, Any, Any]) -> None:
        kind, what, more = item
        if kind == "rows":
            self._take(what, more)
        elif kind == "fault":
            self._tell("fault", {"kind": what})
            if what == "battery_stop":
                self.ended_by = "battery"
                self._stop_at = self._clock() + LAST_WORDS_S
        else:
            name, given = what
            try:
                self._tell(name, given)
            except (ValueError, TypeError) as e:
                more.set_exception(Refused(f"{name}: {e}"))
                return
            if name == "stop":
                self.ended_by = "stopped"
                self._stop_at = self._clock()
            more.set_result(None)

    def _take(self, rows: Sequence[ev.Row], arrived: float) -> None:
        if not rows:
            return
        rows = on_grid(rows)
        self._row_at = arrived
        self._received += len(rows)
        self.engine.receive(rows)
        self._tracker.rows(rows, at := self.engine.time)
        if self._monotonic is None and self.fast is None and at is not None:
            self._arrivals.add(at, arrived)
        self._said(rows, self.engine.events())
        if self.fast is not None:
            self.fast.t = self._tracker.time  # only now: what was decided so far is on the track
        wall = self._clock()
        self.delays.append(wall - arrived)
        self._late = (self._late[0], max(self._late[1], wall - arrived))
        self._look_around(wall)

    def _pass_time(self) -> None:
        """Rows stay away: deadlines must happen all the same. What fired is kept, for a replay to do the same."""
        if self._clock() - self._row_at < QUIET_S or not self._received:
            return
        now = to_grid(self._sensor_now() - BEHIND_S)
        if self.engine.deadline <= now:
            self._tell("advance", {"now": now})

    def _tell(self, name: str, given: dict[str, Any]) -> None:
        tell(self.engine, name, given)
        command = Command(self._received, self._tracker.time, name, given)
        self._tracker.tell(command)
        self.score.tell(name, given)
        self._said([], self.engine.events(), [command])
        self._show()

    def _said(self, rows: Sequence[ev.Row], events: Sequence[ev.Event], commands: Sequence[Command] = ()) -> None:
        for event in events:
            self.score.receive(event)
        if self.writer is not None:
            self.writer.put(rows, events, commands)
        self._tracker.events(events)

    # ---- clocks ----

    def _frame_of(self, t: float) -> int:
        if self.fast is not None:
            return round(t * self.sink.rate)
        if self.engine.time is None:
            return self.sink.frame_now()  # nothing joins the two clocks yet: what is said now is said now
        if self._monotonic is not None:
            return self.sink.frame_at(self._monotonic(t) - self._clocks.output_latency_s)
        return self._clocks.frame(t, self.sink.frame_at)

    def _sensor_now(self) -> float:
        if self.fast is not None:
            return self._tracker.time
        if self._arrivals.fit.readings == 0:
            return self._tracker.time + self._clock() - self._row_at
        return self._arrivals.fit.back(self._clock())

    # ---- what the screen sees, and what goes wrong around ----

    def _look_around(self, wall: float) -> None:
        now = self._tracker.time if self.fast is not None else wall
        if now - self._checked_at >= CHECK_S:
            self._checked_at = now
            self._check()
            if wall - self._late_at >= LATE_S:
                self._late, self._late_at = (self._late[1], 0.0), wall
        if wall - self._shown_at >= SHOW_S:
            self._shown_at = wall
            self._show()

    def _check(self) -> None:
        # what is read from a file begins when it begins
        waited = 0.0 if self._received or self._paced else self._clock() - self._row_at
        for kind in self._around.faults(self.writer, self.sink if self.fast is None else None, waited):
            self._tell("fault", {"kind": kind})

    def _show(self, **changes: Any) -> None:
        writer = self.writer
        self.snapshot = self._tracker.snapshot(
            max(self._tracker.time, self._sensor_now()),
            sink=self.sink.name,
            sink_reason=self.sink.reason,
            sink_trouble={**self.sink.trouble(), "late_clicks": self.score.late},
            store=writer.trouble if writer is not None else None,
            free_bytes=writer.free_bytes if writer is not None else None,
            battery_percent=self._watch.percent if self._watch is not None else None,
            progress=self._progress,
            late_s=max(self._late) if self.delays else None,
            **changes,
        )

    def _last_words(self) -> None:
        until = self._clock() + LAST_WORDS_S
        while self.sink.frame_now() < self.score.until and self._clock() < until:
            time.sleep(0.05)

    def _close(self, ended: str) -> None:
        """All of it, whatever a step raises: who waits for the end must hear of it."""
        self._closing.set()
        with contextlib.ExitStack() as steps:  # from the last line to the first
            steps.callback(self.finished.set)
            steps.callback(self._show, phase="ended", ended_by=ended)
            if self.writer is not None:
                fit = self._arrivals.fit
                clock = {"drift": fit.drift, "readings": fit.readings}
                steps.callback(self.writer.close, ended, {"clock": clock})
            steps.callback(self.sink.close)
            steps.callback(self._close_source)
            if self._watch is not None:
                steps.callback(self._watch.close)

    def _close_source(self) -> None:
        if self._feeder is None or not self._paced:  # a device ends when it is told to, from any thread
            self.source.close()
        if self._feeder is not None:
            self._feeder.join(5.0)  # a generator can only be closed by the thread that runs it: the feeder does
