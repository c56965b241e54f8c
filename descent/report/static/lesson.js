// SPDX-License-Identifier: MIT
// The lesson's bench: two choices, read from the grid of computed descents, on one picture.
(function () {
  "use strict";
  var data = JSON.parse(document.getElementById("lesson-data").textContent);
  var words = data.words, units = data.units, limits = data.limits, ends = data.ends;
  var letters = ["a", "b"], n = ends.length, end = ends[n - 1];
  var codes = {};
  data.alphabet.split("").forEach(function (letter, at) { codes[letter] = at; });
  var base = data.alphabet.length;

  // ---- the packed grid ----
  function value(text, at, step, width) {
    var code = 0, none = Math.pow(base, width) - 1;
    for (var k = 0; k < width; k += 1) { code = code * base + codes[text[width * at + k]]; }
    return code === none ? null : code * step;
  }
  function scale(name, steps) { return steps[name.slice(name.lastIndexOf("_"))]; }
  var starts = [], stories = [], cells = [];
  (function index() {
    var curve = 0, story = 0, point = 0, cell = 0;
    for (var k = 0; k < data.pack.kinds.length; k += 1) {
      var kind = +data.pack.kinds[k];
      starts.push(curve);
      stories.push(story);
      curve += (2 + (kind & 1)) * n + (kind & 2 ? (2 + (kind & 4 ? 1 : 0)) * n : 0);
      if (data.pack.states[k] !== "0") { story += data.storyNames.length; }
    }
    data.speeds.forEach(function (speeds) {
      var combinations = data.counts[0] * data.counts[1] * data.counts[2];
      cells.push({point: point, cell: cell, speeds: speeds.length});
      point += combinations * speeds.length * data.weights.length;
      cell += combinations * Math.max(speeds.length - 1, 1) * Math.max(data.weights.length - 1, 1);
    });
  }());
  function combination(key) { return (key[1] * data.counts[1] + key[2]) * data.counts[2] + key[3]; }
  function pointAt(key) {
    var gear = cells[key[0]];
    return gear.point + (combination(key) * gear.speeds + key[4]) * data.weights.length + key[5];
  }
  function mayRead(key) {
    var gear = cells[key[0]], heavy = Math.max(data.weights.length - 1, 1);
    return data.cells[gear.cell + (combination(key) * Math.max(gear.speeds - 1, 1) + key[4]) * heavy + key[5]] === "1";
  }
  function column(from) {
    var found = [];
    for (var k = 0; k < n; k += 1) { found.push(from(k)); }
    return found;
  }
  function outcome(key) {
    var at = pointAt(key), kind = +data.pack.kinds[at], start = starts[at], control = data.speeds[key[0]][key[4]];
    function curve(first, varies) {
      function read(part, name) {
        return column(function (k) { return value(data.pack.curves, first + part * n + k, scale(name, data.pack.scales), 2); });
      }
      return {temp: read(0, "temp_c"), pressure: read(1, "pressure_kpa"),
        speed: varies ? read(2, "speed_mps") : column(function () { return control; })};
    }
    var found = {state: +data.pack.states[at], key: key, curve: curve(start, kind & 1)};
    found.worst = kind & 2 ? curve(start + (2 + (kind & 1)) * n, kind & 4) : found.curve;
    data.figures.forEach(function (name, k) {
      found[name] = value(data.pack.figures, at * data.figures.length + k, scale(name, data.pack.steps), 3);
    });
    if (found.state) {
      data.storyNames.forEach(function (name, k) {
        found[name] = value(data.pack.stories, stories[at] + k, scale(name, data.pack.steps), 3);
      });
    }
    return found;
  }

  // ---- reading between ----
  function low(grid, wanted) {
    var at = 0;
    while (at < grid.length - 2 && grid[at + 1] <= wanted + 1e-3) { at += 1; }
    return at;
  }
  function shares(grid, at, wanted) {
    if (grid.length === 1) { return [1]; }
    var share = Math.min(Math.max((wanted - grid[at]) / (grid[at + 1] - grid[at]), 0), 1);
    if (share < 1e-3 || share > 1 - 1e-3) { share = Math.round(share); }
    return [1 - share, share];
  }
  function corners(choice) {
    var speeds = data.speeds[choice.gear], cell = [choice.gear, choice.stage, choice.adjustment, choice.braking,
      low(speeds, choice.speed), low(data.weights, choice.weight)];
    var found = [];
    shares(speeds, cell[4], choice.speed).forEach(function (share, i) {
      shares(data.weights, cell[5], choice.weight).forEach(function (part, j) {
        if (share * part > 1e-6) {
          found.push({key: cell.slice(0, 4).concat([cell[4] + i, cell[5] + j]), share: share * part});
        }
      });
    });
    return {cell: cell, parts: found};
  }
  function straight(parts, pick) {
    return parts.reduce(function (sum, part) { return sum + part.share * pick(part.row); }, 0);
  }
  function inverse(parts, pick) {
    if (parts.some(function (part) { return pick(part.row) <= 0; })) { return straight(parts, pick); }
    return 1 / straight(parts, function (row) { return 1 / pick(row); });
  }
  function bracket(parts, name) {
    var found = parts.map(function (part) { return part.row[name]; }).filter(function (at) {
      return at !== null && at !== undefined;
    });
    if (!found.length) { return null; }
    return {first: Math.min.apply(null, found), last: found.length === parts.length ? Math.max.apply(null, found) : null};
  }
  function read(choice) {
    var around = corners(choice), parts = around.parts;
    parts.forEach(function (part) { part.row = outcome(part.key); });
    if (parts.length === 1) {
      return Object.assign(parts[0].row, {how: "computed", speed: choice.speed, weight: choice.weight});
    }
    if (!mayRead(around.cell)) {
      var nearest = parts.reduce(function (best, part) { return part.share >= best.share - 1e-9 ? part : best; });
      var lost = parts.some(function (part) { return part.row.state > 1; });
      return Object.assign(nearest.row, {how: lost ? "snapped_runaway" : "snapped_error",
        speed: data.speeds[choice.gear][nearest.key[4]], weight: data.weights[nearest.key[5]]});
    }
    function curve(which) {
      return {
        temp: column(function (k) { return straight(parts, function (row) { return row[which].temp[k]; }); }),
        pressure: column(function (k) { return inverse(parts, function (row) { return row[which].pressure[k]; }); }),
        speed: column(function (k) { return straight(parts, function (row) { return row[which].speed[k]; }); })
      };
    }
    var found = {how: "between", speed: choice.speed, weight: choice.weight, key: parts[0].key, curve: curve("curve"),
      worst: curve("worst"), limitAt: bracket(parts, "limit_m")};
    data.figures.forEach(function (name) {
      var pick = function (row) { return row[name]; };
      found[name] = name.slice(-4) === "_kpa" ? inverse(parts, pick) : straight(parts, pick);
    });
    found.state = found.with_stop_temp_c > limits.brake_temp_c ? 1 : 0;
    return found;
  }

  // ---- words and numbers ----
  function fill(name, values) {
    return words[name].replace(/{(\w+)}/g, function (whole, key) { return values && key in values ? values[key] : whole; });
  }
  function number(wanted, decimals) {
    var text = Math.abs(wanted).toFixed(decimals || 0).split(".");
    text[0] = text[0].replace(/\B(?=(\d{3})+$)/g, data.marks[0]);
    return (wanted < 0 && +wanted.toFixed(decimals || 0) !== 0 ? "-" : "") + text.join(data.marks[1]);
  }
  function unit(symbol, text) { return text + "\u00a0" + symbol; }
  function degrees(celsius) { return units.us ? celsius * 1.8 + 32 : celsius; }
  function hot(celsius) { return unit(units.temperature, number(Math.ceil(degrees(celsius) - 1e-6))); }
  function temperature(celsius) { return unit(units.temperature, number(Math.round(degrees(celsius)))); }
  function rise(kelvin, round) { return unit(units.temperature, number(round(kelvin * (units.us ? 1.8 : 1)))); }
  function distance(metres) { return unit(units.distance[0], number(metres / units.distance[1], 1)); }
  function pressure(kpa) {
    var step = units.us ? 1 : 5;
    return unit(units.pressure[0], number(Math.round(kpa / units.pressure[1] / step) * step));
  }
  function control(mps) { return unit(units.speed[0], number(Math.floor(mps / units.speed[1] + 1e-3))); }
  function reached(mps) { return unit(units.speed[0], number(Math.ceil(mps / units.speed[1] - 0.05))); }
  function mass(kg) {
    var wanted = kg / units.mass[1];
    return unit(units.mass[0], units.us ? number(Math.round(wanted / 10) * 10) : number(wanted, 1));
  }
  function ramp(metres) {
    var step = units.us ? 50 : 10;
    return unit(units.short[0], number(Math.ceil(metres / units.short[1] / step - 1e-6) * step));
  }
  function where(station) {
    if (station > data.foot + 1) { return words["where.foot"]; }
    if (station <= data.crest + 0.05 * units.distance[1]) { return words["where.crest"]; }
    return fill("where.below", {distance: distance(station - data.crest)});
  }
  function capital(text) { return text.charAt(0).toUpperCase() + text.slice(1); }
  function share(row, name) {
    var all = data.sinks.reduce(function (sum, sink) { return sum + row[sink]; }, 0);
    return row[name] / all;
  }
  function percent(ratio) { return number(100 * ratio) + data.percent; }

  // ---- the story ----
  function storyOf(row) {
    var shown = control(row.speed), events = [], tail = [];
    function event(at, name, values) { events.push({at: at, text: fill(name, Object.assign({where: capital(where(at))}, values))}); }
    if (row.how === "between") {
      if (row.limitAt && row.limitAt.last !== null) {
        events.push({at: row.limitAt.first, text: fill("js.bracket_limit",
          {first: capital(where(row.limitAt.first)), last: where(row.limitAt.last)})});
      } else if (row.limitAt) {
        events.push({at: row.limitAt.first, text: fill("js.some_limit", {first: where(row.limitAt.first)})});
      }
      return events.map(function (item) { return item.text; }).concat([words[row.state ? "story.hot_only" : "story.fine"]]);
    }
    if (!row.state) { return [words["story.fine"]]; }
    var lasting = row.stop_earliest_m >= end - 3;
    if (row.limit_m !== null) { event(row.limit_m, "story.limit", {limit: temperature(limits.brake_temp_c), speed: shown}); }
    if (row.fade_m !== null) { event(row.fade_m, "story.fade"); }
    if (row.full_m !== null) { event(row.full_m, "story.full", {pressure: pressure(limits.application_kpa)}); }
    if (row.governed_m !== null) { event(row.governed_m, "story.governed"); }
    if (row.state === 1) {
      tail.push(words["story.hot_only"]);
    } else {
      if (!lasting) {
        var drawn = row.stop_assumed_m >= end - 3 ? words["story.drawn_all"]
          : fill("story.drawn_at", {where: where(row.stop_assumed_m)});
        event(row.stop_earliest_m, row.stop_latest_m >= end - 3 ? "story.stop_some" : "story.stop_range",
          {first: capital(where(row.stop_earliest_m)), last: where(row.stop_latest_m), drawn: drawn});
      }
      if (row.left_m !== null) {
        event(row.left_m, "story.left", {gap: distance(Math.max(row.left_m - row.stop_assumed_m, 0)),
          worst: words["story.gap_drawn"]});
      } else if (row.left_worst_m !== null) {
        event(row.left_worst_m, "story.left_worst", {gap: distance(Math.max(row.left_worst_m - row.stop_earliest_m, 0))});
      } else {
        tail.push(words["story.held"]);
      }
      if (row.foot_free_mps !== null) {
        tail.push(fill("story.foot", {speed: reached(row.foot_mps), worst: reached(row.foot_worst_mps),
          free: reached(row.foot_free_mps)}));
        tail.push(fill("story.ramp", {low: ramp(row.ramp_low_m), high: ramp(row.ramp_high_m), up: ramp(row.ramp_up_m)}));
      }
    }
    events.sort(function (one, other) { return one.at - other.at; });
    return events.map(function (item) { return item.text; }).concat(tail);
  }

  // ---- the controls ----
  var choices = {}, rows = {};
  function form(letter) { return document.getElementById("choice-" + letter); }
  function part(letter, name) { return form(letter).querySelector("." + name); }
  function wholeSpeeds(gear) {
    var grid = data.speeds[gear], size = units.speed[1], found = [];
    for (var whole = Math.round(grid[0] / size); whole <= Math.round(grid[grid.length - 1] / size); whole += 1) {
      found.push(whole * size);
    }
    return found;
  }
  var weights = (function () {
    var found = [], step = data.weightStep, last = data.weights[data.weights.length - 1];
    for (var k = Math.ceil(data.weights[0] / step - 1e-6); k * step < last - step / 2; k += 1) { found.push(k * step); }
    return found.concat([last]);
  }());
  function nearest(list, wanted) {
    return list.reduce(function (best, item, at) {
      return Math.abs(item - wanted) < Math.abs(list[best] - wanted) - 1e-9 ? at : best;
    }, 0);
  }
  function checked(letter, name) {
    var found = form(letter).querySelector("input[name=" + name + "-" + letter + "]:checked");
    return found ? +found.value : 0;
  }
  function set(letter, key) {
    choices[letter] = {gear: key[0], stage: key[1], adjustment: key[2], braking: key[3], speed: data.speeds[key[0]][key[4]],
      weight: data.weights[key[5]]};
    show(letter);
  }
  function show(letter) {
    var choice = choices[letter], speeds = wholeSpeeds(choice.gear);
    ["gear", "stage", "braking"].forEach(function (name) {
      var box = form(letter).querySelector("input[name=" + name + "-" + letter + "][value='" + choice[name] + "']");
      if (box) { box.checked = true; }
    });
    part(letter, "adjustment").value = choice.adjustment;
    var speed = part(letter, "speed"), weight = part(letter, "weight");
    speed.max = speeds.length - 1;
    speed.value = nearest(speeds, choice.speed);
    choice.speed = speeds[speed.value];
    weight.max = weights.length - 1;
    weight.value = nearest(weights, choice.weight);
    choice.weight = weights[weight.value];
    part(letter, "speed-value").textContent = control(choice.speed);
    part(letter, "weight-value").textContent = mass(choice.weight);
    speed.setAttribute("aria-valuetext", control(choice.speed));
    weight.setAttribute("aria-valuetext", mass(choice.weight));
    var at = [choice.gear, choice.stage, choice.adjustment, choice.braking].join();
    part(letter, "preset").value = data.presets.reduce(function (found, key, k) {
      var same = key.slice(0, 4).join() === at && Math.abs(data.speeds[key[0]][key[4]] - choice.speed) < 1e-3
        && Math.abs(data.weights[key[5]] - choice.weight) < 1e-1;
      return same ? String(k) : found;
    }, "");
    rows[letter] = read(choice);
    tell(letter);
    draw();
  }
  function tell(letter) {
    var row = rows[letter], name = data.states[row.state], box = form(letter);
    box.className = "choice choice-" + letter + " is-" + name;
    part(letter, "headline").textContent = words["js." + name];
    var how = part(letter, "how");
    how.textContent = fill("js." + row.how, {speed: control(row.speed), weight: mass(row.weight)});
    how.classList.toggle("snapped", row.how.indexOf("snapped") === 0);
    how.classList.toggle("lost", row.how === "snapped_runaway");
    var limit = temperature(limits.brake_temp_c), top = row.with_stop_temp_c, list = [];
    list.push(fill("js.hottest", {hottest: hot(row.peak_temp_c)}));
    list.push(top === null ? fill("js.no_stop", {limit: limit}) : fill("js.emergency", {emergency: hot(top), limit: limit}));
    if (top !== null) {
      list.push(top > limits.brake_temp_c ? fill("js.over", {over: rise(top - limits.brake_temp_c, Math.ceil)})
        : fill("js.margin", {margin: rise(limits.brake_temp_c - top, Math.floor)}));
    }
    if (row.peak_kpa > 0) {
      list.push(fill("js.pressure", {peak: pressure(row.peak_kpa), most: pressure(limits.application_kpa)}));
      list.push(fill(row.key[3] ? "js.gauge_drag" : "js.gauge", {cold: pressure(row.cold_kpa), fade: pressure(row.fade_kpa)}));
    } else {
      list.push(words["js.no_brake"]);
    }
    list.push(fill("js.engine", {rpm: number(limits.engine_speed_rpm * row.speed / data.gears[row.key[0]].governed_mps),
      most: number(limits.engine_speed_rpm)}));
    list.push(fill("js.time", {minutes: number(Math.ceil(row.time_s / 60))}));
    var figures = part(letter, "figures");
    figures.textContent = "";
    list.forEach(function (text, k) {
      var item = document.createElement("li");
      item.textContent = capital(text);
      if (k === 0) { item.className = "main"; }
      figures.appendChild(item);
    });
    var story = document.getElementById("story-" + letter);
    story.textContent = "";
    storyOf(row).forEach(function (text) {
      var item = document.createElement("li");
      item.textContent = text;
      story.appendChild(item);
    });
  }

  // ---- energy ----
  function drawEnergy() {
    var box = document.getElementById("energy"), sinks = data.sinks.filter(function (name) {
      return name !== "retarder_j" || data.counts[0] > 1;
    });
    box.textContent = "";
    function add(parent, name, kind, text) {
      var made = document.createElement(name);
      if (kind) { made.className = kind; }
      if (text) { made.textContent = text; }
      parent.appendChild(made);
      return made;
    }
    letters.forEach(function (letter) {
      var line = add(box, "div", "energy-line"), bar;
      add(line, "span", "letter " + letter, letter.toUpperCase());
      bar = add(line, "div", "energy-bar");
      bar.setAttribute("aria-hidden", "true");
      sinks.forEach(function (name) {
        var part = share(rows[letter], name), piece = add(bar, "span", name, part > 0.085 ? percent(part) : "");
        piece.style.flexGrow = part;
      });
      bar.childNodes.forEach(function (piece) { if (piece.scrollWidth > piece.clientWidth) { piece.textContent = ""; } });
    });
    var list = add(box, "ul", "energy-list");
    sinks.forEach(function (name) {
      var item = add(list, "li");
      add(item, "span", "patch " + name).setAttribute("aria-hidden", "true");
      add(item, "span", "", words["energy." + name]);
      letters.forEach(function (letter) {
        var text = add(item, "b");
        add(text, "span", "hidden", letter.toUpperCase() + " ");
        text.appendChild(document.createTextNode(percent(share(rows[letter], name))));
      });
    });
  }

  // ---- the picture ----
  var svg = "http://www.w3.org/2000/svg", picture = document.getElementById("picture");
  var ink = {a: "#0b4f6c", b: "#a8480b"}, dashes = {a: null, b: "9 4"};
  var view = null;
  function el(parent, name, attributes, text) {
    var made = document.createElementNS(svg, name);
    Object.keys(attributes).forEach(function (key) {
      if (attributes[key] !== null) { made.setAttribute(key, attributes[key]); }
    });
    if (text !== undefined) { made.textContent = text; }
    parent.appendChild(made);
    return made;
  }
  function round(wanted) { return Math.round(wanted * 10) / 10; }
  function ticks(most, count) {
    var raw = most / count, power = Math.pow(10, Math.floor(Math.log(raw) / Math.LN10)), step = 10 * power, found = [];
    [5, 2.5, 2, 1].forEach(function (factor) { if (factor * power >= raw * (1 - 1e-9)) { step = factor * power; } });
    for (var at = 0; at <= most * (1 + 1e-9); at += step) { found.push(at); }
    return found;
  }
  function draw() {
    if (!rows.a || !rows.b) { return; }
    drawEnergy();
    var width = Math.max(picture.clientWidth, 300), small = width < 520, size = small ? 12 : 13;
    var left = small ? 42 : 50, right = width - (small ? 22 : 28);
    var heights = small ? [46, 190, 110, 100] : [56, 226, 124, 112], gap = 30, top = 20;
    var tall = top + heights.reduce(function (sum, height) { return sum + height + gap; }, 0) + 12;
    picture.textContent = "";
    var root = el(picture, "svg", {viewBox: "0 0 " + width + " " + tall, role: "img", "aria-label": words["js.picture"],
      "font-size": size});
    function x(station) { return round(left + (right - left) * station / end); }
    var most = {temp: Math.max(limits.fade_onset_c, limits.brake_temp_c), pressure: 0, speed: 0};
    letters.forEach(function (letter) {
      ["curve", "worst"].forEach(function (which) {
        ["temp", "pressure", "speed"].forEach(function (name) {
          most[name] = Math.max(most[name], Math.max.apply(null, rows[letter][which][name]));
        });
      });
    });
    function label(parent, px, py, text, attributes) {
      return el(parent, "text", Object.assign({x: round(px), y: round(py), fill: "#15191d"}, attributes), text);
    }
    function panel(at, title, high, count, show, lowest) {
      var head = top, foot;
      for (var k = 0; k < at; k += 1) { head += heights[k] + gap; }
      foot = head + heights[at];
      function y(wanted) { return round(foot - (wanted - lowest) / (high - lowest) * heights[at]); }
      var named = label(root, 2, head - 7, title, {"font-weight": 600});
      if (count) {
        ticks(high - lowest, count).forEach(function (tick) {
          el(root, "line", {x1: left, x2: right, y1: y(tick + lowest), y2: y(tick + lowest), stroke: "#c9d0d6"});
          label(root, left - 6, y(tick + lowest) + 4, show(tick + lowest), {"text-anchor": "end", fill: "#4a545e"});
        });
      }
      el(root, "line", {x1: left, x2: right, y1: foot, y2: foot, stroke: "#4a545e"});
      return {y: y, head: head, foot: foot, named: 2 + named.getComputedTextLength()};
    }
    var road = panel(0, words["js.road_axis"], 1, 0, null, 0);
    var lowest = Math.min.apply(null, data.heights), span = Math.max.apply(null, data.heights) - lowest;
    var line = data.heights.map(function (height, k) {
      return x(end * k / (data.heights.length - 1)) + "," + round(road.foot - (height - lowest) / span * heights[0]);
    });
    el(root, "path", {d: "M" + line.join(" ") + "V" + road.foot + "H" + left + "Z", fill: "#e4e8e6", stroke: "none"});
    el(root, "path", {d: "M" + line.join(" "), fill: "none", stroke: "#15191d", "stroke-width": 2});
    var temp = panel(1, fill("js.temp_axis", {unit: units.temperature}), degrees(most.temp) * 1.13, 5, function (tick) {
      return number(Math.round(tick));
    }, 0);
    var press = panel(2, fill("js.pressure_axis", {unit: units.pressure[0]}),
      Math.max(most.pressure, 0.45 * limits.application_kpa) * 1.08 / units.pressure[1], 3, number, 0);
    var speed = panel(3, fill("js.speed_axis", {unit: units.speed[0]}), most.speed * 1.12 / units.speed[1], 3, number, 0);
    [[data.crest, words["js.crest"]], [data.foot, words["js.foot"]]].forEach(function (mark) {
      el(root, "line", {x1: x(mark[0]), x2: x(mark[0]), y1: road.head - 4, y2: speed.foot, stroke: "#6b757e",
        "stroke-dasharray": "2 4"});
      var word = label(root, x(mark[0]), road.head - 7, mark[1], {"text-anchor": "middle", fill: "#4a545e"});
      word.setAttribute("x", Math.max(x(mark[0]), road.named + 6 + word.getComputedTextLength() / 2));
    });
    ticks((data.foot - data.crest) / units.distance[1], small ? 4 : 8).forEach(function (tick) {
      label(root, x(data.crest + tick * units.distance[1]), speed.foot + 17, number(tick, tick % 1 ? 1 : 0),
        {"text-anchor": "middle", fill: "#4a545e"});
    });
    label(root, (left + right) / 2, speed.foot + 34, fill("js.across", {unit: units.distance[0]}), {"text-anchor": "middle"});
    function rule(at, text, colour, weight, under) {
      el(root, "line", {x1: left, x2: right, y1: at, y2: at, stroke: colour, "stroke-width": weight,
        "stroke-dasharray": weight < 1.5 ? "3 3" : null});
      label(root, left + 5, under ? at + size + 2 : at - 4, text, {fill: colour, "font-weight": 600, "paint-order": "stroke", stroke: "#fff",
        "stroke-width": 3});
    }
    // the range of the last full stop lies under the lines, on all panels
    letters.forEach(function (letter, k) {
      var row = rows[letter];
      if (row.state < 2 || row.stop_earliest_m >= end - 3) { return; }
      var from = x(row.stop_earliest_m), to = x(Math.min(row.stop_latest_m, data.foot));
      el(root, "rect", {x: from, y: temp.head, width: Math.max(to - from, 2), height: temp.foot - temp.head, fill: ink[letter],
        "fill-opacity": 0.09});
      el(root, "line", {x1: from, x2: from, y1: temp.head, y2: speed.foot, stroke: ink[letter], "stroke-width": 1.6,
        "stroke-dasharray": "1 3"});
      var last = label(root, from + 4, temp.foot - 8 - 17 * (1 - k),
        fill("js.last_stop", {letter: letter.toUpperCase()}), {fill: ink[letter], "font-weight": 600, "paint-order": "stroke",
          stroke: "#fff", "stroke-width": 3});
      last.setAttribute("x", Math.min(from + 4, right - last.getComputedTextLength()));
    });
    letters.forEach(function (letter) {
      var row = rows[letter];
      [["temp", temp, degrees], ["pressure", press, function (kpa) { return kpa / units.pressure[1]; }],
        ["speed", speed, function (mps) { return mps / units.speed[1]; }]].forEach(function (item) {
        var name = item[0], y = item[1].y, shown = item[2];
        function points(which) {
          var found = [];
          if (name === "temp") { found.push(x(0) + "," + y(shown(data.start))); }
          row[which][name].forEach(function (wanted, k) {
            if (name === "pressure" && (wanted <= 0 || ends[k] <= data.crest || ends[k] - ends[0] >= data.foot)) { return; }
            found.push(x(ends[k]) + "," + y(shown(wanted)));
          });
          return found;
        }
        var drawn = points("curve"), other = points("worst");
        if (!drawn.length) { return; }
        if (row.worst !== row.curve && drawn.length === other.length) {
          el(root, "path", {d: "M" + drawn.join(" ") + " " + other.slice().reverse().join(" ") + "Z", fill: ink[letter],
            "fill-opacity": 0.16});
          el(root, "path", {d: "M" + other.join(" "), fill: "none", stroke: ink[letter], "stroke-width": 1.1});
        }
        el(root, "path", {d: "M" + drawn.join(" "), fill: "none", stroke: ink[letter], "stroke-width": 2.8,
          "stroke-linejoin": "round", "stroke-dasharray": dashes[letter], "class": "line-" + name + "-" + letter});
      });
    });
    rule(temp.y(degrees(limits.brake_temp_c)), words["js.limit_label"], "#9b1c1c", 1.8, true);
    if (!small || most.temp > 400) { rule(temp.y(degrees(limits.fade_onset_c)), words["js.fade_label"], "#6b4a00", 1); }
    if (limits.application_kpa <= most.pressure * 1.05) {
      rule(press.y(limits.application_kpa / units.pressure[1]), words["js.most_label"], "#9b1c1c", 1.8, true);
    }
    // which line is which: a letter at the end of each temperature line, and of each other line
    [["temp", temp, degrees], ["pressure", press, function (kpa) { return kpa / units.pressure[1]; }],
      ["speed", speed, function (mps) { return mps / units.speed[1]; }]].forEach(function (item) {
      var name = item[0], at = {}, k = name === "temp" ? n - 1 : lastOnHill();
      letters.forEach(function (letter) {
        at[letter] = rows[letter].curve[name][k] > 0 ? item[1].y(item[2](rows[letter].curve[name][k])) : null;
      });
      if (at.a !== null && at.b !== null && Math.abs(at.a - at.b) < 15) {
        var middle = (at.a + at.b) / 2, up = at.a <= at.b ? "a" : "b";
        at[up] = middle - 7.5;
        at[up === "a" ? "b" : "a"] = middle + 7.5;
      }
      letters.forEach(function (letter) {
        if (at[letter] === null) { return; }
        label(root, x(ends[k]) + 4, Math.max(at[letter], item[1].head + 2) + 4.5, letter.toUpperCase(), {fill: ink[letter],
          "font-weight": 700, "font-size": size + 2, "paint-order": "stroke", stroke: "#fff", "stroke-width": 3});
      });
    });
    view = {root: root, x: x, left: left, right: right, width: width,
      cursor: el(root, "line", {x1: left, x2: left, y1: road.head, y2: speed.foot, stroke: "#15191d", "stroke-width": 1.4})};
    point(place.value, false);
  }
  function lastOnHill() {
    var found = 0;
    ends.forEach(function (at, k) { if (at <= data.foot) { found = k; } });
    return found;
  }

  // ---- one place on the hill ----
  var place = document.getElementById("place"), readout = document.getElementById("readout");
  place.max = n - 1;
  function point(k, moved) {
    if (!view) { return; }
    view.cursor.setAttribute("x1", view.x(ends[k]));
    view.cursor.setAttribute("x2", view.x(ends[k]));
    var from = ends[k] < data.crest - 1 ? words["js.before_crest"] : where(ends[k]);
    var text = fill("js.at", {where: capital(from)}) + letters.map(function (letter) {
      var curve = rows[letter].curve;
      return fill("js.here", {letter: letter.toUpperCase(), temp: temperature(curve.temp[k]), pressure: pressure(curve.pressure[k]),
        speed: reached(curve.speed[k])});
    }).join("; ");
    readout.textContent = text;
    place.setAttribute("aria-valuetext", text);
    if (moved) { place.value = k; }
  }
  place.addEventListener("input", function () { point(+place.value, false); });
  function follow(event) {
    var area = picture.getBoundingClientRect(), at = (event.clientX - area.left) / area.width * view.width;
    point(nearest(ends, (at - view.left) / (view.right - view.left) * end), true);
  }
  picture.addEventListener("pointermove", follow);
  picture.addEventListener("pointerdown", follow);

  letters.forEach(function (letter) {
    form(letter).addEventListener("submit", function (event) { event.preventDefault(); });
    form(letter).addEventListener("input", function (event) {
      var choice = choices[letter];
      if (event.target.classList.contains("preset")) {
        if (event.target.value !== "") { set(letter, data.presets[+event.target.value]); }
        return;
      }
      var speeds = wholeSpeeds(choice.gear), fastest = Math.abs(choice.speed - speeds[speeds.length - 1]) < 1e-6;
      if (event.target.name === "gear-" + letter) {
        choice.gear = checked(letter, "gear");
        speeds = wholeSpeeds(choice.gear);
        if (fastest) { choice.speed = speeds[speeds.length - 1]; }
      } else {
        choice.speed = speeds[+part(letter, "speed").value];
      }
      choice.weight = weights[+part(letter, "weight").value];
      choice.stage = checked(letter, "stage");
      choice.braking = checked(letter, "braking");
      choice.adjustment = +part(letter, "adjustment").value;
      show(letter);
    });
  });
  document.querySelectorAll("button.show").forEach(function (button) {
    button.addEventListener("click", function () {
      set("a", button.dataset.a.split(",").map(Number));
      set("b", button.dataset.b.split(",").map(Number));
      var calm = window.matchMedia("(prefers-reduced-motion: reduce)").matches;
      document.getElementById("play").scrollIntoView({behavior: calm ? "auto" : "smooth"});
      document.getElementById("play-title").focus({preventScroll: true});
    });
  });
  document.getElementById("play-title").tabIndex = -1;
  window.addEventListener("resize", draw);
  window.addEventListener("beforeprint", function () {
    document.querySelectorAll("details").forEach(function (box) { box.open = true; });
  });
  place.value = Math.round(lastOnHill() * 0.7);
  set("a", data.presets[0]);
  set("b", data.presets[1]);
}());
