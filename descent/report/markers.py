# SPDX-License-Identifier: MIT
"""The signs on map, strip and card, our own drawings on a 24 by 24 field centred on 12, 12."""

from __future__ import annotations

from markupsafe import Markup

from descent.report.svg import ACCENT, ALARM, INK, MUTED, PAPER, decimal, tag

_RING = f'<circle cx="12" cy="12" r="9" fill="{PAPER}" stroke="{ACCENT}" stroke-width="2.6"/>'
_DISC = f'<circle cx="12" cy="12" r="10.4" fill="{ACCENT}" stroke="{PAPER}" stroke-width="1.6"/>'
_PLATE = (
    f'<rect x="2.2" y="2.2" width="19.6" height="19.6" rx="4" fill="{PAPER}" stroke="{ACCENT}" '
    'stroke-width="2"/>'
)
_DARK_PLATE = (
    f'<rect x="1.6" y="1.6" width="20.8" height="20.8" rx="4" fill="{ALARM}" stroke="{PAPER}" '
    'stroke-width="1.6"/>'
)


def _line(path: str, colour: str = ACCENT, width: float = 2.2) -> str:
    return (
        f'<path d="{path}" fill="none" stroke="{colour}" stroke-width="{width}" stroke-linecap="round" '
        'stroke-linejoin="round"/>'
    )


_THERMOMETER = _DISC + (
    '<path d="M12 5.2a1.9 1.9 0 0 0-1.9 1.9v5.6a3.6 3.6 0 1 0 3.8 0V7.1A1.9 1.9 0 0 0 12 5.2z" '
    f'fill="{PAPER}"/><circle cx="12" cy="15.7" r="1.9" fill="{ACCENT}"/>'
)
_DRAWINGS: dict[str, str] = {
    # a summit
    "crest": f'<path d="M12 4 21.4 20H2.6z" fill="{PAPER}" stroke="{INK}" stroke-width="2.2" '
    'stroke-linejoin="round"/>'
    + f'<path d="M12 4 15.9 10.6 13.6 9.6 12 12 10.4 9.6 8.1 10.6z" fill="{INK}"/>',
    # a drum, ticked off
    "brake-check": _RING + _line("M7.6 12.3l3.1 3.2 5.8-6.6", ACCENT, 2.6),
    # a thermometer, its column low
    "cool-down": _THERMOMETER,
    "cool-and-air": _THERMOMETER,
    # a gauge, its needle high
    "build-air": _RING + _line("M7.4 15.6a5.6 5.6 0 1 1 9.2 0M12 13.4l3-4", ACCENT, 2.2),
    # a place where brakes are checked: the same tick on a plate
    "brake-check-area": _PLATE + _line("M7.4 12.3l3.2 3.2 6-6.8", ACCENT, 2.4),
    # a cog
    "gear-change": f'<circle cx="12" cy="12" r="8.6" fill="{PAPER}" stroke="{ACCENT}" stroke-width="4" '
    f'stroke-dasharray="3.6 3.15"/><circle cx="12" cy="12" r="6.6" fill="{PAPER}" stroke="{ACCENT}" '
    f'stroke-width="2.2"/><circle cx="12" cy="12" r="2" fill="{ACCENT}"/>',
    # a road with a bay beside it
    "pull-out": _PLATE + _line("M8 5.4v13.2") + _line("M8 7.2c6 .6 8 2 8 4.8s-2 4.2-8 4.8"),
    # a bed rising out of the road, with loose gravel
    "escape-ramp": _DARK_PLATE + f'<path d="M4.6 18.2h14.8V7.2z" fill="{PAPER}"/>'
    f'<g fill="{ALARM}"><circle cx="16.4" cy="15.6" r="1"/><circle cx="13" cy="16" r="1"/>'
    '<circle cx="16.6" cy="12" r="1"/></g>',
    # roofs
    "town": f'<path d="M2.5 19.5v-7l4.6-4 4.6 4v7zM12.8 19.5V10l4.4-4 4.4 4v9.5z" fill="{MUTED}" '
    f'stroke="{PAPER}" '
    'stroke-width="1.2" stroke-linejoin="round"/>',
    "milepost": f'<rect x="10.4" y="5" width="3.2" height="14" rx="1" fill="{INK}" stroke="{PAPER}" '
    'stroke-width="1.2"/>',
    # a bench under a tree
    "rest-area": _PLATE
    + _line("M7 18.4V9.5M4.9 12.4 7 9.2l2.1 3.2M11.5 14.6h7M12.6 14.8v3.4M17.4 14.8v3.4", ACCENT, 1.8),
    # two links
    "chain-up-area": _PLATE
    + '<g transform="rotate(-45 12 12)">'
    + _line(
        "M10.6 9.2H7.4a2.8 2.8 0 0 0 0 5.6h3.2M13.4 14.8h3.2a2.8 2.8 0 0 0 0-5.6h-3.2M9.4 12h5.2", ACCENT, 2
    )
    + "</g>",
    # a beam balance
    "scale": _PLATE
    + _line("M12 5.6v12.8M8.4 18.4h7.2M6 8.2h12M6 8.2l-1.6 5h3.2zM18 8.2l-1.6 5h3.2z", ACCENT, 1.6),
    "truck-speed-limit": f'<circle cx="12" cy="12" r="9" fill="{PAPER}" stroke="{ALARM}" stroke-width="3"/>'
    + _line("M7.4 12h9.2", INK, 2.6),
    "stop-sign": f'<path d="M8.2 3h7.6L21 8.2v7.6L15.8 21H8.2L3 15.8V8.2z" fill="{PAPER}" stroke="{ALARM}" '
    'stroke-width="2.6"/>' + _line("M7.6 12h8.8", ALARM, 2.6),
    # the same board, for a row of the card
    "sign": f'<circle cx="12" cy="12" r="9" fill="{PAPER}" stroke="{ALARM}" stroke-width="3"/>'
    + _line("M7.4 12h9.2", INK, 2.6),
    # a road that bends back
    "curve": _line("M5 20.5h7.5a5.6 5.6 0 0 0 0-11.2H8.2a3.1 3.1 0 0 1 0-6.2H19", INK, 3.2),
    "landmark": f'<path d="M12 4.8 19.2 12 12 19.2 4.8 12z" fill="{PAPER}" stroke="{INK}" '
    'stroke-width="2.2"/>',
    "start": f'<circle cx="12" cy="12" r="6.6" fill="{PAPER}" stroke="{INK}" stroke-width="3.4"/>',
    "end": f'<rect x="5.2" y="5.2" width="13.6" height="13.6" fill="{INK}" stroke="{PAPER}" '
    'stroke-width="1.8"/>'
    f'<rect x="9" y="9" width="6" height="6" fill="{PAPER}"/>',
    "other": f'<circle cx="12" cy="12" r="5" fill="{MUTED}" stroke="{PAPER}" stroke-width="1.6"/>',
}
LEG_LIFT = 22.0
KINDS = tuple(_DRAWINGS)


def drawing(kind: str) -> Markup:
    """The shapes of a sign; an unknown kind gives a plain dot."""
    return Markup(_DRAWINGS.get(kind, _DRAWINGS["other"]))


def leg_drawing(number: object) -> Markup:
    """A numbered diamond: where a leg starts."""
    label = tag(
        "text", str(number), x=12, y=16.3 if len(str(number)) < 2 else 15.6, text_anchor="middle",
        font_size=12 if len(str(number)) < 2 else 10, font_weight=700, fill=PAPER
    )
    return (
        Markup(f'<path d="M12 .9 23.1 12 12 23.1 .9 12z" fill="{INK}" stroke="{PAPER}" stroke-width="1.5"/>')
        + label
    )


def leg_post(number: object) -> Markup:
    """The numbered diamond on a post whose foot, LEG_LIFT below the field's centre, stands on the road."""
    stem = (
        f'<path d="M12 22V{12 + LEG_LIFT:g}" stroke="{PAPER}" stroke-width="5"/>'
        f'<path d="M12 22V{12 + LEG_LIFT:g}" stroke="{INK}" stroke-width="2.6"/>'
    )
    return Markup(stem) + leg_drawing(number)


def placed(shapes: Markup, x: float, y: float, *, size: float) -> Markup:
    """Shapes of the 24 by 24 field as a group centred on x, y."""
    scale = size / 24.0
    move = f"translate({decimal(x - size / 2)} {decimal(y - size / 2)}) scale({scale:.3g})"
    return tag("g", shapes, transform=move)


def icon(shapes: Markup, *, size: int) -> Markup:
    """Shapes as an SVG element of their own, silent to a screen reader: the words stand beside it."""
    return tag(
        "svg",
        shapes,
        class_="sign",
        width=size,
        height=size,
        viewBox="0 0 24 24",
        aria_hidden="true",
        focusable="false",
    )
