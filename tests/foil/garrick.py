"""Garrick's swinging plate, in full: what the tests hold the model's loss to the wake against."""

from __future__ import annotations

import math

import attrs

from cadence_coach.foil.unsteady import theodorsen


@attrs.frozen
class Swing:
    """Means over a cycle per metre of span: thrust [N/m], input power [W/m], complex lift amplitude [N/m],
    efficiency."""

    thrust: float
    power: float
    lift: complex
    efficiency: float


def garrick(
    density: float,
    speed: float,
    half_chord: float,
    omega: float,
    heave: complex,
    pitch: complex = 0,
    axis: float = -0.5,
) -> Swing:
    """Thrust and power of a plate that heaves (positive down, [m]) and pitches (nose up, [rad]) about `axis`
    half-chords aft of mid-chord (Garrick 1936, NACA TR-567; equations from memory, held by the energy balance). Speed
    and omega above 0."""
    rho, v, b, w, h, al, a = density, speed, half_chord, omega, complex(heave), complex(pitch), axis
    c = theodorsen(w * b / v)
    q = v * al + 1j * w * h + b * (0.5 - a) * 1j * w * al
    suction = math.sqrt(b / 2) * (2 * c * q - b * 1j * w * al)
    lift = (
        math.pi * rho * b**2 * (-(w**2) * h + v * 1j * w * al + b * a * w**2 * al) + 2 * math.pi * rho * v * b * c * q
    )
    thrust = math.pi * rho / 2 * abs(suction) ** 2 - 0.5 * (al.conjugate() * lift).real
    moment = (
        -math.pi * rho * b**2 * ((0.5 - a) * v * b * 1j * w * al - b**2 * (1 / 8 + a**2) * w**2 * al + a * b * w**2 * h)
        + 2 * math.pi * rho * v * b**2 * (a + 0.5) * c * q
    )
    power = 0.5 * ((1j * w * h).conjugate() * lift).real - 0.5 * ((1j * w * al).conjugate() * moment).real
    return Swing(thrust, power, lift, thrust * v / power)
