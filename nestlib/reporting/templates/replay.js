/* The replay of a cut path: where the head is, what is free, and what could tip. */

const UNTIMED = [0.2, 0, 0.8]; // shares of a cut whose seconds are not known
const WARM = [10, 30, 60]; // s since a cut ended: three steps of heat
const ROLES = {
  outer: "outer contour",
  inner: "hole",
  shared: "shared cut",
  around: "way around",
  skeleton: "cut in the skeleton",
  cut_off: "cut that frees the remnant",
};

class Replay {
  constructor(drawing) {
    this.drawing = drawing;
    this.cuts = drawing.data.cuts;
    this.timed = this.cuts.every((cut) => cut.seconds);
    this.paths = [...drawing.svg.querySelectorAll(".cut")];
    this.ends = [];
    for (const cut of this.cuts) this.ends.push((this.ends.at(-1) || 0) + sum(this.seconds(cut)));
    this.total = this.ends.at(-1) || 0;
    [this.now, this.done, this.warm] = [0, 0, new Map()];
    this.find();
    this.listen();
    this.tell();
  }

  seconds(cut) {
    return this.timed ? cut.seconds : UNTIMED;
  }

  find() {
    const { drawing } = this;
    const get = (name) => drawing.section.querySelector(name);
    this.slider = get('input[type="range"]');
    this.slider.max = Math.ceil(this.total);
    this.leads = { in: leadsOf(drawing.svg, "in"), out: leadsOf(drawing.svg, "out") };
    this.play = get('[data-control="play"]');
    this.speed = get('[data-control="speed"]');
    this.status = get(".status");
    this.loose = get(".loose");
    this.heat = get('[data-control="heat"]');
    const line = { "vector-effect": "non-scaling-stroke" };
    this.near = drawing.above("circle", { class: "near", r: 0, ...line });
    this.trace = drawing.above("path", { class: "trace", pathLength: 1, d: "M0 0" });
    this.head = drawing.above("g", { class: "head-mark", display: "none" });
    for (let i = 0; i < 2; i += 1) this.head.append(part("path", { d: "M0 0h0", ...line }));
    drawing.zoomed.push(() => this.widths());
  }

  listen() {
    const { section } = this.drawing;
    const on = (name, call) =>
      section.querySelector(`[data-control="${name}"]`).addEventListener("click", call);
    this.slider.addEventListener("input", () => this.go(Number(this.slider.value)));
    this.play.addEventListener("click", () => this.run(!this.running));
    on("first", () => this.go(0));
    on("before", () => this.go(this.ends[this.done - (this.atEnd() ? 2 : 1)] || 0));
    on("after", () => this.go(this.ends[this.done] ?? this.total));
    on("last", () => this.go(this.total));
    this.heat.addEventListener("change", () => this.heated());
  }

  /* Whether the head has just ended a cut. */
  atEnd() {
    return this.done > 0 && this.now === this.ends[this.done - 1];
  }

  run(running) {
    if (running && this.now >= this.total) this.go(0);
    this.running = running;
    this.play.textContent = running ? "Pause" : "Play";
    // Read out by a screen reader only at rest: the line changes all the time.
    this.status.setAttribute("aria-live", running ? "off" : "polite");
    this.last = null;
    if (running) requestAnimationFrame((at) => this.frame(at));
  }

  frame(at) {
    if (!this.running) return;
    const passed = this.last === null ? 0 : (at - this.last) / 1000;
    this.last = at;
    this.go(this.now + passed * Number(this.speed.value));
    if (this.now >= this.total) this.run(false);
    else requestAnimationFrame((next) => this.frame(next));
  }

  go(time) {
    this.now = Math.min(Math.max(time, 0), this.total);
    const done = this.doneBy(this.now);
    this.current(false);
    for (let i = Math.min(done, this.done); i < Math.max(done, this.done); i += 1) {
      this.finish(i, i < done);
    }
    this.done = done;
    this.current(this.now > 0);
    this.slider.value = this.now;
    this.drawing.svg.classList.toggle("replaying", this.now > 0);
    this.move();
    this.heated();
    this.tell();
  }

  /* How many cuts have ended: a search by halves. */
  doneBy(time) {
    let [low, high] = [0, this.ends.length];
    while (low < high) {
      const middle = (low + high) >> 1;
      if (this.ends[middle] <= time) low = middle + 1;
      else high = middle;
    }
    return low;
  }

  /* Mark a cut as done or not, and what it frees. */
  finish(number, done) {
    const cut = this.cuts[number];
    this.paths[number].classList.toggle("done", done);
    const { pieces } = this.drawing;
    for (const piece of cut.frees || []) {
      pieces[piece].classList.toggle("freed", done);
      if (cut.fate) pieces[piece].classList.toggle(cut.fate, done);
    }
    if (cut.fate) this.paths[number].classList.toggle(cut.fate, done);
  }

  current(shown) {
    this.paths[this.done]?.classList.toggle("now", shown);
  }

  /* Put the head where it is, and draw what of the cut is done. */
  move() {
    const number = Math.min(this.done, this.cuts.length - 1);
    this.head.setAttribute("display", this.now > 0 && number >= 0 ? "inline" : "none");
    this.trace.setAttribute("d", "M0 0");
    if (this.now <= 0 || number < 0) return;
    const place = this.place(number);
    this.head.setAttribute("transform", `translate(${place.x} ${place.y})`);
    this.head.classList.toggle("on", place.beam);
    this.widths();
  }

  place(number) {
    const cut = this.cuts[number];
    const [moving, piercing, beam] = this.seconds(cut);
    const spent = this.now - (this.ends[number - 1] || 0);
    const travelling = Math.max(moving - (cut.wait || 0), 0);
    if (spent < travelling) return { ...along(cut.way, spent / travelling), beam: false };
    if (spent < moving) return { ...along(cut.way, 1), beam: false };
    const share = beam > 0 ? Math.max(0, (spent - moving - piercing) / beam) : 1;
    return { ...this.onPath(number, Math.min(share, 1)), beam: this.done === number };
  }

  /* Lead-in, contour and what is run beyond it, at even speed. */
  onPath(number, share) {
    const runs = this.runs(number);
    let left = share * sum(runs.map((run) => run.length));
    const at = runs.findIndex((run) => (left -= run.length) <= 0);
    const run = runs[at < 0 ? runs.length - 1 : at];
    const reached = at < 0 ? run.length : left + run.length;
    if (run.path === this.paths[number]) this.draw(run, reached);
    const { x, y } = run.path.getPointAtLength(reached);
    return { x, y };
  }

  runs(number) {
    const paths = [this.leads.in, this.paths, this.leads.out].map((all) => all[number]);
    return paths.filter(Boolean).map((path) => ({ path, length: path.getTotalLength() }));
  }

  draw(run, reached) {
    this.trace.setAttribute("d", run.path.getAttribute("d"));
    this.trace.setAttribute("stroke-dasharray", `${reached / (run.length || 1)} 2`);
  }

  /* Widths in px of what scales with the sheet. */
  widths() {
    this.trace.setAttribute("stroke-width", 5 / this.drawing.scale);
  }

  /* Cuts of the last minute, and the distance that the next one shall keep. */
  heated() {
    const { svg, data } = this.drawing;
    svg.classList.toggle("heated", this.heat.checked);
    const warm = this.heat.checked ? this.warmCuts() : new Map();
    for (const [i, step] of this.warm) this.paths[i].classList.remove(`warm-${step}`);
    for (const [i, step] of warm) this.paths[i].classList.add(`warm-${step}`);
    this.warm = warm;
    const last = this.cuts[this.done];
    const radius = this.heat.checked && last && this.now > 0 ? data.heatDistance : 0;
    this.near.setAttribute("r", radius);
    if (radius) this.near.setAttribute("cx", last.way[0]);
    if (radius) this.near.setAttribute("cy", last.way[1]);
  }

  warmCuts() {
    const warm = new Map();
    for (let i = this.done - 1; i >= 0; i -= 1) {
      const step = WARM.findIndex((limit) => this.now - this.ends[i] <= limit);
      if (step < 0) break;
      warm.set(i, step + 1);
    }
    return warm;
  }

  /* Say in words where the head is and what lies loose. */
  tell() {
    const number = Math.min(this.done, this.cuts.length - 1);
    const text = this.words(number);
    this.slider.setAttribute("aria-valuetext", text);
    if (this.status.textContent !== text) this.status.textContent = text;
    if (this.told !== this.done) this.tellLoose();
    this.told = this.done;
  }

  words(number) {
    if (number < 0) return "Nothing is cut on this layout.";
    const time = this.timed ? `${clock(this.now)} of ${clock(this.total)} · ` : "";
    if (this.now <= 0) return `${time}before the first of ${this.cuts.length} cuts`;
    if (this.done >= this.cuts.length) return `${time}all ${this.cuts.length} cuts done`;
    return `${time}cut ${number + 1} of ${this.cuts.length}: ${this.what(this.cuts[number])}`;
  }

  what(cut) {
    const role = ROLES[cut.role] || cut.role;
    return cut.piece < 0 ? role : `${this.drawing.name(cut.piece)}, ${role}`;
  }

  tellLoose() {
    const done = this.cuts.slice(0, this.done);
    const free = sum(done.map((cut) => (cut.frees || []).length));
    const tipping = done.filter((cut) => cut.fate === "tips");
    const names = counted(tipping.flatMap((cut) => this.loosened(cut)));
    const could = names.length ? `Could tip: ${names.join(", ")}.` : "Nothing could tip.";
    this.loose.textContent = `${free} of ${this.drawing.pieces.length} pieces cut free. ${could}`;
  }

  /* What a cut sets loose: pieces, or the slug of a hole. */
  loosened(cut) {
    const { parts, pieces } = this.drawing.data;
    if (cut.frees) return cut.frees.map((piece) => parts[pieces[piece]]);
    return cut.piece < 0 ? "what is left" : `slug of ${parts[pieces[cut.piece]]}`;
  }
}

/* Names with how often each occurs. */
function counted(names) {
  const numbers = new Map();
  for (const name of names) numbers.set(name, (numbers.get(name) || 0) + 1);
  return [...numbers].map(([name, number]) => `${name} × ${number}`);
}

/* Leads by the number of their cut. */
function leadsOf(svg, kind) {
  const all = [...svg.querySelectorAll(`.lead-${kind}`)];
  return Object.fromEntries(all.map((path) => [path.dataset.cut, path]));
}

function sum(values) {
  return values.reduce((total, value) => total + value, 0);
}

/* The place at a share of a chain of x and y. */
function along(way, share) {
  const legs = [];
  for (let i = 0; i + 3 < way.length; i += 2) {
    legs.push({ from: i, length: Math.hypot(way[i + 2] - way[i], way[i + 3] - way[i + 1]) });
  }
  let left = share * sum(legs.map((leg) => leg.length));
  const leg = legs.find((each) => (left -= each.length) <= 0) || legs.at(-1);
  const part = leg.length ? (left + leg.length) / leg.length : 0;
  const i = leg.from;
  const between = (k) => way[k] + part * (way[k + 2] - way[k]);
  return { x: between(i), y: between(i + 1) };
}

function clock(seconds) {
  const whole = Math.floor(seconds);
  const two = (value) => String(value).padStart(2, "0");
  const [hours, minutes] = [Math.floor(whole / 3600), Math.floor(whole / 60) % 60];
  return `${hours ? `${hours}:${two(minutes)}` : minutes}:${two(whole % 60)}`;
}
