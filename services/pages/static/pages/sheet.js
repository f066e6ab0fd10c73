// The run sheet: rows by keyboard. A row that is left is kept and planned by the server, which answers with findings,
// drawing and sticks; the rows themselves are never replaced while somebody types in them.
const form = document.getElementById("sheet");
const rows = document.getElementById("rows");
const blank = document.getElementById("blank");
const release = document.getElementById("release");
const saved = document.getElementById("kept");
const undone = form.querySelector("[data-do=undo]");
const NAMES = ["length_mm", "from", "to", "then", "angle_deg", "toward", "rise_mm", "spread_mm", "spread_toward", "bends", "width_mm"];
const RETRY_MS = 4000; // doubled at each try without an answer
const LONGEST_RETRY_MS = 64000;
const past = [];
let underWay = 0;
let releasing = null; // what the foreman saw when a release was asked for, while its rows are being kept
let due = false; // the rows last sent got no answer, or one that kept nothing
let wait = RETRY_MS;
let timer = 0;
let going = null; // what the request under way sends
let leaving = false;
let inHand = null;

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
      label.control.setAttribute("aria-label", `${rows.dataset.row ?? "Row"} ${n} ${label.firstElementChild.textContent}`);
    }
  });
}

function made(values) {
  const row = blank.content.firstElementChild.cloneNode(true);
  if (values) NAMES.forEach((name, index) => { field(row, name).value = values[index]; });
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
  rows.append(row);
  number();
  field(row, "length_mm").focus();
}

function send() {
  const now = snapshot();
  if (now === before && !due) return;
  if (now !== before) past.push(before);
  undone.disabled = !past.length;
  post(now);
}

function post(now) {
  clearTimeout(timer);
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
    restore(last);
    post(last);
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
  if (rowOf(event.relatedTarget) !== rowOf(event.target)) send();
});

rows.addEventListener("keydown", (event) => {
  const row = rowOf(event.target);
  if (event.altKey && (event.key === "ArrowUp" || event.key === "ArrowDown")) {
    event.preventDefault();
    move(row, event.key === "ArrowUp" ? -1 : 1);
    return;
  }
  if (event.key !== "Enter" || event.isComposing) return;
  event.preventDefault();
  const next = row.nextElementSibling;
  if (next) field(next, "length_mm").focus();
  else if (field(row, "then").value === "end") send();
  else add();
});

const USUAL = { bend: "90", kick: "30", offset: "30", saddle_set: "22.5", box_set: "10" };
rows.addEventListener("change", (event) => {
  if (event.target.name !== "then") return;
  const row = rowOf(event.target);
  const then = event.target.value;
  const to = field(row, "to");
  const angle = field(row, "angle_deg");
  if (then === "end") to.value = "face";
  else {
    if (to.value === "face") to.value = "back";
    if (angle.value === "" || Object.values(USUAL).includes(angle.value)) angle.value = USUAL[then];
  }
  if (then === "saddle_set" && field(row, "bends").value === "") field(row, "bends").value = "3";
});

form.addEventListener("submit", (event) => event.preventDefault());

// ---------------------------------------------------------------------------------------------- what came back

function shown() {
  for (const row of all()) {
    const found = row.querySelector("[data-found]");
    const wrong = (found.dataset.wrong ?? "").split(" ");
    row.className = `rrow ${found.dataset.worst ?? ""}`;
    for (const name of NAMES) field(row, name).toggleAttribute("aria-invalid", wrong.includes(name));
    for (const name of NAMES) if (wrong.includes(name)) field(row, name).setAttribute("aria-invalid", "true");
  }
  const go = document.getElementById("go");
  if (go) go.disabled = !document.getElementById("state").dataset.ready || underWay > 0 || snapshot() !== held;
}

document.body.addEventListener("htmx:beforeRequest", () => {
  underWay += 1;
  going = snapshot();
  saved.textContent = saved.dataset.busy;
});

// Kept is what the server says it kept: 200. It refuses with 409, 412 or 422 and shows why.
document.body.addEventListener("htmx:afterRequest", (event) => {
  underWay -= 1;
  const status = event.detail.xhr.status;
  if (status === 200) {
    held = going;
    wait = RETRY_MS;
    saved.textContent = saved.dataset.done;
  } else if ([409, 412, 422].includes(status)) tell(saved.dataset.refused);
  else if (status >= 400) {
    due = true; // so that leaving any row sends all of them again
    tell(saved.dataset.failed);
    if (status >= 500) later();
  } else if (status !== 0) tell(saved.dataset.refused);
  shown();
});
for (const unanswered of ["htmx:sendError", "htmx:timeout", "htmx:sendAbort"]) {
  document.body.addEventListener(unanswered, () => {
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

const sight = () => JSON.stringify([snapshot(), document.getElementById("crew")?.value, document.querySelector("#state b")?.textContent]);

document.body.addEventListener("htmx:afterSettle", () => {
  shown();
  if (!releasing || underWay > 0) return;
  const asSeen = releasing === sight() && snapshot() === held && document.getElementById("state").dataset.ready;
  if (asSeen) {
    releasing = null;
    release.submit();
  } else tell(`${saved.dataset.done}. ${saved.dataset.changed}`.replace(/\.$/, ""));
});

// A release waits for the row that was just left, and is of the rows, the crew and the findings that stood there.
release.addEventListener("submit", (event) => {
  send();
  if (underWay === 0 && snapshot() === held) return;
  event.preventDefault();
  releasing = sight();
  if (underWay === 0) tell(saved.dataset.refused);
});

document.body.addEventListener("click", (event) => {
  if (event.target.closest("[data-take-theirs]")) leaving = true;
  const keep = event.target.closest("[data-keep]");
  if (!keep) return;
  const stale = keep.closest(".stale");
  const theirs = JSON.parse(stale.dataset.theirRows);
  if (keep.dataset.keep === "rows") {
    const mine = JSON.parse(stale.dataset.myRows);
    const chosen = [...theirs];
    for (const pair of stale.querySelectorAll("[data-number]")) {
      const choice = pair.querySelector("input:checked")?.value;
      if (!choice) {
        stale.querySelector("[data-choose]").textContent = stale.querySelector("[data-choose]").dataset.choose;
        pair.querySelector("input").focus();
        return;
      }
      if (choice === "mine") chosen[pair.dataset.number - 1] = mine[pair.dataset.number - 1];
    }
    past.push(snapshot());
    undone.disabled = false;
    restore(JSON.stringify(chosen));
  }
  document.getElementById("seen").value = stale.dataset.version;
  document.getElementById("opened").value = stale.dataset.theirRows;
  post(snapshot());
});

number();
const first = all().find((row) => field(row, "length_mm").value === "");
if (first) field(first, "length_mm").focus();
