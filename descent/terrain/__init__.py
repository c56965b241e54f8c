# SPDX-License-Identifier: MIT
"""Route line and elevation data in, road profile with its band out. SI; next: `descent.downgrades`."""
