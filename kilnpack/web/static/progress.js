// Listens to what goes on beside the page and loads the page anew once it is over.
(() => {
  "use strict";
  const told = document.getElementById("progress");
  if (!told) return;
  const listen = new EventSource(told.dataset.told);
  const put = (name, text) => { const one = document.getElementById(`told-${name}`); if (one && one.textContent !== text) one.textContent = text; };
  listen.onmessage = (event) => {
    const now = JSON.parse(event.data);
    if (!now.goes_on) { listen.close(); location.reload(); return; }
    put("step", now.step);
    put("seconds", String(now.seconds));
    const bar = document.getElementById("told-share");
    if (bar) bar.value = now.share;
  };
})();
