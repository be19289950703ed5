// At a counter without a signal: what was filled in waits in this phone's queue and goes when the signal returns.
import { discard, keep, number, onChange, sendAll, waiting } from "./queue.js";

const list = document.getElementById("queued");
const show = async () => {
  const here = (await waiting()).filter((each) => each.to === location.pathname);
  list.hidden = here.length === 0;
  list.replaceChildren(...here.map((form) => {
    const line = document.createElement("p");
    line.textContent = form.why ? `${form.say}: refused. ${form.why}` : `${form.say}: waits on this phone for a signal.`;
    if (form.why) {
      const drop = document.createElement("button");
      drop.className = "word";
      drop.textContent = "Throw it away";
      drop.addEventListener("click", () => discard(form.n));
      line.append(" ", drop);
    }
    return line;
  }));
};
onChange((act_id, outcome) => (outcome.gone ? location.reload() : show()));
document.addEventListener("submit", async (event) => {
  const from = event.target;
  if (!(from instanceof HTMLFormElement) || from.method !== "post" || navigator.onLine) return;
  event.preventDefault();
  const fields = [...new FormData(from, event.submitter)];
  const act_id = fields.find(([name]) => name === "act_id")?.[1] ?? number();
  await keep({ act_id, to: location.pathname, fields, say: event.submitter?.textContent.trim() ?? "A form" });
});
show();
sendAll();
