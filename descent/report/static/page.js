// SPDX-License-Identifier: MIT
// One cursor over strip and map: by pointer, by finger, by the keyboard on the slider.
(function () {
  "use strict";
  var data = JSON.parse(document.getElementById("cursor-data").textContent);
  var slider = document.getElementById("place");
  var readout = document.getElementById("readout");
  var strips = Array.prototype.slice.call(document.querySelectorAll(".strip"));
  var last = data.station.length - 1;
  var length = data.station[last];
  var axles = Object.keys(data.axles);
  var box = document.querySelector(".map-box");
  var map = box && window[box.id];
  var dot = null;

  function number(value) { return String(value).replace(".", data.decimal); }

  // The first row at or after a station; rows stand in the order of travel.
  function rowAt(station) {
    var low = 0, high = last;
    while (low < high) {
      var middle = (low + high) >> 1;
      if (data.station[middle] < station) { low = middle + 1; } else { high = middle; }
    }
    if (low > 0 && station - data.station[low - 1] < data.station[low] - station) { low -= 1; }
    return low;
  }

  function sentence(row) {
    var words = data.words, units = data.units;
    var grade = data.grade[row];
    var parts = [units.distance + " " + number(data.distance[row].toFixed(1)),
      data.height[row] + " " + units.height,
      number(Math.abs(grade).toFixed(1)) + "% " + (grade <= 0 ? words.down : words.up)];
    if (data.speed) { parts.push(data.speed[row] === 0 ? words.stopped : data.speed[row] + " " + units.speed); }
    if (data.gear && data.gear[row]) { parts.push(words.gear + " " + data.gear[row]); }
    if (data.retarder && data.retarder[row]) { parts.push(words.retarder + " " + data.retarder[row]); }
    if (axles.length) {
      var hot = axles[0];
      axles.forEach(function (axle) { if (data.axles[axle][row] > data.axles[hot][row]) { hot = axle; } });
      parts.push(words.hottest + " " + data.axles[hot][row] + " " + units.temperature + " (" + hot + ")");
    }
    return parts.join(", ");
  }

  function show(row, from) {
    var share = data.station[row] / length;
    strips.forEach(function (strip) {
      var left = +strip.dataset.left, right = +strip.dataset.right;
      var cursor = strip.querySelector(".cursor");
      cursor.setAttribute("transform", "translate(" + (left + share * (right - left)).toFixed(1) + " 0)");
      cursor.classList.add("on");
    });
    if (map && window.L) {
      var place = [data.lat[row], data.lon[row]];
      if (dot) { dot.setLatLng(place); } else {
        dot = window.L.circleMarker(place, {radius: 9, color: "#15191d", weight: 3, fillColor: "#fff",
          fillOpacity: 0.9, interactive: false}).addTo(map);
      }
    }
    var text = sentence(row);
    readout.textContent = text;
    slider.setAttribute("aria-valuetext", text);
    if (from !== slider) { slider.value = Math.round(share * +slider.max); }
  }

  slider.addEventListener("input", function () { show(rowAt(slider.value / slider.max * length), slider); });

  strips.forEach(function (strip) {
    function follow(event) {
      var area = strip.getBoundingClientRect();
      var x = (event.clientX - area.left) / area.width * +strip.dataset.width;
      var share = (x - strip.dataset.left) / (strip.dataset.right - strip.dataset.left);
      show(rowAt(Math.min(Math.max(share, 0), 1) * length), strip);
    }
    strip.addEventListener("pointermove", follow);
    strip.addEventListener("pointerdown", follow);
  });

  // Labels on the live map: the most important first, each on a side that is free, or hidden.
  function declutter() {
    var frame = box.getBoundingClientRect(), taken = [];
    var signs = box.querySelectorAll(".map-sign");
    Array.prototype.forEach.call(signs, function (sign) { taken.push({of: sign, area: sign.querySelector("svg").getBoundingClientRect()}); });
    Array.prototype.forEach.call(box.querySelectorAll(".leaflet-control"), function (control) {
      taken.push({of: control, area: control.getBoundingClientRect()});
    });
    var labels = Array.prototype.slice.call(box.querySelectorAll(".map-label"));
    labels.sort(function (a, b) { return a.dataset.rank - b.dataset.rank; });
    labels.forEach(function (label) {
      var found = ["right", "left", "above", "below"].some(function (side) {
        label.className = "map-label " + side;
        var area = label.getBoundingClientRect();
        if (area.left < frame.left + 2 || area.right > frame.right - 2 || area.top < frame.top + 2
            || area.bottom > frame.bottom - 2) { return false; }
        if (taken.some(function (other) {
          return other.of !== label.parentNode && area.left < other.area.right && other.area.left < area.right
            && area.top < other.area.bottom && other.area.top < area.bottom;
        })) { return false; }
        taken.push({of: null, area: area});
        return true;
      });
      if (!found) { label.className = "map-label away"; }
    });
  }

  if (map && window.L) {
    map.on("zoomend moveend resize", declutter);
    declutter();
    map.on("mousemove click", function (event) {
      var best = -1, nearest = 30 * 30;
      for (var row = 0; row <= last; row += 1) {
        var point = map.latLngToContainerPoint([data.lat[row], data.lon[row]]);
        var dx = point.x - event.containerPoint.x, dy = point.y - event.containerPoint.y;
        if (dx * dx + dy * dy < nearest) { nearest = dx * dx + dy * dy; best = row; }
      }
      if (best >= 0) { show(best, map); }
    });
  }
  show(0, slider);
}());
