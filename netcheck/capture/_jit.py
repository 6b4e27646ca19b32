"""What the kernels of this room take, and how they are compiled."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from netcheck.jit import inner, kept

__all__ = ["Cells", "Text", "Words", "inner", "kept"]

Text = NDArray[np.uint8]
Cells = NDArray[np.int64]
Words = NDArray[np.uint64]
