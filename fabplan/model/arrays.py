"""Array types, and the one way in which a record keeps an array: as a read-only copy."""

from typing import Any

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]


def floats(values: npt.ArrayLike, *shape: int) -> FloatArray:
    """A read-only copy of `values` as doubles, reshaped to `shape` where one is given (-1 for the free length)."""
    return _kept(np.array(values, dtype=np.float64), shape)


def ints(values: npt.ArrayLike, *shape: int) -> IntArray:
    """A read-only copy of `values` as whole numbers, reshaped to `shape` where one is given."""
    return _kept(np.array(values, dtype=np.int64), shape)


def bools(values: npt.ArrayLike, *shape: int) -> BoolArray:
    """A read-only copy of `values` as truth values, reshaped to `shape` where one is given."""
    return _kept(np.array(values, dtype=np.bool_), shape)


def _kept(array: npt.NDArray[Any], shape: tuple[int, ...]) -> npt.NDArray[Any]:
    array = array.reshape(shape) if shape else array
    array.setflags(write=False)
    return array
