"""check: what this machine can do."""

from __future__ import annotations

from typing import Annotated, Any

import typer


def check(
    sound: Annotated[
        str, typer.Option(help="The output to try: device, device:NAME or silent.", metavar="OUTPUT")
    ] = "device",
    tone: Annotated[bool, typer.Option("--tone", help="Play four clicks and a cue.")] = False,
    volume: Annotated[float, typer.Option(help="Volume of --tone in dB, -40 to 0.", metavar="DB")] = -12.0,
    screen: Annotated[bool, typer.Option(help="Also open a window for a moment.")] = True,
    json: Annotated[bool, typer.Option("--json", help="Print everything as JSON, units in the key names.")] = False,
) -> None:
    """See what this machine can do: sound output with its latency as measured, spoken parts, sensors, screen, disk.

    JSON keys: sound {portaudio, devices [{name, outputs, default_rate_hz}], sink, reason, rate_hz, buffer_latency_s,
    block_frames, underflows}, speech {language: parts}, sensors {kind: reason or null}, screen {width_px, height_px,
    graphics, visible, reason}, data {folder, free_mb, reason}, versions.

    Example: cadence-coach check --tone
    """
    from cadence_coach.commands.screen import screen as window
    from cadence_coach.live import ability

    found = {
        "format": "cadence-coach-check/1",
        "sound": ability.sound(sound, tone, volume),
        "speech": {lang: there for lang, (there, _) in ability.speech().items()},
        "sensors": ability.sensors(),
        "screen": window() if screen else None,
        "data": ability.data(),
        "versions": ability.versions(),
    }
    if json:
        import json as js

        print(js.dumps(found, indent=1, ensure_ascii=False))
        return
    for line in _lines(found, tone, volume):
        print(line)


def _lines(found: dict[str, Any], tone: bool, volume: float) -> list[str]:
    from cadence_coach.sound.loudness import HEARING_LINE

    audio = found["sound"]
    out = [f"sound     {audio['portaudio'] or 'no PortAudio'}"]
    out += [f"          device: {one['name']}, {one['default_rate_hz']:.0f} Hz" for one in audio["devices"]]
    if not audio["devices"]:
        out.append("          no output device")
    out.append(f"          chosen: {audio['sink']}, {audio['rate_hz']} Hz")
    if audio["reason"]:
        out.append(f"          because: {audio['reason']}")
    if audio["buffer_latency_s"] is not None:
        latency, frames = 1000 * audio["buffer_latency_s"], audio["block_frames"]
        out.append(f"          buffer {latency:.0f} ms as measured, blocks of {frames} frames, {_underflows(audio)}")
        out.append("          a radio headset adds its own, up to 300 ms; taps measure that, in the app")
    if tone:
        out.append(f"          played at {volume:g} dB: four clicks and a cue")
        out.append(f"          {HEARING_LINE}")
    else:
        out.append("          hear it with --tone" if audio["devices"] else "          nothing to hear it with")
    parts = ", ".join(f"{lang} {count} parts" for lang, count in found["speech"].items())
    out.append(f"speech    {parts}")
    for kind, reason in found["sensors"].items():
        out.append(f"sensors   {kind}: {'ready' if reason is None else reason}")
    view = found["screen"]
    if view is None:
        out.append("screen    not tried")
    elif view["reason"]:
        out.append(f"screen    none: {view['reason']}")
    else:
        seen = "" if view["visible"] else "; drawn, but nobody sees it: no DISPLAY and no WAYLAND_DISPLAY is set"
        out.append(f"screen    {view['width_px']} x {view['height_px']}, {view['graphics']}{seen}")
    disk = found["data"]
    out.append(f"data      {disk['folder']}, {disk['free_mb']:.0f} MB free" if not disk["reason"] else disk["reason"])
    out.append("versions  " + ", ".join(f"{name} {version}" for name, version in found["versions"].items()))
    return out


def _underflows(audio: dict[str, Any]) -> str:
    count = audio["underflows"]
    return "no underflow" if count == 0 else f"{count} underflows: close what else plays or computes"
