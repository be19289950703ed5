// The picture of a tag sends itself.
const input = document.querySelector(".chosen input[type=file]");
if (input) {
  input.form.querySelector(".send").hidden = true;
  input.addEventListener("change", () => input.form.requestSubmit());
}
