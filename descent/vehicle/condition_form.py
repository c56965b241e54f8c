# SPDX-License-Identifier: MIT
"""Writes the walk-round form: TOML to fill in, and one page to print, in the order it is walked."""

from __future__ import annotations

from html import escape

from descent.vehicle.air_supply import Body, body_of
from descent.vehicle.model import Vehicle
from descent.vehicle.walk_round_items import Item, Kind, Stage, stages
from descent.vehicle.walk_round_limits import PressureLimits

FORMATS = (".toml", ".html", ".txt")
CAUTION = ("A qualified driver walks it, a qualified person repairs. Chock the wheels before the parking brake is "
           "released. The vehicle's own manual and the law of the place come first.")


SIZES_FROM = 7
SIZES = (("10.4px", "2.2px"), ("9.6px", "1.8px"), ("8.8px", "1px"), ("8.5px", ".8px"), ("7.5px", ".4px"))
"""Letter size and room above and below a line that fill one letter page, by the number of stages from `SIZES_FROM` on."""


def _heads(vehicle: Vehicle) -> tuple[str, ...]:
    """What is filled in at the top."""
    trailer = ("Trailer",) if body_of(vehicle) is Body.COMBINATION else ()
    return ("Date", "Vehicle", *trailer, "Walked by")


def _stages(vehicle: Vehicle) -> tuple[Stage, ...]:
    return stages(vehicle, PressureLimits(body_of(vehicle), None))


def form_text(vehicle: Vehicle, *, suffix: str) -> str:
    """The form of a vehicle as one of `FORMATS` (".toml" for any other suffix); the same bytes every time."""
    return {".html": form_html, ".txt": form_plain}.get(suffix, form_toml)(vehicle)


def form_toml(vehicle: Vehicle) -> str:
    """The form to fill in: each entry empty, above it the question, its limit and how it is answered."""
    lines = [f"# Walk-round of: {vehicle.title}", f"# {CAUTION}",
             '# Answers stand between the quotes, numbers with their unit: "1.75in", "58psi", "30s". What stays empty was',
             "# not looked at, and the plan says so.", "", "[vehicle]", f'name = "{_plain(vehicle.name)}"']
    for stage in _stages(vehicle):
        lines += ["", f"# ---- {stage.title} ----", f"# {stage.how}", f"[{stage.section}]"]
        for item in stage.items:
            answer = f"one of: {', '.join(item.choices)}" if item.choices else item.kind.value
            limit = f" Limit: {item.limit}." if item.limit else ""
            empty = "[" + ", ".join(['""'] * item.count) + "]" if item.kind is Kind.LENGTHS else '""'
            lines += [f"# {item.question.rstrip('?')}{'?' if item.question.endswith('?') else '.'}{limit} ({answer})",
                      f"{item.key} = {empty}"]
    return "\n".join(lines) + "\n"


def _plain(text: str) -> str:
    return "".join(char for char in text if char.isprintable() and char not in '"\\')


def form_plain(vehicle: Vehicle) -> str:
    """The form as text for any printer, 96 characters wide."""
    lines = [f"WALK-ROUND   {vehicle.title}", "  ".join(f"{name} ____________" for name in _heads(vehicle)), ""]
    for number, stage in enumerate(_stages(vehicle), start=1):
        lines += [f"{number}. {stage.title}", f"   {stage.how}"]
        for item in stage.items:
            blank = "  ".join(["_______"] * item.count) if item.kind is Kind.LENGTHS else (
                " / ".join(item.choices) if item.choices else "____________")
            lines += [f"   [ ] {item.question}  {blank}", *([f"         {item.limit}"] if item.limit else [])]
        lines.append("")
    return "\n".join([*lines, "Past a limit the vehicle does not go until it is repaired.", CAUTION]) + "\n"


STYLE = """
@page { size: letter; margin: 9mm 11mm }
* { box-sizing: border-box }
body { font: var(--size)/1.28 system-ui, "Helvetica Neue", Arial, sans-serif; color: #111; margin: 0 auto; max-width: 194mm }
h1 { font-size: 15px; margin: 0 0 2px } p { margin: 0 0 4px }
.head { display: flex; gap: 10px; margin: 5px 0 6px } .head span { flex: 1; border-bottom: 1px solid #444; padding-bottom: 10px }
section { margin-top: 5px; break-inside: avoid } h2 { font-size: 1.14em; margin: 0; border-top: 1.5px solid #111; padding-top: 2px }
h2 b { display: inline-block; min-width: 1.7em } .how { color: #333; margin: 0 0 1px 15px }
table { width: 100%; border-collapse: collapse } td { border-top: .5px solid #999; padding: var(--room) 4px; vertical-align: middle }
td:nth-child(1) { width: 29%; padding-left: 15px } td:nth-child(2) { width: 33%; color: #333 }
.box { display: inline-block; width: 8px; height: 8px; border: 1px solid #111; margin: 0 3px 0 8px; vertical-align: -1px }
.box:first-child { margin-left: 0 }
.line { display: inline-block; border-bottom: 1px solid #444; height: 1.15em; width: 48px; margin-right: 6px } .line.long { width: 96px }
.foot { margin-top: 6px; border-top: 1.5px solid #111; padding-top: 3px }
@media screen { body { padding: 16px; font-size: 14px; max-width: 900px } h1 { font-size: 22px } h2 { font-size: 16px } }
""".strip()


def form_html(vehicle: Vehicle) -> str:
    """The form as one printable page that loads nothing."""
    walk = _stages(vehicle)
    size, room = SIZES[min(max(len(walk), SIZES_FROM), SIZES_FROM + len(SIZES) - 1) - SIZES_FROM]
    parts = [_section(number, stage) for number, stage in enumerate(walk, start=1)]
    return "\n".join([
        "<!doctype html>", '<html lang="en">', '<meta charset="utf-8">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<title>Walk-round: {escape(vehicle.title)}</title>", f"<style>:root {{ --size: {size}; --room: {room} }}\n{STYLE}</style>", "<main>",
        f"<h1>Walk-round</h1><p>{escape(vehicle.title)}</p>",
        f'<div class="head">{"".join(f"<span>{name}</span>" for name in _heads(vehicle))}</div>', *parts,
        ('<p class="foot"><strong>Past a limit the vehicle does not go until it is repaired.</strong> '
        f"{escape(CAUTION)}</p>"), "</main>", "</html>"]) + "\n"


def _section(number: int, stage: Stage) -> str:
    rows = "".join(f"<tr><td>{escape(item.question)}<td>{escape(item.limit)}<td>{_answer(item)}" for item in stage.items)
    return (f'<section><h2><b>{number}</b>{escape(stage.title)}</h2><p class="how">{escape(stage.how)}</p>'
            f"<table>{rows}</table></section>")


def _answer(item: Item) -> str:
    if item.choices:
        return "".join(f'<span class="box"></span>{escape(choice)}' for choice in item.choices)
    if item.kind is Kind.LENGTHS:
        return '<span class="line"></span>' * item.count
    return '<span class="line long"></span>'
