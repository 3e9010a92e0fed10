// @ts-check
// The script of a report page: it draws the path on a canvas and links the
// path, the charts, the findings and the listing by one choice, a vertex of the
// path. Without it the page is a still report. Types are in JSDoc and checked
// by the TypeScript compiler; page_test.go drives it in a browser.
"use strict";
(() => {
  /** @typedef {{name: string, across: number[], up: number[]}} View */
  /** @typedef {{line: number, level: string}} Found */
  /**
   * @typedef {object} Data
   * @property {number} count
   * @property {string} places
   * @property {string} times
   * @property {string} feeds
   * @property {string} speeds
   * @property {string} kinds
   * @property {string} tools
   * @property {string} lines
   * @property {Record<string, string>} texts
   * @property {View[]} views
   * @property {Found[]} found
   * @property {Record<string, number[]>} boxes
   * @property {number} total
   * @property {string} unit
   * @property {number} decimals
   * @property {boolean} lathe
   * @property {string} x
   * @property {number} xBy
   * @property {number[]} chart
   */

  /** @param {string} id @returns {HTMLElement} */
  const byId = (id) => {
    const e = document.getElementById(id);
    if (!e) throw new Error("no element " + id);
    return e;
  };
  /** @param {string} text @returns {ArrayBuffer} */
  const unpack = (text) => Uint8Array.from(atob(text), (c) => c.charCodeAt(0)).buffer;

  /** @type {Data} */
  const data = JSON.parse(byId("data").textContent || "{}");
  const places = new Float32Array(unpack(data.places));
  const times = new Float32Array(unpack(data.times));
  const feeds = new Float32Array(unpack(data.feeds));
  const speeds = new Float32Array(unpack(data.speeds));
  const kinds = new Uint8Array(unpack(data.kinds));
  const tools = new Int16Array(unpack(data.tools));
  const lines = new Uint32Array(unpack(data.lines));
  const count = data.count;

  const canvas = /** @type {HTMLCanvasElement} */ (byId("path"));
  const pen = canvas.getContext("2d");
  if (!pen || count === 0) return; // the still picture stays
  const piece = byId("piece");
  const bar = /** @type {HTMLElement} */ (document.querySelector(".tools"));
  const still = /** @type {HTMLElement} */ (document.querySelector(".still"));
  canvas.hidden = bar.hidden = false;
  still.hidden = true;

  const names = ["", "traverse", "straight cut", "arc", "straight down"];
  const classes = ["", "rapid", "cut", "round", "plunge"];
  const dashes = [[], [5, 4], [], [12, 2], [2, 2]];
  const widths = [0, 1, 1.7, 1.9, 2.4];

  // The view: places are projected once for each side, then scaled.
  let view = 0;
  let chosen = -1; // vertex at the end of the chosen piece
  let scale = 1, left = 0, top = 0; // of the picture, in projected units
  const flatX = new Float32Array(count), flatY = new Float32Array(count);

  /** @param {number} i @param {number[]} share @param {ArrayLike<number>} of */
  const along = (i, share, of) => of[3 * i] * share[0] + of[3 * i + 1] * share[1] + of[3 * i + 2] * share[2];

  const project = () => {
    const v = data.views[view];
    for (let i = 0; i < count; i++) {
      flatX[i] = along(i, v.across, places);
      flatY[i] = along(i, v.up, places);
    }
  };

  // show fits the cuts into the picture, or all.
  /** @param {boolean} all */
  const show = (all) => {
    let x0 = Infinity, x1 = -Infinity, y0 = Infinity, y1 = -Infinity;
    for (let i = 0; i < count; i++) {
      if (!all && kinds[i] < 2 && !(i + 1 < count && kinds[i + 1] >= 2)) continue;
      x0 = Math.min(x0, flatX[i]); x1 = Math.max(x1, flatX[i]);
      y0 = Math.min(y0, flatY[i]); y1 = Math.max(y1, flatY[i]);
    }
    if (x0 > x1) { if (!all) show(true); return; }
    const w = canvas.clientWidth, h = canvas.clientHeight, margin = all ? 24 : 0.1 * Math.min(canvas.clientWidth, canvas.clientHeight);
    scale = Math.min((w - 2 * margin) / Math.max(x1 - x0, 1e-9), (h - 2 * margin) / Math.max(y1 - y0, 1e-9));
    left = (x0 + x1) / 2 - w / 2 / scale;
    top = (y0 + y1) / 2 + h / 2 / scale;
  };

  /** @param {string} name */
  const ink = (name) => getComputedStyle(document.documentElement).getPropertyValue("--" + name).trim();

  let waiting = false;
  const redraw = () => {
    if (waiting) return;
    waiting = true;
    requestAnimationFrame(() => { waiting = false; draw(); });
  };

  /** @param {number} i */
  const atX = (i) => (flatX[i] - left) * scale;
  /** @param {number} i */
  const atY = (i) => (top - flatY[i]) * scale;

  // The path is drawn on a layer of its own, a margin around the picture with it.
  // What is chosen changes nothing of that; and while a person moves the picture of a
  // long path, the layer is moved and stretched, and drawn anew when he rests.
  const layer = document.createElement("canvas");
  const layerPen = /** @type {CanvasRenderingContext2D} */ (layer.getContext("2d"));
  const many = 5000; // vertices of a long path
  const margin = 0.25; // of the picture, on each side
  const rest = 150; // ms
  let drawn = { view: -1, scale: 0, left: 0, top: 0, w: 0, h: 0, ratio: 0 };
  let movedAt = -Infinity, resting = 0;

  // moving is called where a person moves the picture.
  const moving = () => {
    movedAt = performance.now();
    redraw();
  };

  const draw = () => {
    const ratio = window.devicePixelRatio || 1;
    const w = canvas.clientWidth, h = canvas.clientHeight;
    if (canvas.width !== Math.round(w * ratio) || canvas.height !== Math.round(h * ratio)) {
      canvas.width = Math.round(w * ratio);
      canvas.height = Math.round(h * ratio);
    }
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    pen.clearRect(0, 0, w, h);
    drawLayer(w, h, ratio);
    const s = scale / drawn.scale;
    pen.drawImage(layer, ((drawn.left - left) * drawn.scale - margin * w) * s, ((top - drawn.top) * drawn.scale - margin * h) * s,
      (1 + 2 * margin) * w * s, (1 + 2 * margin) * h * s);
    drawMarks();
    drawChosen();
  };

  /** @param {number} w @param {number} h @param {number} ratio */
  const drawLayer = (w, h, ratio) => {
    const l = drawn;
    if (l.view === view && l.w === w && l.h === h && l.ratio === ratio) {
      if (l.scale === scale && l.left === left && l.top === top) return;
      const wait = movedAt + rest - performance.now();
      if (count > many && wait > 0) {
        clearTimeout(resting);
        resting = setTimeout(redraw, wait + 5);
        return;
      }
    }
    drawn = { view, scale, left, top, w, h, ratio };
    layer.width = Math.round((1 + 2 * margin) * w * ratio); // which clears it
    layer.height = Math.round((1 + 2 * margin) * h * ratio);
    layerPen.setTransform(ratio, 0, 0, ratio, margin * w * ratio, margin * h * ratio);
    layerPen.lineJoin = count > many ? "bevel" : "round";
    drawBox("stock", "quiet", [1, 3]);
    if (data.views[view].name === "top") drawBox("travel", "mark", [14, 4, 3, 4]);
    for (let k = 1; k <= 4; k++) drawKind(k, margin * w, margin * h, w, h);
  };

  /** @param {string} name @param {string} colour @param {number[]} dash */
  const drawBox = (name, colour, dash) => {
    const box = data.boxes[name];
    if (!box) return;
    const v = data.views[view];
    layerPen.beginPath();
    for (let i = 0; i < 8; i++) {
      for (let a = 0; a < 3; a++) {
        if (i >> a & 1) continue;
        const j = i | 1 << a;
        layerPen.moveTo((along(i, v.across, box) - left) * scale, (top - along(i, v.up, box)) * scale);
        layerPen.lineTo((along(j, v.across, box) - left) * scale, (top - along(j, v.up, box)) * scale);
      }
    }
    layerPen.strokeStyle = ink(colour);
    layerPen.lineWidth = 1;
    layerPen.setLineDash(dash);
    layerPen.stroke();
  };

  // drawKind draws the pieces of one kind, as far as the layer goes. One path of very
  // many pieces takes much longer than as many in several: all of a path are compared
  // with each other.
  /** @param {number} k @param {number} mx @param {number} my @param {number} w @param {number} h */
  const drawKind = (k, mx, my, w, h) => {
    const atOnce = 400;
    layerPen.strokeStyle = ink(classes[k]);
    layerPen.lineWidth = widths[k];
    layerPen.setLineDash(dashes[k]);
    layerPen.beginPath();
    let open = false, penX = 0, penY = 0, pieces = 0;
    for (let i = 1; i < count; i++) {
      if (kinds[i] !== k) { open = false; continue; }
      const x1 = atX(i), y1 = atY(i);
      const x0 = atX(i - 1), y0 = atY(i - 1);
      if (Math.max(x0, x1) < -9 - mx || Math.min(x0, x1) > w + mx + 9 || Math.max(y0, y1) < -9 - my || Math.min(y0, y1) > h + my + 9) { open = false; continue; }
      if (open && Math.abs(x1 - penX) + Math.abs(y1 - penY) < 0.6 && i + 1 < count && kinds[i + 1] === k) continue;
      if (!open) { layerPen.moveTo(x0, y0); open = true; }
      layerPen.lineTo(x1, y1);
      penX = x1; penY = y1;
      if (++pieces % atOnce === 0) {
        layerPen.stroke();
        layerPen.beginPath();
        layerPen.moveTo(x1, y1);
      }
    }
    layerPen.stroke();
  };

  // Where each line is first on the path, for findings and choices by line.
  /** @type {Map<number, number>} */
  const first = new Map();
  for (let i = 0; i < count; i++) if (kinds[i] !== 0 && !first.has(lines[i])) first.set(lines[i], i);
  for (let i = 0; i < count; i++) if (!first.has(lines[i])) first.set(lines[i], i);

  // onPath is the vertex of a line, or of the next line that has one.
  /** @param {number} line */
  const onPath = (line) => {
    let i = first.get(line);
    if (i !== undefined) return i;
    let best = Infinity;
    for (const [l, at] of first) if (l >= line && l < best) { best = l; i = at; }
    return i;
  };
  const markAt = data.found.map((f) => onPath(f.line));

  const drawMarks = () => {
    pen.setLineDash([]);
    pen.font = "11px system-ui, sans-serif";
    pen.textAlign = "center";
    pen.textBaseline = "middle";
    data.found.forEach((_, n) => {
      const i = markAt[n];
      if (i === undefined) return;
      const x = Math.min(Math.max(atX(i), 10), canvas.clientWidth - 10); // outside: at the edge
      const y = Math.min(Math.max(atY(i), 10), canvas.clientHeight - 10);
      pen.beginPath();
      pen.arc(x, y, 8, 0, 2 * Math.PI);
      pen.fillStyle = ink("sheet");
      pen.fill();
      pen.strokeStyle = ink("mark");
      pen.lineWidth = 2;
      pen.stroke();
      pen.fillStyle = ink("ink");
      pen.fillText(String(n + 1), x, y + 0.5);
    });
  };

  const drawChosen = () => {
    if (chosen < 0) return;
    pen.setLineDash([]);
    pen.strokeStyle = ink("chosen");
    pen.lineWidth = 4;
    pen.beginPath();
    const line = lines[chosen];
    for (let i = Math.max(1, chosen - 2000); i < Math.min(count, chosen + 2000); i++) {
      if (lines[i] !== line || kinds[i] === 0) continue;
      pen.moveTo(atX(i - 1), atY(i - 1));
      pen.lineTo(atX(i), atY(i));
    }
    pen.stroke();
    pen.beginPath();
    pen.arc(atX(chosen), atY(chosen), 5, 0, 2 * Math.PI);
    pen.fillStyle = ink("chosen");
    pen.fill();
  };

  /** @param {number} seconds */
  const clock = (seconds) => {
    const t = Math.round(seconds * 10);
    const pad = (/** @type {number} */ n) => String(n).padStart(2, "0");
    if (t < 36000) return Math.floor(t / 600) + ":" + pad(Math.floor(t / 10) % 60) + "." + t % 10;
    const s = Math.round(seconds);
    return Math.floor(s / 3600) + ":" + pad(Math.floor(s / 60) % 60) + ":" + pad(s % 60);
  };
  /** @param {number} v */
  const number = (v) => v.toFixed(data.decimals).replace(/^-(0\.?0*)$/, "$1");

  /** @param {string} tag @param {string} text @param {Node} into */
  const put = (tag, text, into) => {
    const e = document.createElement(tag);
    e.textContent = text;
    into.appendChild(e);
    return e;
  };

  // describe says what the piece that ends at a vertex is.
  /** @param {number} i */
  const describe = (i) => {
    piece.textContent = "";
    put("code", "line " + lines[i] + "   " + (data.texts[lines[i]] || ""), piece);
    const speed = speeds[i];
    const rows = [
      (names[kinds[i]] || "begins here") + (tools[i] >= 0 ? ", T" + tools[i] : "") + ", at " + clock(times[i]),
      data.x + " " + number(places[3 * i] * data.xBy) + (data.lathe ? "" : "  Y " + number(places[3 * i + 1])) + "  Z " + number(places[3 * i + 2]) + " " + data.unit,
      "feed " + (feeds[2 * i] > 0 ? feeds[2 * i].toFixed(1) : "–") + ", goes " + (feeds[2 * i + 1] > 0 ? feeds[2 * i + 1].toFixed(1) : "–") + " " + data.unit + "/min",
      speed === 0 ? "spindle off or not known" : "spindle " + Math.abs(Math.round(speed)) + " rpm" + (speed < 0 ? ", counter-clockwise" : ""),
    ];
    for (const r of rows) put("div", r, piece);
  };

  /** @type {Element[]} */
  let marked = [];
  /** @param {Element | null} e @param {boolean} follow */
  const markElement = (e, follow) => {
    if (!e) return;
    e.classList.add("chosen");
    marked.push(e);
    if (follow) e.scrollIntoView({ block: "nearest" });
  };

  const cursors = Array.from(document.querySelectorAll(".chart")).map((c) => {
    const e = document.createElement("div");
    e.className = "cursor";
    e.hidden = true;
    c.appendChild(e);
    return e;
  });

  // choose links all views by one vertex. from says where the choice was made:
  // there nothing scrolls.
  /** @param {number} i @param {string} from */
  const choose = (i, from) => {
    chosen = Math.max(0, Math.min(count - 1, i));
    describe(chosen);
    for (const e of marked) e.classList.remove("chosen");
    marked = [];
    const line = lines[chosen];
    markElement(document.querySelector('#listing tr[data-line="' + line + '"]'), from === "finding");
    data.found.forEach((f, n) => { if (f.line === line) markElement(document.getElementById("f" + (n + 1)), false); });
    const [width, l, r] = data.chart;
    const x = (l + times[chosen] / Math.max(data.total, 1e-9) * (width - l - r)) / width * 100;
    for (const c of cursors) { c.hidden = false; c.style.left = x + "%"; }
    redraw();
  };

  // bring moves the picture so that the chosen place is in it.
  const bring = () => {
    const x = atX(chosen), y = atY(chosen), w = canvas.clientWidth, h = canvas.clientHeight;
    if (x < 20 || x > w - 20 || y < 20 || y > h - 20) {
      left += (x - w / 2) / scale;
      top -= (y - h / 2) / scale;
    }
  };

  /** @param {number} line @param {string} from */
  const chooseLine = (line, from) => {
    const i = onPath(line);
    choose(i === undefined ? count - 1 : i, from);
    bring();
  };

  // nearest is the piece nearest to a place of the screen, -1 where none is near.
  /** @param {number} x @param {number} y */
  const nearest = (x, y) => {
    let best = 12 * 12, at = -1;
    for (let i = 1; i < count; i++) {
      if (kinds[i] === 0) continue;
      const x0 = atX(i - 1), y0 = atY(i - 1), dx = atX(i) - x0, dy = atY(i) - y0;
      const length = dx * dx + dy * dy;
      const t = length > 0 ? Math.max(0, Math.min(1, ((x - x0) * dx + (y - y0) * dy) / length)) : 0;
      const ex = x0 + t * dx - x, ey = y0 + t * dy - y;
      const d = ex * ex + ey * ey - (kinds[i] === 1 ? -4 : 0); // a cut before a traverse
      if (d < best) { best = d; at = i; }
    }
    return at;
  };

  /** @param {number} factor @param {number} x @param {number} y */
  const zoom = (factor, x, y) => {
    left += x / scale * (1 - 1 / factor);
    top -= y / scale * (1 - 1 / factor);
    scale *= factor;
    moving();
  };

  /** @type {Map<number, {x: number, y: number}>} */
  const fingers = new Map();
  let moved = 0;
  /** @param {PointerEvent} e */
  const spot = (e) => {
    const r = canvas.getBoundingClientRect();
    return { x: e.clientX - r.left, y: e.clientY - r.top };
  };
  canvas.addEventListener("pointerdown", (e) => {
    canvas.setPointerCapture(e.pointerId);
    fingers.set(e.pointerId, spot(e));
    if (fingers.size === 1) moved = 0;
  });
  canvas.addEventListener("pointermove", (e) => {
    const now = spot(e), was = fingers.get(e.pointerId);
    if (!was) { // hovering
      const i = nearest(now.x, now.y);
      if (i >= 0) choose(i, "path");
      return;
    }
    if (fingers.size === 2) {
      const other = Array.from(fingers).filter(([id]) => id !== e.pointerId)[0][1];
      const before = Math.hypot(was.x - other.x, was.y - other.y), after = Math.hypot(now.x - other.x, now.y - other.y);
      if (before > 0) zoom(after / before, other.x, other.y);
    } else {
      left -= (now.x - was.x) / scale;
      top += (now.y - was.y) / scale;
      moving();
    }
    moved += Math.abs(now.x - was.x) + Math.abs(now.y - was.y);
    fingers.set(e.pointerId, now);
  });
  const lift = (/** @type {PointerEvent} */ e) => {
    if (fingers.delete(e.pointerId) && e.type === "pointerup" && moved < 5) {
      const p = spot(e), i = nearest(p.x, p.y);
      if (i >= 0) choose(i, "path");
    }
  };
  canvas.addEventListener("pointerup", lift);
  canvas.addEventListener("pointercancel", lift);
  canvas.addEventListener("wheel", (e) => {
    e.preventDefault();
    const r = canvas.getBoundingClientRect();
    zoom(Math.exp(-e.deltaY / 400), e.clientX - r.left, e.clientY - r.top);
  }, { passive: false });
  canvas.addEventListener("keydown", (e) => {
    const w = canvas.clientWidth / 2, h = canvas.clientHeight / 2;
    switch (e.key) {
      case "ArrowRight": case "ArrowDown": choose(chosen + (e.shiftKey ? 100 : 1), "path"); bring(); break;
      case "ArrowLeft": case "ArrowUp": choose(chosen - (e.shiftKey ? 100 : 1), "path"); bring(); break;
      case "Home": choose(0, "path"); bring(); break;
      case "End": choose(count - 1, "path"); bring(); break;
      case "+": case "=": zoom(1.4, w, h); break;
      case "-": zoom(1 / 1.4, w, h); break;
      case "0": show(true); redraw(); break;
      case "1": show(false); redraw(); break;
      default: return;
    }
    e.preventDefault();
  });

  const viewButtons = /** @type {NodeListOf<HTMLButtonElement>} */ (document.querySelectorAll("[data-view]"));
  viewButtons.forEach((b, n) => b.addEventListener("click", () => {
    view = n;
    viewButtons.forEach((o) => o.setAttribute("aria-pressed", String(o === b)));
    project();
    show(false);
    redraw();
  }));
  document.querySelectorAll("[data-zoom]").forEach((b) => b.addEventListener("click", () => {
    const how = b.getAttribute("data-zoom"), w = canvas.clientWidth / 2, h = canvas.clientHeight / 2;
    if (how === "all" || how === "part") { show(how === "all"); redraw(); } else zoom(how === "in" ? 1.4 : 1 / 1.4, w, h);
  }));

  document.querySelectorAll(".pick").forEach((b) => b.addEventListener("click", () => {
    chooseLine(Number(b.getAttribute("data-line")), b.closest(".findings") ? "finding" : "table");
  }));

  // The listing: one row can be reached by Tab, the others by the arrow keys.
  const rows = /** @type {NodeListOf<HTMLTableRowElement>} */ (document.querySelectorAll("#listing tr[data-line]"));
  rows.forEach((row, n) => {
    row.tabIndex = n === 0 ? 0 : -1;
    row.addEventListener("click", () => chooseLine(Number(row.dataset.line), "listing"));
    row.addEventListener("keydown", (e) => {
      const to = e.key === "ArrowDown" ? rows[n + 1] : e.key === "ArrowUp" ? rows[n - 1] : e.key === "Enter" ? row : null;
      if (!to) return;
      e.preventDefault();
      row.tabIndex = -1;
      to.tabIndex = 0;
      to.focus();
      chooseLine(Number(to.dataset.line), "listing");
    });
  });

  // The charts: a moment is the vertex that ends after it.
  /** @param {number} seconds */
  const moment = (seconds) => {
    let low = 0, high = count - 1;
    while (low < high) {
      const mid = low + high >> 1;
      if (times[mid] < seconds) low = mid + 1; else high = mid;
    }
    return low;
  };
  document.querySelectorAll(".chart").forEach((c) => {
    const at = (/** @type {MouseEvent} */ e) => {
      const r = c.getBoundingClientRect();
      const [width, l, rest] = data.chart;
      const x = (e.clientX - r.left) / r.width * width;
      choose(moment((x - l) / (width - l - rest) * data.total), "chart");
    };
    c.addEventListener("mousemove", (e) => at(/** @type {MouseEvent} */ (e)));
    c.addEventListener("click", (e) => { at(/** @type {MouseEvent} */ (e)); bring(); redraw(); });
  });

  new ResizeObserver(() => { show(false); redraw(); }).observe(canvas);
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => { drawn.view = -1; redraw(); });
  project();
  show(false);
  draw();
  document.documentElement.dataset.alive = "yes";
})();
