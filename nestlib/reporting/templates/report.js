/* Starts what the report can do beyond being read: theme, search, drawings, print. */

const drawings = [];

function start() {
  const data = JSON.parse(document.getElementById("report-data").textContent);
  for (const element of document.querySelectorAll("[data-scripted]")) element.hidden = false;
  theme();
  search();
  // A drawing gets its script when it comes near: a report may have many.
  const near = new IntersectionObserver(
    (entries) => entries.filter((entry) => entry.isIntersecting).forEach((entry) => {
      near.unobserve(entry.target);
      drawingOf(entry.target, data);
    }),
    { rootMargin: "100%" },
  );
  document.querySelectorAll("section.layout").forEach((section) => near.observe(section));
  window.addEventListener("beforeprint", () => drawings.forEach((each) => each.forPrint()));
  window.addEventListener("afterprint", () => drawings.forEach((each) => each.afterPrint()));
}

function drawingOf(section, data) {
  const layout = data.layouts[Number(section.dataset.layout)];
  const drawing = new Drawing(section, { ...layout, heatDistance: data.heat_distance });
  controls(drawing);
  new Ruler(drawing);
  const replay = layout.cuts.length ? new Replay(drawing) : null;
  // On paper stands the whole sheet before anything is cut, and then all is as it was.
  drawing.forPrint = () => {
    drawing.kept = { view: drawing.view, now: replay?.now };
    drawing.fit();
    replay?.go(0);
  };
  drawing.afterPrint = () => {
    drawing.show(drawing.kept.view);
    replay?.go(drawing.kept.now);
  };
  drawings.push(drawing);
  drawing.light("found", found(section));
}

function theme() {
  const choice = document.getElementById("theme");
  choice.addEventListener("change", () => {
    if (choice.value) document.documentElement.dataset.theme = choice.value;
    else delete document.documentElement.dataset.theme;
  });
}

/* Parts whose name holds the words light up, in all drawings and in the table. */
function search() {
  const field = document.getElementById("search");
  field.addEventListener("input", () => {
    document.querySelectorAll("section.layout").forEach((section) => list(section));
    document.querySelectorAll("tr[data-name]").forEach((row) => {
      row.classList.toggle("found", matches(row.dataset.name));
    });
    drawings.forEach((each) => each.light("found", found(each.section)));
    document.getElementById("found").textContent = field.value.trim() ? summary() : "";
  });
}

function matches(name) {
  const words = document.getElementById("search").value.trim().toLowerCase();
  return words !== "" && name.toLowerCase().includes(words);
}

function found(section) {
  const buttons = [...section.querySelectorAll("button[data-part]")];
  const hits = buttons.filter((button) => matches(button.dataset.name));
  return hits.map((button) => Number(button.dataset.part));
}

/* Hide from a list of parts what was not searched for. */
function list(section) {
  const searching = document.getElementById("search").value.trim() !== "";
  for (const button of section.querySelectorAll("button[data-part]")) {
    button.parentElement.hidden = searching && !matches(button.dataset.name);
  }
}

function summary() {
  const parts = document.querySelectorAll("tr.found").length;
  let [pieces, layouts] = [0, new Set()];
  for (const button of document.querySelectorAll("button[data-part]")) {
    if (!matches(button.dataset.name)) continue;
    pieces += Number(button.dataset.pieces);
    layouts.add(button.closest("section").dataset.layout);
  }
  return `Parts: ${parts}; pieces: ${pieces}; layouts: ${layouts.size}`;
}

start();
