# SPDX-License-Identifier: MIT
"""Arrays without an owner, for compiled loops: counting references costs more there than the arithmetic."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, cast

from numba.core import cgutils
from numba.extending import intrinsic, overload
from numba.np.arrayobj import make_array


def borrowed(array: Any) -> Any:
    """The same memory as an array (any shape) whose references nobody counts; outside compiled code the array itself [1].

    Range: an argument of the function that borrows it, since whoever called keeps it alive; never an array made inside,
    which would be freed after its last use. Source: none, nothing is reckoned.

    >>> import numba, numpy as np
    >>> twice = numba.njit(lambda array: 2.0 * borrowed(array)[1])
    >>> twice(np.arange(3.0)), borrowed(np.arange(3.0)).tolist()
    (2.0, [0.0, 1.0, 2.0])
    """
    return array


@intrinsic
def _without_owner(_context: Any, array: Any) -> tuple[Any, Callable[..., Any]]:
    def code(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        made = cast(Any, make_array)(signature.return_type)(context, builder, arguments[0])
        made.meminfo = cast(Any, cgutils.get_null_value)(made.meminfo.type)
        made.parent = cast(Any, cgutils.get_null_value)(made.parent.type)
        return made._getvalue()

    return array(array), code


@overload(borrowed, jit_options={"forceinline": True})
def _borrowed(array: Any) -> Callable[..., Any]:
    def compiled(array: Any) -> Any:
        return _without_owner(array)  # type: ignore[call-arg]

    return compiled
