// At a counter without a signal: what was filled in waits in this phone's own store and goes when the signal returns.
// They go in the order in which they were filled in; each has its act's number, so that what is sent twice is recorded once.
const list = document.getElementById("queued");
const open = () => new Promise((done, failed) => {
  const asked = indexedDB.open("witnessmark-counter", 1);
  asked.onupgradeneeded = () => asked.result.createObjectStore("forms", { keyPath: "at", autoIncrement: true });
  asked.onsuccess = () => done(asked.result);
  asked.onerror = () => failed(asked.error);
});
const store = async (mode, use) => {
  const base = await open();
  return new Promise((done, failed) => {
    const asked = use(base.transaction("forms", mode).objectStore("forms"));
    asked.onsuccess = () => done(asked.result);
    asked.onerror = () => failed(asked.error);
  });
};
const body = (fields) => {
  const data = new FormData();
  for (const [name, value] of fields) data.append(name, value);
  return data;
};
const show = async () => {
  const waiting = await store("readonly", (s) => s.getAll());
  list.hidden = waiting.length === 0;
  list.replaceChildren(...waiting.map((form) => {
    const line = document.createElement("p");
    line.textContent = form.why ? `${form.say}: refused. ${form.why}` : `${form.say}: waits on this phone for a signal.`;
    if (form.why) {
      const drop = document.createElement("button");
      drop.className = "word";
      drop.textContent = "Throw it away";
      drop.addEventListener("click", async () => { await store("readwrite", (s) => s.delete(form.at)); show(); });
      line.append(" ", drop);
    }
    return line;
  }));
};
const send = async (form) => {
  const answer = await fetch(form.to, { method: "POST", body: body(form.fields) });
  if (answer.ok) return "";
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  return (page.querySelector("main [role=alert] .say") ?? page.querySelector("main"))?.innerText.trim() || `The shop answered ${answer.status}.`;
};
let sending = false;
const sendAll = async () => {
  if (sending) return;
  sending = true;
  let sent = 0;
  try {
    for (const form of await store("readonly", (s) => s.getAll())) {
      if (form.why) continue;
      form.why = await send(form); // no signal throws: it stays and is tried again
      if (form.why) await store("readwrite", (s) => s.put(form));
      else { await store("readwrite", (s) => s.delete(form.at)); sent += 1; }
    }
  } catch { /* still no signal */ } finally { sending = false; }
  await show();
  if (sent) location.reload();
};
document.addEventListener("submit", async (event) => {
  const from = event.target;
  if (!(from instanceof HTMLFormElement) || from.method !== "post" || navigator.onLine) return;
  event.preventDefault();
  const fields = [...new FormData(from, event.submitter)];
  await store("readwrite", (s) => s.add({ to: location.pathname, fields, say: event.submitter?.textContent.trim() ?? "A form", why: "" }));
  await show();
});
addEventListener("online", sendAll);
sendAll();
