from __future__ import annotations

import gzip
import json
from pathlib import Path
from typing import Any

import numpy as np


def write_recording(
    folder: Path,
    accel: np.ndarray,
    gyro: np.ndarray | None,
    fixes: np.ndarray | None,
    meta: dict[str, Any],
    truth: dict[str, Any] | None,
    gz: bool = False,
) -> None:
    folder.mkdir(parents=True)

    def table(name: str, head: str, rows: np.ndarray, fmt: list[str]) -> None:
        opened = gzip.open(folder / f"{name}.csv.gz", "wt") if gz else open(folder / f"{name}.csv", "w")
        with opened as f:
            f.write(head + "\n")
            line = ",".join(fmt) + "\n"
            f.write("".join(line % tuple(r) for r in rows.tolist()))

    table("accel", "t_s,ax_m_s2,ay_m_s2,az_m_s2", accel, ["%.6f"] + ["%.5f"] * 3)
    if gyro is not None:
        table("gyro", "t_s,wx_rad_s,wy_rad_s,wz_rad_s", gyro, ["%.6f"] + ["%.5f"] * 3)
    if fixes is not None:
        table(
            "speed",
            "t_s,speed_m_s,lat_deg,lon_deg,accuracy_m_s,heading_deg",
            fixes,
            ["%.3f", "%.3f", "%.7f", "%.7f", "%.2f", "%.1f"],
        )
    (folder / "meta.json").write_text(json.dumps(meta, indent=1))
    if truth is not None:
        (folder / "truth.json").write_text(json.dumps(truth))
