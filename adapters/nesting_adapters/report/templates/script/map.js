// The map of a load and the rows of its table point at each other.
function markPocket(section, pocket, name, on) {
  for (const part of section.querySelectorAll(`.drawing [data-pocket="${pocket}"]`)) part.classList.toggle(name, on);
}

function showSought() {
  for (const part of document.querySelectorAll(".sought")) part.classList.remove("sought");
  const row = location.hash ? document.getElementById(location.hash.slice(1)) : null;
  if (row?.tagName !== "TR") return;
  row.classList.add("sought");
  markPocket(row.closest("section"), row.dataset.row, "sought", true);
}

for (const section of document.querySelectorAll("section[data-load]")) {
  for (const row of section.querySelectorAll("tr[data-row]")) {
    const near = (on) => () => markPocket(section, row.dataset.row, "near", on);
    for (const [event, on] of [["focusin", true], ["pointerenter", true], ["focusout", false], ["pointerleave", false]])
      row.addEventListener(event, near(on));
  }
  section.querySelector(".drawing").addEventListener("click", (event) => {
    const pocket = event.target.closest("[data-pocket]")?.dataset.pocket;
    if (pocket) section.querySelector(`input[data-pocket="${pocket}"]`)?.focus();
  });
}

window.addEventListener("hashchange", showSought);

// a table wider than the screen can be scrolled with the keyboard
const letScroll = new ResizeObserver((changes) => {
  for (const { target } of changes) {
    const wide = target.scrollWidth > target.clientWidth;
    const words = { tabindex: "0", role: "group", "aria-label": target.querySelector("caption").textContent };
    for (const [name, value] of Object.entries(words))
      if (wide) target.setAttribute(name, value); else target.removeAttribute(name);
  }
});
for (const box of document.querySelectorAll(".scroll")) letScroll.observe(box);
