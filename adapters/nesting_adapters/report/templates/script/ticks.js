// Boxes to tick, kept on this device under the plan's key; other open pages of the plan follow.
const boxes = [...document.querySelectorAll("input[data-tick]")];
const storeName = "nesting ticks " + document.documentElement.dataset.plan;

function keptTicks() {
  try {
    return new Set(JSON.parse(localStorage.getItem(storeName) || "[]"));
  } catch {
    return null;
  }
}

function keepTicks() {
  const ticked = boxes.filter((box) => box.checked).map((box) => box.dataset.tick);
  const elsewhere = [...(keptTicks() || [])].filter((name) => !boxes.some((box) => box.dataset.tick === name));
  try {
    localStorage.setItem(storeName, JSON.stringify([...elsewhere, ...ticked]));
  } catch {
    document.getElementById("not-kept").hidden = false;
  }
}

function showTicks() {
  for (const section of document.querySelectorAll("section[data-load]")) {
    const own = [...section.querySelectorAll("input[data-pocket]")];
    for (const box of own) {
      markPocket(section, box.dataset.pocket, "done", box.checked);
      const number = section.querySelector(`.drawing text[data-pocket="${box.dataset.pocket}"]`);
      number.textContent = box.dataset.pocket + (box.checked ? "\u2713" : "");
    }
    const done = own.filter((box) => box.checked).length;
    section.querySelector(".done-count").textContent = `${done} of ${own.length} done`;
    const link = document.querySelector(`nav a[href="#${section.id}"]`);
    link?.classList.toggle("done", done === own.length);
    link?.setAttribute("aria-label", `Load ${section.dataset.load}, ${done} of ${own.length} done`);
  }
}

function readTicks() {
  const kept = keptTicks();
  document.getElementById("not-kept").hidden = kept !== null;
  for (const box of boxes) box.checked = kept !== null && kept.has(box.dataset.tick);
  showTicks();
}

for (const box of boxes) box.addEventListener("change", () => { keepTicks(); showTicks(); });
window.addEventListener("storage", (event) => { if (event.key === storeName) readTicks(); });
document.getElementById("clear-ticks").addEventListener("click", () => {
  if (!confirm("Clear every tick of this plan on this device?")) return;
  try { localStorage.removeItem(storeName); } catch { /* there is nothing to clear */ }
  readTicks();
});
