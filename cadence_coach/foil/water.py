"""Density and viscosity of the water, by kind and temperature, at the surface.

    water(kind, temperature_c) -> Water(density [kg/m3], viscosity [m2/s])

Polynomials, because the phone carries numpy alone. They are held against TEOS-10 (gsw), IAPWS-95/-2008 (iapws) and
the ITTC table in the tests: density within 0.02 kg/m3 fresh and 0.1 sea, kinematic viscosity within 0.3 % fresh and
0.5 % sea.
"""

from __future__ import annotations

import math

import attrs

SALINITY = {"fresh": 0.0, "brackish": 10.0, "sea": 35.16504}
"""Absolute salinity [g/kg] taken for each kind; sea is the standard ocean (TEOS-10)."""

COLDEST, WARMEST = -2.0, 40.0
"""Where the formulas hold [C]; below 0 C only salt water is still water."""


@attrs.frozen
class Water:
    """density [kg/m3], kinematic viscosity [m2/s], and where they come from: kind, temperature [C]."""

    density: float
    viscosity: float
    kind: str = "fresh"
    temperature: float = 15.0


def fresh_density(t: float) -> float:
    """Density of air-free fresh water [kg/m3] at t [C], 0 to 40 C, 101 325 Pa.

    Tanaka, Girard, Davis, Peuto & Bignell 2001, Metrologia 38, 301 (the CIPM formula; coefficients from memory,
    agrees with IAPWS-95 to 0.01 kg/m3 in the tests).
    """
    return 999.974950 * (1 - (t - 3.983035) ** 2 * (t + 301.797) / (522528.9 * (t + 69.34881)))


def density(salinity: float, t: float) -> float:
    """Density at the surface [kg/m3] for absolute salinity [g/kg] and t [C]; 0 to 40 g/kg.

    The one-atmosphere equation of state EOS-80 (Millero & Poisson 1981, Deep-Sea Res. 28A, 625; coefficients from
    memory) on the practical scale, SP = SA * 35 / 35.16504. Agrees with TEOS-10 to 0.1 kg/m3. Salinity 0:
    `fresh_density`.
    """
    s = salinity * 35.0 / 35.16504
    rho = (
        fresh_density(t)
        + s * (8.24493e-1 - 4.0899e-3 * t + 7.6438e-5 * t**2 - 8.2467e-7 * t**3 + 5.3875e-9 * t**4)
        + s**1.5 * (-5.72466e-3 + 1.0227e-4 * t - 1.6546e-6 * t**2)
        + s**2 * 4.8314e-4
    )
    return float(rho)


def dynamic_viscosity(salinity: float, t: float) -> float:
    """Dynamic viscosity [Pa s] for absolute salinity [g/kg] and t [C]; 0 to 150 g/kg, 0 to 40 C and a little beyond.

    Sharqawy, Lienhard & Zubair 2010, Desalin. Water Treat. 16, 354 (coefficients from memory; the fresh part is their
    fit to IAPWS 2008, within 0.1 %).
    """
    s = salinity / 1000
    fresh = 4.2844e-5 + 1 / (0.157 * (t + 64.993) ** 2 - 91.296)
    return fresh * (1 + (1.541 + 1.998e-2 * t - 9.52e-5 * t**2) * s + (7.974 - 7.561e-2 * t + 4.724e-4 * t**2) * s**2)


def water(kind: str = "fresh", temperature: float = 15.0) -> Water:
    """The water of a kind ("fresh", "brackish", "sea") at a temperature [C]. ValueError outside COLDEST .. WARMEST."""
    if kind not in SALINITY:
        raise ValueError(f"water kind {kind!r} is none of {', '.join(SALINITY)}")
    if not (math.isfinite(temperature) and COLDEST <= temperature <= WARMEST):
        raise ValueError(f"water temperature {temperature} C is outside {COLDEST:g} to {WARMEST:g} C")
    salinity = SALINITY[kind]
    rho = density(salinity, temperature)
    return Water(rho, dynamic_viscosity(salinity, temperature) / rho, kind, temperature)
