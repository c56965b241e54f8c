# SPDX-License-Identifier: MIT
"""The kinds of places a plan knows, and the words files use for them.

Open map tags (highway=rest_area, highway=escape, amenity=weighbridge, ...): OpenStreetMap wiki, from memory.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

LANDMARK = "landmark"
KINDS = ("brake-check-area", "pull-out", "chain-up-area", "rest-area", "scale", "escape-ramp", "town", "landmark",
         "milepost", "truck-speed-limit", "stop-sign")
_WORDS: Mapping[str, str] = {
    "brake-check": "brake-check-area", "brake-check-point": "brake-check-area", "brake-test-area": "brake-check-area",
    "brake-inspection-area": "brake-check-area", "mandatory-brake-check": "brake-check-area",
    "pullout": "pull-out", "turnout": "pull-out", "turn-out": "pull-out", "lay-by": "pull-out", "layby": "pull-out",
    "passing-place": "pull-out", "parking": "pull-out", "wide-shoulder": "pull-out", "viewpoint": "pull-out",
    "chain-up": "chain-up-area", "chain-on-area": "chain-up-area", "chain-control": "chain-up-area",
    "chain-area": "chain-up-area", "chain-fitting-bay": "chain-up-area",
    "rest-stop": "rest-area", "services": "rest-area", "truck-stop": "rest-area", "service-area": "rest-area",
    "weigh-station": "scale", "weighbridge": "scale", "scales": "scale", "truck-scale": "scale",
    "escape": "escape-ramp", "runaway-truck-ramp": "escape-ramp", "runaway-ramp": "escape-ramp",
    "truck-escape-ramp": "escape-ramp", "emergency-escape-ramp": "escape-ramp", "arrester-bed": "escape-ramp",
    "village": "town", "city": "town", "hamlet": "town",
    "peak": "landmark", "pass": "landmark", "mountain-pass": "landmark", "summit": "landmark", "bridge": "landmark",
    "milestone": "milepost", "mile-marker": "milepost", "mile-post": "milepost", "kilometre-post": "milepost",
    "truck-limit": "truck-speed-limit", "advisory-speed": "truck-speed-limit", "speed-limit": "truck-speed-limit",
    "truck-advisory-speed": "truck-speed-limit", "maxspeed:hgv": "truck-speed-limit",
    "stop": "stop-sign", "traffic-signals": "stop-sign", "give-way": "stop-sign",
}
_KIND_KEYS = ("kind", "type", "category", "sym", "highway", "amenity", "place", "natural", "tourism")


def find_kind(attributes: Mapping[str, str]) -> tuple[str | None, str]:
    """The kind the attributes of a point stand for and the word it comes from.

    The kind is None when the words are unknown; the word is "" when no attribute speaks of a kind.
    """
    tags = {key.lower(): value for key, value in attributes.items()}
    first = ""
    for key in _KIND_KEYS:
        word = re.sub(r"[\s_]+", "-", tags.get(key, "").strip().lower())
        if not word:
            continue
        first = first or tags[key]
        for form in (word, word.removesuffix("s")):
            if form in KINDS:
                return form, tags[key]
            if form in _WORDS:
                return _WORDS[form], tags[key]
    return None, first
