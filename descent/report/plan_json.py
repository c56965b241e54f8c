# SPDX-License-Identifier: MIT
"""plan.json's text: plain values only, every number rounded by what its name says it measures."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from typing import Any

import numpy as np

# Decimals by the unit a name ends in; the first that fits. Finer than anything known, coarser than float
# noise.
_DECIMALS: tuple[tuple[str, int], ...] = (
    ("lon", 7),
    ("lat", 7),
    ("_1pm", 8),
    ("grade", 7),
    ("grade_sd", 7),
    ("steepest_1km", 7),
    ("steepest_300m", 7),
    ("_mps", 4),
    ("_rpm", 1),
    ("_kpa", 3),
    ("_kg", 3),
    ("_kgpm", 4),
    ("_j", 0),
    ("_w", 1),
    ("_s", 3),
    ("_m", 3),
    ("_c", 3),
    ("minutes", 3),
)
_DIGITS = 9


def plan_json(document: Mapping[str, Any]) -> str:
    """The document as JSON text: keys in their order, one line per entry of the top two levels, no NaN."""
    stable = stable_document(document)
    parts = []
    for key, value in stable.items():
        if isinstance(value, dict) and value:
            inner = ",\n".join(f"    {_dumps(k)}: {_dumps(v)}" for k, v in value.items())
            parts.append(f"  {_dumps(key)}: {{\n{inner}\n  }}")
        elif isinstance(value, list) and value and isinstance(value[0], dict):
            inner = ",\n".join(f"    {_dumps(v)}" for v in value)
            parts.append(f"  {_dumps(key)}: [\n{inner}\n  ]")
        else:
            parts.append(f"  {_dumps(key)}: {_dumps(value)}")
    return "{\n" + ",\n".join(parts) + "\n}\n"


def stable_document(document: Mapping[str, Any]) -> dict[str, Any]:
    """Plain dicts, lists, numbers, text and None; floats rounded, NaN and infinity as None. Doing it twice
    changes nothing."""
    return {str(key): _plain(value, str(key)) for key, value in document.items()}


def _plain(value: Any, name: str) -> Any:
    if isinstance(value, Mapping):
        # an inner table such as brake_temp_c {axle: []} measures what its own name says
        return {
            str(key): _plain(inner, str(key) if _decimals(str(key)) is not None else name)
            for key, inner in value.items()
        }
    if isinstance(value, np.ndarray):
        return [_plain(item, name) for item in value.tolist()]
    if isinstance(value, list | tuple):
        return [_plain(item, name) for item in value]
    if isinstance(value, np.generic):
        value = value.item()
    if isinstance(value, float):
        return _rounded(value, name)
    if value is None or isinstance(value, bool | int | str):
        return value
    return str(value)


def _decimals(name: str) -> int | None:
    return next((decimals for ending, decimals in _DECIMALS if name.endswith(ending)), None)


def _rounded(value: float, name: str) -> float | None:
    if not math.isfinite(value):
        return None
    decimals = _decimals(name)
    if decimals is None:
        return float(f"{value:.{_DIGITS}g}") + 0.0
    return round(value, decimals) + 0.0


def _dumps(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(", ", ": "))
