"""What the kernels of this room take."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Text = NDArray[np.uint8]
Cells = NDArray[np.int64]
Words = NDArray[np.uint64]
