"""`land` as a metronome: to the sound device, or into a WAV."""

from __future__ import annotations

import sys
import time
from pathlib import Path
from typing import Any

from cadence_coach.commands.naming import count
from cadence_coach.commands.ticking import tick
from cadence_coach.core import events as ev
from cadence_coach.land.plan import Plan
from cadence_coach.land.session import NEVER, Session, SetDone, SetStarted
from cadence_coach.land.tell import plain

AHEAD_S = 1.5
READ_NOTES_S = 8.0
WAV_NAMES = ("land.wav", *(f"land-{n}.wav" for n in range(2, 1000)))


def whole(plan: Plan) -> list[ev.Event]:
    """All events of a training that nobody listens to, in order."""
    session, out = Session(plan, listening=False), []
    while not session.over:
        session.advance(session.deadline)
        out += session.events()
    return sorted(out, key=lambda event: event.known)


def write(plan: Plan, path: Path) -> dict[str, Any]:
    """The whole training as a WAV; what goes into JSON."""
    from cadence_coach.commands.writing import bar as progress
    from cadence_coach.sound.track import write_wav

    events = whole(plan)
    seconds = events[-1].known + 1.0
    with progress() as bar:
        task = bar.add_task("wav", total=seconds)
        write_wav(path, events, seconds, progress=lambda done: bar.update(task, completed=done))
    return _plain(plan, events) | {"wav": str(path), "seconds": seconds}


def play(plan: Plan, spec: str, volume: float, notes: bool, lang: str, yes: bool) -> dict[str, Any]:
    """The training in real time; without a device it becomes a WAV. Ctrl-C ends it cleanly."""
    from cadence_coach.sound.loudness import HEARING_LINE
    from cadence_coach.sound.mixer import Mixer
    from cadence_coach.sound.score import Score
    from cadence_coach.sound.sinks import open_sink

    sink = open_sink(spec)
    if sink.reason is not None:
        print(f"No sound: {sink.reason}", file=sys.stderr)
        path = next(p for p in map(Path, WAV_NAMES) if not p.exists())
        found = write(plan, path)
        print(f"Written instead: {path}, {found['seconds']:.0f} s; play it on anything that plays sound")
        return found
    mixer = Mixer(sink.rate, volume)
    if not yes:
        tick("land", lang, "says that it has been read")
    print(f"Sound: {sink.name} at {volume:g} dB. {HEARING_LINE}")
    sink.start(mixer)
    try:
        start = sink.soonest() + round((READ_NOTES_S if notes else AHEAD_S) * sink.rate)
        score = Score(mixer, lambda t: start + round(t * sink.rate), sink.soonest, lang)
        done = _run(plan, sink, score, start, notes, lang)
        trouble = sink.trouble()
    finally:
        sink.close()
    bad = {name: count for name, count in trouble.items() if count}
    if bad:
        print(f"Sound trouble: {', '.join(f'{name} {count}' for name, count in bad.items())}", file=sys.stderr)
    return _plain(plan, done) | {"sink": sink.name, "trouble": trouble}


def _run(plan: Plan, sink: Any, score: Any, start: int, notes: bool, lang: str) -> list[ev.Event]:
    from rich.live import Live

    from cadence_coach.commands.writing import console as text_console

    session = Session(plan, listening=False)
    out: list[ev.Event] = []
    console = text_console(stderr=True)
    coming: SetStarted | None = None
    done: list[SetDone] = []
    told = None
    try:
        with Live(console=console, transient=True, refresh_per_second=4) as line:
            _notes(1, notes, lang)
            while True:
                now = (sink.frame_now() - start) / sink.rate
                session.advance(now + AHEAD_S)
                for event in session.events():
                    out.append(event)
                    score.receive(event)
                    if isinstance(event, SetStarted):
                        coming = event
                    elif isinstance(event, SetDone):
                        done.append(event)
                while done and done[0].time <= now:
                    if not done.pop(0).last:
                        _notes(len(session.history) + 1, notes, lang)
                if sink.reason != told:
                    told = sink.reason
                    console.print(told if told is not None else "Sound is back.")
                if session.over and now > out[-1].known:
                    break
                line.update(_line(plan, coming, now, session.next))
                time.sleep(0.1)
        print(f"{count(len(session.history), 'set')} done.")
    except KeyboardInterrupt:
        print("Ended by hand.")
    return out


def _line(plan: Plan, coming: SetStarted | None, now: float, deadline: float) -> str:
    if coming is not None and now <= coming.ends:
        left = coming.ends - max(now, coming.time)
        return f"set {coming.number} of {plan.sets}: {coming.tempo_per_min:.1f} a minute, {left:.0f} s"
    what = "starts in" if coming is None else "rest,"
    return "" if deadline == NEVER else f"{what} {max(0.0, deadline - now):.0f} s"


def _notes(number: int, wanted: bool, lang: str) -> None:
    from cadence_coach.land.notes import note_lines

    if wanted:
        print("\n".join(note_lines(number, lang)), flush=True)


def _plain(plan: Plan, events: list[ev.Event]) -> dict[str, Any]:
    return plain(plan, [(e.number, e.time, None) for e in events if isinstance(e, SetStarted)])
