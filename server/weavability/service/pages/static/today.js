// Writes the reader's date into a page that is printed: what the service answers has none.
"use strict";

function writeDate() {
  const now = new Date();
  const parts = [now.getFullYear(), now.getMonth() + 1, now.getDate()];
  const date = parts.map((part) => String(part).padStart(2, "0")).join("-");
  document.documentElement.dataset.printed = `Printed ${date}`;
  for (const each of document.querySelectorAll("time.today")) {
    each.dateTime = date;
    each.textContent = date;
  }
  for (const each of document.querySelectorAll(".dated")) each.hidden = false;
}

writeDate();
window.addEventListener("beforeprint", writeDate);
