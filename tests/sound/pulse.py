"""A real PulseAudio server of our own: no sound card, no user session; started and ended by the test that needs it."""

from __future__ import annotations

import os
import shutil
import subprocess
import time
from pathlib import Path

RATE = 48000
SOON = ("nice", "-n", "-11")
"""Server and recorder stand for hardware, which is never late; without the right to it `nice` warns and goes on."""


class Pulse:
    """One private server with one null sink "ci"; `env` makes a child process use it, `record` hears what it plays."""

    def __init__(self, folder: Path) -> None:
        for tool in ("pulseaudio", "pactl", "parec"):
            if shutil.which(tool) is None:
                raise RuntimeError(f"{tool} is missing: apt-get install pulseaudio pulseaudio-utils libasound2-plugins")
        self.folder = folder
        (folder / "run").mkdir(mode=0o700)
        (folder / "home").mkdir()
        (folder / "home" / ".asoundrc").write_text("pcm.!default { type pulse }\nctl.!default { type pulse }\n")
        # a null sink that nobody listens to takes sound in blocks of 2 s, as no device does: the loopback listens
        (folder / "pulse.pa").write_text(
            "load-module module-native-protocol-unix\n"
            f"load-module module-null-sink sink_name=ci rate={RATE}\n"
            f"load-module module-null-sink sink_name=drain rate={RATE}\n"
            "load-module module-loopback source=ci.monitor sink=drain latency_msec=50\n"
            "set-default-sink ci\n"
        )
        run, home = str(folder / "run"), str(folder / "home")
        self.env = {**os.environ, "XDG_RUNTIME_DIR": run, "HOME": home, "PULSE_RUNTIME_PATH": f"{run}/pulse"}
        self.env.pop("PULSE_SERVER", None)
        self.server: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        quiet = {"stdin": subprocess.DEVNULL, "stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
        flags = ["--daemonize=no", "--exit-idle-time=-1", "--use-pid-file=no", "--disallow-exit"]
        self.server = subprocess.Popen(
            [*SOON, "pulseaudio", "-n", "-F", str(self.folder / "pulse.pa"), *flags], env=self.env, **quiet
        )
        until = time.monotonic() + 60
        while time.monotonic() < until:
            if subprocess.run(["pactl", "info"], env=self.env, **quiet).returncode == 0:
                return
            time.sleep(0.05)
        raise RuntimeError("the PulseAudio server did not come up within a minute")

    def kill(self) -> None:
        if self.server is not None:
            self.server.kill()
            self.server.wait()
            self.server = None

    def record(self, raw: Path) -> subprocess.Popen[bytes]:
        """Start recording what the sink plays (float32 mono raw). Before the player, or the sink runs in 2 s blocks."""
        out = open(raw, "wb")  # noqa: SIM115 - belongs to the child
        how = ["--format=float32le", "--channels=1", f"--rate={RATE}", "--latency-msec=50", "--raw"]
        child = subprocess.Popen(
            [*SOON, "parec", "-d", "ci.monitor", *how], env=self.env, stdout=out, stderr=subprocess.DEVNULL
        )
        time.sleep(0.5)
        return child
