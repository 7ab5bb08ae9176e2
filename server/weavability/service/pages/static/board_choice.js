// Which rows of the board are shown, and in what order.

import { kindOf } from "./board_rows.js";

const GRAVEST = ["bad", "lost", "fair", "good", "new"];
const graver = (one, other) => GRAVEST.indexOf(kindOf(one)) - GRAVEST.indexOf(kindOf(other));
const named = (one, other) => (one || "").localeCompare(other || "", "en", { numeric: true });
const BY = new Map([
  ["grave", graver],
  ["late", (one, other) => (other.changed || other.since || 0) - (one.changed || one.since || 0)],
  ["label", (one, other) => named(one.label, other.label)],
  ["loom", (one, other) => named(one.loom, other.loom)],
]);

export const SHOWN = {
  changed: (row) => row.changed !== null,
  bad: (row) => kindOf(row) === "bad",
  fair: (row) => kindOf(row) === "fair",
  lost: (row) => kindOf(row) === "lost",
  all: () => true,
};

// The rows that fit every filter; without an order of their own as they were added.
export function chosen(rows, { text = "", loom, code, severity, sort }) {
  const words = text.toLowerCase().split(/\s+/).filter(Boolean);
  const found = rows.filter((row) => {
    if (loom && row.loom !== loom) return false;
    if (code && !row.codes.includes(code)) return false;
    if (severity) {
      const graded = code ? [row.severities?.[row.codes.indexOf(code)]] : row.severities || [];
      if (!graded.includes(severity)) return false;
    }
    if (!words.length) return true;
    const read = [row.label, row.cloth, row.loom, row.problem, ...row.codes].join(" ").toLowerCase();
    return words.every((each) => read.includes(each));
  });
  const by = BY.get(sort);
  return by ? found.sort((one, other) => by(one, other) || one.place - other.place) : found;
}

// Names that rows have, and how many have each: [name, count], by name.
export function countBy(rows, namesOf) {
  const counts = new Map();
  for (const name of rows.flatMap(namesOf)) if (name) counts.set(name, (counts.get(name) || 0) + 1);
  return [...counts].sort(([one], [other]) => named(one, other));
}
