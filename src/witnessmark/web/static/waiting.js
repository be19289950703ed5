// What waits on this phone, shown from the phone alone: send again, save to the phone, throw away.
import { again, discard, fieldsOf, onChange, waiting } from "./queue.js";

const list = document.getElementById("waiting");
const nothing = document.getElementById("nothing");
const missing = document.getElementById("missing");
const how = document.getElementById("how");
let drawn = [];

function word(text, press) {
  const button = document.createElement("button");
  button.type = "button";
  button.className = "word";
  button.textContent = text;
  button.addEventListener("click", () => press(button));
  return button;
}
const p = (text, of = "") => Object.assign(document.createElement("p"), { textContent: text, className: of });

async function row(entry) {
  const line = document.createElement("li");
  const words = Object.assign(document.createElement("div"), { className: "words" });
  const picture = (await fieldsOf(entry.n)).find(([name, value]) => name === "picture" && value?.bytes)?.[1];
  const at = new Date(entry.kept_at).toLocaleString(document.documentElement.lang, { day: "numeric", month: "short", hour: "2-digit", minute: "2-digit" });
  line.append(p(`${entry.say}, ${at}${entry.who.name ? `, by ${entry.who.name}` : ""}`));
  if (picture) {
    const url = URL.createObjectURL(new Blob([picture.bytes], { type: picture.type }));
    drawn.push(url);
    const image = Object.assign(document.createElement("img"), { src: url, alt: `${entry.say}, as it lies on this phone`, loading: "lazy" });
    image.addEventListener("error", () => image.remove());
    line.append(image);
    const save = Object.assign(document.createElement("a"), { className: "word", href: url, download: picture.called, textContent: "Save it to this phone" });
    words.append(save);
  }
  if (entry.why) {
    line.append(p(entry.why, "refused"));
    words.prepend(word("Send it again", () => again(entry)));
    words.append(word("Throw it away", (button) => {
      if (button.dataset.asked) discard(entry.n);
      else {
        button.dataset.asked = "1";
        button.textContent = "Press once more: it is gone then";
      }
    }));
  } else line.append(p("Waits for a signal. It goes by itself."));
  line.append(words);
  return line;
}

async function show() {
  const entries = await waiting();
  const old = drawn;
  drawn = [];
  const shown = [...entries.filter((each) => each.why), ...entries.filter((each) => !each.why)].slice(0, 40);
  list.replaceChildren(...(await Promise.all(shown.map(row))));
  for (const url of old) URL.revokeObjectURL(url);
  nothing.hidden = entries.length > 0;
  if (entries.length > shown.length) list.append(p(`And ${entries.length - shown.length} more.`));
}
let shows = 0;
onChange(() => {
  clearTimeout(shows);
  shows = setTimeout(show, 200);
});
show();

if (location.pathname !== "/waiting/" && location.pathname !== "/in/") {
  missing.hidden = false;
  missing.textContent = `${decodeURI(location.pathname)} is not kept on this phone. It opens when the signal is back; pictures can be taken meanwhile.`;
}
how.textContent = globalThis.isSecureContext
  ? "This page opens without a signal, too, also after the phone was off."
  : "This page came without the shop's certificate: what was taken is kept when the browser closes, but the page itself opens only with a signal. Take pictures before you close it, or put the certificate on this phone.";
