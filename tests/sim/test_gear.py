"""The profile beside a simulated recording is that of the rider and foil that made it."""

from __future__ import annotations

from pathlib import Path

import attrs
import numpy as np
import pytest

from cadence_coach.cli import run
from cadence_coach.foil.profile import NUMBERS, load_profile
from cadence_coach.sim.craft import random_craft
from cadence_coach.sim.gear import profile_text
from cadence_coach.store.outing_file import load_outing
from cadence_coach.store.recordings import Recording


def test_any_craft_is_a_profile_that_says_the_same(tmp_path: Path) -> None:
    """To half of the last digit that is written; what a profile cannot hold is the simulator's own."""
    for seed in range(300):
        setup = random_craft(np.random.default_rng(seed)).setup
        (tmp_path / "profile.toml").write_text(profile_text(setup, seed))
        read = load_profile(tmp_path / "profile.toml").setup
        for keys in NUMBERS.values():
            for rule in keys.values():
                if rule.into:
                    assert getattr(read, rule.into) == pytest.approx(getattr(setup, rule.into), rel=0, abs=0.5e-5)
        held = {rule.into for keys in NUMBERS.values() for rule in keys.values()}
        assert {f.name for f in attrs.fields(type(setup)) if getattr(read, f.name) != getattr(setup, f.name)} <= {
            *held, "headwind", "profile_factor", "gravity"
        }  # fmt: skip


def test_the_command_writes_it_beside_the_recording(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CADENCE_COACH_HOME", str(tmp_path / "home"))
    for name in ("one", "two"):
        assert run(["simulate", str(tmp_path / name), "--count", "1", "--kind", "step", "--rate", "50"]) == 0
    assert "each with its rider and foil in profile.toml" in capsys.readouterr().out
    folder = tmp_path / "one" / "00-step"
    profile = folder / "profile.toml"
    assert profile.read_bytes() == (tmp_path / "two" / "00-step" / "profile.toml").read_bytes()
    recording = Recording(folder)
    recording.close()
    assert not recording.notes
    assert run(["band", str(profile)]) == 0
    assert run(["import", str(tmp_path / "one"), "--profile", str(profile)]) == 0
    assert "not taken" not in capsys.readouterr().err
    (kept,) = (tmp_path / "home" / "outings").iterdir()
    assert load_outing(kept).profile == load_profile(profile).table
    assert recording.meta["rider"]["mass_kg"] == pytest.approx(load_profile(profile).setup.mass, abs=0.005)
