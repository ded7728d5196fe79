"""Colours of every picture, named by use: own, told apart by lightness as well as hue, no traffic-light meaning.

Blue, amber, plum and teal stay apart in the common kinds of colour blindness; a state is always told by word or
shape, too.
"""

from __future__ import annotations

LIGHT: dict[str, str] = {
    "paper": "#faf8f3",
    "card": "#ffffff",
    "ink": "#1d2433",
    "muted": "#5a6372",
    "line": "#d8d5cc",
    "rider": "#17508c",  # what the rider did
    "band": "#f3e3bd",  # what is aimed for
    "target": "#8f6100",
    "limit": "#5a6372",  # what cannot be passed
    "cue": "#9c2f63",  # what was said
    "speed": "#1b7f86",
    "catch": "#b9ace8",
    "shove": "#eeb043",
    "ease": "#7ccdcf",
    "gather": "#cbd7ea",
    "onpart": "#1d2433",  # words on one of the four parts
}

DARK: dict[str, str] = {
    "paper": "#12161f",
    "card": "#1b212d",
    "ink": "#eef1f6",
    "muted": "#a3adbd",
    "line": "#38414f",
    "rider": "#86b8f2",
    "band": "#4a3e20",
    "target": "#e6b04a",
    "limit": "#a3adbd",
    "cue": "#ec8fb8",
    "speed": "#5cc3c6",
    "catch": "#a99be8",
    "shove": "#e6a33a",
    "ease": "#5cc3c6",
    "gather": "#8aa9cf",
    "onpart": "#12161f",
}

DRAG: dict[str, str] = {
    "induced": "#17508c",
    "wing": "#a9c2e0",
    "air": "#5b4aa0",
    "mast": "#dcc58f",
    "tail": "#8f6100",
    "fuselage": "#9fd0d2",
    "spray": "#3c4657",
}
"""The parts of the drag, stacked in this order on light paper: neighbours differ in lightness first."""

OTHER = "#9c2f63"
"""The second of two foils side by side."""
