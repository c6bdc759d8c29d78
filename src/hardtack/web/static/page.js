// The one script of the pages. Without it every page works by forms; with it a change is kept and shown at once.

const $ = (selector, from = document) => from.querySelector(selector);
const $$ = (selector, from = document) => [...from.querySelectorAll(selector)];

// ---- pictures -------------------------------------------------------------------------------------------
let drawing;
function drawingCode() {
  drawing ??= new Promise((ready, failed) => {
    const script = document.createElement("script");
    script.type = "module"; // its names stay its own
    script.src = document.body.dataset.vega;
    script.onload = ready;
    script.onerror = failed;
    document.head.append(script);
  });
  return drawing;
}

async function draw(place, spec) {
  await drawingCode();
  const canvas = document.createElement("div");
  await window.drawFigure(canvas, spec);
  const svg = $("svg", canvas);
  const [width, height] = [svg.getAttribute("width"), svg.getAttribute("height")];
  if (!svg.getAttribute("viewBox")) svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
  svg.setAttribute("aria-hidden", "true");
  place.setAttribute("aria-label", spec.description);
  place.replaceChildren(svg);
}

async function drawFrom(place) {
  const held = place.dataset.spec;
  if (held.startsWith("#")) return draw(place, JSON.parse($(held).textContent)); // it came with the page
  const answer = await fetch(held);
  if (answer.ok) await draw(place, await answer.json());
}

function drawAll(from = document) {
  for (const place of $$(".drawing[data-spec]", from)) drawFrom(place).catch(() => {});
}

// ---- live: every change is kept, computed and shown; only the newest answer counts ---------------------------
const form = $("form[data-live]");
const PAUSE = 20; // ms of quiet before a change is sent: a burst of keys is one change
let waiting = new Map();
let sending = false;
let timer;

function changed(input) {
  const place = input.name.slice(2);
  for (const each of $$("input, select, textarea", form)) {
    if (each.name === `v:${place}` || each.name === `o:${place}`) waiting.set(each.name, each.value);
  }
  saved("keeping …");
  clearTimeout(timer);
  timer = setTimeout(send, PAUSE);
}

function saved(words) {
  $("[data-saved]", form).textContent = words;
}

async function send(more) {
  if (sending || (!waiting.size && !more)) return;
  sending = true;
  const sent = waiting;
  waiting = new Map();
  const body = new URLSearchParams([["seq", form.elements.seq.value], ...sent, ...(more ?? [])]);
  try {
    const answer = await fetch(form.dataset.live, { method: "POST", body, headers: { accept: "application/json" } });
    const said = await answer.json();
    if (!answer.ok) throw new Error(said.problems.map((p) => p.what).join("; "));
    form.elements.seq.value = said.seq;
    if (!waiting.size || more) await show(said);
    saved(waiting.size ? "keeping …" : "Every change is kept.");
  } catch (error) {
    for (const [name, value] of sent) if (!waiting.has(name)) waiting.set(name, value);
    saved(`Not kept yet: ${error.message || "the program does not answer"}. It is tried again.`);
    clearTimeout(timer);
    timer = setTimeout(send, 2000);
    sending = false;
    return;
  }
  sending = false;
  if (waiting.size) send();
}

// What takes longer comes after, once the hands are still; a newer answer makes it void.
let resting;
function askRest() {
  clearTimeout(resting);
  const place = $("[data-rest]");
  if (!place) return;
  resting = setTimeout(async () => {
    const answer = await fetch(place.dataset.rest).catch(() => null);
    if (answer?.ok && place.isConnected) place.innerHTML = await answer.text();
  }, 900);
}

async function show(said) {
  if (said.form) replaceForm(said.form);
  const picture = $("#said .drawing");
  const open = $$("#said details").map((each) => each.open);
  const made = document.createElement("div");
  made.innerHTML = said.says;
  const place = $(".drawing", made);
  if (place && picture) {
    for (const { name, value } of [...place.attributes]) picture.setAttribute(name, value);
    place.replaceWith(picture); // the old picture stays until the new one is drawn
  }
  $("#said").replaceChildren(...made.childNodes);
  $$("#said details").forEach((each, k) => (each.open = open[k] ?? false));
  $("#unplaced").innerHTML = said.unplaced;
  for (const list of $$(".wrong", form)) {
    const problems = said.wrong[list.id.replace(/-wrong$/, "")] ?? [];
    list.hidden = !problems.length;
    list.replaceChildren(...problems.map((words) => Object.assign(document.createElement("li"), { textContent: words })));
    const input = document.getElementById(list.id.replace(/-wrong$/, ""));
    if (input?.matches("input, select, textarea")) {
      if (problems.length) input.setAttribute("aria-invalid", "true");
      else input.removeAttribute("aria-invalid");
    }
  }
  $("[data-name]").textContent = said.name;
  $("[data-undo]").disabled = !said.can_undo;
  $("[data-redo]").disabled = !said.can_redo;
  const now = $("#said .drawing");
  if (now && said.spec) await draw(now, said.spec);
  document.body.dataset.shown = said.seq;
  askRest();
  clearTimeout(show.heard);
  show.heard = setTimeout(() => ($("#heard").textContent = $("#said .sentence")?.textContent ?? ""), 700);
}

function replaceForm(html) {
  const at = document.activeElement?.name;
  $("#parts").innerHTML = html;
  if (at) $$("input", form).find((input) => input.name === at)?.focus();
}

if (form) {
  saved("Every change is kept as you make it.");
  form.addEventListener("input", (event) => {
    if (/^[vo]:/.test(event.target.name)) changed(event.target);
  });
  form.addEventListener("submit", () => clearTimeout(timer)); // a button sends all fields itself
  window.addEventListener("beforeunload", (event) => {
    if (waiting.size || sending) event.preventDefault();
  });
  form.addEventListener("keydown", gridKeys);
  form.addEventListener("paste", gridPaste);
}

// ---- the grid: arrows move, Enter goes down, rows of a spreadsheet are pasted ------------------------------
function cellOf(input) {
  const cell = input.closest?.(".grid td");
  return cell && { row: cell.parentElement, column: cell.cellIndex, body: cell.parentElement.parentElement };
}

function go(row, column) {
  const input = row?.cells[column]?.querySelector("input, select");
  input?.focus();
  input?.select?.();
  return Boolean(input);
}

function gridKeys(event) {
  const at = cellOf(event.target);
  if (!at || event.altKey || event.ctrlKey || event.metaKey || !event.target.matches("input, select")) return;
  const input = event.target;
  const text = input.matches("input");
  const moves = { ArrowUp: [-1, 0], ArrowDown: [1, 0], Enter: [1, 0], ArrowLeft: [0, -1], ArrowRight: [0, 1] };
  const move = moves[event.key];
  if (!move) return;
  if (!text && event.key !== "Enter" && move[0]) return; // a choice keeps its own up and down
  if (text && move[1] < 0 && input.selectionEnd > 0 && !(input.selectionStart === 0 && input.selectionEnd === input.value.length)) return;
  if (text && move[1] > 0 && input.selectionStart < input.value.length && !(input.selectionStart === 0 && input.selectionEnd === input.value.length)) return;
  event.preventDefault();
  const rows = [...at.body.rows];
  const row = rows[rows.indexOf(at.row) + move[0]];
  if (go(row, at.column + move[1]) || event.key !== "Enter") return;
  const place = input.closest("[data-grid]").dataset.grid; // Enter in the last row begins a new one
  pasteRows(place, rows.length, 0, "new\t0").then(() => {
    const grid = $$("[data-grid]", form).find((each) => each.dataset.grid === place);
    go(grid.tBodies[0].rows[rows.length], 1);
  });
}

function gridPaste(event) {
  const at = cellOf(event.target);
  const rows = event.clipboardData?.getData("text/plain") ?? "";
  if (!at || !/[\t\n]/.test(rows.trim())) return;
  event.preventDefault();
  const first = [...at.body.rows].indexOf(at.row);
  const column = event.target.name.endsWith("/amount") ? 1 : 0;
  pasteRows(event.target.closest("[data-grid]").dataset.grid, first, column, rows);
}

async function pasteRows(where, row, column, rows) {
  clearTimeout(timer);
  while (sending) await new Promise((later) => setTimeout(later, 20));
  await send([["where", where], ["row", row], ["column", column], ["rows", rows]]);
}

// ---- long work: how far it is, until its answer is there --------------------------------------------------
const work = $("[data-work]");
async function watchWork() {
  const answer = await fetch(work.dataset.work, { headers: { accept: "application/json" } }).catch(() => null);
  const now = answer?.ok ? await answer.json() : null;
  if (now && !["waiting", "running"].includes(now.state)) return location.reload();
  if (now) {
    $("progress", work).value = now.share;
    const words = now.state === "waiting" ? `Waiting: ${now.before} before this one.` : `Under way: ${Math.round(100 * now.share)} % done.`;
    if ($("[data-work-words]", work).textContent !== words) $("[data-work-words]", work).textContent = words;
  }
  setTimeout(watchWork, 700);
}
if (work) setTimeout(watchWork, 400);

// A deep link opens what it leads into.
function reveal() {
  const target = location.hash && document.getElementById(decodeURIComponent(location.hash.slice(1)));
  if (!target) return;
  for (let each = target; each; each = each.parentElement) if (each.matches("details")) each.open = true;
  const inner = $("details", target.matches("fieldset") ? target : document.createElement("p"));
  if (inner && !$("input, select", target)?.checkVisibility?.()) inner.open = true;
  target.scrollIntoView();
}
window.addEventListener("hashchange", reveal);
reveal();

// On a narrow screen the tab of this page is brought into view.
const tabs = $("nav ol");
const current = $("nav [aria-current]");
if (tabs && current) tabs.scrollLeft = current.offsetLeft - tabs.clientWidth / 2 + current.offsetWidth / 2;

askRest();
drawAll();
