// Try-out: sends what a form says to the service that served the page, and shows what comes back.
// Search: leaves what holds every word that is sought, with its section and its place in the contents.
"use strict";

const LONGEST_SHOWN = 200000;
const PLACES = ".call, [id^='schema-'], .columns-of-orders tr, .kinds tr";

function requestOf(form) {
  let path = form.dataset.path;
  for (const input of form.querySelectorAll("[data-name]")) {
    path = path.replace(`{${input.dataset.name}}`, encodeURIComponent(input.value));
  }
  const headers = {};
  const token = document.getElementById("token").value.trim();
  if (token) headers.Authorization = `Bearer ${token}`;
  const accept = form.querySelector(".accept");
  headers.Accept = accept ? accept.value : "*/*";
  const body = form.querySelector("textarea");
  if (body) {
    const sends = form.querySelector(".sends");
    headers["Content-Type"] = sends ? sends.value : form.dataset.sends;
  }
  // A browser that has opened the page with a password sends it along, unless a token is typed.
  const credentials = token ? "omit" : "same-origin";
  const options = { method: form.dataset.method, headers, cache: "no-store", credentials };
  if (body) options.body = body.value;
  return [path, options];
}

function pretty(text, mediaType) {
  if (!mediaType.endsWith("json")) return text;
  try {
    return JSON.stringify(JSON.parse(text), null, 2);
  } catch {
    return text;
  }
}

function element(name, text) {
  const made = document.createElement(name);
  made.textContent = text;
  return made;
}

async function shown(response) {
  const mediaType = (response.headers.get("Content-Type") || "").split(";")[0];
  if (mediaType === "image/svg+xml") {
    // Drawn as an image, so that nothing in it can act.
    const image = document.createElement("img");
    image.alt = "The drawing that was answered";
    image.src = URL.createObjectURL(await response.blob());
    image.addEventListener("load", () => URL.revokeObjectURL(image.src));
    return image;
  }
  const text = pretty(await response.text(), mediaType);
  const more = text.length > LONGEST_SHOWN ? "\n… (shortened)" : "";
  const block = element("pre", text.slice(0, LONGEST_SHOWN) + more);
  block.tabIndex = 0;
  return block;
}

async function send(form) {
  const output = form.querySelector("output");
  output.replaceChildren(element("p", "Waiting for the answer …"));
  try {
    const [path, options] = requestOf(form);
    const began = performance.now();
    // Not a relative address: one with a password in it cannot be fetched.
    const response = await fetch(location.origin + path, options);
    const took = Math.round(performance.now() - began);
    const id = response.headers.get("X-Request-Id") || "";
    const line = element("p", `${response.status} ${response.statusText} in ${took} ms, request ${id}`);
    output.replaceChildren(line, await shown(response));
  } catch (error) {
    output.replaceChildren(element("p", `No answer: ${error.message}`));
  }
}

// The body follows the media type, as long as it is one of the examples, and so does the answer.
function followMediaType(form) {
  const body = form.querySelector("textarea");
  const examples = [...form.querySelectorAll("[data-example]")];
  const accept = form.querySelector(".accept");
  form.querySelector(".sends")?.addEventListener("change", (event) => {
    if (accept) {
      const same = [...accept.options].find((each) => each.value === event.target.value);
      accept.value = (same || accept.options[0]).value;
    }
    if (!examples.some((each) => each.textContent === body.value)) return;
    body.value = examples.find((each) => each.dataset.example === event.target.value).textContent;
  });
}

function search(sought) {
  const words = sought.toLowerCase().split(/\s+/).filter(Boolean);
  const holds = (each) => words.every((word) => each.textContent.toLowerCase().includes(word));
  let found = 0;
  for (const each of document.querySelectorAll(PLACES)) {
    each.hidden = !holds(each);
    found += each.hidden ? 0 : 1;
  }
  for (const section of document.querySelectorAll(".docs section")) {
    section.hidden = ![...section.querySelectorAll(PLACES)].some((each) => !each.hidden);
  }
  for (const link of document.querySelectorAll(".contents a")) {
    const place = document.querySelector(link.hash);
    link.parentElement.hidden = place.hidden || place.closest("section").hidden;
  }
  for (const group of document.querySelectorAll(".contents li ul")) {
    group.parentElement.hidden = [...group.children].every((each) => each.hidden);
  }
  const places = found === 1 ? "1 place" : `${found} places`;
  document.getElementById("found").textContent = words.length ? (found ? places : "Nothing here holds these words.") : "";
}

for (const form of document.querySelectorAll("form.try")) {
  form.hidden = false;
  followMediaType(form);
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    if (form.dataset.path) send(form);
  });
}

// The examples call the service that served the page.
for (const sample of document.querySelectorAll(".sample pre")) {
  sample.textContent = sample.textContent.replaceAll(sample.closest(".docs").dataset.here, location.origin);
}

document.getElementById("sought").addEventListener("input", (event) => search(event.target.value));
if (window.matchMedia("(max-width: 60rem)").matches) {
  document.querySelector(".contents details").open = false;
}
