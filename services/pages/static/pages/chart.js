// The wall chart: choosing runs and sticks, and keeping the choice, the focus and the place on the page while the
// server's newer chart takes the old one's place. Every act is a form's; without this script it works all the same.
const give = document.getElementById("give");
const picked = new Set(); // ids of the boxes that are ticked
const unfolded = new Set(); // ids of the lists of sticks that are open
let anchor = null; // id of the box from which a range is chosen
let place = null; // what was where, while the chart is being replaced

const boxes = () => [...document.querySelectorAll("[data-pick]")];
const seen = (box) => box.checkVisibility ? box.checkVisibility() : box.offsetParent !== null;

function tell() {
  if (!give) return;
  const count = (kind) => [...picked].filter((id) => id.startsWith(`${kind}-`)).length;
  const said = [];
  for (const [kind, one, many] of [["run", "run", "runs"], ["piece", "stick", "sticks"]]) {
    const n = count(kind);
    if (n) said.push(`${n} ${n === 1 ? give.dataset[one] : give.dataset[many]}`);
  }
  give.querySelector("[data-count]").textContent = said.join(", ") || give.dataset.none;
  give.toggleAttribute("data-empty", picked.size === 0 && !give.querySelector("#give-said").textContent);
  give.querySelector("[data-clear]").hidden = picked.size === 0;
  for (const button of give.querySelectorAll(".give-run button")) button.disabled = count("run") === 0;
}

function set(box, on) {
  box.checked = on;
  if (on) picked.add(box.id);
  else picked.delete(box.id);
}

function hush() {
  const said = document.getElementById("give-said");
  if (said) said.textContent = "";
}

// From the anchor to here, boxes of one kind, all as the anchor is.
function range(to) {
  const from = document.getElementById(anchor ?? "");
  const kind = to.dataset.pick;
  const row = boxes().filter((box) => box.dataset.pick === kind && seen(box));
  if (!from || from.dataset.pick !== kind) return set(to, true);
  const ends = [row.indexOf(from), row.indexOf(to)].sort((a, b) => a - b);
  for (const box of row.slice(ends[0], ends[1] + 1)) set(box, true);
}

document.addEventListener("click", (event) => {
  const box = event.target.closest?.("[data-pick]");
  if (box) {
    hush();
    if (event.shiftKey) range(box);
    else {
      set(box, box.checked);
      anchor = box.id;
    }
    tell();
    return;
  }
  if (event.target.closest?.("[data-all]")) {
    const room = event.target.closest(".room");
    const runs = [...room.querySelectorAll("[data-pick=run]")];
    const on = runs.some((each) => !each.checked);
    for (const each of runs) set(each, on);
    hush();
    tell();
  }
  if (event.target.closest?.("[data-clear]")) clear();
});

function clear() {
  for (const box of boxes()) set(box, false);
  picked.clear();
  anchor = null;
  hush();
  tell();
}

document.addEventListener("keydown", (event) => {
  if (event.key === "Escape" && picked.size && !event.target.closest("input[type=date], select, [role=search]")) {
    clear();
    return;
  }
  const box = event.target.closest?.("[data-pick]");
  if (!box) return;
  if (event.key === " " && event.shiftKey) {
    event.preventDefault();
    range(box);
    tell();
  } else if (event.key === "ArrowDown" || event.key === "ArrowUp") {
    event.preventDefault();
    const row = boxes().filter(seen);
    const next = row[row.indexOf(box) + (event.key === "ArrowDown" ? 1 : -1)];
    if (!next) return;
    if (event.shiftKey) {
      if (!picked.has(box.id)) anchor = null;
      anchor ??= box.id;
      set(box, true);
      range(next);
      tell();
    }
    next.focus();
  }
});

document.addEventListener("toggle", (event) => {
  if (!event.target.matches?.(".c-sticks")) return;
  if (event.target.open) unfolded.add(event.target.id);
  else unfolded.delete(event.target.id);
}, true);

// A label's click is followed by one of its box; with shift the browser would select text between the two.
document.addEventListener("mousedown", (event) => {
  if (event.shiftKey && event.target.closest?.(".c-pick, .c-tick")) event.preventDefault();
});

// ------------------------------------------------------------------------------------------------ a newer chart

const isChart = (event) => event.detail.target?.id === "chart-live";

document.body.addEventListener("htmx:beforeSwap", (event) => {
  if (!isChart(event) || !event.detail.shouldSwap) return;
  const rows = [...document.querySelectorAll("[data-row]")];
  const first = rows.find((row) => row.getBoundingClientRect().bottom > 0);
  place = {
    focus: document.getElementById("chart-live").contains(document.activeElement) ? document.activeElement.id : "",
    row: first?.dataset.row,
    top: first?.getBoundingClientRect().top ?? 0,
    scroll: window.scrollY,
  };
});

document.body.addEventListener("htmx:afterSettle", () => {
  const chart = document.getElementById("chart-live");
  if (!place || !chart) return;
  if (chart.hasAttribute("data-done")) picked.clear();
  for (const id of [...unfolded]) {
    const list = document.getElementById(id);
    if (list) list.open = true;
    else unfolded.delete(id);
  }
  for (const id of [...picked]) {
    const box = document.getElementById(id);
    if (box) box.checked = true;
    else picked.delete(id); // gone, or no longer among those asked for
  }
  begin();
  const row = place.row && document.querySelector(`[data-row="${place.row}"]`);
  if (row) window.scrollBy({ top: row.getBoundingClientRect().top - place.top, behavior: "instant" });
  else window.scrollTo({ top: place.scroll, behavior: "instant" });
  if (place.focus && document.activeElement?.id !== place.focus) {
    document.getElementById(place.focus)?.focus({ preventScroll: true });
  }
  place = null;
  tell();
});

function begin() {
  for (const button of document.querySelectorAll("[data-all]")) button.hidden = false;
}

for (const box of boxes()) if (box.checked) picked.add(box.id); // a browser may keep them over a reload
begin();
tell();
