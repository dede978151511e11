// Draws the antenna and its pattern on the canvas of the page and turns them. Parallel projection, with a depth
// for every pixel, so that slots are true openings; lengths in mm, angles in degrees.
"use strict";
(function () {
  const model = JSON.parse(document.getElementById("model-data").textContent);
  const frame = document.getElementById("model");
  const canvas = frame && frame.querySelector("canvas");
  const brush = canvas && canvas.getContext("2d");
  if (!brush) return;

  const COLOURS = { wall: [186, 193, 200], wire: [201, 120, 60], filling: [235, 232, 222], laminate: [206, 205, 150] };
  const LAMINATE_OPACITY = 0.35;  // slots etched in the copper below are seen through it
  const LIGHT = [-0.35, 0.5, 0.79];  // right, up, towards the viewer
  const SAME_DEPTH = 1e-3;  // mm; where solids touch, the later one is drawn
  const INSIDE_SHADE = 0.6;
  const OPACITY = 0.78;
  const first = model.views[0];
  const front = model.views.find((view) => view.name === "front").azimuth;
  const state = { azimuth: first.azimuth, elevation: first.elevation, pattern: true, front: true };

  // From the axes of the record to axes about the middle of the guide whose third one points up.
  function world(point) {
    const [x, y, z] = point;
    return model.up === "z" ? [x, y, z] : [y, z, x];
  }

  function fromMiddle(point) {
    return world(point.map((value, i) => value - model.middle[i]));
  }

  function cross(a, b) {
    return [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
  }

  function minus(a, b) {
    return [a[0] - b[0], a[1] - b[1], a[2] - b[2]];
  }

  function dot(a, b) {
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
  }

  function unit(a) {
    const length = Math.hypot(a[0], a[1], a[2]);
    return length > 0 ? a.map((value) => value / length) : null;
  }

  // A point of an outline (the two other axes in ascending order) at a place along the axis of its solid.
  function lifted(axis, pair, along) {
    const point = pair.slice();
    point.splice(axis, 0, along);
    return point;
  }

  function inGuide(points) {
    return [0, 1, 2].every((i) => {
      const mean = points.reduce((sum, point) => sum + point[i], 0) / points.length;
      return mean >= model.inside[2 * i] - SAME_DEPTH && mean <= model.inside[2 * i + 1] + SAME_DEPTH;
    });
  }

  function face(solid, rings, normal) {
    const outline = rings[0].map(fromMiddle);
    return {
      part: solid.part, kind: solid.kind, colour: COLOURS[solid.kind], normal: world(normal),
      // From the face to the middle of the guide, where it bounds the inside: dark when it is seen from there.
      inwards: solid.kind === "wall" && inGuide(rings[0]) ? [0, 1, 2].map((i) => -outline.reduce((sum, point) => sum + point[i], 0)) : null,
      rings: [outline, ...rings.slice(1).map((ring) => ring.map(fromMiddle))],
    };
  }

  // Both caps with their openings, and a wall below every edge of the outline and of its openings.
  function facesOf(solid) {
    const along = [0, 0, 0];
    along[solid.axis] = 1;
    const faces = [solid.low, solid.high].map((level) =>
      face(solid, solid.rings.map((ring) => ring.map((pair) => lifted(solid.axis, pair, level))), along));
    for (const ring of solid.rings) {
      ring.forEach((pair, i) => {
        const next = ring[(i + 1) % ring.length];
        const edge = minus(lifted(solid.axis, next, 0), lifted(solid.axis, pair, 0));
        const normal = unit(cross(edge, along));
        if (!normal) return;
        const corners = [[pair, solid.low], [next, solid.low], [next, solid.high], [pair, solid.high]];
        faces.push(face(solid, [corners.map(([at, level]) => lifted(solid.axis, at, level))], normal));
      });
    }
    return faces;
  }

  // Patches of the gain body, each with its normal away from the middle and a colour by its mean radius.
  function patchesOf(pattern) {
    const points = pattern.points.map((row) => row.map(world));
    const patches = [];
    for (let i = 0; i + 1 < points.length; i++) {
      for (let j = 0; j + 1 < points[i].length; j++) {
        const corners = [points[i][j], points[i + 1][j], points[i + 1][j + 1], points[i][j + 1]];
        const normal = unit(cross(minus(corners[2], corners[0]), minus(corners[3], corners[1])));
        if (!normal) continue;
        const centre = [0, 1, 2].map((k) => corners.reduce((sum, corner) => sum + corner[k], 0) / 4);
        const radius = corners.reduce((sum, corner) => sum + Math.hypot(...corner), 0) / 4;
        const outward = dot(normal, centre) < 0 ? normal.map((value) => -value) : normal;
        const colour = colourAt(pattern.colours, radius / pattern.radius);
        patches.push({ rings: [corners], normal: outward, centre: centre, colour: colour });
      }
    }
    return patches;
  }

  function colourAt(colours, share) {
    const place = Math.min(Math.max(share, 0), 1) * (colours.length - 1);
    const low = Math.min(Math.floor(place), colours.length - 2);
    return [1, 3, 5].map((at) => {
      const [a, b] = [colours[low], colours[low + 1]].map((hex) => parseInt(hex.slice(at, at + 2), 16));
      return a + (b - a) * (place - low);
    });
  }

  // What is seen through comes last, when all that may lie behind it is drawn.
  const faces = model.solids.flatMap(facesOf).sort((a, b) => (a.kind === "laminate") - (b.kind === "laminate"));
  const patches = model.pattern ? patchesOf(model.pattern) : [];
  const reachOf = (flat) => flat.flatMap((each) => each.rings.flat())
    .reduce((most, point) => Math.max(most, Math.hypot(...point)), 0);
  const reach = { antenna: reachOf(faces), all: reachOf([...faces, ...patches]) };

  // Right, up and towards the viewer, as rows of the turn.
  function turn() {
    const [a, e] = [state.azimuth, state.elevation].map((degrees) => degrees * Math.PI / 180);
    return [
      [-Math.sin(a), Math.cos(a), 0],
      [-Math.sin(e) * Math.cos(a), -Math.sin(e) * Math.sin(a), Math.cos(e)],
      [Math.cos(e) * Math.cos(a), Math.cos(e) * Math.sin(a), Math.sin(e)],
    ];
  }

  function seen(rows, point) {
    return [dot(rows[0], point), dot(rows[1], point), dot(rows[2], point)];
  }

  // A picture under way: pixels, and the depth of the nearest solid at each.
  function emptySheet(width, height) {
    const scale = 0.42 * Math.min(width, height) / (state.pattern ? reach.all : reach.antenna);
    const sheet = {
      width: width, height: height, scale: scale,
      image: brush.createImageData(width, height), depth: new Float32Array(width * height),
    };
    sheet.image.data.fill(255);
    sheet.depth.fill(-Infinity);
    return sheet;
  }

  function onSheet(sheet, point) {
    return [sheet.width / 2 + point[0] * sheet.scale, sheet.height / 2 - point[1] * sheet.scale];
  }

  // Edges of rings on the sheet that are not level, for filling line by line.
  function slantedEdges(sheet, rings) {
    const edges = [];
    for (const ring of rings) {
      ring.forEach((from, i) => {
        const to = ring[(i + 1) % ring.length];
        const [x0, y0] = onSheet(sheet, from);
        const [x1, y1] = onSheet(sheet, to);
        if (y0 !== y1) edges.push({ x: x0, y: y0, end: y1, slope: (x1 - x0) / (y1 - y0) });
      });
    }
    return edges;
  }

  // Fills a flat face, openings left out (even-odd rule), where nothing nearer has been drawn.
  function fill(sheet, rings, normal, colour, opacity) {
    const edges = slantedEdges(sheet, rings);
    if (!edges.length || Math.abs(normal[2]) < 1e-9) return;
    const ys = edges.flatMap((edge) => [edge.y, edge.end]);
    const top = Math.max(0, Math.ceil(Math.min(...ys) - 0.5));
    const bottom = Math.min(sheet.height, Math.ceil(Math.max(...ys) - 0.5));
    const step = -normal[0] / normal[2] / sheet.scale;
    for (let j = top; j < bottom; j++) {
      const y = j + 0.5;
      const crossings = edges
        .filter((edge) => (edge.y <= y) !== (edge.end <= y))
        .map((edge) => edge.x + (y - edge.y) * edge.slope);
      crossings.sort((a, b) => a - b);
      const up = (sheet.height / 2 - y) / sheet.scale;
      // All points of the face have the same product with its normal, and so the depth follows.
      const start = dot(normal, rings[0][0]) - normal[1] * up;
      for (let k = 0; k + 1 < crossings.length; k += 2) {
        const left = Math.max(0, Math.ceil(crossings[k] - 0.5));
        const right = Math.min(sheet.width, Math.ceil(crossings[k + 1] - 0.5));
        const depth = (start - normal[0] * (left + 0.5 - sheet.width / 2) / sheet.scale) / normal[2];
        span(sheet, j * sheet.width + left, right - left, depth, step, colour, opacity);
      }
    }
  }

  function span(sheet, start, count, depth, step, colour, opacity) {
    const data = sheet.image.data;
    for (let n = 0; n < count; n++) {
      const at = start + n;
      const here = depth + n * step;
      if (here < sheet.depth[at] - SAME_DEPTH) continue;
      if (opacity === 1) sheet.depth[at] = here;
      for (let c = 0; c < 3; c++) data[4 * at + c] += opacity * (colour[c] - data[4 * at + c]);
    }
  }

  // Of the two sides of a face the viewer sees that to which its normal points, or the other where that points away.
  function seenFromInside(each, normal) {
    return each.inwards !== null && dot(each.normal, each.inwards) * normal[2] > 0;
  }

  function lit(colour, normal, dark) {
    const towards = normal[2] < 0 ? normal.map((value) => -value) : normal;
    const shade = (0.6 + 0.4 * Math.max(0, dot(towards, LIGHT))) * (dark ? INSIDE_SHADE : 1);
    return colour.map((value) => value * shade);
  }

  function draw() {
    const density = Math.min(Math.max(window.devicePixelRatio || 1, 1.5), 2);
    const width = Math.round(canvas.clientWidth * density);
    if (!width) return;
    canvas.width = width;
    canvas.height = Math.round(Math.min(width, 560 * density));
    const rows = turn();
    const sheet = emptySheet(canvas.width, canvas.height);
    for (const each of faces) {
      if (!state.front && (each.part === "front wall" || each.kind === "laminate")) continue;
      const normal = seen(rows, each.normal);
      const opacity = each.kind === "laminate" ? LAMINATE_OPACITY : 1;
      fill(sheet, each.rings.map((ring) => ring.map((point) => seen(rows, point))), normal, lit(each.colour, normal, seenFromInside(each, normal)), opacity);
    }
    if (state.pattern) drawPattern(sheet, rows);
    brush.putImageData(sheet.image, 0, 0);
    label(sheet, rows, density);
  }

  // From back to front, over the solids, and only what faces the viewer.
  function drawPattern(sheet, rows) {
    const shown = patches
      .map((patch) => ({ patch: patch, normal: seen(rows, patch.normal), depth: dot(rows[2], patch.centre) }))
      .filter((each) => each.normal[2] > 0);
    shown.sort((a, b) => a.depth - b.depth);
    for (const { patch, normal } of shown) {
      fill(sheet, [patch.rings[0].map((point) => seen(rows, point))], normal, lit(patch.colour, normal, false), OPACITY);
    }
  }

  // Whether nothing has been drawn in a rectangle about a point.
  function isFree(sheet, x, y, halfWidth, halfHeight) {
    for (let j = Math.floor(y - halfHeight); j <= y + halfHeight; j += 2) {
      for (let i = Math.floor(x - halfWidth); i <= x + halfWidth; i += 2) {
        const at = 4 * (j * sheet.width + i);
        if (sheet.image.data[at] + sheet.image.data[at + 1] + sheet.image.data[at + 2] < 765) return false;
      }
    }
    return true;
  }

  // The first free place for words on the way outwards from a point; the last one on the sheet where there is none.
  function freePlace(sheet, from, away, halfWidth, halfHeight) {
    let place = from;
    for (let far = halfHeight; ; far += 4) {
      const x = from[0] + away[0] * (far + halfWidth * Math.abs(away[0]));
      const y = from[1] + away[1] * far;
      if (x - halfWidth < 1 || x + halfWidth > sheet.width - 1 || y - halfHeight < 1 || y + halfHeight > sheet.height - 1) return place;
      place = [x, y];
      if (isFree(sheet, x, y, halfWidth, halfHeight)) return place;
    }
  }

  // Names of both ends beside what is drawn, with a line to the end where they stand apart; along the guide only the nearer end is seen.
  function label(sheet, rows, density) {
    const half = (model.inside[5] - model.inside[4]) / 2;
    brush.font = `${13 * density}px sans-serif`;
    brush.textAlign = "center";
    brush.textBaseline = "middle";
    for (const [words, end] of [["far end", half], ["near end", -half]]) {
      const point = seen(rows, world([0, 0, end]));
      const short = Math.hypot(point[0], point[1]) < 0.2 * half;
      if (short && point[2] < 0) continue;
      const from = onSheet(sheet, point);
      const away = short ? [0, -1] : unit([point[0], -point[1], 0]);
      const [halfWidth, halfHeight] = [brush.measureText(words).width / 2 + 4 * density, 9 * density];
      const [x, y] = freePlace(sheet, from, away, halfWidth, halfHeight);
      if (Math.hypot(x - from[0], y - from[1]) > halfWidth + 2 * halfHeight) {
        brush.strokeStyle = "#707070";
        brush.lineWidth = density;
        brush.beginPath();
        brush.moveTo(from[0], from[1]);
        brush.lineTo(x - away[0] * halfWidth, y - away[1] * halfHeight);
        brush.stroke();
      }
      brush.fillStyle = "rgba(255, 255, 255, 0.8)";
      brush.fillRect(x - halfWidth, y - halfHeight, 2 * halfWidth, 2 * halfHeight);
      brush.fillStyle = "#222222";
      brush.fillText(words, x, y);
    }
  }

  let waiting = false;
  function redraw() {
    if (waiting) return;
    waiting = true;
    requestAnimationFrame(() => { waiting = false; draw(); });
  }

  function tell() {
    const aside = Math.round(((state.azimuth - front + 540) % 360 + 360) % 360 - 180);
    const side = aside === 0 ? "the front" : Math.abs(aside) === 180 ? "the back"
      : `${Math.abs(aside)} degrees to the ${aside > 0 ? "right" : "left"} of the front`;
    const high = Math.round(state.elevation);
    const level = high === 0 ? "" : `, ${Math.abs(high)} degrees ${high > 0 ? "above" : "below"}`;
    document.getElementById("model-state").textContent = `Seen from ${side}${level}.`;
  }

  function turnTo(azimuth, elevation) {
    state.azimuth = azimuth;
    state.elevation = Math.min(Math.max(elevation, -89), 89);
    redraw();
  }

  function turnBy(across, up) {
    turnTo(state.azimuth + across, state.elevation + up);
  }

  const KEYS = { ArrowLeft: [-5, 0], ArrowRight: [5, 0], ArrowUp: [0, 5], ArrowDown: [0, -5] };
  canvas.addEventListener("keydown", (event) => {
    if (event.key === "Home") turnTo(first.azimuth, first.elevation);
    else if (KEYS[event.key]) turnBy(...KEYS[event.key]);
    else return;
    event.preventDefault();
    tell();
  });

  let held = null;
  canvas.addEventListener("pointerdown", (event) => {
    held = { x: event.clientX, y: event.clientY };
    canvas.setPointerCapture(event.pointerId);
  });
  canvas.addEventListener("pointermove", (event) => {
    if (!held) return;
    turnBy(-0.4 * (event.clientX - held.x), 0.4 * (event.clientY - held.y));
    held = { x: event.clientX, y: event.clientY };
  });
  for (const kind of ["pointerup", "pointercancel"]) {
    canvas.addEventListener(kind, () => { held = null; tell(); });
  }

  for (const button of frame.querySelectorAll("button")) {
    button.addEventListener("click", () => {
      if (button.dataset.turn) turnBy(...button.dataset.turn.split(" ").map(Number));
      const view = model.views.find((each) => each.name === button.dataset.view);
      if (view) turnTo(view.azimuth, view.elevation);
      tell();
    });
  }
  for (const box of frame.querySelectorAll("input")) {
    box.addEventListener("change", () => { state[box.dataset.shown] = box.checked; redraw(); });
  }

  frame.hidden = false;
  tell();
  draw();
  window.addEventListener("resize", redraw);
})();
