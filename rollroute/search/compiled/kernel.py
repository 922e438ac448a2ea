"""How kernels are compiled: kept on disk, without the interpreter's lock; parts of kernels without the wrappers to call them from Python.

The wrappers of functions that take tuples of many arrays cost more to compile than the functions do.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numba as nb
import numpy as np


def kernel(function: Callable[..., Any]) -> Any:
    """A function to call from Python."""
    return nb.njit(cache=True, nogil=True, error_model="numpy")(function)


def lean(function: Callable[..., Any]) -> Any:
    """A function to call from Python that makes no arrays, so that it need not count references to those it reads."""
    options: dict[str, Any] = {"_nrt": False}
    return nb.njit(cache=True, nogil=True, error_model="numpy", **options)(function)


def part(function: Callable[..., Any]) -> Any:
    """A function to call from kernels only."""
    options: dict[str, Any] = {"no_cpython_wrapper": True, "no_cfunc_wrapper": True, "_nrt": False}
    return nb.njit(cache=True, nogil=True, error_model="numpy", **options)(function)


@kernel
def doubled(array):  # type: ignore[no-untyped-def]
    """The array with room for as much again (quicker to compile than ``np.concatenate`` and slices)."""
    wider = np.empty(2 * len(array), array.dtype)
    for i in range(len(array)):
        wider[i] = array[i]
    return wider
