/* Puts what the server sends in place, counts timers down, and says when the connection is lost.
   Written for old browsers too: no modules, nothing newer than ES5. */
(function () {
  "use strict";
  var board = document.getElementById("board");
  var lost = document.getElementById("lost");
  var made = board.getAttribute("data-made");
  var silent = Number(board.getAttribute("data-silent"));
  var ahead = Number(board.getAttribute("data-now")) - Date.now();
  var heard = Date.now();
  var source = null;
  var opened = {};
  var SMALLEST = 0.74;
  var WORDS = {
    start: function (more, shown) { return shown ? "and " + more + " more" : "why: " + more + (more > 1 ? " reasons" : " reason"); },
    timers: function (more) { return "and " + more + " more timer" + (more > 1 ? "s" : ""); }
  };

  function serverNow() { return Date.now() + ahead; }

  function two(number) { return (number < 10 ? "0" : "") + number; }

  function face(seconds) {
    var hours = Math.floor(seconds / 3600);
    var minutes = Math.floor(seconds / 60) % 60;
    var rest = two(seconds % 60);
    return hours ? hours + ":" + two(minutes) + ":" + rest : minutes + ":" + rest;
  }

  function each(selector, act) {
    var found = board.querySelectorAll(selector);
    for (var i = 0; i < found.length; i += 1) { act(found[i], i); }
  }

  function write(element, text) {
    if (element && element.textContent !== text) { element.textContent = text; }
  }

  function clockOf(at) {
    var date = new Date(at);
    return two(date.getHours()) + ":" + two(date.getMinutes()) + ":" + two(date.getSeconds());
  }

  function tick() {
    var now = serverNow();
    each(".timer", function (timer) {
      var left = Math.floor((Number(timer.getAttribute("data-due")) - now) / 1000);
      var rings = timer.getAttribute("data-rings") === "1";
      write(timer.querySelector(".clock"), face(Math.abs(left < 0 ? left + 1 : left)));
      var word = timer.querySelector(".word");
      write(word, left >= 0 ? "left" : rings ? "over, rings" : "over");
      word.className = left >= 0 ? "word left" : "word";
      if (left < 0) { timer.className = "timer rings"; }
    });
    if (Date.now() - heard > silent) { tellLost(); }
  }

  function tellLost() {
    if (lost.hidden) {
      lost.hidden = false;
      lost.textContent = "Connection lost at " + clockOf(Date.now()) +
        ". Trying again. What stands here may be old; timers go on.";
      document.body.className += " lost";
      fit();
    }
    write(document.getElementById("listening"), "Connection lost");
    write(document.getElementById("listening-more"), "Whether it listens is not known.");
  }

  function alive(now) {
    heard = Date.now();
    if (now) { ahead = now - heard; }
    if (!lost.hidden) {
      lost.hidden = true;
      lost.textContent = "";
      document.body.className = document.body.className.replace(/ lost/g, "");
    }
  }

  function show(text) {
    var sent = JSON.parse(text);
    if (sent.made !== made) { window.location.reload(); return; }
    alive(sent.now);
    board.innerHTML = sent.html;
    tick();
    fit();
  }

  /* Where it is too much for the screen, what stands elsewhere too or comes of itself is left out:
     the words of the next step, what was heard. Then all of it shrinks a little; then the ends of
     the lists go behind a button that says how many there are. All tags always stand. */
  function fit() {
    var wide = window.matchMedia && window.matchMedia("(min-width: 700px) and (min-height: 500px)").matches;
    board.style.fontSize = "";
    board.className = "";
    each(".more", function (more) { more.parentNode.removeChild(more); });
    each(".list > li", function (item) { item.hidden = false; });
    if (!wide) { return; }
    var whole = parseFloat(window.getComputedStyle(board).fontSize);
    /* A large screen has letters to spare before words. */
    if (window.innerWidth >= 1500) { shrink(whole * 0.8); }
    if (tooTall()) { board.className = "spared"; }
    shrink(whole * SMALLEST);
    while (tooTall() && (shorten() || shorten(true))) { /* one line less each time */ }
    if (tooTall()) { board.className = "spared tight"; }
  }

  function shrink(least) {
    var size = parseFloat(window.getComputedStyle(board).fontSize);
    while (tooTall() && size > least) {
      size = Math.max(least, size - 2);
      board.style.fontSize = size + "px";
    }
  }

  function tooTall() {
    return document.documentElement.scrollHeight > window.innerHeight + 1;
  }

  /* Put one more line behind the button of its list: where two columns stand beside each other, of
     the longer one. False where there is none left that may. */
  function shorten(other) {
    var start = board.querySelector(".start");
    var beside = board.querySelector(".beside");
    if (!start || !beside) { return false; }
    var columns = start.offsetTop === beside.offsetTop;
    var longer = columns ? end(start) >= end(beside) : !other;
    if (columns && other) { return false; }
    return longer ? less("start", 0) : less("timers", 1);
  }

  function end(section) {
    var last = section.lastElementChild;
    while (last && !last.offsetHeight) { last = last.previousElementSibling; }
    return last ? last.getBoundingClientRect().bottom : 0;
  }

  function less(name, kept) {
    var list = board.querySelector("." + name + " .list");
    if (!list || opened[name]) { return false; }
    var more = list.querySelector(".more");
    var items = list.querySelectorAll("li:not(.more)");
    var shown = 0;
    while (shown < items.length && !items[shown].hidden) { shown += 1; }
    if (shown <= kept) { return false; }
    if (!more) {
      more = document.createElement("li");
      more.className = "more";
      more.appendChild(document.createElement("button"));
      more.firstChild.type = "button";
      more.firstChild.onclick = function () { opened[name] = true; fit(); };
      list.appendChild(more);
    }
    items[shown - 1].hidden = true;
    more.firstChild.textContent = WORDS[name](items.length - shown + 1, shown - 1);
    return true;
  }

  function listen() {
    source = new window.EventSource("/live");
    source.addEventListener("board", function (event) { show(event.data); });
    source.addEventListener("alive", function (event) { alive(Number(event.data)); });
    source.onerror = function () {
      tellLost();
      /* After an answer that was no stream a browser gives up: it is begun anew. */
      if (source.readyState === 2) { window.setTimeout(listen, 3000); }
    };
  }

  function ask() {
    var request = new XMLHttpRequest();
    request.open("GET", "/now");
    request.timeout = 8000;
    request.onload = function () {
      if (request.status === 200) { show(request.responseText); } else { tellLost(); }
    };
    request.onerror = tellLost;
    request.ontimeout = tellLost;
    request.onloadend = function () { window.setTimeout(ask, 2000); };
    request.send();
  }

  window.setInterval(tick, 250);
  window.addEventListener("resize", fit);
  tick();
  fit();
  if (window.EventSource) { listen(); } else { ask(); }
}());
