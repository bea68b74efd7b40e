// The loader's page: one tier at a time, notes kept on the device until the records have them.
(() => {
  "use strict";
  const load = document.getElementById("load");
  const code = load.dataset.code;
  const known = JSON.parse(document.getElementById("known").textContent);
  const token = document.querySelector('meta[name="form-token"]').content;
  const base = `/loader/${encodeURIComponent(code)}`;
  const steps = [...document.querySelectorAll(".step")];
  const id = (name) => document.getElementById(name);
  const stored = (name, empty) => { try { return JSON.parse(localStorage.getItem(`${name}-${code}`)) ?? empty; } catch { return empty; } };
  const store = (name, value) => { try { localStorage.setItem(`${name}-${code}`, JSON.stringify(value)); } catch { /* private window: kept while it is open */ } };

  // --- what is known: what the records said, then what is noted here and not sent yet
  let waiting = stored("waiting", []);
  let refused = stored("refused", []);
  const told = stored("told", known);
  const latest = told.counted > known.counted ? told : known; // the page itself may be an older one, kept for want of network
  let done = new Set(latest.done.map((one) => one.join("|")));
  let changes = latest.changes;
  const placesOf = (stack, tier) => Object.keys(known.places[`${stack}|${tier}`] ?? {}).map(Number);
  const total = Object.values(known.places).reduce((sum, places) => sum + Object.keys(places).length, 0);
  const seen = () => {
    const set = new Set(done);
    for (const tick of waiting) {
      const places = tick.place === null ? placesOf(tick.stack, tick.tier) : [tick.place];
      for (const place of places) {
        const key = `${tick.stack}|${tick.tier}|${place}`;
        if (tick.what === "set") set.add(key); else if (tick.what === "taken out") set.delete(key);
      }
    }
    return set;
  };
  const seenChanges = () => [...changes, ...waiting.filter((tick) => tick.what === "swap" || tick.what === "breakage")];

  // --- sending
  let sending = false;
  const say = (words, off) => { id("net").textContent = words; id("net").classList.toggle("off", off); };
  const fault = (answer) => {
    const rows = (answer.findings ?? []).map((one) => `${one.field}: ${one.found}; wanted ${one.wanted}`);
    const box = document.createElement("div");
    box.className = "said"; box.setAttribute("role", "alert");
    for (const text of [answer.said, ...rows].filter(Boolean)) { const line = document.createElement("p"); line.textContent = text; box.append(line); }
    id("faults").replaceChildren(box);
  };
  const send = async () => {
    if (sending || !waiting.length) { show(); return; }
    sending = true;
    const batch = waiting.slice(0, 200);
    try {
      const answer = await fetch(`${base}/ticks`, {
        method: "POST", body: JSON.stringify({ ticks: batch }),
        headers: { "content-type": "application/json", accept: "application/json", "x-form-token": token },
      });
      if (answer.ok) {
        waiting = waiting.slice(batch.length); store("waiting", waiting);
        take(await answer.json());
      } else {
        const said = await answer.json();
        fault(said);
        if (answer.status === 422) await apart(batch);
      }
    } catch { /* no network: kept, sent later */ }
    sending = false;
    show();
  };
  // A note that the records refuse is shown and kept apart; the others go on.
  const apart = async (batch) => {
    for (const tick of batch) {
      const answer = await fetch(`${base}/ticks`, {
        method: "POST", body: JSON.stringify({ ticks: [tick] }),
        headers: { "content-type": "application/json", accept: "application/json", "x-form-token": token },
      });
      if (answer.ok) take(await answer.json());
      else if (answer.status === 422) { fault(await answer.json()); refused.push(tick); store("refused", refused); }
      else return;
      waiting = waiting.filter((one) => one.mark !== tick.mark); store("waiting", waiting);
    }
  };
  const take = (state) => {
    done = new Set(state.done.map((one) => one.join("|")));
    changes = state.changes;
    id("on").hidden = !state.next;
    if (state.next) { [id("on-state").value, id("on-button").textContent] = state.next; id("row-version").value = state.row_version; }
    store("told", { done: state.done, changes: state.changes, counted: state.counted });
    if (state.load_version !== known.load_version) location.reload();
  };
  const look = async () => {
    try {
      const answer = await fetch(`${base}/state`, { headers: { accept: "application/json" } });
      if (answer.ok) take(await answer.json());
    } catch { /* no network */ }
    show();
  };
  const mark = () => (crypto.randomUUID ? crypto.randomUUID() : `${Date.now()}-${Math.random().toString(36).slice(2)}`);
  const note = (what, stack, tier, place, more = {}) => {
    waiting.push({ mark: mark(), what, stack, tier, place, at: new Date().toISOString(), load_version: known.load_version, ...more });
    store("waiting", waiting);
    show(); send();
  };

  // --- showing
  const wordsOf = (one) => {
    const where = `${one.stack}${one.tier} place ${one.place}: `, why = one.note ? ` (${one.note})` : "";
    const named = (lot) => (known.ware[lot] ? `${known.ware[lot]}, lot ${lot}` : `lot ${lot}`);
    if (one.what === "swap") return `${where}${one.pieces ? `${one.pieces} × ` : ""}${named(one.other_lot)} in place of ${one.lot ? named(one.lot) : "what stood there"}${why}`;
    return `${where}${one.pieces ?? "all"} broke${one.lot ? ` of lot ${one.lot}` : ""}${why}`;
  };
  const lineOf = (one) => { const line = document.createElement("li"); line.textContent = wordsOf(one); return line; };
  const show = () => {
    const set = seen();
    id("count").textContent = `${set.size} of ${total} places set`;
    if (!navigator.onLine) say(`No network: ${waiting.length} notes are kept here and sent later.`, true);
    else say(waiting.length ? `${waiting.length} notes wait to be sent.` : "All notes are kept.", waiting.length > 0);
    const instead = new Map(seenChanges().filter((one) => one.what === "swap" && known.ware[one.other_lot]).map((one) => [`${one.stack}|${one.tier}|${one.place}`, known.ware[one.other_lot]]));
    const changed = new Set(seenChanges().map((one) => `${one.stack}|${one.tier}|${one.place}`));
    for (const step of steps.filter((one) => one.dataset.stack)) {
      for (const button of step.querySelectorAll("button.place")) {
        const key = `${step.dataset.stack}|${step.dataset.tier}|${button.dataset.place}`;
        button.setAttribute("aria-pressed", set.has(key));
        button.classList.toggle("changed", changed.has(key));
        const piece = button.querySelector("span");
        piece.dataset.planned ??= piece.textContent;
        const other = instead.get(key);
        piece.textContent = other && other !== piece.dataset.planned ? `${other} (not ${piece.dataset.planned})` : piece.dataset.planned;
      }
      for (const text of step.querySelectorAll(".top text.place"))
        text.classList.toggle("done", set.has(`${step.dataset.stack}|${step.dataset.tier}|${text.textContent}`));
    }
    id("missing").textContent = set.size === total ? "Every place is set." : `${total - set.size} places are not ticked.`;
    id("changes").replaceChildren(...seenChanges().map(lineOf));
    id("refused").replaceChildren(...refused.filter((one) => one.what === "swap" || one.what === "breakage").map(lineOf));
    id("refused-part").hidden = !id("refused").childElementCount;
  };
  let now = 0;
  const go = (at, focus = true) => {
    now = Math.max(0, Math.min(steps.length - 1, at));
    steps.forEach((step, k) => { step.hidden = k !== now; });
    const step = steps[now];
    const figure = step.querySelector(".top");
    if (figure && !figure.childElementCount) figure.append(id(step.dataset.drawing).content.cloneNode(true));
    id("goto").value = step.id;
    document.querySelector('[data-go="before"]').disabled = now === 0;
    document.querySelector('[data-go="next"]').disabled = now === steps.length - 1;
    history.replaceState(null, "", `#${step.id}`);
    if (focus) { window.scrollTo(0, 0); const head = step.querySelector("h1"); head.tabIndex = -1; head.focus({ preventScroll: true }); }
    show();
  };
  for (const button of document.querySelectorAll("[data-go]")) button.addEventListener("click", () => go(now + (button.dataset.go === "next" ? 1 : -1)));
  id("goto").addEventListener("change", (event) => go(steps.findIndex((step) => step.id === event.target.value)));

  // --- one place
  const dialog = id("piece");
  let open = null;
  const tap = (step, place) => {
    const stack = step.dataset.stack, tier = Number(step.dataset.tier), facts = known.places[`${stack}|${tier}`][place];
    open = { stack, tier, place };
    id("piece-name").textContent = `${step.dataset.name}, place ${place}`;
    id("piece-across").textContent = facts.across; id("piece-deep").textContent = facts.deep;
    id("piece-hour").textContent = facts.hour ? `clock ${facts.hour}` : "";
    id("piece-stands").textContent = facts.stands;
    const option = (value, words) => { const made = document.createElement("option"); made.value = value; made.textContent = words; return made; };
    id("piece-parts").replaceChildren(...facts.parts.map((part) => { const line = document.createElement("li"); line.textContent = `${part.n} × ${part.what}, lot ${part.lot}, ${part.line}`; return line; }));
    const swaps = seenChanges().filter((one) => one.what === "swap" && one.stack === stack && one.tier === tier && one.place === place).map((one) => one.other_lot);
    const here = [...new Set([...swaps.reverse(), ...facts.parts.map((part) => part.lot)])]; // what took the place last stands first
    id("piece-lot").replaceChildren(...here.map((lot) => option(lot, known.ware[lot] ? `${lot}, ${known.ware[lot]}` : lot)));
    const others = () => {
      const own = id("piece-lot").value, kind = known.kinds[own];
      const alike = Object.keys(known.kinds).filter((lot) => lot !== own && known.kinds[lot] === kind);
      const offers = (known.offers[known.forms[`${stack}|${tier}`]?.[place]] ?? []).filter((one) => one.lot !== own && !alike.includes(one.lot));
      const group = (label, options) => { const made = document.createElement("optgroup"); made.label = label; made.append(...options); return made; };
      const groups = [
        ["the same piece of another lot", alike.map((lot) => option(lot, lot))],
        ["named on the sheet", offers.filter((one) => one.named).map((one) => option(one.lot, one.what))],
        ["no larger, takes the whole place", offers.filter((one) => !one.named).map((one) => option(one.lot, one.what))],
      ];
      id("piece-other").replaceChildren(...groups.filter(([, options]) => options.length).map(([label, options]) => group(label, options)));
      id("piece-swap").disabled = !alike.length && !offers.length;
      id("piece-other-kind").hidden = !offers.length;
      const part = facts.parts.find((one) => one.lot === own);
      id("piece-count").max = part ? part.n : 1; id("piece-count").value = part && part.n === 1 ? 1 : id("piece-count").value;
    };
    id("piece-lot").onchange = others; others();
    id("piece-note").value = "";
    id("piece-noted").replaceChildren(...seenChanges().filter((one) => one.stack === stack && one.tier === tier && one.place === place).map(lineOf));
    const stands = seen().has(`${stack}|${tier}|${place}`);
    id("piece-set").disabled = stands; id("piece-out").disabled = !stands;
    dialog.showModal();
    dialog.scrollTop = 0;
  };
  const close = () => { dialog.close(); open = null; };
  id("piece-set").addEventListener("click", () => { note("set", open.stack, open.tier, open.place); close(); });
  id("piece-out").addEventListener("click", () => { note("taken out", open.stack, open.tier, open.place); close(); });
  const happened = (what, more) => { note(what, open.stack, open.tier, open.place, { lot: id("piece-lot").value, pieces: Number(id("piece-count").value) || null, note: id("piece-note").value, ...more }); close(); };
  id("piece-broke").addEventListener("click", () => happened("breakage", {}));
  id("piece-swap").addEventListener("click", () => happened("swap", { other_lot: id("piece-other").value }));
  for (const step of steps.filter((one) => one.dataset.stack)) {
    for (const button of step.querySelectorAll("button.place")) button.addEventListener("click", () => tap(step, Number(button.dataset.place)));
    step.querySelector("[data-all]").addEventListener("click", () => { note("set", step.dataset.stack, Number(step.dataset.tier), null); });
    step.querySelector("[data-none]").addEventListener("click", () => { note("taken out", step.dataset.stack, Number(step.dataset.tier), null); });
    // A tap on the drawing means the number next to it.
    step.querySelector(".top").addEventListener("click", (event) => {
      let best = null;
      for (const text of step.querySelectorAll(".top text.place")) {
        const box = text.getBoundingClientRect();
        const far = Math.hypot(event.clientX - box.x - box.width / 2, event.clientY - box.y - box.height / 2);
        if (!best || far < best.far) best = { far, place: Number(text.textContent) };
      }
      if (best && best.far < 90) tap(step, best.place);
    });
  }

  // --- boxes of this device alone
  const own = stored("own", {});
  for (const box of document.querySelectorAll("[data-own]")) {
    box.checked = !!own[box.dataset.own];
    box.addEventListener("change", () => { own[box.dataset.own] = box.checked; store("own", own); });
  }

  window.addEventListener("online", () => { show(); send(); });
  window.addEventListener("offline", show);
  setInterval(() => { if (waiting.length) send(); }, 4000);
  setInterval(() => { if (!waiting.length) look(); }, 15000);
  // The worker keeps what it passes on; the page that was open before the worker came is kept here.
  const keep = async () => {
    await navigator.serviceWorker.register("/loader/worker.js", { scope: "/loader" });
    await navigator.serviceWorker.ready;
    const shown = [...document.querySelectorAll("link[rel=stylesheet], script[src]")].map((one) => one.href || one.src);
    await (await caches.open("loader-1")).addAll([location.pathname, "/loader", ...shown]);
    load.dataset.kept = "yes";
  };
  if ("serviceWorker" in navigator) keep().catch(() => say("This device cannot keep the page: stay in reach of the network.", true));
  go(Math.max(0, steps.findIndex((step) => `#${step.id}` === location.hash)), false);
  send();
})();
