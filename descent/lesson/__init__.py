# SPDX-License-Identifier: MIT
"""The trainer's lesson: one truck on one hill, every choice computed beforehand."""
