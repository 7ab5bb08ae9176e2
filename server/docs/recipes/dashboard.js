// A dashboard of one's own on another address than the service's: the service must be started with
// --allow-origin and the address of this page. It asks for all links at once, and afterwards only for
// what has changed.
"use strict";

const EVERY_MS = 60000;
const AT_ONCE = 1000;
const known = new Map();

async function ask(address, token, items) {
  const answer = await fetch(`${address}/v1/validation-changes`, {
    method: "POST",
    headers: {
      "Content-Type": "application/json",
      ...(token ? { Authorization: `Bearer ${token}` } : {}),
    },
    body: JSON.stringify({ items }),
  });
  const body = await answer.json();
  if (!answer.ok) throw new Error(body.detail);
  return body;
}

async function look() {
  const address = document.getElementById("address").value.replace(/\/$/, "");
  const token = document.getElementById("token").value.trim();
  const links = document.getElementById("links").value.split("\n").map((each) => each.trim());
  const state = document.getElementById("state");
  const asked = links.filter(Boolean).map((link) => link.replace(address, ""));
  try {
    for (let first = 0; first < asked.length; first += AT_ONCE) {
      const some = asked.slice(first, first + AT_ONCE);
      const items = some.map((link) => {
        const seen = known.get(link);
        return { link, etag: seen?.etag ?? "none", codes: seen?.codes ?? [] };
      });
      const body = await ask(address, token, items);
      for (const each of body.items) known.set(some[each.index], each);
      document.getElementById("caution").textContent = body.caution;
    }
    state.textContent = `${asked.length} reports, looked at ${new Date().toLocaleTimeString()}`;
  } catch (error) {
    state.textContent = `No answer: ${error.message}`;
  }
  document.getElementById("rows").replaceChildren(...asked.map(row));
}

function row(link) {
  const seen = known.get(link);
  const cells = [
    link.slice(0, 40),
    (seen?.verdict ?? seen?.problem?.title ?? "unknown").replaceAll("_", " "),
    (seen?.codes ?? []).join(", "),
  ];
  const made = document.createElement("tr");
  for (const text of cells) {
    made.insertCell().textContent = text;
  }
  return made;
}

document.getElementById("connection").addEventListener("submit", (event) => {
  event.preventDefault();
  look();
});
setInterval(look, EVERY_MS);
