// A calliper that types like a keyboard sends its figure and Enter: Enter goes on to the next empty figure, and at the
// last one sends the form. The big keys type into the figure that was touched last, for hands in gloves.
for (const form of document.querySelectorAll("form.calliper")) {
  const figures = [...form.querySelectorAll("input[inputmode=decimal]")];
  const shown = () => figures.filter((figure) => !figure.closest("details:not([open])"));
  let at = figures[0];
  const on = () => {
    const rest = shown();
    const next = rest.slice(rest.indexOf(at) + 1).find((figure) => !figure.value.trim());
    if (next) {
      next.focus();
      next.select();
      next.scrollIntoView({ block: "center" });
    } else {
      form.requestSubmit();
    }
  };
  for (const figure of figures) {
    figure.addEventListener("focus", () => { at = figure; });
    figure.addEventListener("keydown", (event) => {
      if (event.key !== "Enter" || !figure.value.trim()) return;
      event.preventDefault();
      at = figure;
      on();
    });
  }
  const keys = form.querySelector(".keys");
  if (!keys) continue;
  keys.classList.add("on");
  // While the big keys type, the phone's own keyboard stays down, for it would lie over them; a touched figure asks for it.
  for (const figure of figures) figure.addEventListener("pointerdown", () => { figure.inputMode = "decimal"; });
  keys.addEventListener("pointerdown", () => { for (const figure of figures) figure.inputMode = "none"; });
  keys.addEventListener("click", (event) => {
    const key = event.target instanceof Element && event.target.closest("button[data-key]");
    if (!key || !at) return;
    if (key.dataset.key === "next") on();
    else if (key.dataset.key === "←") at.value = at.value.slice(0, -1);
    else at.value += key.dataset.key;
  });
}
