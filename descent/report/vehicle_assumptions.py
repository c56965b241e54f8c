# SPDX-License-Identifier: MIT
"""What was assumed of a vehicle, in a driver's words: one sentence per value, axles alike named once."""

from __future__ import annotations

from collections.abc import Sequence

from descent.report.words import Words


def assumed_values(assumptions: Sequence[str], words: Words) -> list[str]:
    """Sentences from a vehicle's assumptions, which read "section.field = value" or "axles.NAME.field = value".

    A value that several axle groups share is said once; the groups are named only where they differ.
    """
    groups: dict[tuple[str, str], list[str]] = {}
    axles: dict[str, None] = {}
    for text in assumptions:
        path, _, value = text.partition(" = ")
        section, *rest = path.split(".")
        field = rest[-1] if rest else section
        axle = rest[0] if section == "axles" and len(rest) == 2 else ""
        if axle:
            axles[axle] = None
        groups.setdefault((field, value), []).append(axle)
    found = []
    for (field, value), named in groups.items():
        name = words.one_of("field", field.replace(" ", "_"))
        which = [axle for axle in dict.fromkeys(named) if axle]
        if which and len(which) < len(axles):
            name = words("field_of", name=name, axles=", ".join(words.said(axle) for axle in which))
        number, bracket, note = value.partition(" (")
        said = words.said(number) + (f" ({words.said(note.removesuffix(')'))})" if bracket else "")
        found.append(words("field_value", name=name, value=said))
    return found
