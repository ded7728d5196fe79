"""Raw rows of one stretch of an outing as one compressed blob, exact in both directions.

A chunk keeps the rows in the order they arrived, so that a replay of the file is the same run: `kinds` says the kind
of each row, then come the rows of each kind by themselves. Times are int64 ns, acceleration and rotation float32,
fixes float64.

Codec 1, in this order, little-endian, all through one zlib stream:

    kinds     n bytes (0 accel, 1 gyro, 2 fix)
    accel     int64 t_ns, float32 x, y, z
    gyro      int64 t_ns, float32 x, y, z
    fixes     int64 arrived_ns, int64 fixed_ns, float64 speed, lat, lon, accuracy, heading

Each column is stored as differences from row to row (of the bits, modulo 2^32 or 2^64: exact, NaN included), then
shuffled: all first bytes, all second bytes and so on, because the high bytes hardly change. A time that is no number is
the lowest int64.

Codec 2 is for the small chunks of an outing that goes on, until they become one of codec 1: neither differences nor
shuffled nor compressed, because for the rows of a second numpy and zlib take longer to begin than their work is worth.

    kinds     n bytes
    times     float64 s of the accel and gyro rows, in the order they arrived
    values    float32 x, y, z of the same
    fixes     float64 arrived_s, fixed_s, speed, lat, lon, accuracy, heading
"""

from __future__ import annotations

import math
import sys
import zlib
from array import array
from collections.abc import Iterable, Sequence

import attrs
import numpy as np

from cadence_coach.core.events import ACCEL, FIX, GYRO, Row
from cadence_coach.errors import Refused

CODEC = 1
PLAIN_CODEC = 2
NO_TIME = np.iinfo(np.int64).min
MOST_ROWS = 2_000_000
"""Rows in one chunk: more is a broken or hostile file (an hour at 200 Hz with gyroscope is 1.44 million)."""

LEVEL = 4
"""Of zlib: 1 % more bytes than 6 for two thirds of its time, on a phone that rides along."""

_IMU_BYTES = 8 + 3 * 4
_FIX_BYTES = 2 * 8 + 5 * 8
FARTHEST_S = 9e9  # int64 ns ends at 9.22e9 s
_NO_ROWS = np.empty((0, 4))


def to_grid(t: float) -> float:
    """A time [s] on the file's grid of 1 ns, as it will be read again: what the engine sees live and in a replay is
    equal. Exact for a number with up to nine decimals under 2^53 ns (104 days)."""
    return round(t * 1e9) / 1e9 if -FARTHEST_S < t < FARTHEST_S else math.nan


def _ns(t: np.ndarray) -> np.ndarray:
    good = np.abs(t) < FARTHEST_S  # False for NaN
    if good.all():
        return np.rint(t * 1e9).astype(np.int64)
    return np.where(good, np.rint(np.where(good, t, 0.0) * 1e9), float(NO_TIME)).astype(np.int64)


def _seconds(ns: np.ndarray) -> np.ndarray:
    return np.where(ns == NO_TIME, math.nan, ns / 1e9)


@attrs.frozen(eq=False)
class Rows:
    """Raw rows as arrays: kinds uint8 [n]; accel, gyro float64 [n, 4] (t_s, x, y, z); fixes float64 [n, 7]."""

    kinds: np.ndarray
    accel: np.ndarray
    gyro: np.ndarray
    fixes: np.ndarray

    @classmethod
    def of(cls, rows: Sequence[Row]) -> Rows:
        kinds = np.array([r[0] for r in rows], dtype=np.uint8)
        # one array of all that a chip measured, parted by numpy: a slice of each row takes three times as long
        imu = np.array([r for r in rows if r[0] != FIX], dtype=np.float64).reshape(-1, 5)
        turned = imu[:, 0] == GYRO
        if not turned.any():
            accel, gyro = imu[:, 1:], _NO_ROWS
        else:
            accel, gyro = imu[~turned, 1:], imu[turned, 1:]
        fixes = [r[1:8] for r in rows if r[0] == FIX] if len(imu) < len(kinds) else []
        return cls(kinds, accel, gyro, np.array(fixes, dtype=np.float64).reshape(-1, 7))

    def rows(self) -> Iterable[Row]:
        """The rows one by one, as a source delivers them."""
        streams = [iter(a.tolist()) for a in (self.accel, self.gyro, self.fixes)]
        for kind in self.kinds.tolist():
            yield (kind, *next(streams[kind]))

    @classmethod
    def joined(cls, parts: Sequence[Rows]) -> Rows:
        if not parts:
            return cls.of(())
        return cls(*(np.concatenate([getattr(p, f.name) for p in parts]) for f in attrs.fields(cls)))

    def span(self) -> tuple[float, float] | tuple[None, None]:
        """Earliest and latest arrival time of a row [s]; None without any. Infinite and no times do not count."""
        times = np.concatenate([self.accel[:, 0], self.gyro[:, 0], self.fixes[:, 0]])
        times = times[np.isfinite(times)]
        return (float(times.min()), float(times.max())) if len(times) else (None, None)

    def __len__(self) -> int:
        return len(self.kinds)


def _squeeze(columns: np.ndarray) -> bytes:
    """[n, k] of an unsigned type -> differences, shuffled."""
    steps = columns.copy()
    steps[1:] -= columns[:-1]  # unsigned: wraps, exactly undone by the running sum
    width = columns.dtype.itemsize
    return (
        np.ascontiguousarray(steps.T).view(np.uint8).reshape(columns.shape[1], -1, width).transpose(0, 2, 1).tobytes()
    )


def _unsqueeze(data: bytes, n: int, k: int, dtype: str) -> np.ndarray:
    width = np.dtype(dtype).itemsize
    shuffled = np.frombuffer(data, dtype=np.uint8).reshape(k, width, n)
    steps = np.ascontiguousarray(shuffled.transpose(0, 2, 1)).view(dtype).reshape(k, n)
    return np.cumsum(steps, axis=1, dtype=dtype).T


def _imu_bytes(stream: np.ndarray) -> bytes:
    if not len(stream):
        return b""
    with np.errstate(over="ignore"):
        values = np.ascontiguousarray(stream[:, 1:4].astype("<f4")).view("<u4")
    return _squeeze(_ns(stream[:, :1]).astype("<i8").view("<u8")) + _squeeze(values)


def _imu(data: bytes, n: int) -> np.ndarray:
    out = np.empty((n, 4))
    out[:, 0] = _seconds(_unsqueeze(data[: 8 * n], n, 1, "<u8").view("<i8")[:, 0])
    with np.errstate(invalid="ignore"):
        out[:, 1:] = np.ascontiguousarray(_unsqueeze(data[8 * n :], n, 3, "<u4")).view("<f4")
    return out


def pack(rows: Rows, level: int = LEVEL) -> bytes:
    """Rows -> blob of codec 1. Values that are no float32 numbers are rounded to float32; times to 1 ns."""
    raw = rows.kinds.tobytes() + _imu_bytes(rows.accel) + _imu_bytes(rows.gyro)
    if len(rows.fixes):
        raw += _squeeze(np.ascontiguousarray(_ns(rows.fixes[:, :2]).astype("<i8")).view("<u8"))
        raw += _squeeze(np.ascontiguousarray(rows.fixes[:, 2:].astype("<f8")).view("<u8"))
    return zlib.compress(raw, level)


def columns(rows: Sequence[Row]) -> tuple[bytes, bytes, bytes, bytes]:
    """The columns of codec 2, which lie one behind the other in its blob. Values are rounded to float32."""
    chip = [r for r in rows if r[0] != FIX]
    times = array("d", [r[1] for r in chip])
    values = array("f", [v for _, _, x, y, z in chip for v in (x, y, z)])
    fixes = array("d", [v for r in rows if r[0] == FIX for v in r[1:8]] if len(chip) < len(rows) else ())
    if sys.byteorder == "big":
        for column in (times, values, fixes):
            column.byteswap()
    return bytes([r[0] for r in rows]), times.tobytes(), values.tobytes(), fixes.tobytes()


def of_columns(kinds: bytes, times: bytes, values: bytes, fixes: bytes) -> Rows:
    """Columns of codec 2, of one chunk or of several joined column by column -> rows."""
    kind = np.frombuffer(kinds, dtype=np.uint8).copy()
    imu = np.empty((len(times) // 8, 4))
    imu[:, 0] = np.frombuffer(times, "<f8")
    imu[:, 1:] = np.frombuffer(values, "<f4").reshape(-1, 3)
    fix = np.frombuffer(fixes, "<f8").reshape(-1, 7).copy()
    for stamps in (imu[:, :1], fix[:, :2]):
        stamps[:] = _seconds(_ns(stamps))  # as codec 1 gives them back
    turned = kind[kind != FIX] == GYRO
    return Rows(kind, imu[~turned], imu[turned], fix)


def span_of(rows: Sequence[Row]) -> tuple[float, float] | tuple[None, None]:
    """As `Rows.span`, of rows that are no arrays yet."""
    times = [r[1] for r in rows if r[1] - r[1] == 0.0]
    return (min(times), max(times)) if times else (None, None)


def unpack(blob: bytes, n: int, codec: int = CODEC) -> Rows:
    """Blob -> n rows. Raises Refused when the blob is not what `pack` or `columns` makes of n rows; memory stays
    bounded by n."""
    if not 0 <= n <= MOST_ROWS:
        raise Refused(f"raw chunk: {n} rows; at most {MOST_ROWS} are allowed")
    return _unpack_plain(blob, n) if codec == PLAIN_CODEC else _unpack_packed(blob, n)


def _unpack_plain(blob: bytes, n: int) -> Rows:
    kinds = blob[:n]
    fixes = kinds.count(FIX)
    chip = kinds.count(ACCEL) + kinds.count(GYRO)
    values = n + 8 * chip
    if chip + fixes != n or len(blob) != n + _IMU_BYTES * chip + _FIX_BYTES * fixes:
        raise Refused("raw chunk: its length does not fit its rows; the file is damaged")
    return of_columns(kinds, blob[n:values], blob[values : n + _IMU_BYTES * chip], blob[n + _IMU_BYTES * chip :])


def _unpack_packed(blob: bytes, n: int) -> Rows:
    inflate = zlib.decompressobj()
    try:
        data = inflate.decompress(blob, n * (1 + _FIX_BYTES) + 1)
    except zlib.error as e:
        raise Refused(f"raw chunk: not a zlib stream ({e})") from None
    kinds = np.frombuffer(data[:n], dtype=np.uint8)
    counts = [int(np.count_nonzero(kinds == kind)) for kind in (ACCEL, GYRO, FIX)]
    a, g, f = (c * w for c, w in zip(counts, (_IMU_BYTES, _IMU_BYTES, _FIX_BYTES), strict=True))
    if sum(counts) != n or len(data) != n + a + g + f or not inflate.eof or inflate.unused_data:
        raise Refused("raw chunk: its length does not fit its rows; the file is damaged")
    fix_data = data[n + a + g :]
    fixes = np.empty((counts[2], 7))
    fixes[:, :2] = _seconds(_unsqueeze(fix_data[: 16 * counts[2]], counts[2], 2, "<u8").view("<i8"))
    fixes[:, 2:] = np.ascontiguousarray(_unsqueeze(fix_data[16 * counts[2] :], counts[2], 5, "<u8")).view("<f8")
    return Rows(kinds.copy(), _imu(data[n : n + a], counts[0]), _imu(data[n + a : n + a + g], counts[1]), fixes)
