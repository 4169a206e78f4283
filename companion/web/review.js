"use strict";
// The page works without this script; with it nothing is loaded anew, and nothing typed is lost.
const body = document.body;
const base = body.dataset.session;
const list = document.getElementById("turns");
const sound = document.getElementById("sound");
const message = document.getElementById("message");
let last = Number(body.dataset.last);
let mine = 0;

// --- what is said to whoever looks ------------------------------------------------------------
function tell(text) {
  message.replaceChildren();
  const line = document.createElement("p");
  line.textContent = text;
  const done = document.createElement("button");
  done.type = "button";
  done.textContent = "Done";
  done.addEventListener("click", () => message.replaceChildren());
  message.append(line, done);
}
function fragment(html) {
  const holder = document.createElement("template");
  holder.innerHTML = html;
  return holder.content;
}

// --- which call is the present one ---------------------------------------------------------------
const calls = () => [...list.querySelectorAll("li.call")];
let now = null;
function present(call, { focus = true } = {}) {
  if (!call) return;
  if (now) now.classList.remove("now");
  now = call;
  now.classList.add("now");
  if (focus) {
    now.focus({ preventScroll: true });
    now.scrollIntoView({ block: "center" });
  }
}
function step(by, fits = () => true) {
  const all = calls();
  let at = now ? all.indexOf(now) : by > 0 ? -1 : all.length;
  for (at += by; at >= 0 && at < all.length; at += by) if (fits(all[at])) return all[at];
  return null;
}
function go(by, fits, none) {
  const call = step(by, fits);
  if (call) present(call);
  else if (none) tell(none);
  return call;
}

// --- sound ---------------------------------------------------------------------------------------
let playing = null;
let on = false;
const playButton = document.getElementById("play");
const playingLine = document.getElementById("playing");
const clipOf = (call) => call && call.querySelector("a.play");
function seconds(value) {
  return value.toFixed(1) + " s";
}
function load(call) {
  const link = clipOf(call);
  if (!link) return false;
  playing = call;
  sound.src = link.href;
  sound.playbackRate = Number(document.getElementById("speed").value);
  return true;
}
async function play(call) {
  if (!clipOf(call)) {
    tell("This call has no sound.");
    return;
  }
  present(call, { focus: false });
  if (playing !== call || sound.error) load(call);
  try {
    await sound.play();
  } catch (error) {
    if (error.name !== "AbortError") tell("The sound could not be played: it may be missing or damaged.");
  }
}
function playOrStop() {
  if (!sound.paused) return sound.pause();
  return play(clipOf(now) ? now : step(1, clipOf) || now);
}
function shown() {
  const runs = !sound.paused && !sound.ended;
  playButton.replaceChildren();
  const mark = document.createElement("span");
  mark.setAttribute("aria-hidden", "true");
  mark.textContent = runs ? "■" : "▶";
  playButton.append(mark, runs ? " Stop" : " Play");
  if (!playing) return;
  const link = clipOf(playing);
  const whole = link ? Number(link.dataset.seconds) : sound.duration;
  const words = playing.querySelector(".heard");
  playingLine.textContent = `№ ${playing.dataset.seq} · ${seconds(sound.currentTime)} of ${seconds(whole)} · ${words ? words.firstChild.textContent.trim() : ""}`;
  const part = playing.querySelector(".wave clipPath rect");
  if (part) part.setAttribute("width", String((100 * sound.currentTime) / whole));
}
for (const name of ["play", "pause", "timeupdate", "ended", "loadedmetadata"]) sound.addEventListener(name, shown);
sound.addEventListener("ended", () => {
  if (!on) return;
  const next = step(1, clipOf);
  if (next) {
    present(next);
    play(next);
  }
});

// A waveform is fetched when its call comes into sight, and kept by the browser.
const NS = "http://www.w3.org/2000/svg";
function draw(wave, heights, number) {
  const svg = document.createElementNS(NS, "svg");
  svg.setAttribute("viewBox", "0 0 100 30");
  svg.setAttribute("preserveAspectRatio", "none");
  const wide = 100 / heights.length;
  const path = heights.map((height, at) => {
    const tall = Math.max(1, (height / 100) * 28);
    return `M${(at * wide).toFixed(2)} ${(15 - tall / 2).toFixed(2)}h${(wide * 0.7).toFixed(2)}v${tall.toFixed(2)}h-${(wide * 0.7).toFixed(2)}z`;
  }).join("");
  const clip = document.createElementNS(NS, "clipPath");
  clip.id = "heard-" + number;
  const rect = document.createElementNS(NS, "rect");
  for (const [name, value] of Object.entries({ x: 0, y: 0, width: 0, height: 30 })) rect.setAttribute(name, value);
  clip.append(rect);
  const quiet = document.createElementNS(NS, "path");
  const loud = document.createElementNS(NS, "path");
  quiet.setAttribute("d", path);
  loud.setAttribute("d", path);
  loud.setAttribute("class", "heard-part");
  loud.setAttribute("clip-path", `url(#heard-${number})`);
  svg.append(clip, quiet, loud);
  wave.replaceChildren(svg);
}
const sight = new IntersectionObserver((entries) => {
  for (const entry of entries) {
    if (!entry.isIntersecting) continue;
    sight.unobserve(entry.target);
    const call = entry.target.closest(".call");
    const link = clipOf(call);
    fetch(`${base}/wave/${encodeURIComponent(link.dataset.clip)}`)
      .then((answer) => (answer.ok ? answer.json() : null))
      .then((heights) => heights && draw(entry.target, heights, call.dataset.seq))
      .catch(() => {});
  }
}, { rootMargin: "300px" });
function watch(within) {
  for (const wave of within.querySelectorAll(".wave")) sight.observe(wave);
}

// --- acting --------------------------------------------------------------------------------------
function panelOf(call) {
  return call.querySelector(".panel");
}
async function open(call) {
  const link = call.querySelector("a.open");
  const panel = panelOf(call);
  if (panel.childElementCount) return focusIn(panel);
  const address = new URL(link.href);
  address.searchParams.set("part", "1");
  try {
    const answer = await fetch(address);
    if (!answer.ok) throw new Error();
    panel.replaceChildren(fragment(await answer.text()));
    focusIn(panel);
  } catch {
    tell("The program does not answer; start it again with companion review.");
  }
}
function focusIn(panel) {
  const first = panel.querySelector("[data-first]") || panel.querySelector("input:not([type=hidden]), textarea, button");
  if (!first) return;
  first.focus();
  if (first.select) first.select();
}
// The second click or Enter of a hasty hand must not answer a question that nobody has read yet.
const TO_READ = 600;
function waitToBeRead(where) {
  const affirm = where.querySelector("button[name=affirmed]");
  if (!affirm) return;
  affirm.disabled = true;
  setTimeout(() => { affirm.disabled = false; }, TO_READ);
}
function close(call, { focus = true } = {}) {
  panelOf(call).replaceChildren();
  if (focus) present(call);
}
// What stands on a page that says that something is not possible.
async function sentenceOf(answer) {
  const text = await answer.text();
  const page = new DOMParser().parseFromString(text, "text/html");
  const said = page.querySelector("main p");
  return (said || page.body).textContent.trim();
}
async function send(form, button, call) {
  const fields = new URLSearchParams(new FormData(form));
  if (button && button.name) fields.set(button.name, button.value);
  // A form that was opened before something else came keeps the number it was opened with.
  if (form.id === "mark") fields.set("last", String(last));
  let answer;
  let came;
  if (button) button.disabled = true;
  try {
    answer = await fetch(base + "/act", {
      method: "POST",
      body: fields,
      headers: { "X-Companion-Script": "1" },
    });
    came = answer.headers.get("Content-Type") === "application/json" ? await answer.json() : { kind: "failed", text: await sentenceOf(answer) };
  } catch {
    came = { kind: "failed", text: "The program does not answer, so nothing was recorded. What you typed is still here; start the program again with companion review." };
  } finally {
    if (button) button.disabled = false;
  }
  if (came.by) {
    body.dataset.reviewer = came.by;
    document.getElementById("by").value = came.by;
  }
  const where = call ? panelOf(call) : document.getElementById("asked");
  if (came.kind === "recorded") {
    tell(came.text);
    mine += 1;
    await renew();
    mine -= 1;
    if (call) close(call);
    else where.replaceChildren();
  } else if (came.html) {
    where.replaceChildren(fragment(came.html));
    focusIn(where);
    waitToBeRead(where);
  } else tell(came.text);
}
const asked = document.createElement("div");
asked.id = "asked";
message.after(asked);

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.id !== "mark" && !form.classList.contains("act")) return;
  event.preventDefault();
  const button = event.submitter;
  const call = (button && button.closest("li.call")) || form.closest("li.call");
  if (call) present(call, { focus: false });
  send(form, button, call);
});
document.addEventListener("click", (event) => {
  const link = event.target.closest("a");
  const call = event.target.closest("li.call");
  if (call && !link && !event.target.closest("button, input, textarea, select, label")) present(call, { focus: false });
  if (!link || event.ctrlKey || event.metaKey || event.shiftKey || event.button) return;
  if (link.classList.contains("play")) {
    event.preventDefault();
    if (playing === call && !sound.paused) sound.pause();
    else play(call);
  } else if (link.classList.contains("open")) {
    event.preventDefault();
    present(call, { focus: false });
    open(call);
  } else if (link.classList.contains("leave")) {
    event.preventDefault();
    if (call) close(call);
    else asked.replaceChildren();
  } else if (link.classList.contains("rival")) {
    event.preventDefault();
    const field = link.closest("form").querySelector("[name=text]");
    field.value = link.dataset.text;
    field.focus();
  }
});

// --- what came meanwhile -------------------------------------------------------------------------
function put(turn) {
  const there = list.querySelector(`li[data-seq="${turn.seq}"]`);
  const fresh = fragment(turn.html).firstElementChild;
  if (there) {
    // Only its head: a form that is open below it, and what is typed there, stays.
    const row = there.querySelector(".row");
    row.replaceWith(fresh.querySelector(".row"));
    if (fresh.dataset.doubtful) there.dataset.doubtful = fresh.dataset.doubtful;
    else delete there.dataset.doubtful;
    watch(there);
  } else if (turn.shown) {
    const after = [...list.querySelectorAll("li[data-seq]")].find((each) => Number(each.dataset.seq) > turn.seq);
    if (after) after.before(fresh);
    else list.append(fresh);
    watch(fresh);
  }
}
let renewing = false;
async function renew() {
  if (renewing) return;
  renewing = true;
  try {
    const query = body.dataset.query;
    const answer = await fetch(`${base}/since?last=${last}${query ? "&" + query : ""}`);
    if (answer.status !== 200) return;
    const came = await answer.json();
    last = came.last;
    const focused = document.activeElement;
    const restore = focused && focused.closest && focused.closest(".row") ? focused.closest("li.call") : null;
    for (const turn of came.turns) put(turn);
    if (restore && !restore.contains(document.activeElement)) restore.focus({ preventScroll: true });
    const summary = document.getElementById("summary");
    summary.replaceChildren(fragment(came.summary));
    document.querySelector("#mark [name=last]").value = String(last);
    if (!mine) {
      tell(`${came.came} record${came.came === 1 ? "" : "s"} came meanwhile. `);
      if (came.turns.length) {
        const jump = document.createElement("a");
        jump.href = "#r" + came.turns[0].seq;
        jump.textContent = "№ " + came.turns.map((turn) => turn.seq).join(", № ");
        message.firstChild.append(jump);
      }
    }
  } catch {
    // The program was stopped; the next form that is sent says so.
  } finally {
    renewing = false;
  }
}
setInterval(() => {
  if (document.visibilityState === "visible" && !mine) renew();
}, 2000);

// --- photos: dropped or chosen, sent one after the other -----------------------------------------
const adding = document.getElementById("add-photos");
const chosen = document.getElementById("photo-files");
const atStep = document.getElementById("photo-step");
const addedBy = document.getElementById("photo-by");
async function sendPhoto(file, step) {
  const fields = new FormData();
  fields.set("by", addedBy.value);
  fields.set("step", step);
  fields.set("photos", file, file.name);
  try {
    const answer = await fetch(adding.action, { method: "POST", body: fields, headers: { "X-Companion-Script": "1" } });
    if (answer.headers.get("Content-Type") === "application/json") return await answer.json();
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const sentence = page.querySelector("main p") || page.body;
    return { kind: "failed", text: `${file.name}: ${sentence.textContent.trim()}` };
  } catch {
    return { kind: "failed", text: `${file.name} could not be read, or the program does not answer; it was not added.` };
  }
}
async function addPhotos(files, step) {
  if (!files.length) return;
  if (!addedBy.value.trim()) {
    // They wait in the form until it is known who adds them.
    const held = new DataTransfer();
    for (const file of files) held.items.add(file);
    chosen.files = held.files;
    if (atStep) atStep.value = step;
    adding.closest("details").open = true;
    addedBy.focus();
    tell("Say first who adds the photos.");
    return;
  }
  mine += 1;
  const before = last;
  const told = new Map();
  for (const [number, file] of files.entries()) {
    tell(files.length > 1 ? `Adding photo ${number + 1} of ${files.length} …` : "Adding the photo …");
    const came = await sendPhoto(file, step);
    if (came.by) body.dataset.reviewer = document.getElementById("by").value = came.by;
    told.set(came.text, (told.get(came.text) || 0) + 1);
  }
  await renew();
  mine -= 1;
  adding.reset();
  addedBy.value = body.dataset.reviewer;
  tell([...told].map(([text, times]) => (times > 1 ? `${text.replace(/\.$/, "")} (${times} times).` : text)).join(" ") + " ");
  const newest = Math.max(0, ...[...list.querySelectorAll(".photos li")].map((photo) => Number(photo.id.slice(1))));
  if (newest <= before) return;
  const jump = document.createElement("a");
  jump.href = "#r" + newest;
  jump.textContent = "№ " + newest;
  message.firstChild.append(jump);
}
adding.addEventListener("submit", (event) => {
  event.preventDefault();
  addPhotos([...chosen.files], atStep ? atStep.value : "");
});
const brings = (event) => event.dataTransfer && event.dataTransfer.types.includes("Files");
let over = null;
function hover(call) {
  if (over) over.classList.remove("over");
  over = call;
  if (over) over.classList.add("over");
}
const stepped = (event) => atStep && event.target.closest && event.target.closest("li.call[data-step]:not([data-step=''])");
addEventListener("dragover", (event) => {
  if (!brings(event)) return;
  event.preventDefault();
  body.classList.add("dropping");
  hover(stepped(event));
});
addEventListener("dragleave", (event) => {
  if (event.relatedTarget) return;
  body.classList.remove("dropping");
  hover(null);
});
addEventListener("drop", (event) => {
  if (!brings(event)) return;
  event.preventDefault();
  body.classList.remove("dropping");
  const call = stepped(event);
  hover(null);
  addPhotos([...event.dataTransfer.files], call ? call.dataset.step : atStep ? atStep.value : "");
});
// What is jumped to is opened.
function unfold() {
  const target = location.hash && document.getElementById(location.hash.slice(1));
  if (target && target.tagName === "DETAILS") target.open = true;
}
addEventListener("hashchange", unfold);
unfold();

// --- keys ----------------------------------------------------------------------------------------
const help = document.getElementById("help");
const keysOn = document.getElementById("keys-on");
keysOn.checked = localStorage.getItem("keys") !== "off";
keysOn.addEventListener("change", () => localStorage.setItem("keys", keysOn.checked ? "on" : "off"));
const speed = document.getElementById("speed");
speed.value = localStorage.getItem("speed") || "1";
if (!speed.value) speed.value = "1";
speed.addEventListener("change", () => {
  sound.playbackRate = Number(speed.value);
  localStorage.setItem("speed", speed.value);
});
const onButton = document.getElementById("on");
function playOn() {
  on = !on;
  onButton.setAttribute("aria-pressed", String(on));
}
const nextDoubtful = () => go(1, (call) => call.dataset.doubtful, "No doubtful call after this one.");
function press(name) {
  if (!now) return tell("Go to a call first, with n.");
  const button = now.querySelector(`button[name="${name}"]`);
  if (button) button.form.requestSubmit(button);
}
const KEYS = {
  p: playOrStop, " ": playOrStop,
  n: () => go(1, undefined, "That was the last call."), j: () => go(1, undefined, "That was the last call."),
  b: () => go(-1, undefined, "That was the first call."), k: () => go(-1, undefined, "That was the first call."),
  d: nextDoubtful,
  r: () => press("right"), w: () => press("wrong"),
  c: () => (now ? open(now) : tell("Go to a call first, with n.")),
  a: playOn,
  s: () => {
    speed.selectedIndex = (speed.selectedIndex + 1) % speed.options.length;
    speed.dispatchEvent(new Event("change"));
  },
  "/": () => document.getElementById("words").focus(),
  "?": () => help.showModal(),
};
document.addEventListener("keydown", (event) => {
  const at = event.target;
  if (event.key === "Escape" && !help.open) {
    const call = at.closest && at.closest("li.call");
    if (call && at.closest(".panel")) close(call);
    else if (at.blur) at.blur();
    return;
  }
  if (!keysOn.checked || help.open || event.ctrlKey || event.metaKey || event.altKey || event.isComposing) return;
  if (at.closest && at.closest("input:not([type=checkbox]), textarea, select")) return;
  if (event.key === " " && at.closest && at.closest("button, a, input")) return;
  const act = KEYS[event.key];
  if (!act) return;
  event.preventDefault();
  act();
});
playButton.addEventListener("click", playOrStop);
document.getElementById("next").addEventListener("click", KEYS.n);
document.getElementById("before").addEventListener("click", KEYS.b);
document.getElementById("doubtful").addEventListener("click", nextDoubtful);
onButton.addEventListener("click", playOn);
document.getElementById("keys").addEventListener("click", KEYS["?"]);

// --- filters: shown as soon as they are chosen ---------------------------------------------------
const filter = document.getElementById("filter");
filter.addEventListener("change", (event) => {
  if (event.target.type !== "search") filter.requestSubmit();
});
filter.addEventListener("submit", (event) => {
  // Nothing empty in the address, so that it can be kept and read.
  event.preventDefault();
  const chosen = new URLSearchParams();
  for (const [name, value] of new FormData(filter)) if (value) chosen.append(name, value);
  const query = chosen.toString();
  location.href = location.pathname + (query ? "?" + query : "") + "#calls";
});

document.getElementById("player").hidden = false;
watch(list);
const jumped = location.hash && document.getElementById(location.hash.slice(1));
if (jumped) present(jumped.closest("li.call"), { focus: false });
addEventListener("hashchange", () => {
  const target = document.getElementById(location.hash.slice(1));
  if (target) present(target.closest("li.call"), { focus: false });
});
