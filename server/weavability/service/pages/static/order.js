// Makes the form of an order live: what is typed is judged at the same address, and what the answer
// has anew takes the place of what was there. Without this script the form works by its buttons.
"use strict";

const PAUSE_MS = 300;
const LONGER_PAUSE_MS = 1000;
const DIMMED_AFTER_MS = 150;
const LONGEST_QUERY = 7000;
const LEFT_OUT = new Set(["paste", "picture", "order_file"]);

const page = document.documentElement;
const status = document.createElement("p");
let waiting = 0;
let newest = 0;
let under_way = null;
let acting = null;

const form = () => document.getElementById("order");
const isPrice = (name) => name.startsWith("prices.");

/** The fields of the form, of a button that was pressed too; empty ones only if they show a row. */
function fields(button) {
  const sent = new FormData(form(), button);
  return [...sent].filter(([name, value]) => typeof value === "string" && !LEFT_OUT.has(name) &&
    (value.trim() !== "" || /^(warp|weft)_yarn_|_in$|_yd$/.test(name) || name === button?.name));
}

/** The prices as a fragment, which no browser sends. */
function fragment() {
  const prices = fields().filter(([name, value]) => isPrice(name) && value.trim() !== "");
  return prices.length ? "#" + prices.map((each) => each.map(encodeURIComponent).join("=")).join("&") : "";
}

/** What to fetch: the address of the order; a body if it has prices, a picture or is too long. */
function request(button) {
  const stated = fields(button);
  const query = new URLSearchParams(stated).toString();
  const has_picture = form().elements.picture?.files.length > 0;
  if (has_picture || query.length > LONGEST_QUERY || stated.some(([name, value]) => isPrice(name) && value.trim())) {
    return ["/", {method: "POST", body: new FormData(form(), button)}];
  }
  return [query ? "/?" + query : "/", {}];
}

/** What to send for an order that no address holds. */
function sending(pairs) {
  const body = new FormData();
  for (const [name, value] of pairs) body.append(name, value);
  return ["/", {method: "POST", body}];
}

/** Put an address in the browser's history; an order that is too long for one is kept beside it. */
function remember(how, address, order) {
  // Relative to the page: one whose address has a password keeps it.
  const there = new URL(address, location.origin);
  const path = there.pathname + there.search + there.hash;
  if (!order && path === location.pathname + location.search + location.hash && !history.state) return;
  try {
    history[how](order && {order}, "", path);
  } catch (error) {
    if (!order) throw error;
    history[how](null, "", path); // longer than the browser keeps
  }
}

/** Fetch a page and show it; of several only the newest. Return whether it was shown. */
async function show([wanted, options], {whole, history_of, at_once, parts = "[data-part]"}) {
  const mine = ++newest;
  under_way?.abort();
  under_way = new AbortController();
  const answer_of = () => document.getElementById("answer");
  const timer = setTimeout(() => page.classList.toggle("computing", parts !== "#decides"), DIMMED_AFTER_MS);
  answer_of().setAttribute("aria-busy", "true");
  const prices = fragment();
  const before = typed();
  let found;
  try {
    // Not a relative address: one with a password in it cannot be fetched.
    const answer = await fetch(new URL(wanted, location.origin), {...options, headers: {Accept: "text/html", ...(at_once && {Prefer: "return=minimal"})}, signal: under_way.signal});
    found = new DOMParser().parseFromString(await answer.text(), "text/html");
    if (!found.getElementById("order")) throw new Error(found.querySelector("main p")?.textContent || `${answer.statusText}.`);
    if (mine !== newest) return;
    const posted = new URL(answer.url).search === "" && options.method === "POST";
    const own = found.getElementById("answer").dataset.address;
    const meanwhile = [...typed()].filter(([name, value]) => before.get(name) !== value);
    swap(found, whole, parts);
    if (whole) for (const [name, value] of meanwhile) fill(name, value);
    if (history_of) remember(history_of, (posted ? own || "/" : answer.url) + prices, posted && !own ? fields() : null);
    return true;
  } catch (error) {
    if (mine !== newest || error.name === "AbortError") return;
    complain(`This was not judged: ${error.message} What is typed stays; it is judged again with the next change.`);
  } finally {
    if (mine === newest) {
      clearTimeout(timer);
      page.classList.remove("computing");
      answer_of().removeAttribute("aria-busy");
    }
  }
}

/** Put what is new in place: every part by its name, or the whole content. */
function swap(found, whole, parts) {
  document.getElementById("complaint")?.remove();
  const focus = document.activeElement?.id;
  const opened = [...document.querySelectorAll("details[id][open]")].map((each) => each.id);
  if (whole) {
    document.getElementById("main").replaceWith(document.adoptNode(found.getElementById("main")));
    for (const id of opened) document.getElementById(id)?.setAttribute("open", "");
    colours();
  } else {
    for (const part of document.querySelectorAll(parts)) {
      const anew = found.getElementById(part.id);
      if (anew && !anew.isEqualNode(part)) part.replaceWith(document.adoptNode(anew));
    }
    for (const field of form().querySelectorAll("[aria-describedby]")) {
      const anew = found.getElementById(field.id);
      if (anew?.hasAttribute("aria-invalid")) field.setAttribute("aria-invalid", "true");
      else field.removeAttribute("aria-invalid");
    }
  }
  document.title = found.title;
  if (focus && document.activeElement?.id !== focus) document.getElementById(focus)?.focus({preventScroll: true});
  const verdict = document.querySelector("#answer .verdict, #answer > p");
  say(verdict ? verdict.textContent.replace(/\s+/g, " ").trim() : "");
}

/** What is in every field of text, by its name. */
function typed() {
  return new Map([...new FormData(form())].filter(([, value]) => typeof value === "string"));
}

/** Say above the old result why there is no new one. */
function complain(words) {
  const place = document.getElementById("complaint") || document.createElement("p");
  place.id = "complaint";
  place.className = "fault";
  place.textContent = words;
  document.getElementById("answer").prepend(place);
  say(words);
}

function say(words) {
  if (status.textContent !== words) status.textContent = words;
}

function fill(name, value) {
  const field = form().elements.namedItem(name);
  if (field && field.value !== value) field.value = value;
  return field;
}

/** Where one goes on after a button has changed the form. */
function next_place(acts, part) {
  if (acts === "add") return [...document.querySelectorAll(`[id^="f-${part}_yarn_"]:is(input)`)].at(-1);
  if (acts === "remove") return document.getElementById(`f-${part.split("_")[0]}_yarn_A`);
  return document.getElementById(acts === "convert" ? "f-" + part : acts === "window" ? "window" : "outcome");
}

/** Show a place of this page, folded away or not. */
function go(id) {
  const place = document.getElementById(id);
  if (!place) return;
  page.classList.remove("opened");
  for (let around = place.closest("details"); around; around = around.parentElement.closest("details")) around.open = true;
  place.scrollIntoView({block: "center"});
  focus_on(place, {preventScroll: true});
}

/** Go on from a place with the keyboard, also from one that takes no focus by itself. */
function focus_on(place, options) {
  place?.focus(options);
  if (!place || document.activeElement === place) return;
  place.tabIndex = -1;
  place.focus(options);
}

/** Open the result over the form, or close it, on a narrow screen. */
function toggle_result() {
  const opened = page.classList.toggle("opened");
  focus_on(document.getElementById(opened ? "outcome" : "bar"), {preventScroll: true});
}

/** Judge what is typed after a pause, and what takes longer after a longer one. */
function soon() {
  clearTimeout(waiting);
  waiting = setTimeout(async () => {
    await acting;
    if (!await show(request(), {history_of: "replaceState", at_once: true})) return;
    waiting = setTimeout(() => show(request(), {parts: "#decides"}), LONGER_PAUSE_MS);
  }, PAUSE_MS);
}

/** Fill in the prices that the fragment holds; return whether there are any. */
function priced() {
  const pairs = [...new URLSearchParams(location.hash.slice(1))].filter(([name]) => isPrice(name));
  for (const [name, value] of pairs) fill(name, value);
  return pairs.length > 0;
}

/** A field of a colour beside the text, from which it can be chosen. */
function colours() {
  for (const text of document.querySelectorAll('input[name*="_colour_"]')) {
    const swatch = document.getElementById(text.id + "-swatch");
    if (!swatch) continue;
    const choice = document.createElement("input");
    choice.type = "color";
    const yarn = text.closest("[role=group]").ariaLabel;
    choice.setAttribute("aria-label", `Choose the colour of ${yarn[0].toLowerCase()}${yarn.slice(1)}`);
    choice.value = /^#[0-9a-f]{6}$/i.test(text.value) ? text.value : "#ffffff";
    choice.addEventListener("input", () => { text.value = choice.value; soon(); });
    text.addEventListener("input", () => { if (/^#[0-9a-f]{6}$/i.test(text.value)) choice.value = text.value; });
    swatch.replaceWith(choice);
  }
}


document.addEventListener("input", (event) => {
  if (event.target.form === form() && event.target.type !== "file") soon();
});
document.addEventListener("change", (event) => {
  if (event.target.form !== form()) return;
  if (event.target.type === "file") {
    clearTimeout(waiting); // what is judged beside it would take the place of the form with the picture
    acting = show(request(), {whole: true, history_of: "pushState"});
  } else soon(); // some programs that choose from a list send no other event
});
document.addEventListener("submit", (event) => {
  if (event.target.id !== "order" || event.submitter?.name === "show") return;
  event.preventDefault();
  clearTimeout(waiting);
  const acts = event.submitter?.name, part = event.submitter?.value;
  acting = show(request(event.submitter), {whole: true, history_of: "pushState"}).then((shown) => {
    if (shown && acts) focus_on(next_place(acts, part));
  });
});
document.addEventListener("click", (event) => {
  // A browser keeps what is beside an address if a link leads to the same one: this one begins anew.
  if (event.target.closest('a[href="/"]') && !event.ctrlKey && !event.metaKey) history.replaceState(null, "");
  const link = event.target.closest('a[href^="#"]');
  if (!link || event.ctrlKey || event.metaKey) return;
  event.preventDefault(); // a fragment would take the place of the prices
  if (link.id === "bar") toggle_result();
  else go(link.hash.slice(1));
});
document.addEventListener("keydown", (event) => {
  if (event.key === "Escape" && page.classList.contains("opened")) toggle_result();
});
addEventListener("popstate", () => {
  if (location.hash && !location.hash.startsWith("#prices.")) return;
  for (const field of form().elements) if (isPrice(field.name || "")) field.value = "";
  const load = async () => {
    const kept = history.state?.order;
    await show(kept ? sending(kept) : [location.pathname + location.search, {}], {whole: true});
    if (!kept && priced()) soon();
  };
  load();
});

// Beside the content, which is replaced: readers follow a region that stays.
status.id = "status";
status.className = "for-readers";
status.setAttribute("role", "status");
document.body.append(status);
colours();
if (history.state?.order) show(sending(history.state.order), {whole: true});
else if (priced()) soon();
else if (location.search === "" && document.getElementById("answer").dataset.address) {
  history.replaceState(null, "", document.getElementById("answer").dataset.address + fragment());
}
