# SPDX-License-Identifier: MIT
"""Plans how a heavy vehicle comes down a mountain without overheating its brakes."""

__version__ = "0.1.0"

from pathlib import Path as _Path

from descent.kernel_cache import forget_stale_kernels as _forget_stale_kernels

_forget_stale_kernels(_Path(__file__).parent)
