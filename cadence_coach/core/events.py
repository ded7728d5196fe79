"""The words the parts of the core say to each other and to the world: rows in, events out.

Rows, as a source delivers them, in time order; the first entry tells the kind:

    (ACCEL, t, ax, ay, az)                                  specific force in the sensor's axes [m/s2], float32 values
    (GYRO, t, wx, wy, wz)                                   rotation rate in the same axes [rad/s], float32 values
    (FIX, t, fixed, speed, lat, lon, accuracy, heading)     t: when it arrived, fixed: when it was true (both [s]);
                                                            speed [m/s], place [deg], accuracy [m/s], heading [deg];
                                                            what is not known is NaN

Time is in seconds from the start of the recording. Every event has `time` (when it happened, interpolated and
back-dated by the known filter delay) and `known` (the time of the sample, or the deadline, that settled it). Events
are frozen plain values: numbers, strings, None and tuples of those, so that they go through JSON and SQLite.

An event is never changed later: what becomes clear later is a new event.
"""

from __future__ import annotations

from dataclasses import dataclass

ACCEL, GYRO, FIX = 0, 1, 2

Row = tuple[float, ...]

STARTED_BY = ("run_up", "rope", "step", "unknown")
ENDED_BY = ("fall", "touch_down", "coast_out", "gap", "end_of_data", "unknown")


@dataclass(frozen=True, slots=True)
class Event:
    time: float
    known: float


# ---- from the cycle detector: every bounce found, on foot too ----


@dataclass(frozen=True, slots=True)
class Onset(Event):
    """Upward crossing of 1 g. One that the next follows within 0.18 s was a splash: it has no CycleDone, and its number
    is among the `skipped` of a flight."""

    number: int


@dataclass(frozen=True, slots=True)
class PushEnd(Event):
    """Downward crossing of 1 g that ends the push of cycle `number`."""

    number: int


@dataclass(frozen=True, slots=True)
class CycleDone(Event):
    """One whole cycle, from onset to next onset; `time` is the next onset.

    Times in s; g values are of the vertical specific force; travel is peak to peak [m]. `peak` is the time of the
    highest g of the push, `low` the middle of the low half of the glide, so that catch = peak - onset, shove =
    push_end - peak, ease = low - push_end, gather = time - low. `whole` is False for a last cycle that no onset
    followed: its `time` is then onset + running period, or its push end if that is later, and its glide, size and
    travel are taken over that span.
    `odds` are the log-odds that the cycle is a pump, by its shape alone.
    """

    number: int
    onset: float
    peak: float
    push_end: float
    low: float
    peak_g: float
    lowest_g: float
    size_g: float
    travel_m: float
    whole: bool = True
    odds: float = 0.0

    @property
    def period(self) -> float:
        return self.time - self.onset

    @property
    def push_share(self) -> float:
        return (self.push_end - self.onset) / (self.time - self.onset)


@dataclass(frozen=True, slots=True)
class Bounce(Event):
    """One bounce as judged in hindsight, on foot too: for counting steps, hops and squats; pumps of a flight are
    CycleDone. `time` is its end; push_end is None where no clear one was found; g values are of the vertical specific
    force."""

    number: int
    onset: float
    peak: float
    push_end: float | None
    peak_g: float
    lowest_g: float


# ---- from the flight logic ----


@dataclass(frozen=True, slots=True)
class AttemptStarted(Event):
    """A try to get going: `time` is the landing on the board (or the first sign of flying, on a rope or after a
    step)."""

    attempt: int
    started_by: str
    landing_g: float | None


@dataclass(frozen=True, slots=True)
class FlightStarted(Event):
    """Three pumps are there: `time` is the first onset, `first_cycle` the number of its cycle. Pumps before `known`
    are claimed back; from here on each cycle belongs to the flight until FlightEnded."""

    flight: int
    attempt: int
    first_cycle: int
    started_by: str


@dataclass(frozen=True, slots=True)
class FlightEnded(Event):
    """`time` is the end of the last pump's period; `last_cycle` the number of the last cycle that is a pump of the
    flight (its CycleDone may not be whole). `skipped` are numbers of cycles between that are no pumps (a bounce in a
    level glide). cadence [Hz] = 1 / median period; steadiness: coefficient of variation of the periods, rests and pumps
    not heard left out (`flown.NO_BEAT`)."""

    flight: int
    start: float
    last_cycle: int
    pumps: int
    cadence: float
    push_share: float
    size_g: float
    steadiness: float
    started_by: str
    ended_by: str
    coast_s: float
    skipped: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class AttemptEnded(Event):
    """`time` is the end. `flight` is the index of the flight it became, or None."""

    attempt: int
    start: float
    pumps: int
    started_by: str
    landing_g: float | None
    landing_to_push_s: float | None
    ended_by: str
    flight: int | None


@dataclass(frozen=True, slots=True)
class Impact(Event):
    """A blow: highest magnitude in g, and whether it was at the sensor's range."""

    peak_g: float
    clipped: bool


@dataclass(frozen=True, slots=True)
class Calm(Event):
    """Motion has been calm for 3 s (swimming slowly or standing still both count)."""


@dataclass(frozen=True, slots=True)
class Still(Event):
    """No movement at all for 20 s."""


@dataclass(frozen=True, slots=True)
class Stirred(Event):
    """Calm or stillness is over."""


@dataclass(frozen=True, slots=True)
class Slaps(Event):
    """Three firm slaps on the pouch while not aloft: the wish to hear the last summary again."""


# ---- from the sensors ----


@dataclass(frozen=True, slots=True)
class SpeedFix(Event):
    """A speed that may be believed; `time` is when it was true. Place and heading [deg] or None."""

    speed: float
    lat: float | None
    lon: float | None
    accuracy: float | None
    heading: float | None


@dataclass(frozen=True, slots=True)
class Place(Event):
    """A place [deg] whose speed may not be believed: enough to say that the rider drifts off."""

    lat: float
    lon: float


@dataclass(frozen=True, slots=True)
class Gap(Event):
    """No samples from `time` to `end`."""

    end: float


@dataclass(frozen=True, slots=True)
class Fault(Event):
    """Something is wrong with the input or the machine: `kind` is one of FAULTS; `count` how often so far."""

    kind: str
    count: int


FAULTS = (
    "bad_value",  # NaN or inf
    "repeated_time",
    "backward_time",
    "out_of_range",
    "silent",  # no sample for 2 s
    "stuck",  # an axis, or all, stand still
    "rate_halved",
    "clock_jump",
    "speed_lost",
    "late_rotation",
    "device_lost",  # sound
    "device_back",
    "disk_low",
    "battery_low",  # warn
    "battery_cold",  # warn earlier: a cold battery gives out suddenly
    "battery_stop",  # the coach saves and stops: the phone is the rider's emergency phone
)


# ---- from beat and coach ----


@dataclass(frozen=True, slots=True)
class Click(Event):
    """One click to be heard at `time` (ahead of `known`). sound: "click" or, on land, "tick" for the push end.
    `level`: loudness, 1 whole, falling to 0 while the click fades."""

    sound: str
    period: float
    lead: str
    level: float = 1.0


@dataclass(frozen=True, slots=True)
class Cue(Event):
    """A sound that was decided on: `kind` names it, `reason` says why in figures."""

    kind: str
    reason: str


@dataclass(frozen=True, slots=True)
class Held(Event):
    """A cue that was due and was held back, and why: so that a review can tell."""

    kind: str
    reason: str


@dataclass(frozen=True, slots=True)
class Summary(Event):
    """The word after the flight. `figures` (name, value) pairs for the screen; `spoken` the ids of the recorded parts
    in order, empty where it is only shown; `sentence` the id of the one sentence, or None. A later Summary of the
    same flight says the same again."""

    flight: int
    figures: tuple[tuple[str, float | str | None], ...]
    spoken: tuple[str, ...]
    sentence: str | None
