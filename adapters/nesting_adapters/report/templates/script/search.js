// Finds units by order line, text, blank or artwork among the rows of all loads.
const field = document.getElementById("search");
const found = document.getElementById("found");
const MOST = 40;
const plain = (text) => text.normalize("NFKD").replace(/\p{M}/gu, "").toLowerCase().replace(/\s+/g, " ");
const rows = [...document.querySelectorAll("tr[data-row]")].map((row) => ({
  id: row.id,
  load: row.closest("section").dataset.load,
  pocket: row.dataset.row,
  unit: row.querySelector(".unit").textContent,
  blank: row.querySelector(".blank-name").textContent,
  words: plain([".unit", ".blank-name", ".artwork"].map((cell) => row.querySelector(cell).textContent).join(" "))
    .split(/[\s,;:]+/),
}));

// a bare number is meant whole: unit 3 is not unit 30
function matches(row, word) {
  return /^\d+$/.test(word) ? row.words.some((own) => own === word || (/\D/.test(own) && own.includes(word)))
    : row.words.some((own) => own.includes(word));
}

function search() {
  const words = plain(field.value).split(/[\s,;:]+/).filter(Boolean);
  const hits = words.length ? rows.filter((row) => words.every((word) => matches(row, word))) : [];
  found.replaceChildren(...hits.slice(0, MOST).map((row) => {
    const link = document.createElement("a");
    link.href = "#" + row.id;
    link.textContent = `Load ${row.load}, pocket ${row.pocket}: ${row.unit}, ${row.blank}`;
    const item = document.createElement("li");
    item.append(link);
    return item;
  }));
  const count = `${hits.length} ${hits.length === 1 ? "unit" : "units"} found`;
  const more = hits.length > MOST ? `, the first ${MOST} listed` : "";
  document.getElementById("found-count").textContent = words.length ? count + more : "";
}

field.addEventListener("input", search);
field.addEventListener("keydown", (event) => {
  if (event.key === "Escape") { field.value = ""; search(); }
  if (event.key === "Enter") found.querySelector("a")?.click();
});
found.addEventListener("click", (event) => {
  const row = document.getElementById(event.target.closest("a")?.hash.slice(1));
  // focus goes where the eye goes
  if (row) setTimeout(() => { showSought(); row.querySelector("input").focus(); });
});
