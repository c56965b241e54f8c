# SPDX-License-Identifier: MIT
"""The live map: folium writes the Leaflet calls, the page's own shell carries them; no tiles, no network."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import branca.element
import folium
import jinja2
import numpy as np
from markupsafe import Markup, escape

from descent.report.grade_class import COLOURS, WIDTHS_PX, grade_runs
from descent.report.map_features import MapPoint, map_points
from descent.report.map_window import route_window
from descent.report.markers import LEG_LIFT, icon
from descent.report.shown import Shown
from descent.report.static_map import HILLSHADE_ID
from descent.report.svg import INK, PAPER, tag
from descent.report.thin import thin_line
from descent.report.trip import FloatArray, Hillshade, Trip

_TOLERANCE_M = 4.0
_HILLSHADE_MARK = "data:hillshade-of-this-page"  # replaced by the still map's picture
# In place of the library's own pin pictures, which would be files beside the page: a transparent point.
_NO_PIN = "data:image/gif;base64,R0lGODlhAQABAIAAAAAAAP///yH5BAEAAAAALAAAAAABAAEAAAIBRAA7"


@dataclass(frozen=True)
class LiveMap:
    """The map's element id, its script, and the height over width its box should have."""

    element_id: str
    script: str
    aspect: float


class _PlainPopup(branca.element.MacroElement):
    """A popup that needs no second library: escaped HTML bound to its marker."""

    _template = jinja2.Template(
        "{% macro script(this, kwargs) %}{{ this._parent.get_name() }}"
        ".bindPopup({{ this.content }}, {maxWidth: 280});{% endmacro %}"
    )

    def __init__(self, content: Markup) -> None:
        super().__init__()  # type: ignore[no-untyped-call]
        self._name = "Popup"
        self.content = script_json(str(content))


def script_json(value: Any) -> str:
    """JSON that may stand inside a script element."""
    text = json.dumps(value, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    for character in "<>&\u2028\u2029":
        text = text.replace(character, f"\\u{ord(character):04x}")
    return text


def live_map(trip: Trip, shown: Shown, hillshade: Hillshade | None) -> LiveMap:
    """The script of the map; the hillshade is taken from the still map's picture, so it stands in the page
    once."""
    road = trip.road
    chart = folium.Map(
        tiles=None,
        location=[float(np.mean(road.lat)), float(np.mean(road.lon))],
        control_scale=True,
        prefer_canvas=False,
        attribution_control=False,
        scroll_wheel_zoom=False,
        zoom_snap=0.25,
        zoom_delta=0.5,
        max_zoom=17,
    )
    if hillshade is not None:
        folium.raster_layers.ImageOverlay(
            image=_HILLSHADE_MARK,
            alt=shown.words("map.relief"),
            bounds=[[hillshade.south, hillshade.west], [hillshade.north, hillshade.east]],
        ).add_to(chart)
    for line in _route_lines(trip):
        line.add_to(chart)
    for point in map_points(trip, shown):
        _marker(point).add_to(chart)
    chart.fit_bounds(
        [[float(road.lat.min()), float(road.lon.min())], [float(road.lat.max()), float(road.lon.max())]],
        padding=(28, 28),
    )
    figure: Any = chart.get_root()
    figure.render()
    script, ids = _with_stable_names(figure.script.render(), figure)
    marker = f'document.getElementById("{HILLSHADE_ID}").getAttribute("href")'
    script = script.replace(f'"{_HILLSHADE_MARK}"', marker)
    pins = (
        f'L.Icon.Default.imagePath="";L.Icon.Default.mergeOptions({{iconUrl:"{_NO_PIN}",'
        f'iconRetinaUrl:"{_NO_PIN}",shadowUrl:"{_NO_PIN}"}});\n'
    )
    element_id = f"map_{ids[chart._id]}"
    return LiveMap(element_id, pins + _squeezed(script), route_window(trip).aspect)


def _route_lines(trip: Trip) -> list[folium.PolyLine]:
    """A thin dark edge, a light casing, then the classes from gentle to steep, each one line of many
    parts."""
    lat, lon = trip.road.lat, trip.road.lon
    whole = [_thinned(lat, lon)]
    lines = [_line(whole, INK, WIDTHS_PX[-1] + 5), _line(whole, PAPER, WIDTHS_PX[-1] + 3)]
    runs = grade_runs(trip.road.station_m, trip.road.grade)
    for grade_class, (colour, width) in enumerate(zip(COLOURS, WIDTHS_PX, strict=True)):
        parts = [
            _thinned(lat[r.first : r.last + 1], lon[r.first : r.last + 1])
            for r in runs
            if r.grade_class == grade_class and r.last > r.first
        ]
        if parts:
            lines.append(_line(parts, colour, width))
    return lines


def _line(parts: list[list[list[float]]], colour: str, width: float) -> folium.PolyLine:
    return folium.PolyLine(
        parts,
        color=colour,
        weight=width,
        opacity=1,
        smooth_factor=1.0,  # type: ignore[no-untyped-call]
        interactive=False,
    )


def _thinned(lat: FloatArray, lon: FloatArray) -> list[list[float]]:
    metre = 111_200.0
    x, y = lon * metre * np.cos(np.radians(lat)), lat * metre
    kept = thin_line(x, y, tolerance=_TOLERANCE_M)
    return [[round(float(a), 5), round(float(b), 5)] for a, b in zip(lat[kept], lon[kept], strict=True)]


def _marker(point: MapPoint) -> folium.Marker:
    size = 16 if point.kind in ("milepost", "landmark", "other") else 24
    drawn, anchor = icon(point.shapes, size=size), size // 2
    if point.lift:
        drawn = tag(
            "svg",
            point.shapes,
            class_="sign",
            width=24,
            height=36,
            viewBox="0 0 24 36",
            aria_hidden="true",
            focusable="false",
        )
        anchor = 12 + int(LEG_LIFT)
    # the page's script moves signs apart (the line shows where one belongs) and gives each label a free side,
    # the most important first
    drawn += Markup('<i class="map-leader" data-rank="{}" style="top:{}px"></i>').format(point.rank, anchor)
    if point.label:
        drawn += tag("span", point.label, class_="map-label", data_rank=point.label_rank)
    marker = folium.Marker(
        [round(point.lat, 5), round(point.lon, 5)],
        title=point.title,
        alt=point.title,
        keyboard=point.rank < 9,
        z_index_offset=1000 - 100 * point.rank,
        icon=folium.DivIcon(
            html=str(drawn), icon_size=(size, size), icon_anchor=(size // 2, anchor), class_name="map-sign"
        ),
    )
    lines = Markup("").join(Markup("<br>{}").format(line) for line in point.lines)
    marker.add_child(
        _PlainPopup(  # type: ignore[no-untyped-call]
            Markup("<b>{}</b>{}").format(escape(point.title), lines)
        )
    )
    return marker


def _with_stable_names(script: str, root: branca.element.Element) -> tuple[str, dict[str, str]]:
    """Folium names its objects at random; name them by their order instead, so that the same trip is the same
    page."""
    ids = {str(element._id): f"{number:03d}" for number, element in enumerate(_walk(root))}
    pattern = re.compile("|".join(map(re.escape, ids)))
    return pattern.sub(lambda match: ids[match.group(0)], script), ids


def _walk(element: branca.element.Element) -> Iterator[branca.element.Element]:
    yield element
    for child in element._children.values():
        yield from _walk(child)


def _squeezed(script: str) -> str:
    """Folium's script without its indentation and empty lines."""
    return "\n".join(line.strip() for line in script.splitlines() if line.strip()) + "\n"
