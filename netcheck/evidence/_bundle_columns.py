"""The columns of a bundle, as its kernel fills them."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

# places in a bundle's state
ROWS: Final = 0
BYTES: Final = 1


class BundleColumns(NamedTuple):
    """Columns of frames, with room for more than are filled, in file order.

    group:   int32, number of the frame's group
    awake:   int32, number of the frame's awake period of its channel
    start:   int64, where the frame's payload begins in ``data``
    state:   int64, (2,): frames and payload bytes so far
    """

    time_ns: NDArray[np.int64]
    group: NDArray[np.int32]
    awake: NDArray[np.int32]
    length: NDArray[np.uint8]
    start: NDArray[np.int64]
    data: NDArray[np.uint8]
    state: NDArray[np.int64]
