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
function letScroll() {
  for (const box of document.querySelectorAll(".scroll")) {
    const wide = box.scrollWidth > box.clientWidth;
    if (wide) box.setAttribute("tabindex", "0"); else box.removeAttribute("tabindex");
    if (wide) box.setAttribute("role", "group"); else box.removeAttribute("role");
    if (wide) box.setAttribute("aria-label", box.querySelector("caption").textContent); else box.removeAttribute("aria-label");
  }
}

window.addEventListener("resize", letScroll);
