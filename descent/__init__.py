# SPDX-License-Identifier: MIT
"""Plans how a heavy vehicle comes down a mountain without overheating its brakes."""

__version__ = "0.1.0"
