# SPDX-License-Identifier: MIT
"""Reads the times of a recording."""

from __future__ import annotations

from datetime import UTC, datetime


def epoch_s(text: str) -> float:
    """An ISO 8601 time as seconds since 1970-01-01 UTC (UTC when it names no zone); NaN when it is none."""
    if not text:
        return float("nan")
    try:
        moment = datetime.fromisoformat(text.strip())
        return (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).timestamp()
    except (ValueError, OverflowError):
        return float("nan")
