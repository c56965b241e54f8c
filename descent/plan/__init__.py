# SPDX-License-Identifier: MIT
"""Profile, downgrades, vehicle and physics in, one descent plan with its reasons out. Next: `descent.report`."""
