# SPDX-License-Identifier: MIT
"""A recorded drive laid over the plan: what was driven, what the brakes took, and where it left the plan."""
