"""Rows of a signal, thinned so that nothing that is seen in a chart is lost."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np
from numpy.typing import NDArray

Times = NDArray[np.int64]
Values = NDArray[np.float64]
_SLACK: Final = 4  # times the most rows are gathered before they are thinned again
_WIDTH_NS: Final = 1 << 20  # of the narrowest bucket, about a millisecond


class Thinner:
    """Rows of one signal as they come, no more than about ``most`` of them.

    Of states every change is kept, and of a quantity every row, as long as there are no more. Beyond that,
    the least and the largest of each bucket of time stay, and the first row with "no value" (NaN) in it.
    Buckets are a power of two wide and widen by doubling: thinning again finds the same rows as once.
    """

    def __init__(self, most: int, *, is_state: bool) -> None:
        self.rows = 0
        self.changes = 0
        self.is_whole = True
        self._most = most
        self._is_state = is_state
        self._width = _WIDTH_NS
        self._parts: list[tuple[Times, Values]] = []
        self._held = 0
        self._last: tuple[int, float] | None = None

    def add(self, time_ns: Times, value: Values) -> None:
        """The next rows, in file order."""
        if not len(value):
            return
        self.rows += len(value)
        if self._is_state:
            kept = self._edges(value)
            self._last = int(time_ns[-1]), float(value[-1])
            time_ns, value = time_ns[kept], value[kept]
        self._parts.append((time_ns, value))
        self._held += len(value)
        if self._held > _SLACK * self._most:
            self._thin()

    def _edges(self, value: Values) -> NDArray[np.bool_]:
        """Rows whose value differs from the one before, the very first included."""
        kept = np.empty(len(value), np.bool_)
        kept[1:] = _differ(value[1:], value[:-1])
        kept[0] = self._last is None or bool(_differ(value[:1], np.array([self._last[1]]))[0])
        self.changes += int(np.count_nonzero(kept)) - (self._last is None)
        return kept

    def _joined(self) -> tuple[Times, Values]:
        if not self._parts:
            return np.empty(0, np.int64), np.empty(0)
        return np.concatenate([time for time, _ in self._parts]), np.concatenate(
            [value for _, value in self._parts]
        )

    def _thin(self) -> None:
        time, value = self._joined()
        if len(value) > self._most:
            self.is_whole = False
            kept, self._width = fewer(time, value, self._most, self._width)
            time, value = time[kept], value[kept]
        self._parts = [(time, value)]
        self._held = len(value)

    def result(self) -> tuple[Times, Values]:
        """The rows kept, by time; of states with the very last row."""
        self._thin()
        time, value = self._joined()
        if self._last is not None and (not len(time) or time[-1] != self._last[0]):
            time, value = np.append(time, self._last[0]), np.append(value, self._last[1])
        order = np.argsort(time, kind="stable")
        return time[order], value[order]


def _differ(some: Values, others: Values) -> NDArray[np.bool_]:
    """Where two values differ; "no value" is one of its own."""
    return np.asarray((some != others) & ~(np.isnan(some) & np.isnan(others)))


def extremes(time_ns: Times, value: Values, width: int) -> NDArray[np.int64]:
    """Numbers of the rows that are their bucket's first least, last largest or first NaN; ascending."""
    bucket = time_ns // width
    order = np.lexsort((value, bucket))  # NaN comes last in its bucket
    bucket, value = bucket[order], value[order]
    first = np.concatenate(([True], bucket[1:] != bucket[:-1]))
    none = np.isnan(value)
    first_none = none & (first | np.concatenate(([True], ~none[:-1])))
    last = ~none & np.concatenate(((bucket[1:] != bucket[:-1]) | none[1:], [True]))
    return np.sort(order[first | last | first_none])


def fewer(time_ns: Times, value: Values, most: int, width: int) -> tuple[NDArray[np.int64], int]:
    """Numbers of rows that are extremes of their buckets, ``most`` at most, and the width that it took.

    Buckets of ``width`` or wider. As many rows or fewer stay as they are.
    """
    kept = np.arange(len(value))
    while len(kept) > most:
        kept = kept[extremes(time_ns[kept], value[kept], width)]
        if len(kept) > most:
            width *= 2
    return kept, width


class Samples:
    """Some frames behind a signal: about ``most``, with their payloads."""

    def __init__(self, most: int, *, is_state: bool) -> None:
        self._most = most
        self._is_state = is_state
        self._width = _WIDTH_NS
        self._rows: list[tuple[int, float, bytes]] = []
        self._last: tuple[int, float, bytes] | None = None

    def add(self, time_ns: Times, value: Values, payload: Callable[[int], bytes]) -> None:
        """The next rows; ``payload`` gives the bytes of one by its number among them."""
        if not len(value):
            return
        if self._is_state:
            self._add_changes(time_ns, value, payload)
            return
        kept, self._width = fewer(time_ns, value, self._most, self._width)
        self._rows += [_row(time_ns, value, payload, number) for number in kept.tolist()]
        if len(self._rows) > _SLACK * self._most:
            self._thin()

    def _add_changes(self, time_ns: Times, value: Values, payload: Callable[[int], bytes]) -> None:
        """The frames on either side of each change, as long as there is room, and the first frame of all."""
        if self._last is None:
            self._rows.append(_row(time_ns, value, payload, 0))
        elif _differ(value[:1], np.array([self._last[1]]))[0] and len(self._rows) < self._most:
            self._rows += [self._last, _row(time_ns, value, payload, 0)]
        for number in (np.flatnonzero(_differ(value[1:], value[:-1])) + 1).tolist():
            if len(self._rows) >= self._most:
                break
            self._rows += [_row(time_ns, value, payload, at) for at in (number - 1, number)]
        self._last = _row(time_ns, value, payload, len(value) - 1)

    def _thin(self) -> None:
        rows = sorted(self._rows, key=lambda row: row[0])
        time = np.array([row[0] for row in rows], np.int64)
        kept, self._width = fewer(time, np.array([row[1] for row in rows]), self._most, self._width)
        self._rows = [rows[number] for number in kept.tolist()]

    def result(self) -> list[tuple[int, float, bytes]]:
        """(time in ns, value, payload) by time, each once."""
        if not self._is_state:
            self._thin()
        rows = [*self._rows, *([self._last] if self._is_state and self._last is not None else [])]
        return sorted(dict.fromkeys(rows), key=lambda row: row[0])


def _row(
    time_ns: Times, value: Values, payload: Callable[[int], bytes], number: int
) -> tuple[int, float, bytes]:
    return int(time_ns[number]), float(value[number]), payload(number)
