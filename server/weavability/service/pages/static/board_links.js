// Reads links to reports out of what people paste and out of sheets, and writes a sheet.

const TOKEN = "v1\\.[A-Za-z0-9_-]{6,3500}";
const LINK = new RegExp(`(?:https?://[^\\s,;"'<>]*?)?(?:/v1/validations/)?(${TOKEN})(?![A-Za-z0-9_.-])([^\\s,;"'<>]*)`);
const AROUND = /^[\s,;:|"'<(]+|[\s,;:|"'<(]+$/g;
const FORMULA = /^[=+\-@\t\r]/;
const COLUMNS = {
  link: ["link", "links.self"],
  label: ["label", "reference", "order"],
  etag: ["etag", "validation_id"],
  verdict: ["verdict"],
  codes: ["codes"],
  severities: ["severities"],
  loom: ["loom_id", "loom"],
  cloth: ["cloth"],
  since: ["since"],
};
const VERDICTS = ["weavable", "weavable_with_warnings", "not_weavable"];
const SEVERITIES = ["error", "warning", "note"];

// The link in a text, with the label before it; null if there is none. A bare token is a link too.
export function linkIn(text) {
  const found = LINK.exec(text);
  if (!found) return null;
  const [, query] = found[2].split("#")[0].split("?");
  const label = text.slice(0, found.index).replace(AROUND, "") || new URLSearchParams(query || "").get("reference") || "";
  return { link: `/v1/validations/${found[1]}`, label: label.slice(0, 200) };
}

// The entries of a text: a sheet if its first line has the column of links, else a link a line.
export function entriesOf(text) {
  const clean = text.replace(/^\uFEFF/, "");
  const head = clean.slice(0, clean.search(/[\r\n]|$/));
  const separator = [",", ";", "\t"].reduce((most, each) => (head.split(each).length > head.split(most).length ? each : most));
  const names = (cells(head, separator)[0] || []).map((each) => each.trim().toLowerCase());
  return COLUMNS.link.some((name) => names.includes(name)) ? ofSheet(cells(clean, separator)) : ofLines(clean);
}

function ofLines(text) {
  const entries = [];
  const strange = [];
  text.split(/\r\n|\r|\n/).forEach((line, index) => {
    if (!line.trim()) return;
    const found = linkIn(line);
    if (found) entries.push(found);
    else strange.push({ line: index + 1, text: line.trim() });
  });
  return { entries, strange };
}

function ofSheet([head, ...rows]) {
  const names = head.map((each) => each.trim().toLowerCase());
  const place = Object.entries(COLUMNS).map(([field, known]) => [field, names.findIndex((name) => known.includes(name))]);
  const entries = [];
  const strange = [];
  rows.forEach((row, index) => {
    if (!row.some((cell) => cell.trim())) return;
    const stated = Object.fromEntries(place.map(([field, at]) => [field, harmful((row[at] || "").trim())]));
    const found = linkIn(stated.link);
    if (found) entries.push({ ...known(stated), link: found.link, label: (stated.label || found.label).slice(0, 200) });
    else strange.push({ line: index + 2, text: row.join(" ").trim() });
  });
  return { entries, strange };
}

// What a sheet says of the answer that was seen: only if it is whole.
function known({ etag, verdict, codes, severities, loom, cloth, since }) {
  if (!/^[0-9a-f]{32}$/.test(etag) || !VERDICTS.includes(verdict)) return {};
  const listed = codes.split(" ").filter(Boolean);
  const graded = severities.split(" ").filter((each) => SEVERITIES.includes(each));
  const when = Date.parse(since);
  return {
    etag,
    verdict,
    codes: listed,
    severities: graded.length === listed.length ? graded : null,
    loom,
    cloth,
    since: Number.isNaN(when) ? null : when,
  };
}

// Undo what keeps a spreadsheet from running a cell.
function harmful(cell) {
  return cell.startsWith("'") && FORMULA.test(cell.slice(1)) ? cell.slice(1) : cell;
}

// The rows of comma-separated values (RFC 4180).
function cells(text, separator) {
  const rows = [];
  let row = [];
  let cell = "";
  let quoted = false;
  for (let at = 0; at < text.length; at += 1) {
    const sign = text[at];
    if (quoted) {
      if (sign !== '"') cell += sign;
      else if (text[at + 1] === '"') cell += text[(at += 1)];
      else quoted = false;
    } else if (sign === '"' && cell === "") quoted = true;
    else if (sign === separator) {
      row.push(cell);
      cell = "";
    } else if (sign === "\n" || sign === "\r") {
      if (sign === "\r" && text[at + 1] === "\n") at += 1;
      rows.push([...row, cell]);
      row = [];
      cell = "";
    } else cell += sign;
  }
  if (cell || row.length) rows.push([...row, cell]);
  return rows;
}

// A sheet that spreadsheets open and run nothing of; the mark before it says that it is UTF-8.
export function sheetOf(rows) {
  const written = rows.map((row) => row.map(cellOf).join(","));
  return `\uFEFF${written.join("\r\n")}\r\n`;
}

function cellOf(value) {
  const text = String(value ?? "");
  const harmless = FORMULA.test(text) ? `'${text}` : text;
  return /[",\r\n]/.test(harmless) ? `"${harmless.replaceAll('"', '""')}"` : harmless;
}
