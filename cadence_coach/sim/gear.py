"""The invented rider and foil of a simulated outing as a profile, to look at the recording with."""

from __future__ import annotations

from cadence_coach.foil.profile import NUMBERS
from cadence_coach.foil.setup import Setup

NAMES = {"rider": "invented rider, seed {seed}", "foil": "invented foil, {area:.0f} cm2"}


def profile_text(setup: Setup, seed: int) -> str:
    """TOML with what a profile can hold. How well this one rides, and the wind, are the simulator's own."""
    lines = ["# of the simulator: nobody's figures"]
    for section, keys in NUMBERS.items():
        values = {key: getattr(setup, rule.into) for key, rule in keys.items() if rule.into}
        if values:
            name = NAMES[section].format(seed=seed, area=setup.area * 1e4)
            lines += ["", f"[{section}]", f'name = "{name}"']
            lines += [f"{key} = {round(float(value), 5)}" for key, value in values.items()]
    return "\n".join(lines) + "\n"
