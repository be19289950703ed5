// A calliper that types like a keyboard sends its figure and Enter: Enter goes on to the next empty figure, and at the
// last one sends the form. The page opens with the first empty figure in focus, so that the first one typed is not lost.
for (const form of document.querySelectorAll("form.calliper")) {
  const figures = [...form.querySelectorAll("input[inputmode=decimal]")];
  const shown = () => figures.filter((figure) => !figure.closest("details:not([open])"));
  let at = form.querySelector("input[autofocus]") ?? shown().find((figure) => !figure.value.trim()) ?? figures[0];
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
  form.addEventListener("nextfigure", on);
  for (const figure of figures) {
    figure.addEventListener("focus", () => { at = figure; });
    figure.addEventListener("keydown", (event) => {
      if (event.key !== "Enter" || !figure.value.trim()) return;
      event.preventDefault();
      at = figure;
      on();
    });
  }
  at?.focus({ preventScroll: true });
}
