// Big keys for gloves. A calliper that types, and the phone's own keys, work without them.
const field = document.querySelector("#value");
const keys = document.querySelector(".keys");
if (field && keys) {
  keys.hidden = false;
  keys.addEventListener("click", (event) => {
    const key = event.target instanceof Element && event.target.closest("[data-key]")?.getAttribute("data-key");
    if (!key) return;
    field.value = key === "back" ? field.value.slice(0, -1) : field.value + key;
  });
}
