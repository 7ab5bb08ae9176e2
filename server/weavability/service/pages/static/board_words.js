// How the board writes times, numbers and parts of the page.

export function element(name, kind = "", text = "") {
  const made = document.createElement(name);
  if (kind) made.className = kind;
  if (text) made.textContent = text;
  return made;
}

export function timeOf(ms) {
  const made = element("time", "", when(ms));
  made.dateTime = stamp(ms);
  return made;
}

export function stamp(ms) {
  return ms ? new Date(ms).toISOString() : "";
}

export function clock(ms) {
  const two = (value) => String(value).padStart(2, "0");
  const date = new Date(ms);
  return `${two(date.getHours())}:${two(date.getMinutes())}`;
}

export function when(ms) {
  const date = new Date(ms);
  if (date.toDateString() === new Date().toDateString()) return clock(ms);
  return `${date.getDate()} ${date.toLocaleString("en", { month: "short" })}${
    date.getFullYear() === new Date().getFullYear() ? "" : ` ${date.getFullYear()}`}, ${clock(ms)}`;
}

export function number(value) {
  return value.toLocaleString("en").replaceAll(",", "\u202f");
}

export function links(many) {
  return many === 1 ? "1 link" : `${number(many)} links`;
}

export function short(text) {
  return text.length > 40 ? `${text.slice(0, 39)}…` : text;
}
