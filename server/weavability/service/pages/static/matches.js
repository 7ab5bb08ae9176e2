// Two looms can be ticked, not more; the button says what is missing.
"use strict";

const form = document.getElementById("ranking");

function count() {
  const boxes = [...form.querySelectorAll("[name=compare]")];
  const ticked = boxes.filter((each) => each.checked).length;
  for (const each of boxes) each.disabled = ticked >= 2 && !each.checked;
  for (const each of form.querySelectorAll("button")) {
    each.disabled = ticked !== 2;
    each.textContent = ticked === 2 ? "Compare the two ticked looms" : `Tick ${ticked ? "one more loom" : "two looms"} to compare`;
  }
}

if (form) {
  form.addEventListener("change", count);
  window.addEventListener("pageshow", count);
  count();
}
