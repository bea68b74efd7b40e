// Keeps the ticks of this load in the browser and counts them; nothing else.
(() => {
  const page = document, key = page.body.dataset.key;
  const boxes = [...page.querySelectorAll("input[data-k]")];
  let kept = {};
  try { kept = JSON.parse(localStorage.getItem(key) || "{}"); } catch (fault) { kept = {}; }
  const count = () => {
    const done = boxes.filter((box) => box.checked).length;
    page.getElementById("done").textContent = `${done} of ${boxes.length} ticked`;
  };
  for (const box of boxes) {
    box.checked = !!kept[box.dataset.k];
    box.addEventListener("change", () => {
      kept[box.dataset.k] = box.checked;
      try { localStorage.setItem(key, JSON.stringify(kept)); } catch (fault) { /* private window: ticks last as long as it */ }
      count();
    });
  }
  count();
})();
