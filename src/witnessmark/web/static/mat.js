// The picture grows and shrinks by words; the waiting page asks how far the reading is and opens it when it is done.
const picture = document.getElementById("matpic");
const sizes = ["", "x2", "x4"];
const sight = picture && picture.parentElement;
function toMiddle() {
  sight.scrollLeft = (sight.scrollWidth - sight.clientWidth) / 2;
  sight.scrollTop = (sight.scrollHeight - sight.clientHeight) / 2;
}
if (sight) { toMiddle(); picture.querySelector("img").addEventListener("load", toMiddle); }
let size = 0;
for (const word of document.querySelectorAll("[data-zoom]")) {
  word.addEventListener("click", () => {
    size = Math.min(2, Math.max(0, size + (word.dataset.zoom === "in" ? 1 : -1)));
    picture.classList.remove("x2", "x4");
    if (sizes[size]) picture.classList.add(sizes[size]);
    toMiddle();
  });
}
// A tap on a piece ticks or unticks its box in its group: split and move are ticking, on the picture or below it.
const said = document.getElementById("ticked");
const boxOf = (piece) => document.querySelector(`input[name="piece"][data-name][value="${piece.dataset.piece}"]`);
function draw(piece) {
  const box = boxOf(piece);
  if (box) piece.querySelector("polygon").classList.toggle("off", !box.checked);
}
for (const piece of document.querySelectorAll("[data-piece]")) {
  const box = boxOf(piece);
  if (!box) continue;
  box.addEventListener("change", () => draw(piece));
  piece.addEventListener("click", (event) => {
    event.preventDefault();
    box.checked = !box.checked;
    const fold = box.closest("details");
    if (fold) fold.open = true;
    draw(piece);
    said.textContent = `${box.dataset.name} is ${box.checked ? "ticked" : "not ticked"}.`;
  });
  draw(piece);
}
const told = document.getElementById("progress");
async function ask() {
  try {
    const answer = await fetch(told.dataset.progress, { credentials: "same-origin" });
    const words = await answer.text();
    if (answer.ok && words === "done") { location.reload(); return; }
    if (answer.ok) told.textContent = words;
  } catch { /* the shop's network comes and goes: ask again */ }
  setTimeout(ask, 1500);
}
if (told) ask();
