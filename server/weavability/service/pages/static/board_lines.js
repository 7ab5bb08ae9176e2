// A row of the board as a line of the table.

import { changeOf, kindOf, KINDS } from "./board_rows.js";
import { element, timeOf } from "./board_words.js";

const MARKS = { error: ["bad", "✕"], warning: ["fair", "!"], note: ["plain", "·"] };
const GRAVEST = ["error", "warning", "note"];

export function lineOf(row) {
  const line = document.getElementById("row").content.firstElementChild.cloneNode(true);
  line.dataset.link = row.link;
  const part = (name) => line.querySelector(`.${name}`);
  part("label").textContent = nameOf(row);
  part("label").href = row.link + (row.label ? `?reference=${encodeURIComponent(row.label)}` : "");
  part("cloth").textContent = (row.cloth || "").replace(/(\d) (cm|inch|×)/g, "$1\u00a0$2");
  part("loom").textContent = row.loom || "";
  const [mark, sign, words] = KINDS[kindOf(row)];
  part("judged").append(element("span", `badge ${mark}`, `${sign} ${words}`));
  if (row.since) part("since").append(timeOf(row.since));
  if (row.problem) part("codes").append(row.problem);
  const graded = row.codes.map((code, place) => [code, row.severities?.[place]]);
  graded.sort(([, one], [, other]) => GRAVEST.indexOf(one) - GRAVEST.indexOf(other));
  part("codes").append(...graded.map(([code, severity]) => codeOf(code, severity)));
  const change = row.changed === null ? null : changeOf(row);
  if (change) part("change").append(...wordsOf(change), timeOf(row.changed), button("Mark as seen", "see", row));
  part("remove").setAttribute("aria-label", `Remove ${nameOf(row)}`);
  return line;
}

export function nameOf(row) {
  return row.label || `Report …${row.link.slice(-6)}`;
}

function codeOf(code, severity) {
  const [mark, sign] = MARKS[severity] || ["plain", ""];
  const item = element("span", `code ${mark}`);
  if (sign) item.append(element("span", "sign", sign), element("span", "for-readers", `${severity} `));
  const link = element("a", "", code);
  link.href = `/v1/checks/${code}`;
  item.append(link);
  return item;
}

function wordsOf({ was, added, cleared, regraded }) {
  const lines = [];
  if (was) lines.push(element("span", "line", `was: ${was.toLowerCase()}`));
  if (added.length) lines.push(element("span", "line", `added: ${added.join(", ")}`));
  if (cleared.length) lines.push(element("span", "line", `cleared: ${cleared.join(", ")}`));
  for (const [code, before, now] of regraded) lines.push(element("span", "line", `${code}: ${before} became ${now}`));
  return lines;
}

function button(name, kind, row) {
  const made = element("button", `quiet ${kind}`, name);
  made.type = "button";
  made.setAttribute("aria-label", `${name}: ${nameOf(row)}`);
  return made;
}
