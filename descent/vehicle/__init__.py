# SPDX-License-Identifier: MIT
"""Tables of generic vehicles in, one loaded vehicle in SI out; knows nothing of roads. Next: `descent.physics`."""
