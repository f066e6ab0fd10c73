// The run sheet: rows by keyboard. A row that is left is kept and planned by the server, which answers with findings
// and sticks; the drawing follows. The rows themselves are never replaced while somebody types in them.
const form = document.getElementById("sheet");
const rows = document.getElementById("rows");
const blank = document.getElementById("blank");
const release = document.getElementById("release");
const saved = document.getElementById("kept");
const drawn = document.getElementById("drawn");
const undone = form.querySelector("[data-do=undo]");
const NAMES = ["length_mm", "from", "to", "then", "angle_deg", "toward", "rise_mm", "spread_mm", "spread_toward", "bends", "width_mm", "fitting", "radius_mm", "leg_in_mm", "leg_out_mm"];
const RETRY_MS = 4000; // doubled at each try without an answer
const LONGEST_RETRY_MS = 64000;
const NARROW = matchMedia("(max-width: 699px)");
const past = [];
const unticked = new Set(); // sticks that are not to be released yet
let underWay = 0;
let releasing = null; // what the foreman saw when a release was asked for, while its rows are being kept
let due = false; // the rows last sent got no answer, or one that kept nothing
let wait = RETRY_MS;
let timer = 0;
let going = null; // what the request under way sends
let refused = false; // the rows last sent were not kept
let leaving = false;
let inHand = null;
let drawing = null; // the request for it under way

const all = () => [...rows.children];
const field = (row, name) => row.querySelector(`[name=${name}]`);
const rowOf = (element) => element?.closest?.("[data-row]") ?? null;
let before = snapshot(); // as last sent: a state of the rows that undo can lead back to
let held = before; // as the server last kept them

function snapshot() {
  return JSON.stringify(all().map((row) => NAMES.map((name) => field(row, name).value)));
}

function number() {
  all().forEach((row, index) => {
    const n = index + 1;
    row.querySelector("[data-n]").textContent = n;
    row.querySelector("[data-way]").id = `way-${n}`;
    row.querySelector("[data-sofar]").id = `sofar-${n}`;
    row.querySelector("[data-found]").id = `found-${n}`;
    for (const label of row.querySelectorAll("label")) {
      label.control.setAttribute("aria-label", `${rows.dataset.word} ${n} ${label.firstElementChild.textContent}`);
    }
  });
}

function made(values) {
  const row = blank.content.firstElementChild.cloneNode(true);
  // the kind of a fitting always stands at one, so that choosing a fitting shows it
  if (values) NAMES.forEach((name, index) => { if (name !== "fitting" || values[index]) field(row, name).value = values[index]; });
  return row;
}

function restore(text) {
  rows.replaceChildren(...JSON.parse(text).map(made));
  inHand = null;
  number();
}

function add() {
  const row = made();
  if (!rows.children.length) field(row, "from").value = "face";
  else if (field(rows.lastElementChild, "then").value === "fitting") field(row, "from").value = "corner";
  rows.append(row);
  number();
  field(row, "length_mm").focus();
}

function send() {
  const now = snapshot();
  if (now === before && !due) return;
  post(now);
}

function post(now) {
  clearTimeout(timer);
  if (now !== before) past.push(before);
  undone.disabled = !past.length;
  before = now;
  due = false;
  htmx.trigger(form, "row-left");
}

// By itself only what was left: never a row that somebody is in the middle of.
function retry() {
  if (!due) return;
  if (snapshot() === before && underWay === 0) post(before);
  else timer = setTimeout(retry, wait);
}

function later() {
  clearTimeout(timer);
  timer = setTimeout(retry, wait);
  wait = Math.min(2 * wait, LONGEST_RETRY_MS);
}

// What stands under the rows. A release that waited for them is off unless they were kept.
function tell(text) {
  refused = true;
  saved.textContent = releasing ? `${text}. ${saved.dataset.unreleased}` : text;
  releasing = null;
}

function move(row, step) {
  const other = step < 0 ? row.previousElementSibling : row.nextElementSibling;
  if (!other) return;
  const focused = row.contains(document.activeElement) ? document.activeElement : null;
  if (step < 0) other.before(row);
  else other.after(row);
  number();
  focused?.focus();
  send();
}

const ACTS = {
  add: () => add(),
  up: (row) => row && move(row, -1),
  down: (row) => row && move(row, 1),
  more: (row) => {
    if (!row) return;
    const more = row.querySelector(".r-more");
    more.toggleAttribute("data-folded");
    if (!more.hasAttribute("data-folded")) field(row, "from").focus();
  },
  remove: (row) => {
    if (!row) return;
    const next = row.nextElementSibling ?? row.previousElementSibling;
    row.remove();
    if (!rows.children.length) add();
    number();
    if (next) field(next, "length_mm").focus();
    inHand = next;
    send();
  },
  undo: () => {
    const last = past.pop();
    undone.disabled = !past.length;
    if (!last) return;
    const at = all().indexOf(inHand);
    restore(last);
    before = last;
    post(last);
    const row = all()[Math.min(Math.max(at, 0), rows.children.length - 1)];
    if (at >= 0 && row) field(row, "length_mm").focus();
  },
};

form.addEventListener("click", (event) => {
  const act = event.target.closest("[data-do]")?.dataset.do;
  if (act) ACTS[act](inHand?.isConnected ? inHand : rows.lastElementChild);
});

rows.addEventListener("focusin", (event) => {
  inHand?.removeAttribute("data-hand");
  inHand = rowOf(event.target);
  inHand?.setAttribute("data-hand", "");
});

// Left for another row, for a button or for nothing: kept. Left for another field of the row: not yet.
rows.addEventListener("focusout", (event) => {
  if (event.target.name === "length_mm") shorthand(rowOf(event.target));
  if (rowOf(event.relatedTarget) !== rowOf(event.target)) send();
});

// ------------------------------------------------------------------------------------------------ keys

// "1200r" is 1200, then to the right; "900e" ends the run. A letter stands for a way by which its word begins.
function letters(row) {
  const ways = [...field(row, "toward").options].filter((option) => option.value);
  return new Map(ways.map((option) => [option.textContent.trim()[0].toLowerCase(), option.value]));
}

const END_LETTER = "e";

function turnTo(row, letter) {
  if (letter === END_LETTER) {
    choose(row, "then", "end");
    return true;
  }
  const way = letters(row).get(letter);
  if (!way) return false;
  if (field(row, "then").value === "end") choose(row, "then", "bend");
  field(row, "toward").value = way;
  return true;
}

function choose(row, name, value) {
  field(row, name).value = value;
  field(row, name).dispatchEvent(new Event("change", { bubbles: true }));
}

function shorthand(row) {
  const length = row && field(row, "length_mm");
  const match = /^(.*[\d"'.¼½¾⅛⅜⅝⅞])\s*(\p{L})$/u.exec(length?.value.trim() ?? "");
  if (match && turnTo(row, match[2].toLowerCase())) length.value = match[1];
}

const SHORTCUTS = { ArrowUp: "up", ArrowDown: "down", Insert: "add", Delete: "remove", Backspace: "undo" };

document.addEventListener("keydown", (event) => {
  if (event.key === "Enter" && event.ctrlKey && !event.isComposing) {
    const go = document.getElementById("go");
    if (!go) return;
    event.preventDefault();
    document.activeElement?.blur?.(); // the row in hand is left
    release.requestSubmit();
    return;
  }
  const act = event.altKey && !event.ctrlKey ? SHORTCUTS[event.key] : event.key === "F2" ? "more" : null;
  if (!act || (act !== "undo" && act !== "add" && !rowOf(event.target))) return;
  event.preventDefault();
  ACTS[act](rowOf(event.target) ?? (inHand?.isConnected ? inHand : rows.lastElementChild));
});

rows.addEventListener("keydown", (event) => {
  const row = rowOf(event.target);
  if (event.target.name === "toward" && event.key === END_LETTER && !event.altKey && !event.ctrlKey && !event.metaKey) {
    event.preventDefault();
    turnTo(row, END_LETTER);
    field(row, "then").focus();
    return;
  }
  if (event.key !== "Enter" || event.isComposing || event.ctrlKey || event.altKey) return;
  event.preventDefault();
  if (event.target.name === "length_mm") {
    shorthand(row);
    const turns = !["end", "fitting"].includes(field(row, "then").value);
    if (turns && event.target.value !== "" && field(row, "toward").value === "") {
      field(row, "toward").focus();
      return;
    }
  }
  const next = row.nextElementSibling;
  if (next) field(next, "length_mm").focus();
  else if (field(row, "then").value === "end") send();
  else add();
});

const USUAL = { bend: "90", kick: "30", offset: "30", saddle_set: "22.5", box_set: "10", fitting: "" };
const USUAL_OF_FITTING = { draw_in_box: "", inspection_bend: "90", tee: "", bought_bend: "90" };
const isUsual = (angle) => angle === "" || Object.values(USUAL).includes(angle);

rows.addEventListener("change", (event) => {
  const row = rowOf(event.target);
  if (event.target.name === "then") chosen(row, event.target.value);
  if (event.target.name === "fitting" && isUsual(field(row, "angle_deg").value)) {
    field(row, "angle_deg").value = USUAL_OF_FITTING[event.target.value];
    if (field(row, "angle_deg").value === "") field(row, "toward").value = "";
  }
});

// At a fitting both legs are measured to its corner; chosen away again, they are as before.
function chosen(row, then) {
  const to = field(row, "to");
  const angle = field(row, "angle_deg");
  const next = row.nextElementSibling;
  if (then === "end") to.value = "face";
  else if (then === "fitting") to.value = "corner";
  else if (to.value === "face" || row.dataset.then === "fitting") to.value = "back";
  if (next && then === "fitting") field(next, "from").value = "corner";
  else if (next && row.dataset.then === "fitting" && field(next, "from").value === "corner") field(next, "from").value = "back";
  if (then === "fitting") angle.value = USUAL_OF_FITTING[field(row, "fitting").value] ?? "";
  else if (then !== "end" && isUsual(angle.value)) angle.value = USUAL[then];
  if (then === "fitting" && angle.value === "") field(row, "toward").value = "";
  if (then === "saddle_set" && field(row, "bends").value === "") field(row, "bends").value = "3";
  row.dataset.then = then;
}

// What followed a row before is known when something else is chosen.
rows.addEventListener("focusin", (event) => {
  const row = rowOf(event.target);
  if (row) row.dataset.then = field(row, "then").value;
});

form.addEventListener("submit", (event) => event.preventDefault());

// ---------------------------------------------------------------------------------------------- what came back

const isOfRows = (event) => event.detail.elt === form;

function shown() {
  for (const row of all()) {
    const found = row.querySelector("[data-found]");
    const wrong = (found.dataset.wrong ?? "").split(" ");
    row.className = `rrow ${found.dataset.worst ?? ""}`;
    for (const name of NAMES) field(row, name).toggleAttribute("aria-invalid", wrong.includes(name));
    for (const name of NAMES) if (wrong.includes(name)) field(row, name).setAttribute("aria-invalid", "true");
  }
  for (const tick of ticks()) tick.checked = !unticked.has(tick.value);
  // While a row is typed or kept the button stays as it was: a release waits for the row itself, and whoever clicks
  // leaves the row by that very click, which a disabled button would swallow.
  const go = document.getElementById("go");
  if (go) go.disabled = !document.getElementById("state").dataset.ready || refused;
}

// The drawing takes longer than all else: it follows, and one that is overtaken is let go.
async function redraw() {
  drawing?.abort();
  const mine = new AbortController();
  drawing = mine;
  drawn.setAttribute("aria-busy", "true");
  try {
    const width = NARROW.matches ? "narrow" : "wide";
    const answer = await fetch(`${drawn.dataset.from}?width=${width}`, { signal: mine.signal, headers: { "HX-Request": "true" } });
    if (answer.status !== 200) return;
    drawn.innerHTML = await answer.text();
    drawn.classList.toggle("s-none", !drawn.querySelector("div"));
  } catch {
    // what is drawn stays until the next answer
  } finally {
    if (drawing === mine) drawn.removeAttribute("aria-busy");
  }
}

NARROW.addEventListener("change", redraw);

// What waited in the queue goes as the rows were left, never with one that somebody is in the middle of by then.
document.body.addEventListener("htmx:configRequest", (event) => {
  if (!isOfRows(event)) return;
  going = before;
  const left = JSON.parse(going);
  NAMES.forEach((name, index) => {
    event.detail.formData.delete(name);
    for (const row of left) event.detail.formData.append(name, row[index]);
  });
});

document.body.addEventListener("htmx:beforeRequest", (event) => {
  if (!isOfRows(event)) return;
  underWay += 1;
  saved.textContent = saved.dataset.busy;
});

// Kept is what the server says it kept: 200. It refuses with 409, 412 or 422 and shows why.
document.body.addEventListener("htmx:afterRequest", (event) => {
  if (!isOfRows(event)) return;
  underWay -= 1;
  const status = event.detail.xhr.status;
  if (status === 200) {
    held = going;
    refused = false;
    wait = RETRY_MS;
    saved.textContent = saved.dataset.done;
    redraw();
  } else if ([409, 412, 422].includes(status)) tell(saved.dataset.refused);
  else if (status >= 400) {
    due = true; // so that leaving any row sends all of them again
    tell(saved.dataset.failed);
    if (status >= 500) later();
  } else if (status !== 0) tell(saved.dataset.refused);
  shown();
});
for (const unanswered of ["htmx:sendError", "htmx:timeout", "htmx:sendAbort"]) {
  document.body.addEventListener(unanswered, (event) => {
    if (!isOfRows(event)) return;
    due = true;
    tell(saved.dataset.lost);
    later();
    shown();
  });
}
window.addEventListener("online", retry);

window.addEventListener("beforeunload", (event) => {
  if (leaving || snapshot() === held) return;
  event.preventDefault();
});

const ticks = () => document.querySelectorAll("input[name=stick]");

document.body.addEventListener("change", (event) => {
  if (event.target.name !== "stick") return;
  if (event.target.checked) unticked.delete(event.target.value);
  else unticked.add(event.target.value);
});

const sight = () => JSON.stringify([snapshot(), document.getElementById("crew")?.value, document.querySelector("#state b")?.textContent, [...unticked]]);

document.body.addEventListener("htmx:afterSettle", () => {
  shown();
  if (!releasing || underWay > 0) return;
  const asSeen = releasing === sight() && snapshot() === held && document.getElementById("state").dataset.ready;
  if (asSeen) {
    releasing = null;
    release.submit();
  } else {
    releasing = null;
    saved.textContent = `${saved.dataset.done}. ${saved.dataset.unreleased} ${saved.dataset.changed}`;
  }
});

// A release waits for the row that was just left, and is of the rows, the crew and the findings that stood there.
release.addEventListener("submit", (event) => {
  send();
  if (underWay === 0 && snapshot() === held && document.getElementById("state").dataset.ready) return;
  event.preventDefault();
  if (underWay === 0 && snapshot() === held) {
    saved.textContent = saved.dataset.unreleased;
    document.getElementById("state").scrollIntoView({ block: "nearest" });
    return;
  }
  releasing = sight();
  if (underWay > 0) return;
  tell(saved.dataset.refused);
  shown();
});

document.body.addEventListener("click", (event) => {
  if (event.target.closest("[data-take-theirs]")) leaving = true;
  const keep = event.target.closest("[data-keep]");
  if (!keep) return;
  const stale = keep.closest(".stale");
  const theirs = JSON.parse(stale.dataset.theirRows);
  if (keep.dataset.keep === "rows") {
    const mine = JSON.parse(stale.dataset.myRows);
    const chosenRows = [...theirs];
    for (const pair of stale.querySelectorAll("[data-number]")) {
      const choice = pair.querySelector("input:checked")?.value;
      if (!choice) {
        stale.querySelector("[data-choose]").textContent = stale.querySelector("[data-choose]").dataset.choose;
        pair.querySelector("input").focus();
        return;
      }
      if (choice === "mine") chosenRows[pair.dataset.number - 1] = mine[pair.dataset.number - 1];
    }
    past.push(snapshot());
    undone.disabled = false;
    restore(JSON.stringify(chosenRows));
    before = snapshot();
  }
  document.getElementById("seen").value = stale.dataset.version;
  document.getElementById("opened").value = stale.dataset.theirRows;
  post(snapshot());
});

number();
const first = all().find((row) => field(row, "length_mm").value === "");
if (first) field(first, "length_mm").focus();
