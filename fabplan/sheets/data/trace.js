"use strict";
// Holes traced over a photograph. Pixels have v downwards; the plate has x right and y up, mm, seen on the marked face.

const get = (id) => document.getElementById(id);
const state = { image: null, name: "", scale: [], sizes: [], half: null, holes: [], done: [] };
const STEPS = 60;
const ROUND = 2.0; // times its doubt by which a hole must be longer than wide to be called oval
const ALWAYS = "lens not corrected, holes taken to lie in the plane of the scale points";
const number = (id) => Number.parseFloat(get(id).value.replace(",", "."));

// ---- sums -------------------------------------------------------------------------------------------------------

/** x of A x = b by elimination; null where A has none. */
function solve(A, b) {
  const rows = A.map((row, k) => [...row, b[k]]), n = b.length;
  const most = Math.max(...A.flat().map(Math.abs));
  for (let k = 0; k < n; k++) {
    let best = k;
    for (let i = k + 1; i < n; i++) if (Math.abs(rows[i][k]) > Math.abs(rows[best][k])) best = i;
    if (!(Math.abs(rows[best][k]) > 1e-13 * most)) return null;
    [rows[k], rows[best]] = [rows[best], rows[k]];
    for (let i = 0; i < n; i++) {
      if (i === k) continue;
      const share = rows[i][k] / rows[k][k];
      for (let j = k; j <= n; j++) rows[i][j] -= share * rows[k][j];
    }
  }
  return rows.map((row, k) => row[n] / row[k]);
}

/** Least squares of rows [[a..., value, weight]]. */
function leastSquares(rows, n) {
  const A = Array.from({ length: n }, () => new Array(n).fill(0)), b = new Array(n).fill(0);
  for (const [a, value, weight] of rows)
    for (let i = 0; i < n; i++) {
      b[i] += weight * a[i] * value;
      for (let j = 0; j < n; j++) A[i][j] += weight * a[i] * a[j];
    }
  return solve(A, b);
}

/** Middle and reach of pairs, so that sums stay near one. */
function spread(pairs) {
  const middle = [0, 1].map((k) => pairs.reduce((sum, pair) => sum + pair[k], 0) / pairs.length);
  return { middle, reach: Math.max(...pairs.map((pair) => Math.hypot(pair[0] - middle[0], pair[1] - middle[1]))) || 1 };
}

/** The perspective that takes pixels to the plate: least squares on the plate over four known points or more. */
function perspective(points) {
  const seen = spread(points.map(({ u, v }) => [u, v])), real = spread(points.map(({ x, y }) => [x, y]));
  const own = points.map(({ u, v, x, y }) => [
    (u - seen.middle[0]) / seen.reach, (v - seen.middle[1]) / seen.reach,
    (x - real.middle[0]) / real.reach, (y - real.middle[1]) / real.reach]);
  let h = null, depth = own.map(() => 1);
  for (let step = 0; step < (points.length > 4 ? 12 : 1); step++) {
    const rows = own.flatMap(([u, v, x, y], k) => {
      const weight = 1 / depth[k] ** 2;
      return [[[u, v, 1, 0, 0, 0, -u * x, -v * x], x, weight], [[0, 0, 0, u, v, 1, -u * y, -v * y], y, weight]];
    });
    h = leastSquares(rows, 8);
    if (!h) return null;
    depth = own.map(([u, v]) => h[6] * u + h[7] * v + 1);
  }
  if (!depth.every((w) => w > 1e-6)) return null;
  return (u0, v0) => {
    const u = (u0 - seen.middle[0]) / seen.reach, v = (v0 - seen.middle[1]) / seen.reach, w = h[6] * u + h[7] * v + 1;
    return [real.middle[0] + (real.reach * (h[0] * u + h[1] * v + h[2])) / w,
            real.middle[1] + (real.reach * (h[3] * u + h[4] * v + h[5])) / w];
  };
}

/** A photograph taken square to the plate: one known distance gives its scale. */
function square([a, b], apart) {
  const scale = apart / Math.hypot(b.u - a.u, b.v - a.v);
  return Number.isFinite(scale) ? (u, v) => [(u - a.u) * scale, -(v - a.v) * scale] : null;
}

/** The map from pixels to the plate, of these scale points; null where they give none. */
function planeOf(points) {
  if (get("square").checked) return points.length === 2 && number("apart") > 0 ? square(points, number("apart")) : null;
  const known = points.filter(({ x, y }) => Number.isFinite(x) && Number.isFinite(y));
  return known.length < 4 ? null : perspective(known);
}

/** Whether the plate is seen from its back: then x and y would have to be mirrored, and they never are. */
function turnedOver(map, { u, v }) {
  const [o, r, d] = [map(u, v), map(u + 1, v), map(u, v + 1)];
  return (r[0] - o[0]) * (o[1] - d[1]) - (r[1] - o[1]) * (o[0] - d[0]) < 0;
}

/** The circle of least squares through points: [x, y, r]. */
function circle(points) {
  const { middle, reach } = spread(points);
  const rows = points.map(([x, y]) => {
    const a = (x - middle[0]) / reach, b = (y - middle[1]) / reach;
    return [[a, b, 1], a * a + b * b, 1];
  });
  const found = leastSquares(rows, 3);
  if (!found) return null;
  const [p, q, c] = found;
  return [middle[0] + (reach * p) / 2, middle[1] + (reach * q) / 2, reach * Math.sqrt(c + (p * p + q * q) / 4)];
}

/** How far points lie off an ellipse [x, y, half length, half width, turn], to the first order. */
function offEllipse([cx, cy, a, b, turn], points) {
  const c = Math.cos(turn), s = Math.sin(turn);
  return points.map(([x, y]) => {
    const p = (c * (x - cx) + s * (y - cy)) / a, q = (c * (y - cy) - s * (x - cx)) / b;
    return (p * p + q * q - 1) / (2 * Math.hypot(p / a, q / b) || 1);
  });
}

/** The ellipse of least squares through five points or more, from a circle and four turns. */
function ellipse(points, near) {
  const round = circle(points);
  if (!round || !(round[2] > 0)) return null;
  const starts = near ? [near] : [0, 1, 2, 3].map((k) => [round[0], round[1], 1.1 * round[2], 0.9 * round[2], (k * Math.PI) / 4]);
  let best = null;
  for (const start of starts) {
    const found = settled(start, points);
    if (found && (!best || found.left < best.left)) best = found;
  }
  if (!best) return null;
  const [x, y, a, b, turn] = best.at;
  return Math.abs(a) >= Math.abs(b) ? [x, y, Math.abs(a), Math.abs(b), turn]
                                    : [x, y, Math.abs(b), Math.abs(a), turn + Math.PI / 2];
}

/** Damped least squares. */
function settled(start, points) {
  const total = (off) => off.reduce((sum, one) => sum + one * one, 0);
  let at = start, off = offEllipse(at, points), damp = 1e-3;
  for (let step = 0; step < STEPS; step++) {
    const size = [at[2], at[2], at[2], at[2], 1];
    const slopes = size.map((one, k) => {
      const moved = at.map((value, j) => (j === k ? value + 1e-6 * one : value));
      return offEllipse(moved, points).map((value, i) => (value - off[i]) / 1e-6);
    });
    const rows = off.map((value, i) => [slopes.map((one) => one[i]), -value, 1]);
    for (let k = 0; k < 5; k++) rows.push([size.map((_, j) => (j === k ? damp * at[2] : 0)), 0, 1]);
    const way = leastSquares(rows, 5);
    if (!way) return null;
    const tried = at.map((value, k) => value + way[k] * size[k]), left = offEllipse(tried, points);
    if (total(left) <= total(off)) {
      const small = Math.max(...way.map(Math.abs)) < 1e-11;
      [at, off, damp] = [tried, left, damp / 5];
      if (small) break;
    } else damp *= 10;
    if (damp > 1e8) break;
  }
  return at.every(Number.isFinite) ? { at, left: total(off) } : null;
}

/** A hole on the plate: its middle, its greatest and least diameter where its edge was traced. */
function placed(hole, map, near) {
  const points = hole.points.map(({ u, v }) => map(u, v));
  if (hole.kind === "middle") return { x: points[0][0], y: points[0][1] };
  if (points.length >= 5) {
    const found = ellipse(points, near);
    if (found) return { x: found[0], y: found[1], most: 2 * found[2], least: 2 * found[3], near: found };
  }
  const found = points.length >= 3 ? circle(points) : null;
  return found && found[2] > 0 ? { x: found[0], y: found[1], most: 2 * found[2], least: 2 * found[2] } : null;
}

/** Each set of clicks with one moved by the doubt of a click. */
function moved(points, doubt) {
  return points.flatMap((_, k) => ["u", "v"].map((key) => points.map((one, j) => (j === k ? { ...one, [key]: one[key] + doubt } : one))));
}

/** How far a hole may be off by the doubt of every click behind it, its own and those of the scale; and its diameters. */
function doubtOf(hole, own, map, doubt) {
  const others = [
    ...moved(hole.points, doubt).map((points) => placed({ ...hole, points }, map, own.near)),
    ...moved(state.scale, doubt).map((points) => planeOf(points)).map((plane) => plane && placed(hole, plane, own.near)),
  ];
  let xx = 0, xy = 0, yy = 0, wide = 0;
  for (const one of others) {
    if (!one) return { place: Infinity, across: Infinity };
    const dx = one.x - own.x, dy = one.y - own.y;
    [xx, xy, yy] = [xx + dx * dx, xy + dx * dy, yy + dy * dy];
    wide += own.most ? Math.max((one.most - own.most) ** 2, (one.least - own.least) ** 2) : 0;
  }
  return { place: Math.sqrt((xx + yy) / 2 + Math.hypot((xx - yy) / 2, xy)), across: Math.sqrt(wide) };
}

// ---- what it comes to -------------------------------------------------------------------------------------------

function worked() {
  const map = planeOf(state.scale), click = number("click");
  if (!map) return { trouble: get("square").checked ? "Click two scale points and state their distance." : "Click the four corners of the rectangle and state its size." };
  if (!(click > 0)) return { trouble: "State how surely a point is clicked, in pixels." };
  if (turnedOver(map, state.scale[0]))
    return { trouble: "The scale points go round the other way: another order of clicks, or the other face of the plate. Nothing is mirrored here." };
  const off = get("square").checked ? [] : state.scale.map(({ u, v, x, y }) => {
    const at = map(u, v);
    return Math.hypot(at[0] - x, at[1] - y);
  });
  const proved = state.sizes.map(({ a, b, length }) => {
    const [p, q] = [map(a.u, a.v), map(b.u, b.v)];
    return Math.hypot(q[0] - p[0], q[1] - p[1]) - length;
  });
  const extra = off.filter(Number.isFinite).length > 4 ? off.filter(Number.isFinite) : [];
  const worst = Math.max(0, ...extra, ...proved.filter(Number.isFinite).map(Math.abs));
  const holes = state.holes.map((hole) => {
    const own = placed(hole, map);
    return own ? { ...own, ...told(hole, own, map, click, worst) } : null;
  });
  return { map, off, proved, worst, holes, proves: extra.length > 0 || proved.some(Number.isFinite) };
}

function told(hole, own, map, click, worst) {
  const doubt = doubtOf(hole, own, map, click);
  const accuracy = Math.ceil(10 * Math.max(doubt.place, worst) - 1e-9) / 10;
  if (!own.most) return { accuracy };
  const oval = own.most - own.least > ROUND * doubt.across;
  return { accuracy, oval, diameter: oval ? own.most : Math.sqrt(own.most * own.least) };
}

function doubts(found) {
  const lines = [ALWAYS];
  if (get("square").checked) lines.push("photograph taken as square to the plate");
  if (!found.proves) lines.push("nothing proves the scale");
  if (get("doubt").value.trim()) lines.push(get("doubt").value.trim());
  return lines.join("; ");
}

function table(found) {
  const quoted = (text) => (/[",\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text);
  const source = ["photograph", state.name, get("source").value.trim()].filter(Boolean).join(" ");
  const rows = state.holes.flatMap((hole, k) => {
    const one = found.holes[k];
    if (!one || !Number.isFinite(one.accuracy)) return [];
    const across = one.diameter ? [one.diameter.toFixed(2), one.oval ? one.least.toFixed(2) : ""] : ["", ""];
    return [[quoted(hole.number), one.x.toFixed(2), one.y.toFixed(2), ...across, one.accuracy.toFixed(1), quoted(source), quoted(doubts(found))].join(",")];
  });
  return rows.length ? ["hole,x,y,diameter,least_diameter,accuracy,source,doubt", ...rows, ""].join("\n") : "";
}

// ---- what is shown ----------------------------------------------------------------------------------------------

function cell(row, content) {
  const made = row.insertCell();
  made.append(content);
  return made;
}

function field(value, label, take) {
  const made = document.createElement("input");
  made.className = "size";
  made.inputMode = "decimal";
  made.setAttribute("aria-label", label);
  made.value = Number.isFinite(value) ? value : "";
  made.addEventListener("change", () => { take(Number.parseFloat(made.value.replace(",", "."))); show(); });
  return made;
}

function away(list, one) {
  const made = document.createElement("button");
  made.type = "button";
  made.textContent = "take out";
  made.addEventListener("click", () => { list.splice(list.indexOf(one), 1); show(); });
  return made;
}

const figure = (value, digits) => (Number.isFinite(value) ? value.toFixed(digits) : "-");

function show() {
  corners();
  const found = worked();
  get("said").textContent = found.trouble ?? summary(found);
  fill("scale", state.scale, (row, one, k) => {
    cell(row, `${k + 1}`);
    cell(row, k < 4 && !get("square").checked ? figure(one.x, 1) : field(one.x, `x of scale point ${k + 1}`, (value) => { one.x = value; }));
    cell(row, k < 4 && !get("square").checked ? figure(one.y, 1) : field(one.y, `y of scale point ${k + 1}`, (value) => { one.y = value; }));
    cell(row, figure(found.off?.[k], 2));
    cell(row, away(state.scale, one));
  });
  fill("sizes", state.sizes, (row, one, k) => {
    cell(row, `${k + 1}`);
    cell(row, field(one.length, `length of size ${k + 1}`, (value) => { one.length = value; }));
    cell(row, figure(found.proved?.[k], 2));
    cell(row, away(state.sizes, one));
  });
  fill("holes", state.holes, (row, one, k) => {
    const own = found.holes?.[k];
    cell(row, one.number);
    cell(row, figure(own?.x, 2));
    cell(row, figure(own?.y, 2));
    cell(row, own?.diameter ? figure(own.diameter, 2) + (own.oval ? ` by ${figure(own.least, 2)}` : "") : one.kind === "edge" ? `${one.points.length} of its edge` : "-");
    cell(row, figure(own?.accuracy, 1));
    cell(row, away(state.holes, one));
  });
  get("csv").value = found.trouble ? "" : table(found);
  get("save").disabled = !get("csv").value;
  paint();
}

function summary(found) {
  const most = Math.max(0, ...found.holes.filter(Boolean).map((one) => one.accuracy));
  const proof = found.proves ? `worst of scale points and sizes ${found.worst.toFixed(2)} mm` : "nothing proves the scale: click a fifth known point, or a known size";
  return `${state.holes.length} holes, within ${most.toFixed(1)} mm; ${proof}.`;
}

function fill(name, list, write) {
  const body = get(name).tBodies[0];
  body.replaceChildren();
  const heads = [...get(name).tHead.rows[0].cells].map((one) => one.textContent);
  list.forEach((one, k) => {
    const row = body.insertRow();
    write(row, one, k);
    [...row.cells].forEach((made, j) => { made.dataset.head = heads[j]; });
  });
}

/** The four corners of the known rectangle, from the foot at the left, the way the clock does not go. */
function corners() {
  if (get("square").checked) return;
  const wide = number("wide"), high = number("high");
  [[0, 0], [wide, 0], [wide, high], [0, high]].forEach(([x, y], k) => { if (state.scale[k]) Object.assign(state.scale[k], { x, y }); });
}

function paint() {
  if (!state.image) return;
  const canvas = get("plate"), pen = canvas.getContext("2d"), zoom = number("zoom");
  canvas.style.width = `${state.image.width * zoom}px`;
  pen.drawImage(state.image, 0, 0);
  const thin = 1.5 / zoom;
  pen.lineJoin = "round";
  pen.font = `bold ${14 / zoom}px sans-serif`;
  const mark = ({ u, v }, colour, words, arm = 8 / zoom) => {
    for (const [ink, width] of [["#fff", 3 * thin], [colour, thin]]) {
      [pen.strokeStyle, pen.lineWidth] = [ink, width];
      pen.beginPath();
      pen.moveTo(u - arm, v); pen.lineTo(u + arm, v); pen.moveTo(u, v - arm); pen.lineTo(u, v + arm);
      pen.stroke();
      if (!words) continue;
      if (ink === "#fff") pen.strokeText(words, u + arm, v - arm / 2);
      else { pen.fillStyle = colour; pen.fillText(words, u + arm, v - arm / 2); }
    }
  };
  state.scale.forEach((one, k) => mark(one, "#0645ad", `${k + 1}`));
  for (const { a, b } of state.sizes) { mark(a, "#067a2b", ""); mark(b, "#067a2b", ""); }
  if (state.half) mark(state.half, "#067a2b", "");
  for (const hole of state.holes) {
    const arm = (hole.kind === "edge" ? 3 : 8) / zoom;
    hole.points.forEach((one, k) => mark(one, "#c01818", k ? "" : hole.number, arm));
  }
}

// ---- clicks -----------------------------------------------------------------------------------------------------

function clicked(event) {
  const canvas = get("plate"), box = canvas.getBoundingClientRect();
  if (!state.image || event.button !== 0) return;
  const at = { u: ((event.clientX - box.left) * canvas.width) / box.width, v: ((event.clientY - box.top) * canvas.height) / box.height };
  const mode = document.querySelector("input[name=mode]:checked").value;
  if (mode === "scale") state.scale.push({ ...at, x: NaN, y: NaN });
  else if (mode === "size") {
    if (state.half) state.sizes.push({ a: state.half, b: at, length: NaN });
    state.half = state.half ? null : at;
  } else traced(mode, at);
  show();
}

function traced(mode, at) {
  const name = get("number").value.trim();
  if (!name) { get("number").focus(); return; }
  const held = state.holes.find((one) => one.number === name);
  if (mode === "edge" && held?.kind === "edge") held.points.push(at);
  else {
    const hole = { number: name, kind: mode, points: [at] };
    if (held) state.holes.splice(state.holes.indexOf(held), 1, hole);
    else state.holes.push(hole);
  }
  if (mode === "middle") onward();
}

/** The number of the hole that follows. */
function onward() {
  const box = get("number");
  box.value = box.value.replace(/(\d+)\s*$/, (_, digits) => `${Number(digits) + 1}`);
}

async function opened() {
  const file = get("photo").files[0];
  if (!file) return;
  try {
    state.image = await createImageBitmap(file);
  } catch {
    get("said").textContent = `${file.name} is no picture that this browser can show: save it as JPEG or PNG.`;
    return;
  }
  Object.assign(state, { name: file.name, scale: [], sizes: [], half: null, holes: [] });
  Object.assign(get("plate"), { width: state.image.width, height: state.image.height });
  show();
}

function saved() {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([get("csv").value], { type: "text/csv" }));
  link.download = `${state.name.replace(/\.[^.]*$/, "") || "holes"}.csv`;
  link.click();
  URL.revokeObjectURL(link.href);
}

get("photo").addEventListener("change", opened);
get("plate").addEventListener("pointerdown", clicked);
get("next").addEventListener("click", onward);
get("save").addEventListener("click", saved);
get("zoom").addEventListener("change", paint);
for (const id of ["square", "rectangle", "wide", "high", "apart", "click", "source", "doubt"]) get(id).addEventListener("change", show);
show();
