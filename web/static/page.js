"use strict";
// The page works without this. With it: taps answer at once, several taps are one request, the page follows the house.
(() => {
  const code = document.getElementById("code");
  if (code && /^#\d{8}$/.test(location.hash)) {
    code.value = location.hash.slice(1);
    history.replaceState(null, "", "/join");
  }
  const main = () => document.getElementById("main");
  if (!main() || !("live" in main().dataset)) return;
  const WAIT = 600, AGAIN = 55000, QUIET = 45000, SAID = 20000, UNDO = 60000;
  const waiting = new Map(); // room -> {timer, go}
  const latest = new Map(); // room -> what the finger asked last, until the house has answered
  const parts = ["top", "main"];
  let turn = 0, newest = 0; // requests in the order in which they were sent, and the latest whose answer was shown
  let sending = 0, stale = false, shown = Date.now(), said = 0, pressed = false, undoes = 0;
  // nothing is replaced under a finger, or the tap would be lost
  addEventListener("pointerdown", () => { pressed = true; }, true);
  for (const end of ["pointerup", "pointercancel"]) addEventListener(end, () => { setTimeout(() => { pressed = false; }, 50); }, true);

  // Puts a fresh page in place of this one; keeps what is open, typed and in focus.
  function show(html, keep) {
    const fresh = new DOMParser().parseFromString(html, "text/html");
    if (!fresh.getElementById("main") || fresh.title !== document.title) { location.reload(); return; }
    const open = [...document.querySelectorAll("details[open]")];
    const at = document.activeElement, mark = at && markOf(at);
    for (const box of open) {
      const twin = fresh.getElementById(box.id);
      if (!twin || twin.open) continue;
      twin.open = true;
      for (const input of box.querySelectorAll("input:not([type=hidden]),select")) {
        const same = twin.querySelector(`${input.localName}[name="${input.name}"]`);
        if (same && input.localName === "select") choose(same, input); else if (same) same.value = input.value;
      }
    }
    if (keep) keepMessages(fresh);
    const before = spoken(), told = notices();
    latest.clear();
    shown = Date.now();
    for (const id of parts) {
      const old = document.getElementById(id), now = fresh.getElementById(id);
      if (old && now && !old.isEqualNode(now)) old.replaceWith(now);
    }
    tell(before, told);
    if (mark && document.activeElement !== at) { const back = find(mark); if (back) back.focus({ preventScroll: true }); }
    if (!document.querySelector("[data-undo]")) undoes = 0;
    else if (!undoes) undoes = shown + UNDO;
  }
  // By its words: after midnight the same day stands at another place, and tomorrow has become today, the first.
  function choose(list, old) {
    const words = old.selectedOptions[0] && old.selectedOptions[0].text;
    for (const option of list.options) if (option.text === words) { option.selected = true; return; }
  }
  // A screen reader hears what changed, once, when the house has settled it: what holds for the whole house or is
  // wrong; else room and sentence.
  function notices() {
    const boxes = [...document.querySelectorAll("section.say")], words = (box, part) => box.querySelector(part).textContent;
    return { whole: boxes.some(box => box.matches(".whole")), lines: new Map(boxes.map(box => [words(box, "h2"), `${words(box, "h2")} ${words(box, "p")}`])) };
  }
  function spoken() {
    return new Map([...document.querySelectorAll("section.room[id]")].map(room => {
      const words = part => { const el = room.querySelector(part); return el ? el.textContent.trim() : ""; };
      return [room.id, { all: words("summary b") + words(".whose>span"), line: `${words("h1,h2")}: ${words("summary b") || words(".still")}, ${words(".whose>span").replace(/\.$/, "")}. ${words(".why>span") || words(".why")}` }];
    }));
  }
  function tell(before, told) {
    const heard = document.getElementById("heard");
    if (!heard) return;
    const now = notices(), fresh = [...now.lines].filter(([title]) => !told.lines.has(title)).map(([, line]) => line);
    if (told.whole && !now.whole) fresh.push(main().dataset.again);
    if (fresh.length) { heard.textContent = fresh.join(" "); return; }
    const changed = [...spoken()].filter(([id, now]) => before.has(id) && before.get(id).all !== now.all);
    if (changed.length) heard.textContent = changed.map(([, now]) => now.line).join(" ");
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
    return box && box.id !== "main" && { id: box.id, tag: el.localName, name: el.name, way: el.dataset && el.dataset.way, value: el.dataset && el.dataset.way ? null : el.value };
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
    const mine = ++turn;
    try {
      const answer = await fetch(location.pathname + location.search, { headers: { accept: "text/html,text/plain" } });
      const html = await answer.text();
      if (mine < newest) return; // overtaken on its way
      if (sending || waiting.size || pressed) { stale = true; return; }
      newest = mine;
      if (!answer.ok) { lost(html.slice(0, 200)); return; }
      show(html, true);
      lost("");
    } catch { lost(); }
  }

  async function send(form, button) {
    const fields = new URLSearchParams(new FormData(form));
    if (button && button.name) fields.set(button.name, button.value);
    sending++;
    newest = ++turn; // a page that was asked for before shows what held before
    try {
      const answer = await fetch(form.getAttribute("action"), { method: "POST", body: fields, keepalive: true, headers: { accept: "text/html,text/plain" } });
      const html = await answer.text();
      sending--;
      if (!(answer.headers.get("content-type") || "").startsWith("text/html")) { lost(html); stale = true; return; }
      if (answer.ok) for (const box of document.querySelectorAll("details[open]")) if (box.contains(form)) box.open = false;
      said = answer.ok ? 0 : Date.now();
      if (waiting.size || sending) stale = true; else show(html);
      lost("");
    } catch {
      sending--;
      latest.clear();
      failed = Date.now();
      lost(main().dataset.failed);
      stale = true;
    }
  }

  // Warmer and cooler: the number moves with the finger, the request follows when the finger rests.
  function step(form, button) {
    const room = form.closest(".room"), { unit, decimal, low, high } = main().dataset, size = unit === "F" ? 1 : 0.5, way = +button.dataset.way;
    const now = waiting.get(room.id), before = latest.get(room.id);
    const limit = parseFloat(button.dataset.limit), asked = before === undefined ? parseFloat(button.value) : before + way * size;
    // several taps stop at the limit; a tap from the limit is answered by the house
    const value = before === undefined ? asked : way > 0 ? Math.min(asked, limit) : Math.max(asked, limit);
    if (now) clearTimeout(now.timer);
    latest.set(room.id, value);
    const go = () => {
      waiting.delete(room.id);
      const current = document.getElementById(room.id), own = current.querySelector(`button[data-way="${way}"]`);
      own.value = value;
      send(own.form, own);
    };
    waiting.set(room.id, { go, timer: setTimeout(go, WAIT) });
    const number = room.querySelector("summary b"), rider = room.querySelector(".rider");
    number.textContent = (unit === "F" ? value.toFixed(0) : value.toFixed(1)).replace("-", "−").replace(".", decimal) + "°";
    const celsius = unit === "F" ? (value - 32) / 1.8 : value;
    if (rider) rider.setAttribute("x", Math.min(100, Math.max(0, 100 * (celsius - low) / (high - low))) + "%");
  }

  // Who leaves the page, or locks the phone, before the finger has rested has asked all the same.
  function leave() {
    for (const { timer, go } of [...waiting.values()]) { clearTimeout(timer); go(); }
  }
  addEventListener("pagehide", leave);
  document.addEventListener("visibilitychange", () => { if (document.hidden) leave(); });

  document.addEventListener("submit", event => {
    const form = event.target, button = event.submitter, action = form.getAttribute("action");
    // only what the page itself shows again is sent without leaving it
    if (action === "/degrees" || action === "/language" || (location.pathname !== "/" && !form.elements.page)) return;
    event.preventDefault();
    if ("step" in form.dataset) step(form, button); else send(form, button);
  });

  // What is old says so.
  let heard = Date.now(), failed = 0;
  function lost(words) {
    const line = document.getElementById("lost");
    if (!line || (words === undefined && Date.now() - failed < 8000)) return;
    const at = new Date(heard).toTimeString().slice(0, 5);
    line.textContent = words === undefined ? `${main().dataset.lost} ${at}.` : words;
    line.hidden = !line.textContent;
  }
  let stream;
  function listen() {
    if (stream) stream.close();
    stream = new EventSource("/live");
    for (const event of ["hello", "change", "beat"]) {
      stream.addEventListener(event, () => { heard = Date.now(); if (event !== "beat") refresh(); });
    }
    stream.onerror = () => {
      lost();
      if (stream.readyState === 2) setTimeout(listen, 5000);
    };
  }
  function woke() {
    if (document.hidden) return;
    if (Date.now() - heard > QUIET) { lost(); listen(); } // asleep, or out of reach, for a while
    refresh();
  }
  document.addEventListener("visibilitychange", woke);
  addEventListener("online", woke);
  addEventListener("offline", () => lost());
  // a line that died without a word is opened anew
  setInterval(() => {
    if (document.hidden || Date.now() - heard < QUIET) return;
    lost();
    listen();
  }, 5000);
  setInterval(() => {
    if (undoes && Date.now() > undoes) { undoes = 0; stale = true; }
    if (stale || Date.now() - shown > AGAIN) refresh();
  }, 1000);
  addEventListener("pageshow", event => { if (event.persisted) woke(); });
  if (document.querySelector("[data-undo]")) undoes = Date.now() + UNDO;
  listen();
})();
