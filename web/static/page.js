"use strict";
// The page works without this. With it: taps answer at once, several taps are one request, the page follows the house.
(() => {
  const house = document.getElementById("house");
  const code = document.getElementById("code");
  if (code && /^#\d{8}$/.test(location.hash)) {
    code.value = location.hash.slice(1);
    history.replaceState(null, "", "/join");
  }
  if (!house) return;
  const WAIT = 600;
  const waiting = new Map(); // room -> {timer, form, button}
  let sending = 0, stale = false;

  const parts = ["top", "house"];
  const AGAIN = 55000, QUIET = 45000, SAID = 20000;
  let shown = Date.now(), said = 0, pressed = false;
  // nothing is replaced under a finger, or the tap would be lost
  addEventListener("pointerdown", () => { pressed = true; }, true);
  for (const end of ["pointerup", "pointercancel"]) addEventListener(end, () => { setTimeout(() => { pressed = false; }, 50); }, true);

  // Puts a fresh page in place of this one; keeps what is open, typed and in focus.
  function show(html, keep) {
    const fresh = new DOMParser().parseFromString(html, "text/html");
    if (!fresh.getElementById("house")) { location.reload(); return; }
    const open = [...document.querySelectorAll("details[open]")];
    const at = document.activeElement, mark = at && markOf(at);
    for (const box of open) {
      const twin = fresh.getElementById(box.id);
      if (!twin || twin.open) continue;
      twin.open = true;
      for (const input of box.querySelectorAll("input:not([type=hidden])")) {
        const same = twin.querySelector(`[name="${input.name}"]`);
        if (same) same.value = input.value;
      }
    }
    if (keep) keepMessages(fresh);
    shown = Date.now();
    for (const id of parts) document.getElementById(id).replaceWith(fresh.getElementById(id));
    if (mark) { const back = find(mark); if (back) back.focus({ preventScroll: true }); }
  }
  // A refusal stays a while, though the house went on.
  function keepMessages(fresh) {
    if (Date.now() - said > SAID) return;
    for (const message of document.querySelectorAll(".msg")) {
      const box = message.closest("[id]:not(.msg)"), twin = box && fresh.getElementById(box.id);
      const before = twin && twin.querySelector(message.closest(".panel") ? ".panel>button" : "div.bar, form.bar");
      if (before) before.before(message);
    }
  }
  function markOf(el) {
    const box = el.closest("[id]");
    return box && box.id !== "house" && { id: box.id, tag: el.localName, name: el.name, way: el.dataset && el.dataset.way, value: el.dataset && el.dataset.way ? null : el.value };
  }
  function find(mark) {
    const box = document.getElementById(mark.id);
    if (!box) return null;
    const all = [...box.querySelectorAll(mark.tag)].filter(el => el.name === mark.name && (el.dataset.way || null) == (mark.way || null));
    return all.find(el => mark.value == null || el.value === mark.value) || all[0] || null;
  }

  async function refresh() {
    if (sending || waiting.size || pressed || document.hidden) { stale = true; return; }
    stale = false;
    shown = Date.now();
    try {
      const answer = await fetch("/", { headers: { accept: "text/html" } });
      const html = await answer.text();
      if (sending || waiting.size || pressed) { stale = true; return; }
      show(html, true);
      lost("");
    } catch { lost(); }
  }

  async function send(form, button) {
    const fields = new URLSearchParams(new FormData(form));
    if (button && button.name) fields.set(button.name, button.value);
    sending++;
    try {
      const answer = await fetch(form.getAttribute("action"), { method: "POST", body: fields, headers: { accept: "text/html" } });
      const html = await answer.text();
      sending--;
      if (!(answer.headers.get("content-type") || "").startsWith("text/html")) { lost(html); return; }
      if (answer.ok) for (const box of document.querySelectorAll("details[open]")) if (box.contains(form)) box.open = false;
      said = answer.ok ? 0 : Date.now();
      if (waiting.size) stale = true; else show(html);
      lost("");
    } catch {
      sending--;
      lost("That did not reach the house. Nothing was changed; try again.");
      stale = true;
    }
  }

  // Warmer and cooler: the number moves with the finger, the request follows when the finger rests.
  function step(form, button) {
    const room = form.closest(".room"), unit = house0().dataset.unit, size = unit === "F" ? 1 : 0.5, way = +button.dataset.way;
    const now = waiting.get(room.id);
    const limit = parseFloat(button.dataset.limit), asked = now ? now.value + way * size : parseFloat(button.value);
    // several taps stop at the limit; a tap from the limit is answered by the house
    const value = now ? (way > 0 ? Math.min(asked, limit) : Math.max(asked, limit)) : asked;
    if (now) clearTimeout(now.timer);
    waiting.set(room.id, { value, timer: setTimeout(() => {
      waiting.delete(room.id);
      const current = document.getElementById(room.id), own = current.querySelector(`button[data-way="${way}"]`);
      own.value = value;
      send(own.form, own);
    }, WAIT) });
    const number = room.querySelector("summary b"), rider = room.querySelector(".rider"), low = +house0().dataset.low, high = +house0().dataset.high;
    number.textContent = (unit === "F" ? value.toFixed(0) : value.toFixed(1)) + "°";
    const celsius = unit === "F" ? (value - 32) / 1.8 : value;
    if (rider) rider.setAttribute("x", Math.min(100, Math.max(0, 100 * (celsius - low) / (high - low))) + "%");
  }
  const house0 = () => document.getElementById("house");

  document.addEventListener("submit", event => {
    const form = event.target, button = event.submitter;
    if (form.getAttribute("action") === "/degrees") return;
    event.preventDefault();
    if ("step" in form.dataset) step(form, button); else send(form, button);
  });

  // What is old says so.
  let heard = Date.now();
  function lost(words) {
    const line = document.getElementById("lost");
    if (!line) return;
    const at = new Date(heard).toTimeString().slice(0, 5);
    line.textContent = words === undefined ? `No connection to the house. What you see is from ${at}.` : words;
    line.hidden = !line.textContent;
  }
  let stream;
  function listen() {
    stream = new EventSource("/live");
    for (const event of ["hello", "change", "beat"]) {
      stream.addEventListener(event, () => { heard = Date.now(); if (event !== "beat") refresh(); });
    }
    stream.onerror = () => {
      lost();
      if (stream.readyState === 2) { stream.close(); setTimeout(listen, 5000); }
    };
  }
  document.addEventListener("visibilitychange", () => { if (!document.hidden) refresh(); });
  // a line that died without a word is opened anew
  setInterval(() => {
    if (document.hidden || Date.now() - heard < QUIET) return;
    lost();
    stream.close();
    listen();
  }, 5000);
  setInterval(() => { if (stale || Date.now() - shown > AGAIN) refresh(); }, 1000);
  addEventListener("pageshow", event => { if (event.persisted) refresh(); });
  listen();
})();
