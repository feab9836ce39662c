/* The drawing of one layout: zoom, pan, layers, and parts that light up. */

const SVG = "http://www.w3.org/2000/svg";
const CLOSEST = 400; // times larger than the whole sheet
const STILL = 4; // px: a pointer that moved less was a click
const STEP = 60; // px that an arrow key moves
const NUMBER = 15; // px: the numbers of the cuts grow no larger

class Drawing {
  constructor(section, data) {
    this.section = section;
    this.data = data;
    this.canvas = section.querySelector(".canvas");
    this.svg = this.canvas.querySelector("svg");
    const [x, y, width, height] = this.svg.getAttribute("viewBox").split(" ").map(Number);
    this.whole = { x, y, width, height };
    this.view = { ...this.whole };
    this.zoomed = []; // called after each change of the view
    this.picked = () => {}; // called with the place of a click
    this.keys = () => false; // may take a key before the drawing does
    this.numbers = this.svg.querySelector(".numbers");
    this.numberSize = Number(this.numbers?.getAttribute("font-size"));
    this.pieces = [...this.svg.querySelectorAll(".piece")];
    this.lights = new Map(); // who lights what: name to set of parts
    this.lit = new Set();
    this.down = new Map(); // pointers on the drawing
    this.listen();
  }

  /* Pixels for a millimetre. */
  get scale() {
    const box = this.canvas.getBoundingClientRect();
    return Math.min(box.width / this.view.width, box.height / this.view.height) || 1;
  }

  /* Where an event is, in mm of the picture. */
  place(event) {
    const point = new DOMPoint(event.clientX, event.clientY);
    return point.matrixTransform(this.svg.getScreenCTM().inverse());
  }

  /* The same from the sheet's own corner, y up. */
  onSheet(place) {
    const { left, top } = this.svg.dataset;
    return { x: place.x + Number(left), y: Number(top) - place.y };
  }

  show(view) {
    const { whole } = this;
    view.x = Math.min(Math.max(view.x, whole.x - view.width / 2), whole.width - view.width / 2);
    view.y = Math.min(Math.max(view.y, whole.y - view.height / 2), whole.height - view.height / 2);
    this.view = view;
    this.svg.setAttribute("viewBox", `${view.x} ${view.y} ${view.width} ${view.height}`);
    this.numbers?.setAttribute("font-size", Math.min(this.numberSize, NUMBER / this.scale));
    this.zoomed.forEach((call) => call());
  }

  fit() {
    this.show({ ...this.whole });
  }

  /* Enlarge by a factor; the place stays where it is. */
  zoom(factor, place = this.middle()) {
    const { view, whole } = this;
    const width = Math.min(Math.max(view.width / factor, whole.width / CLOSEST), whole.width * 1.5);
    const by = width / view.width;
    this.show({
      x: place.x - (place.x - view.x) * by,
      y: place.y - (place.y - view.y) * by,
      width,
      height: view.height * by,
    });
  }

  pan(right, down) {
    const { view, scale } = this;
    this.show({ ...view, x: view.x + right / scale, y: view.y + down / scale });
  }

  middle() {
    const { view } = this;
    return { x: view.x + view.width / 2, y: view.y + view.height / 2 };
  }

  /* Light some parts on behalf of somebody; only pieces that change are touched. */
  light(who, parts) {
    this.lights.set(who, new Set(parts));
    const wanted = new Set([...this.lights.values()].flatMap((set) => [...set]));
    const changed = (part) => wanted.has(part) !== this.lit.has(part);
    this.data.pieces.forEach((part, piece) => {
      if (changed(part)) this.pieces[piece].classList.toggle("lit", wanted.has(part));
    });
    this.lit = wanted;
    this.svg.classList.toggle("some-lit", wanted.size > 0);
  }

  /* Show or hide all that belongs to a layer. */
  layer(name, shown) {
    const classes = { leads: ".leads, .pierces", order: ".numbers" }[name] || `.${name}`;
    for (const element of this.svg.querySelectorAll(classes)) {
      element.style.display = shown ? "inline" : "none";
    }
  }

  listen() {
    const { canvas } = this;
    canvas.addEventListener("keydown", (event) => this.onKey(event));
    canvas.addEventListener("wheel", (event) => this.onWheel(event), { passive: false });
    canvas.addEventListener("dblclick", (event) => this.zoom(2, this.place(event)));
    canvas.addEventListener("pointerdown", (event) => this.onDown(event));
    canvas.addEventListener("pointermove", (event) => this.onMove(event));
    canvas.addEventListener("pointerup", (event) => this.onUp(event));
    canvas.addEventListener("pointercancel", () => this.down.clear());
    canvas.addEventListener("pointerleave", () => this.read(null));
  }

  onKey(event) {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const move = {
      ArrowLeft: [-STEP, 0],
      ArrowRight: [STEP, 0],
      ArrowUp: [0, -STEP],
      ArrowDown: [0, STEP],
    }[event.key];
    if (this.keys(event)) event.preventDefault();
    else if (move) this.pan(...move);
    else if (event.key === "+" || event.key === "=") this.zoom(1.5);
    else if (event.key === "-") this.zoom(1 / 1.5);
    else if (event.key === "0") this.fit();
    else return;
    event.preventDefault();
  }

  /* The wheel scrolls the page until the drawing is focused or Ctrl is held. */
  onWheel(event) {
    if (!event.ctrlKey && document.activeElement !== this.canvas) return;
    event.preventDefault();
    this.zoom(Math.exp(-event.deltaY / 400), this.place(event));
  }

  onDown(event) {
    if (event.button) return;
    this.down.set(event.pointerId, event);
    this.travelled = 0;
    this.canvas.setPointerCapture(event.pointerId);
  }

  onMove(event) {
    const last = this.down.get(event.pointerId);
    if (!last) {
      this.read(event);
      return;
    }
    const [right, below] = [event.clientX - last.clientX, event.clientY - last.clientY];
    this.travelled += Math.abs(right) + Math.abs(below);
    if (this.down.size === 1 && this.travelled > STILL) this.pan(-right, -below);
    if (this.down.size === 2) this.pinch(last, event);
    this.down.set(event.pointerId, event);
  }

  /* Two fingers: their distance is the factor. */
  pinch(last, event) {
    const other = [...this.down.values()].find((e) => e.pointerId !== event.pointerId);
    const apart = (e) => Math.hypot(e.clientX - other.clientX, e.clientY - other.clientY) || 1;
    this.zoom(apart(event) / apart(last), this.place(other));
  }

  onUp(event) {
    if (this.down.delete(event.pointerId) && this.travelled <= STILL) {
      this.picked(this.place(event));
    }
  }

  /* What lies under the pointer. */
  read(event) {
    const line = this.section.querySelector(".readout");
    if (!event) {
      line.textContent = "";
      return;
    }
    const { x, y } = this.onSheet(this.place(event));
    const piece = this.pieces.indexOf(event.target);
    const name = piece < 0 ? "" : ` · ${this.name(piece)}`;
    line.textContent = `x ${x.toFixed(1)} mm, y ${y.toFixed(1)} mm${name}`;
  }

  name(piece) {
    return `${this.data.parts[this.data.pieces[piece]]}, piece ${piece + 1}`;
  }

  /* An element of the drawing that lies above all others. */
  above(name, attributes) {
    const element = document.createElementNS(SVG, name);
    for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
    this.svg.append(element);
    return element;
  }
}

/* Buttons, layers and the list of parts of a layout. */
function controls(drawing) {
  const { section } = drawing;
  const actions = {
    larger: () => drawing.zoom(1.5),
    smaller: () => drawing.zoom(1 / 1.5),
    whole: () => drawing.fit(),
  };
  for (const [name, action] of Object.entries(actions)) {
    section.querySelector(`[data-control="${name}"]`).addEventListener("click", action);
  }
  for (const box of section.querySelectorAll("[data-layer]")) {
    box.addEventListener("change", () => drawing.layer(box.dataset.layer, box.checked));
  }
  section.querySelectorAll("button[data-part]").forEach((button) => partButton(button, drawing));
}

/* A part lights up while it is pointed at or focused, and stays lit once it is pressed. */
function partButton(button, drawing) {
  const part = Number(button.dataset.part);
  const light = () => drawing.light("pointed", [part]);
  const leave = () => drawing.light("pointed", []);
  button.addEventListener("pointerenter", light);
  button.addEventListener("focus", light);
  button.addEventListener("pointerleave", leave);
  button.addEventListener("blur", leave);
  button.addEventListener("click", () => {
    const pressed = button.getAttribute("aria-pressed") !== "true";
    button.setAttribute("aria-pressed", String(pressed));
    const all = drawing.section.querySelectorAll('button[data-part][aria-pressed="true"]');
    drawing.light("pressed", [...all].map((each) => Number(each.dataset.part)));
  });
}
