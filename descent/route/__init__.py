# SPDX-License-Identifier: MIT
"""Route files in, a clean line with distances along it out. SI; next: `descent.terrain`."""
