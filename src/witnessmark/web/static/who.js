// A line typed without a signal waits in this phone's queue, and the next line can be typed at once.
import { FullPhone, keep, number, onChange, sendAll, waiting } from "./queue.js";

const form = document.querySelector("form.line");
const list = document.getElementById("queued");
const two = (n) => String(n).padStart(2, "0");
const localDay = () => {
  const now = new Date();
  return `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}`;
};
const line = (words) => Object.assign(document.createElement("p"), { textContent: words });
async function show() {
  const here = (await waiting()).filter((each) => each.to === location.pathname);
  list.hidden = here.length === 0;
  list.replaceChildren(...here.map((each) => line(each.why ? `${each.say}: refused. ${each.why}` : `${each.say}: waits on this phone for a signal.`)));
}
async function later(event) {
  if (navigator.onLine) return;
  event.preventDefault();
  const fields = [...new FormData(form), ["typed_on", localDay()]].filter(([, value]) => !(value instanceof File && !value.size));
  const act_id = form.elements.act_id.value;
  try {
    await keep({ act_id, to: location.pathname, fields, say: `${form.elements.what.value}, with ${form.elements.whom.value}` });
  } catch (why) {
    list.hidden = false;
    list.append(line(why instanceof FullPhone ? why.message : `This browser keeps nothing (${why.message}). The line was not kept: it stands here still.`));
    return;
  }
  form.reset();
  form.elements.act_id.value = number(); // each line is an act of its own
  form.elements.what.focus();
}
if (form && list) {
  form.addEventListener("submit", later);
  onChange(show);
  show();
  sendAll().catch(() => false);
}
