"""How values are compared where the search has to decide between them.

Two engines, or two versions of a library, add up the same numbers in another order, and their last
bits differ. Where two ways on are equally good these bits would decide which is looked into.
"""

from __future__ import annotations

from typing import overload

import numpy as np
from numpy.typing import NDArray

Singles = NDArray[np.float32]


@overload
def compared(values: float) -> np.float32: ...
@overload
def compared(values: NDArray[np.float64]) -> Singles: ...
def compared(values: float | NDArray[np.float64]) -> np.float32 | Singles:
    """Values in single precision, of the same shape; what is equal then goes by place."""
    return np.float32(values)
