"use strict";
// A link to a record opens what it is folded in; browsers that do so by themselves lose nothing.
function reveal() {
  const target = document.getElementById(decodeURIComponent(location.hash.slice(1)));
  if (!target) return;
  for (let at = target; at; at = at.parentElement) if (at.tagName === "DETAILS") at.open = true;
  target.scrollIntoView({ block: "center" });
}
addEventListener("hashchange", reveal);
reveal();
// On paper nothing can be unfolded.
addEventListener("beforeprint", () => {
  for (const fold of document.querySelectorAll("details.day")) fold.open = true;
});
for (const button of document.querySelectorAll("button[data-open]")) {
  button.parentElement.hidden = false;
  button.addEventListener("click", () => {
    const open = button.dataset.open === "yes";
    for (const fold of document.querySelectorAll("details.turn")) fold.open = open;
    if (open) for (const fold of document.querySelectorAll("details.day")) fold.open = true;
  });
}
// One clip at a time.
addEventListener("play", (event) => {
  for (const clip of document.querySelectorAll("audio")) if (clip !== event.target) clip.pause();
}, true);
