"""Riders in outings of `strapped`: a person's skill, habits of legs, trunk and arms, and the pump they make.

A pump is a push (legs extend, the trunk swings along, a shoulder where the foil catches, a late one of the arms)
against an unweighting (legs retract, float, recoil); both are shapes up to 1 here, and scaled in `strapped_flight`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .drawn_motion import PI, Array

FS = 1000
"""Samples a second of all motion here."""
GRAVITY = 9.81
"""[m/s2] where these riders are: not the standard one in which phones give their range."""
SKILL = {
    "short": (0, 0.45), "long": (0.65, 1), "calm": (0.35, 1), "rough": (0.3, 0.95), "tow": (0.2, 0.9),
    "step": (0.3, 0.95), "mixed": (0.1, 0.9),
}  # fmt: skip
"""Least and most, by kind of outing: 0 in the first week, 1 fluent."""
STYLES = {
    "even": (1.5, 0.43, 1.85), "snap": (1.62, 0.26, 2.15), "deep": (1.25, 0.46, 1.75), "float": (1.38, 0.33, 1.95),
}  # fmt: skip
"""Cadence [Hz], push share and peak [g] that riders of a style lie around."""


def bump(u: Array, rises: float, falls: float) -> Array:
    """Over 0 to 1, its top 1; the greater the exponents, the gentler the ends."""
    u = np.clip(u, 0, 1)
    top = rises / (rises + falls)
    return u**rises * (1 - u) ** falls / (top**rises * (1 - top) ** falls)


def middles(n: int) -> Array:
    """Of n equal parts of 0 to 1."""
    return (np.arange(n) + 0.5) / n


def half_sine(n: int) -> Array:
    return np.sin(PI * (np.arange(n) + 0.5) / n)


def bell(u: Array, at: float, width: float) -> Array:
    return np.exp(-0.5 * ((u - at) / width) ** 2)


@dataclass(frozen=True)
class Rider:
    skill: float
    """0-1."""
    period: float
    """[s] of a pump."""
    share: float
    """Of the period above 1 g."""
    peak: float
    """[g]"""
    period_cv: float
    """SD over mean; so the next two."""
    peak_cv: float
    share_cv: float
    push_rises: float
    """Exponent of a bump; so the next and those of the glide."""
    push_falls: float
    trunk: float
    """The trunk's swing next to the extension of the legs, 1; times and widths are shares of the push."""
    trunk_at: float
    trunk_width: float
    shoulder: float
    """Share of the push before the legs extend: the foil catches; 0 of most riders."""
    shoulder_height: float
    late: float
    """The arms' shoulder; 0 of most riders."""
    late_at: float
    glide_rises: float
    glide_falls: float
    dip: float
    """The legs' retraction makes the glide so much deeper; times are shares of the glide."""
    dip_at: float
    recoil: float
    """A hump in the glide's middle takes so much of its depth; 0 of most riders."""
    pair: float
    """Every other push is so much higher."""
    pitches: float
    """[degrees] that the trunk swings from end to end within a pump."""
    pitch_phase: float
    """[cycles]; so fore_phase."""
    lean: float
    """[degrees]"""
    fore: float
    """[g] of the fore-and-aft swing."""
    fore_phase: float
    smooth: float
    """[s] SD of what a body rounds off."""
    side: int
    """Where a start sways the body to: 1 left, -1 right."""
    run_hz: float
    walk_hz: float
    walk_height: float
    """[g]"""
    speed: float
    """[m/s] aloft."""
    first: str
    """First pumps: quick, weak, or plain as all others."""


def draw_rider(r: np.random.Generator, kind: str) -> Rider:
    u = r.uniform
    skill = u(*SKILL.get(kind, (0.1, 1)))
    cadence, share, peak = STYLES[str(r.choice(tuple(STYLES), p=[0.34, 0.24, 0.22, 0.2]))]
    cadence = np.clip(cadence * np.exp(r.normal(0, 0.125)), 1.09, 1.87)
    return Rider(
        skill=skill, period=1 / cadence, share=np.clip(share + r.normal(0, 0.065), 0.16, 0.54),
        peak=np.clip(peak + r.normal(0, 0.25), 1.45, 2.55),
        period_cv=np.clip(r.normal(0.056 - 0.03 * skill, 0.008), 0.021, 0.068),
        peak_cv=u(0.03, 0.06) + 0.05 * (1 - skill), share_cv=u(0.02, 0.04) + 0.02 * (1 - skill),
        push_rises=u(0.9, 1.7), push_falls=u(0.9, 1.8),
        trunk=u(0, 0.4), trunk_at=u(0.25, 0.75), trunk_width=u(0.1, 0.2),
        shoulder=u(0.12, 0.26) if r.random() < 0.35 else 0, shoulder_height=u(0.12, 0.3),
        late=u(0.1, 0.3) if r.random() < 0.3 else 0, late_at=u(0.78, 0.9),
        glide_rises=u(0.5, 1.1), glide_falls=u(0.5, 1.1), dip=u(0, 0.5), dip_at=u(0.15, 0.85),
        recoil=u(0.1, 0.35) if r.random() < 0.35 else 0, pair=u(0.01, 0.045) if r.random() < 0.3 else 0,
        pitches=u(2, 9) if r.random() < 0.7 else u(9, 15), pitch_phase=u(-0.15, 0.2), lean=u(2, 22),
        fore=u(0.04, 0.22), fore_phase=u(-0.3, 0.3), smooth=u(0.007, 0.013), side=int(r.choice([-1, 1])),
        run_hz=u(2.5, 3.0), walk_hz=u(1.62, 2.15), walk_height=u(0.09, 0.21), speed=u(3.0, 5.0),
        first=str(r.choice(["quick", "weak", "plain"], p=[0.45, 0.25, 0.3])),
    )  # fmt: skip


# --- the two halves of a pump; vary: about 1 each, five of them, as no two pumps of a rider are alike ---


def push_shape(u: Array, rider: Rider, vary: Array, least: float) -> Array:
    """Height, 1 at most, at u from 0 to 1 along the time above 1 g; a shoulder is no lower than least, so that it
    stays above 1 g."""
    shoulder = rider.shoulder * vary[0]
    legs = (u - shoulder) / (1 - shoulder)
    y = bump(legs, rider.push_rises * vary[1], rider.push_falls * vary[2])
    swing = rider.trunk * bell(legs, rider.trunk_at, rider.trunk_width)
    y = y + swing * np.sin(PI * np.clip(legs, 0, 1))
    if rider.late:
        y = y + rider.late * bell(legs, rider.late_at, 0.07) * np.clip((1 - legs) / 0.06, 0, 1)
    y = y / y.max()
    if shoulder:
        until = shoulder + 0.3 * (1 - shoulder)
        rises = max(rider.shoulder_height, least) * np.clip(u / 0.05, 0, 1)
        y = np.maximum(y, rises * (u < until) * np.clip((until - u) / 0.05, 0, 1))
    return y


def glide_shape(u: Array, rider: Rider, vary: Array) -> Array:
    """Depth, 1 at most, at u from 0 to 1 along the time below 1 g."""
    y = bump(u, rider.glide_rises * vary[3], rider.glide_falls * vary[4])
    y = y * (1 + rider.dip * bell(u, rider.dip_at, 0.14)) * (1 - rider.recoil * bell(u, 0.55, 0.1))
    return y / y.max()
