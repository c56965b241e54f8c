# SPDX-License-Identifier: MIT
"""Forces, heat and the march down the road: pure functions of arrays in SI. Next: `descent.plan`."""
