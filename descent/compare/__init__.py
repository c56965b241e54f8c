# SPDX-License-Identifier: MIT
"""Several vehicles, weights, routes or days planned side by side by the one planner."""
