// The planner's pages: bars are drawn along the board by mouse or finger; buttons do the same. Progress is listened to.
(() => {
  "use strict";
  const board = document.querySelector(".board");

  // --- the board: show the bar that was chosen, and lead to it
  const leadTo = (firing) => {
    const bar = board.querySelector(`.bar[data-firing="${CSS.escape(firing)}"]`);
    const time = board.querySelector(".time");
    if (!bar || !time) return;
    const x = Number(bar.querySelector(".whole").getAttribute("x"));
    time.scrollLeft = Math.max(0, x - time.clientWidth / 3);
  };

  // --- draw a bar to another time, or to another kiln
  const drag = (bar, down) => {
    const svg = bar.ownerSVGElement;
    const whole = bar.querySelector(".whole");
    const hour = Number(board.dataset.hour);
    const from = { x: down.clientX, y: down.clientY, scroll: board.querySelector(".time").scrollLeft };
    let moved = false;
    const place = (event) => {
      const hours = Math.round((event.clientX - from.x + board.querySelector(".time").scrollLeft - from.scroll) / hour);
      const y = event.clientY - svg.getBoundingClientRect().top;
      const lane = [...svg.querySelectorAll(".lane-place")].find((one) => {
        const top = Number(one.getAttribute("y"));
        return y >= top && y < top + 60;
      });
      return { hours, lane };
    };
    const show = (event) => {
      if (Math.abs(event.clientX - from.x) + Math.abs(event.clientY - from.y) > 6) moved = true;
      if (!moved) return;
      const { hours, lane } = place(event);
      const dy = lane ? Number(lane.getAttribute("y")) + 6 - Number(whole.getAttribute("y")) : 0;
      bar.setAttribute("transform", `translate(${hours * hour} ${dy})`);
      bar.classList.add("dragged");
      for (const one of svg.querySelectorAll(".lane-place")) one.classList.toggle("here", one === lane);
    };
    const back = () => {
      bar.removeAttribute("transform");
      bar.classList.remove("dragged");
      for (const one of svg.querySelectorAll(".lane-place")) one.classList.remove("here");
    };
    const off = () => {
      window.removeEventListener("pointermove", show);
      window.removeEventListener("pointerup", drop);
      window.removeEventListener("pointercancel", cancel);
      window.removeEventListener("keydown", escape);
    };
    const cancel = () => { off(); back(); };
    const escape = (event) => { if (event.key === "Escape") cancel(); };
    const drop = (event) => {
      off();
      if (!moved) return;
      const { hours, lane } = place(event);
      bar.addEventListener("click", (click) => click.preventDefault(), { once: true, capture: true });
      setTimeout(back, 0);
      const kiln = lane && lane.dataset.kiln !== bar.dataset.kiln ? lane.dataset.kiln : "";
      if (!hours && !kiln) return;
      htmx.ajax("POST", "/planner/move", {
        target: "#faults", swap: "innerHTML",
        values: {
          plan: board.dataset.plan, version: board.dataset.version, zoom: board.dataset.zoom,
          firing: bar.dataset.firing, hours, kiln,
        },
      });
    };
    window.addEventListener("pointermove", show);
    window.addEventListener("pointerup", drop);
    window.addEventListener("pointercancel", cancel);
    window.addEventListener("keydown", escape);
  };

  if (board) {
    const chosen = new URLSearchParams(location.search).get("firing");
    if (chosen) leadTo(chosen);
    for (const bar of board.querySelectorAll(".bar.movable")) {
      bar.addEventListener("pointerdown", (event) => { if (event.button === 0) { event.preventDefault(); drag(bar, event); } });
      bar.addEventListener("dragstart", (event) => event.preventDefault());
    }
    // A bar that is chosen opens below the board, without the page being left.
    for (const bar of board.querySelectorAll(".bar")) {
      bar.addEventListener("click", async (event) => {
        if (event.defaultPrevented || event.ctrlKey || event.metaKey || event.shiftKey) return;
        event.preventDefault();
        const firing = bar.dataset.firing;
        await htmx.ajax("GET", `/planner/firing/${encodeURIComponent(firing)}?zoom=${board.dataset.zoom}`, { target: "#firing", swap: "innerHTML" });
        for (const one of board.querySelectorAll(".bar[aria-current]")) one.removeAttribute("aria-current");
        bar.setAttribute("aria-current", "true");
        history.replaceState(null, "", `/planner?firing=${encodeURIComponent(firing)}&zoom=${board.dataset.zoom}`);
        document.getElementById("chosen")?.focus();
      });
    }
    // The button that was pressed has the focus again when the page comes back.
    document.addEventListener("click", (event) => {
      const button = event.target.closest("#firing button");
      if (button) sessionStorage.setItem("pressed", `${button.name}=${button.value}`);
    });
    const pressed = sessionStorage.getItem("pressed");
    sessionStorage.removeItem("pressed");
    if (pressed && chosen) {
      const [name, value] = pressed.split("=");
      const same = document.querySelector(`#firing button[name="${CSS.escape(name)}"][value="${CSS.escape(value)}"]`);
      (same ?? document.querySelector("#firing button") ?? document.getElementById("chosen"))?.focus();
    }
  }

  // --- findings come into view
  document.body.addEventListener("htmx:afterSwap", (event) => {
    if (event.detail.target.id === "faults" && event.detail.target.childElementCount) {
      sessionStorage.removeItem("pressed");
      event.detail.target.scrollIntoView({ block: "nearest" });
    }
  });

  // --- progress of what goes on aside
  const told = document.getElementById("progress");
  if (told) {
    const listen = new EventSource(told.dataset.told);
    const put = (name, text) => { const one = document.getElementById(`told-${name}`); if (one.textContent !== text) one.textContent = text; };
    listen.onmessage = (event) => {
      const now = JSON.parse(event.data);
      if (!now.goes_on) { listen.close(); location.reload(); return; }
      put("step", now.state === "stopping" ? "stopping, with the best so far" : now.step);
      put("seconds", String(now.seconds));
      put("best", now.best || "none yet");
      document.getElementById("told-share").value = now.share;
    };
  }
})();
