/* Measuring in a drawing: two points, by pointer or by arrow keys and Enter. */

const NEAR = 10; // px within which a corner is taken
const DIRECTIONS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
const HELP =
  "Measuring: click two points, corners are taken exactly. By keyboard: arrow keys move the " +
  "cross by 1 mm, with Shift by 10 mm; Enter sets a point, C takes the nearest corner, Escape " +
  "ends.";

class Ruler {
  constructor(drawing) {
    this.drawing = drawing;
    this.button = drawing.section.querySelector('[data-control="measure"]');
    this.reading = drawing.section.querySelector(".reading");
    this.points = [];
    this.group = drawing.above("g", { class: "ruler" });
    this.button.addEventListener("click", () => this.toggle());
    drawing.picked = (place) => this.active && this.add(this.snapped(place));
    drawing.keys = (event) => this.active && this.onKey(event);
    drawing.zoomed.push(() => this.draw());
  }

  toggle() {
    this.active = !this.active;
    this.points = [];
    this.cursor = this.active ? this.drawing.middle() : null;
    this.button.setAttribute("aria-pressed", String(this.active));
    this.drawing.section.classList.toggle("measuring", this.active);
    this.reading.textContent = this.active ? HELP : "";
    if (this.active) this.drawing.canvas.focus();
    this.draw();
  }

  onKey(event) {
    const step = DIRECTIONS[event.key];
    const far = event.shiftKey ? 10 : 1;
    if (step) this.move(this.cursor.x + far * step[0], this.cursor.y + far * step[1]);
    else if (event.key === "Enter") this.add({ ...this.cursor });
    else if (event.key.toLowerCase() === "c") this.toCorner();
    else if (event.key === "Escape") this.toggle();
    else return false;
    return true;
  }

  move(x, y) {
    this.cursor = { x, y };
    const there = this.drawing.onSheet(this.cursor);
    this.reading.textContent = `x ${there.x.toFixed(2)} mm, y ${there.y.toFixed(2)} mm`;
    this.draw();
  }

  toCorner() {
    const { x, y } = this.nearest(this.cursor, Infinity);
    this.move(x, y);
  }

  add(point) {
    this.points = this.points.length === 1 ? [this.points[0], point] : [point];
    this.cursor = point;
    this.reading.textContent = this.text();
    this.draw();
  }

  text() {
    const [a, b] = this.points.map((point) => this.drawing.onSheet(point));
    if (!b) return `From x ${a.x.toFixed(2)} mm, y ${a.y.toFixed(2)} mm`;
    const [dx, dy] = [b.x - a.x, b.y - a.y];
    return `${Math.hypot(dx, dy).toFixed(2)} mm (x ${dx.toFixed(2)}, y ${dy.toFixed(2)})`;
  }

  snapped(place) {
    return this.nearest(place, NEAR / this.drawing.scale);
  }

  /* The nearest corner of a contour, or the place itself if none is so near. */
  nearest(place, within) {
    let [best, found] = [within, place];
    for (const corner of this.corners()) {
      const apart = Math.hypot(corner.x - place.x, corner.y - place.y);
      if (apart < best) [best, found] = [apart, corner];
    }
    return { x: found.x, y: found.y };
  }

  /* Ends of all lines and arcs; worked out when they are first needed. */
  corners() {
    if (!this.known) {
      const paths = this.drawing.svg.querySelectorAll(".cut, .metal, .kept");
      this.known = [...paths].flatMap((path) => ends(path.getAttribute("d")));
    }
    return this.known;
  }

  draw() {
    const { group, drawing } = this;
    group.replaceChildren();
    if (!this.active) return;
    const size = 8 / drawing.scale;
    for (const { x, y } of [...this.points, this.cursor]) {
      const d = `M${x - size} ${y}h${2 * size}M${x} ${y - size}v${2 * size}`;
      group.append(part("path", { d, "vector-effect": "non-scaling-stroke" }));
    }
    if (this.points.length === 2) this.line(...this.points, size);
  }

  line(a, b, size) {
    const ends = { x1: a.x, y1: a.y, x2: b.x, y2: b.y };
    this.group.append(part("line", { ...ends, "vector-effect": "non-scaling-stroke" }));
    const at = { x: (a.x + b.x) / 2 + size, y: (a.y + b.y) / 2 - size };
    const text = part("text", { ...at, "font-size": 2 * size });
    text.textContent = this.text().split(" (")[0];
    this.group.append(text);
  }
}

function part(name, attributes) {
  const element = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  return element;
}

/* Where each step of path data ends: the last two numbers after M, L or A. */
function ends(d) {
  return [...d.matchAll(/[MLA]([^MLAZ]+)/g)].map((step) => {
    const [x, y] = step[1].trim().split(/\s+/).slice(-2).map(Number);
    return { x, y };
  });
}
