// The board: reports that somebody keeps an eye on, polled, filtered, and marked as seen.

import { chosen, countBy, SHOWN } from "./board_choice.js";
import { lineOf, nameOf } from "./board_lines.js";
import { entriesOf, linkIn, sheetOf } from "./board_links.js";
import { Away, changes, Refused } from "./board_polling.js";
import { answerOf, changeOf, isPassing, kindOf, OWN_LOOM, take } from "./board_rows.js";
import { openStore } from "./board_store.js";
import { clock, element, links, number, short, stamp, when } from "./board_words.js";

const ROWS_A_PAGE = 500;
const LONGEST_SLEEP_MS = 60000;
const FILTERS = ["text", "loom", "code", "severity", "sort"];

const at = (id) => document.getElementById(id);
const board = new Map(); // rows by their link, in the order in which they were added
let store;
let view = { show: "all", page: 1 };
let polling = false;
let timer;
let awaySince = null;
let removed = [];
let lastPlace = 0;
let stale = false;

function markSeen(rows) {
  for (const row of rows) Object.assign(row, { seen: answerOf(row), changed: null });
  return store.put(rows);
}

// --- Adding and removing ---------------------------------------------------------------------

async function add({ entries, strange }) {
  const fresh = [];
  const renamed = [];
  for (const entry of entries) {
    const known = board.get(entry.link);
    if (known) {
      if (entry.label && entry.label !== known.label) renamed.push(Object.assign(known, { label: entry.label }));
    } else {
      const row = { label: "", etag: "", codes: [], severities: null, problem: null, changed: null, ...entry };
      row.place = lastPlace += 1;
      if (row.verdict) row.seen = answerOf(row);
      board.set(row.link, row);
      fresh.push(row);
    }
  }
  await store.put([...fresh, ...renamed]);
  const again = entries.length - fresh.length - renamed.length;
  say([
    fresh.length ? `${links(fresh.length)} added.` : "",
    renamed.length ? `${links(renamed.length)} got a new label.` : "",
    again ? `${links(again)} ${again === 1 ? "was" : "were"} on the board already.` : "",
    strange.length ? `${strange.length === 1 ? "One line holds" : `${number(strange.length)} lines hold`} no link to a report: ${
      strange.slice(0, 3).map((each) => `line ${each.line}, “${short(each.text)}”`).join("; ")}${strange.length > 3 ? " …" : ""}.` : "",
    entries.length || strange.length ? "" : "There is nothing in it: paste links to reports, one a line.",
  ].filter(Boolean).join(" "));
  at("adding").open = strange.length > 0 || !board.size;
  if (fresh.length) {
    show({ show: "all", page: 1 });
    render();
    await poll();
  } else render();
  return strange;
}

async function remove(rows) {
  for (const row of rows) board.delete(row.link);
  await store.remove(rows.map((row) => row.link));
  removed = rows;
  say(`${links(rows.length)} removed.`, { undo: true });
  await plan();
  render();
}

async function undo() {
  const rows = [...board.values(), ...removed].sort((one, other) => one.place - other.place);
  board.clear();
  for (const row of rows) board.set(row.link, row);
  await store.put(removed);
  say(`${links(removed.length)} put back.`);
  removed = [];
  await plan();
  render();
  goOn();
}

// --- Polling ---------------------------------------------------------------------------------

async function poll() {
  if (polling || !board.size) return;
  polling = true;
  clearTimeout(timer);
  markPollable();
  const rows = [...board.values()];
  const isFirst = rows.every((row) => kindOf(row) === "new");
  let asked = 0;
  let news = 0;
  let unanswered = 0;
  const progress = (words) => { at("polled").textContent = words; };
  progress(`Polling ${links(rows.length)} …`);
  try {
    const waiting = (until, why) => progress(`${why} Polling goes on at ${clock(until)}.`);
    for await (const [many, items] of changes(rows, waiting)) {
      const moved = [];
      for (const item of items) {
        const row = board.get(item.link);
        if (isPassing(item)) unanswered += 1;
        if (isPassing(item) || !row) continue; // a row may be removed meanwhile
        if (take(row, item)) news += 1;
        moved.push(row);
      }
      asked += many;
      await store.put(moved);
      progress(`Polling: ${number(asked)} of ${number(rows.length)} …`);
      if (moved.length) render();
    }
    await store.set("polled", { at: Date.now(), asked, news, unanswered });
    const words = [back(), news && !isFirst ? `${links(news)} changed.` : ""].join(" ").trim();
    if (words) say(words);
  } catch (error) {
    if (!(error instanceof Away || error instanceof Refused)) throw error;
    away(error);
  } finally {
    polling = false;
    await plan();
    render();
    await refresh();
  }
}

// Not disabled, which would take the focus from who polls with the keyboard.
function markPollable() {
  at("poll").setAttribute("aria-disabled", String(polling || !board.size));
}

// Said once; while it lasts only the time of the next attempt moves on.
function away(error) {
  if (awaySince !== null) return;
  awaySince = Date.now();
  const what = error instanceof Refused ? "The service has refused to be polled" : "The service has been away";
  const words = `${what} since ${clock(awaySince)}: ${error.message.replace(/\.$/, "")}. The list shows what was known before.`;
  at("away").textContent = words;
  at("away").hidden = false;
}

function back() {
  const words = awaySince === null ? "" : `The service is back; it was away from ${clock(awaySince)} to ${clock(Date.now())}.`;
  awaySince = null;
  at("away").hidden = true;
  at("away").textContent = "";
  return words;
}

// State the last poll, and set the time of the next one.
async function plan() {
  clearTimeout(timer);
  const last = await store.setting("polled");
  const every = Number(at("every").value) * 60000;
  let words = last
    ? `Last poll ${when(last.at)}: ${links(last.asked)}, ${last.news ? number(last.news) : "none"} changed${
      last.unanswered ? `, ${number(last.unanswered)} without an answer` : ""}.`
    : "Not polled yet.";
  if (!board.size) words = "Nothing is on the board yet. Paste links to reports below, or press “Put on the board” on a report.";
  else if (every) {
    const due = awaySince === null ? (last ? last.at : 0) + every : Date.now() + Math.min(every, LONGEST_SLEEP_MS);
    const wait = Math.max(0, due - Date.now());
    words += wait ? ` Next at ${clock(Date.now() + wait)}.` : "";
    timer = setTimeout(poll, wait);
  }
  at("polled").textContent = words;
}

// --- What is shown ---------------------------------------------------------------------------

function listed() {
  return chosen([...board.values()], view).filter(SHOWN[view.show]);
}

function render() {
  const every = [...board.values()];
  const focused = document.activeElement;
  at("listed").hidden = board.size === 0;
  if (!board.size) at("adding").open = true;
  markPollable();
  at("unkept").hidden = store.keeps;
  options("loom", countBy(every, (row) => [row.loom]), "any");
  options("code", countBy(every, (row) => row.codes), "any");
  const rows = chosen(every, view);
  const counts = Object.fromEntries(Object.entries(SHOWN).map(([name, fits]) => [name, rows.filter(fits).length]));
  for (const tab of at("tabs").children) {
    const name = tab.dataset.show;
    const isChosen = name === view.show;
    tab.querySelector(".many").textContent = number(counts[name]);
    tab.setAttribute("aria-selected", String(isChosen));
    tab.tabIndex = isChosen ? 0 : -1;
    if (isChosen) at("panel").setAttribute("aria-labelledby", tab.id);
  }
  at("tab-lost").hidden = counts.lost === 0 && view.show !== "lost";
  const changed = every.filter(SHOWN.changed).length;
  document.title = changed ? `(${changed}) Board` : "Board";
  fill(rows.filter(SHOWN[view.show]));
  if (focused?.disabled || focused?.closest("[hidden]")) goOn();
}

// What was pressed is of no use any more: the keyboard goes on at the list.
function goOn() {
  (board.size ? at("panel") : at("adding").firstElementChild).focus();
}

function fill(rows) {
  const pages = Math.max(1, Math.ceil(rows.length / ROWS_A_PAGE));
  view.page = Math.min(Math.max(1, view.page), pages);
  const first = (view.page - 1) * ROWS_A_PAGE;
  const shown = rows.slice(first, first + ROWS_A_PAGE);
  const focused = focusedRow();
  at("rows").replaceChildren(...shown.map(lineOf));
  refocus(focused);
  at("table").hidden = rows.length === 0;
  at("nothing").hidden = rows.length !== 0;
  at("nothing").textContent = view.show === "changed" && !isFiltered()
    ? "Nothing has changed since you last looked."
    : "No report fits. Choose another tab, or clear the filters.";
  at("count").textContent = pages > 1
    ? `${number(first + 1)}–${number(first + shown.length)} of ${number(rows.length)} reports`
    : `${number(rows.length)} ${rows.length === 1 ? "report" : "reports"}`;
  for (const [id, is] of [["before", view.page > 1], ["after", view.page < pages]]) {
    at(id).hidden = pages === 1;
    at(id).disabled = !is;
  }
  at("see-all").hidden = !rows.some(SHOWN.changed);
  at("export").hidden = at("remove-all").hidden = rows.length === 0;
}

// Rows are made anew; whoever is among them with the keyboard stays where they were.
function focusedRow() {
  const line = document.activeElement?.closest?.("#rows tr");
  if (!line) return null;
  const kind = ["see", "remove", "label"].find((each) => document.activeElement.classList.contains(each)) || "label";
  return { link: line.dataset.link, place: [...at("rows").children].indexOf(line), kind };
}

function refocus(focused) {
  if (!focused) return;
  const lines = [...at("rows").children];
  const line = lines.find((each) => each.dataset.link === focused.link) || lines[Math.min(focused.place, lines.length - 1)];
  (line?.querySelector(`.${focused.kind}`) || line?.querySelector(".label") || at("panel")).focus();
}

function options(id, counts, any) {
  const [field, wanted] = [at(id), view[id] || ""];
  if (wanted && !counts.some(([name]) => name === wanted)) counts.unshift([wanted, 0]);
  const fresh = [["", any], ...counts.map(([name, count]) => [name, `${name} (${count})`])];
  const known = [...field.options].map((each) => [each.value, each.text]);
  if (fresh.join("\n") !== known.join("\n")) field.replaceChildren(...fresh.map(([name, words]) => new Option(words, name)));
  field.value = wanted;
}

// --- The address: what is shown is behind its #, which browsers do not send ---------------------

function show(change) {
  view = { ...view, ...change };
  const stated = new URLSearchParams();
  for (const name of ["show", ...FILTERS]) if (view[name]) stated.set(name, view[name]);
  if (view.page > 1) stated.set("page", view.page);
  history.replaceState(null, "", `#${stated}`);
}

function isFiltered() {
  return ["text", "loom", "code", "severity"].some((name) => view[name]);
}

// Read the address: what to show, and links that another page put on the board.
async function follow() {
  const stated = new URLSearchParams(location.hash.slice(1));
  const put = stated.getAll("add").map((text, place) => {
    const found = linkIn(text);
    return found && { ...found, label: stated.getAll("label")[place]?.trim().slice(0, 200) || found.label };
  });
  const given = Object.fromEntries(["show", ...FILTERS].map((name) => [name, stated.get(name) || ""]));
  const changed = [...board.values()].some(SHOWN.changed);
  view = { ...given, show: Object.hasOwn(SHOWN, given.show) ? given.show : changed ? "changed" : "all", page: Number(stated.get("page")) || 1 };
  for (const name of FILTERS) if (name !== "loom" && name !== "code") at(name).value = view[name];
  show({});
  if (put.length) await add({ entries: put.filter(Boolean), strange: [] });
  else render();
}

// --- Export ----------------------------------------------------------------------------------

function exported(rows) {
  const head = ["label", "cloth", "loom_id", "verdict", "since", "codes", "severities", "changed", "was", "added", "cleared", "problem", "link", "etag"];
  return sheetOf([head, ...rows.map((row) => {
    const change = (row.changed && changeOf(row)) || { was: "", added: [], cleared: [] };
    return [row.label, row.cloth, row.loom === OWN_LOOM ? "" : row.loom, row.problem ? "" : row.verdict, stamp(row.since),
      row.codes.join(" "), (row.severities || []).join(" "), stamp(row.changed), change.was, change.added.join(" "),
      change.cleared.join(" "), row.problem, row.link, row.etag];
  })]);
}

function save(text, name) {
  const link = element("a");
  link.href = URL.createObjectURL(new Blob([text], { type: "text/csv;charset=utf-8" }));
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10000);
}

function say(words, { undo: canUndo = false } = {}) {
  at("message").textContent = words;
  at("undo").hidden = !canUndo;
}

// --- What people do --------------------------------------------------------------------------

function listen() {
  at("poll").addEventListener("click", () => {
    say("");
    poll();
  });
  at("undo").addEventListener("click", undo);
  at("every").addEventListener("change", async () => {
    await store.set("every", at("every").value);
    await plan();
  });
  at("add").addEventListener("submit", async (event) => {
    event.preventDefault();
    const text = at("pasted").value;
    at("pasted").value = "";
    const strange = await add(entriesOf(text));
    if (!at("pasted").value) at("pasted").value = strange.map((each) => each.text).join("\n");
  });
  at("file").addEventListener("change", addFile);
  at("tabs").addEventListener("click", (event) => {
    const tab = event.target.closest("[role=tab]");
    if (!tab) return;
    show({ show: tab.dataset.show, page: 1 });
    render();
  });
  at("tabs").addEventListener("keydown", (event) => {
    const tabs = [...at("tabs").children].filter((each) => !each.hidden);
    const step = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
    if (!step) return;
    const next = tabs[(tabs.indexOf(document.activeElement) + step + tabs.length) % tabs.length];
    next.click();
    next.focus();
  });
  at("filters").addEventListener("submit", (event) => event.preventDefault());
  for (const kind of ["input", "change"]) at("filters").addEventListener(kind, filter);
  for (const [id, step] of [["before", -1], ["after", 1]]) {
    at(id).addEventListener("click", () => {
      show({ page: view.page + step });
      render();
      at("panel").scrollIntoView();
    });
  }
  at("see-all").addEventListener("click", async () => {
    const rows = listed().filter(SHOWN.changed);
    await markSeen(rows);
    say(`${links(rows.length)} marked as seen.`);
    render();
  });
  at("export").addEventListener("click", () => save(exported(listed()), `board-${stamp(Date.now()).slice(0, 10)}.csv`));
  at("remove-all").addEventListener("click", () => remove(listed()));
  at("rows").addEventListener("click", async (event) => {
    const row = board.get(event.target.closest("tr")?.dataset.link);
    if (!row) return;
    if (event.target.classList.contains("see")) {
      await markSeen([row]);
      say(`${nameOf(row)} marked as seen.`);
      render();
    } else if (event.target.classList.contains("remove")) await remove([row]);
  });
  window.addEventListener("hashchange", follow);
}

async function addFile() {
  const [file] = at("file").files;
  if (file) await add(entriesOf(await file.text()));
  at("file").value = "";
}

function filter() {
  show({ ...Object.fromEntries(FILTERS.map((name) => [name, at(name).value])), page: 1 });
  clearTimeout(filter.typed);
  filter.typed = setTimeout(render, 120);
}

async function refresh() {
  if (!stale) return;
  stale = false;
  await load();
  render();
}

async function load() {
  const rows = await store.rows();
  board.clear();
  for (const row of rows.sort((one, other) => one.place - other.place)) board.set(row.link, row);
  lastPlace = Math.max(lastPlace, rows.at(-1)?.place || 0);
}

async function begin() {
  store = await openStore(() => {
    stale = true; // another tab has written; while polling, rows are read again after it
    if (!polling) refresh();
  });
  await load();
  at("every").value = (await store.setting("every")) || "5";
  at("needs-script").hidden = true;
  at("board").hidden = false;
  listen();
  await follow();
  await addFile(); // it may have been chosen before anything listened
  await plan();
}

begin();
