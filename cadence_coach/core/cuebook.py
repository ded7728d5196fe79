"""The cues by name: what each asks for, which focus it belongs to, and who goes first."""

from __future__ import annotations

CORRECTIONS: dict[str, tuple[str, ...]] = {
    "speed_first": ("speed",),
    "quicker": ("cadence", "fade"),
    "slower_bigger": ("cadence", "size"),
    "bigger": ("size",),
    "lighter": ("size",),
    "even_out": ("steadiness",),
    "shove_later": ("timing",),
    "shove_sooner": ("timing",),
}
"""Each asks for one change in flight; with a focus set, only those that belong to it. "Slower" alone does not
exist: fewer pumps need bigger ones. In order: one message at a time, the first that holds."""

BASIC = ("speed_first", "quicker", "slower_bigger", "bigger", "lighter")
"""What is corrected at level "basic"."""

NOT_ON_ROPE = ("turn_back", "rest_over", "milestone", "legs_gone")
"""Not said where the start is from the rope: the boat is there, and its driver says what comes next."""

GUARD = ("turn_back", "time_limit", "all_right", "legs_gone", "rest_over", "milestone")
"""Calls about the outing as a whole."""

MACHINE = ("silent_sensor", "device_back", "battery_stop", "battery_low", "disk_low")
"""Something is wrong with the machine that the rider must know."""

STATE = ("armed", "started", "paused", "ended")
"""Answers to a command."""

CUE_KINDS = (*CORRECTIONS, *GUARD, *MACHINE, *STATE)
"""Every kind a Cue can have."""

FIRST, SOON, LATER = 0, 1, 2
RANK = {
    **dict.fromkeys((*MACHINE, *STATE), FIRST),
    "turn_back": SOON,
    "time_limit": SOON,
    "all_right": SOON,
    **dict.fromkeys(("legs_gone", "rest_over", "milestone"), LATER),
}
"""Who goes first among calls that wait. FIRST waits for nothing; SOON for the message that is sounding and the
silence after a fall; LATER for the word after the flight too."""

FAULT_CUES = {
    "silent": "silent_sensor",
    "stuck": "silent_sensor",
    "device_back": "device_back",
    "disk_low": "disk_low",
    "battery_low": "battery_low",
    "battery_cold": "battery_low",
    "battery_stop": "battery_stop",
}
"""Faults the rider hears: those after which the coach is deaf or about to stop, or sounds again. A stuck sensor is
as deaf as a silent one. The rest is for the screen and the file."""
