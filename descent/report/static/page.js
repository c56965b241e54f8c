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
  function whole(value) { return String(value).replace(/\B(?=(\d{3})+$)/g, data.thousands); }

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
      whole(data.height[row]) + " " + units.height,
      number(Math.abs(grade).toFixed(1)) + data.percent + " " + (grade <= 0 ? words.down : words.up)];
    if (data.speed) { parts.push(data.speed[row] === 0 ? words.stopped : data.speed[row] + " " + units.speed); }
    if (data.control && data.control[row]) { parts.push(words.control + " " + data.control[row] + " " + units.speed); }
    if (data.gear && data.gear[row]) { parts.push(words.gear + " " + data.gear[row]); }
    if (data.retarder && data.retarder[row]) { parts.push(words.retarder + " " + data.retarder[row]); }
    if (axles.length) {
      var hot = axles[0];
      axles.forEach(function (axle) { if (data.axles[axle][row] > data.axles[hot][row]) { hot = axle; } });
      parts.push(words.hottest + " " + data.axles[hot][row] + " " + units.temperature + " (" + hot + ")");
    }
    if (data.stopping && data.stopping[row]) { parts.push(words.stopping + " " + whole(data.stopping[row]) + " " + units.short); }
    if (data.air && data.air[row]) { parts.push(words.air + " " + data.air[row] + " " + units.pressure); }
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

  // Rows of the strip the reader does not want: the rest move up, the picture gets shorter. Nothing is stored.
  var choices = Array.prototype.slice.call(document.querySelectorAll("[data-shows]"));
  function stack() {
    var hidden = {};
    choices.forEach(function (choice) { hidden[choice.dataset.shows] = !choice.checked; });
    strips.forEach(function (strip) {
      var up = 0, size = strip.viewBox.baseVal;
      if (!strip.dataset.full) { strip.dataset.full = size.height; }
      strip.querySelectorAll("g[data-row]").forEach(function (group) {
        var row = group.dataset.row;
        strip.querySelectorAll('[data-row="' + row + '"]').forEach(function (part) {
          part.style.display = hidden[row] ? "none" : "";
          part.setAttribute("transform", "translate(0 " + (-up).toFixed(1) + ")");
        });
        if (hidden[row]) { up += +group.dataset.space; }
      });
      strip.setAttribute("viewBox", "0 0 " + size.width + " " + (strip.dataset.full - up).toFixed(0));
    });
  }
  choices.forEach(function (choice) { choice.addEventListener("change", stack); });

  function meet(one, other) {
    return one.left < other.right && other.left < one.right && one.top < other.bottom && other.top < one.bottom;
  }

  function moved(area, dx, dy) {
    return {left: area.left + dx, right: area.right + dx, top: area.top + dy, bottom: area.bottom + dy};
  }

  var steps = [[0, 0]];
  [24, 36, 50].forEach(function (step) {
    [90, 270, 0, 180, 45, 135, 225, 315].forEach(function (angle) {
      steps.push([step * Math.cos(angle * Math.PI / 180), step * Math.sin(angle * Math.PI / 180)]);
    });
  });

  // Signs on the live map: the most important stays, one that would cover it steps aside on a short line.
  function spread(signs, frame, taken) {
    signs.forEach(function (sign) {
      var leader = sign.querySelector(".map-leader");
      sign.style.setProperty("--step-x", "0px");
      sign.style.setProperty("--step-y", "0px");
      leader.style.display = "none";
      var drawn = sign.querySelector("svg").getBoundingClientRect();
      // a leg's drawing is a square on a post
      var area = {left: drawn.left, right: drawn.right, top: drawn.top, bottom: drawn.top + drawn.width};
      var free = steps.filter(function (step) {
        var there = moved(area, step[0], step[1]);
        var inside = there.left >= frame.left && there.right <= frame.right && there.top >= frame.top
          && there.bottom <= frame.bottom;
        return (inside || step === steps[0]) && !taken.some(function (other) { return meet(there, other.area); });
      })[0] || steps[0];
      // on a small map a lesser sign that finds its place taken waits until the reader zooms in
      var waits = frame.width < 560 && free !== steps[0] && +leader.dataset.rank >= 7;
      sign.classList.toggle("away", waits);
      if (waits) { return; }
      taken.push({of: sign, area: moved(area, free[0], free[1])});
      if (free === steps[0]) { return; }
      sign.style.setProperty("--step-x", free[0] + "px");
      sign.style.setProperty("--step-y", free[1] + "px");
      leader.style.width = Math.hypot(free[0], free[1]) + "px";
      leader.style.transform = "rotate(" + Math.atan2(free[1], free[0]) + "rad)";
      leader.style.display = "block";
    });
  }

  // Labels on the live map: each on a side that is free, or hidden.
  function name(labels, frame, taken) {
    var sides = ["right", "left", "above", "below", "right-up", "left-up", "right-down", "left-down"];
    labels.forEach(function (label) {
      var found = !label.parentNode.classList.contains("away") && sides.some(function (side) {
        label.className = "map-label " + side;
        var area = label.getBoundingClientRect();
        if (area.left < frame.left + 2 || area.right > frame.right - 2 || area.top < frame.top + 2
            || area.bottom > frame.bottom - 2) { return false; }
        if (taken.some(function (other) { return other.of !== label.parentNode && meet(area, other.area); })) {
          return false;
        }
        taken.push({of: null, area: area});
        return true;
      });
      if (!found) { label.className = "map-label away"; }
    });
  }

  // Stops and legs first, then the stops' labels, then the other signs, then the other labels.
  function layOut() {
    var frame = box.getBoundingClientRect();
    var taken = Array.prototype.map.call(box.querySelectorAll(".leaflet-control"), function (control) {
      return {of: control, area: control.getBoundingClientRect()};
    });
    function ranked(selector, from, to) {
      return Array.prototype.filter.call(box.querySelectorAll(selector), function (element) {
        return +element.dataset.rank >= from && +element.dataset.rank <= to;
      }).sort(function (a, b) { return a.dataset.rank - b.dataset.rank; });
    }
    function signs(from, to) {
      return ranked(".map-leader", from, to).map(function (leader) { return leader.parentNode; });
    }
    spread(signs(0, 2), frame, taken);
    name(ranked(".map-label", 0, 0), frame, taken);
    spread(signs(3, 8), frame, taken);
    name(ranked(".map-label", 1, 99), frame, taken);
  }

  // The still map's contours as a layer under the route; their numbers keep their size at every zoom.
  function contours() {
    var still = document.querySelector(".static-map"), drawn = document.getElementById("contours");
    if (!drawn) { return; }
    var edge = still.dataset.bounds.split(" ").map(Number), size = still.viewBox.baseVal;
    var copy = drawn.cloneNode(true), sheet = document.createElementNS("http://www.w3.org/2000/svg", "svg");
    copy.removeAttribute("id");
    sheet.setAttribute("viewBox", "0 0 " + size.width + " " + size.height);
    sheet.setAttribute("class", "contour-sheet");
    sheet.setAttribute("aria-hidden", "true");
    sheet.appendChild(copy);
    window.L.svgOverlay(sheet, [[edge[1], edge[0]], [edge[3], edge[2]]]).addTo(map);
    function keepSize() {
      var wide = map.latLngToLayerPoint([edge[1], edge[2]]).x - map.latLngToLayerPoint([edge[1], edge[0]]).x;
      var labels = copy.querySelector(".contour-labels");
      labels.setAttribute("font-size", (11 * size.width / wide).toFixed(2));
      labels.style.display = wide < 640 ? "none" : "";  // too many numbers for a small picture
    }
    map.on("zoomend", keepSize);
    keepSize();
  }

  // Map pictures of a server: only while the reader has them on.
  function tiles() {
    var choice = document.getElementById("tiles"), layer = null;
    if (!choice) { return; }
    choice.addEventListener("change", function () {
      if (choice.checked) {
        layer = layer || window.L.tileLayer(choice.dataset.url, {maxZoom: 17, referrerPolicy: "no-referrer"});
        layer.addTo(map);
      } else if (layer) { layer.remove(); }
      box.classList.toggle("online", choice.checked);
      document.getElementById("tiles-credit").hidden = !choice.checked;
    });
  }

  if (map && window.L) {
    contours();
    tiles();
    map.on("zoomend moveend resize", layOut);
    layOut();
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
  // What could go wrong: one downgrade open at a time to begin with, all of them on paper.
  var groups = Array.prototype.slice.call(document.querySelectorAll("details.failure-group"));
  groups.forEach(function (group, number) { group.open = number === 0; });
  window.addEventListener("beforeprint", function () { groups.forEach(function (group) { group.open = true; }); });
  show(0, slider);
}());
