"""What README, FILES and DEVELOPERS tell people to type is typed, and their links and names lead somewhere."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from cadence_coach import cli
from cadence_coach.core.units import G
from cadence_coach.sim.outing import simulate_outing
from cadence_coach.store.recordings import write_recording

PROJECT = Path(__file__).parent.parent
TEXTS = {
    name: (PROJECT / name).read_text("utf-8") for name in ("README.md", "cadence_coach/store/FILES.md", "DEVELOPERS.md")
}

NEEDS_A_SCREEN = ("app",)
"""Tried on a screen elsewhere."""
TRIED_ELSEWHERE = ("demo",)
"""In tests/commands/test_replay.py, as its own process."""


def commands() -> list[str]:
    """Every `cadence-coach ...` in code, in the order of the texts."""
    found = [c for text in TEXTS.values() for c in re.findall(r"`cadence-coach ([^`]+)`", text)]
    return [c for c in dict.fromkeys(found) if c.split()[0] not in NEEDS_A_SCREEN + TRIED_ELSEWHERE]


def test_every_command_that_is_told_works(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """In order, in one folder that has a recording "lake", another logger's "watch.csv" and an empty data folder; the
    profile "me.toml" is what the first of them writes."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("CADENCE_COACH_HOME", str(tmp_path / "home"))
    made = simulate_outing(5, "short", 50.0)
    write_recording(tmp_path / "lake", made.accel, made.gyro, made.fixes, made.meta, made.truth)
    rows = [f"{1000 * t:.3f};{x / G:.5f};{y / G:.5f};{z / G:.5f}" for t, x, y, z in made.accel[:6000]]
    (tmp_path / "watch.csv").write_text("\n".join(["time_ms;acc_x;acc_y;acc_z", *rows]) + "\n", "utf-8")
    told = commands()
    assert len(told) >= 3
    for command in told:
        arguments = [a.replace("COMMAND", "replay") for a in command.split()]
        assert cli.run(arguments) == 0, f"cadence-coach {command}: {capsys.readouterr().err}"


def test_links_lead_somewhere() -> None:
    for name, text in TEXTS.items():
        for place in re.findall(r"\]\(([^)#]+)[^)]*\)", text):
            assert (PROJECT / place).exists(), f"{name}: {place}"


def test_paths_that_are_named_exist() -> None:
    roots = ("tests/", "core/", "store/", "sound/", "sources/", "commands/")
    for name, text in TEXTS.items():
        for place in re.findall(r"`((?:[a-z_]+/)+[a-z_]+\.[a-z]+)`", text):
            if place.startswith(roots):
                here = [PROJECT / place, PROJECT / "cadence_coach" / place]
                assert any(p.exists() for p in here), f"{name}: {place}"


def test_the_readme_is_short_and_leads_with_the_job() -> None:
    lines = TEXTS["README.md"].splitlines()
    assert lines[0] == "# Cadence coach"
    assert "pump" in lines[2]
    assert len(lines) <= 85  # two screens
    assert max(map(len, lines)) <= 250


def test_the_two_first_commands_are_the_ones_that_are_tried() -> None:
    first = "python3 -m venv .venv && .venv/bin/pip install . && .venv/bin/cadence-coach demo"
    assert first in TEXTS["README.md"]
    assert "bash tests/run" in TEXTS["README.md"]
    assert first.replace("install .", "install -q .") in (PROJECT / "tests/bare_debian.sh").read_text()
