# SPDX-License-Identifier: MIT
"""Road profile in, sustained downgrades out. SI; next: `descent.physics` and `descent.plan`."""
