// Big keys for hands in gloves, alike on every page and laid as on a phone: they type into the figure touched last. A
// calliper that types, and the phone's own keys, work without them.
for (const pad of document.querySelectorAll(".keys")) {
  const form = pad.closest("form");
  const figures = [...form.querySelectorAll("input[inputmode=decimal]")];
  if (!figures.length) continue;
  let at = figures.find((figure) => figure === document.activeElement || figure.autofocus) ?? figures[0];
  pad.hidden = false;
  for (const figure of figures) {
    figure.addEventListener("focus", () => { at = figure; });
    // While the big keys type, the phone's own keyboard stays down, for it would lie over them; a touched figure asks for it.
    figure.addEventListener("pointerdown", () => { figure.inputMode = "decimal"; });
  }
  pad.addEventListener("pointerdown", () => { for (const figure of figures) figure.inputMode = "none"; });
  pad.addEventListener("click", (event) => {
    const key = event.target instanceof Element && event.target.closest("button[data-key]")?.dataset.key;
    if (!key) return;
    if (key === "next") form.dispatchEvent(new Event("nextfigure"));
    else at.value = key === "←" ? at.value.slice(0, -1) : at.value + key;
  });
}
