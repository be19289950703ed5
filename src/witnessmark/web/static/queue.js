// What is taken or filled in on this phone waits in the phone's own store until the shop names it back, and goes once.
// It is on the phone's disk before anything is shown as taken. Each has its act's number, so sending again is harmless.
const BASE = "witnessmark";
const BETWEEN = [2, 4, 8, 15, 30, 60]; // seconds between tries while there is no signal
const LEASE_MS = 40_000;
const mine = number();
const heard = "BroadcastChannel" in globalThis ? new BroadcastChannel(BASE) : null;
const outcomes = new Map();
const listeners = new Set();
let tries = 0;
let timer = 0;

// crypto.randomUUID exists on https and on this machine alone; a shop on plain http makes the number by hand.
export function number() {
  if (crypto.randomUUID) return crypto.randomUUID();
  const b = crypto.getRandomValues(new Uint8Array(16));
  b[6] = (b[6] & 0x0f) | 0x40;
  b[8] = (b[8] & 0x3f) | 0x80;
  const hex = [...b].map((n) => n.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}

let opened = null;
function open() {
  opened ??= new Promise((done, failed) => {
    const asked = indexedDB.open(BASE, 1);
    asked.onupgradeneeded = () => {
      asked.result.createObjectStore("waiting", { keyPath: "n", autoIncrement: true }).createIndex("act_id", "act_id", { unique: true });
      asked.result.createObjectStore("fields", { keyPath: "n" }); // the bytes lie apart: counting what waits must not load them
      asked.result.createObjectStore("lease", { keyPath: "what" });
    };
    asked.onsuccess = () => {
      asked.result.onclose = () => { opened = null; };
      done(asked.result);
    };
    asked.onerror = () => failed(asked.error);
    asked.onblocked = () => failed(new Error("another page holds the phone's store"));
  }).catch((error) => { opened = null; throw error; });
  return opened;
}

// Resolves when the transaction is whole, not when its requests are answered: only then is it on the disk.
async function inStore(mode, use) {
  const base = await open();
  return new Promise((done, failed) => {
    const doing = base.transaction(["waiting", "fields", "lease"], mode, { durability: mode === "readwrite" ? "strict" : "default" });
    const result = {};
    use(doing.objectStore("waiting"), doing.objectStore("fields"), doing.objectStore("lease"), result);
    doing.oncomplete = () => done(result.value);
    doing.onabort = () => failed(doing.error ?? new Error("the phone's store did not take it"));
  });
}
const answered = (asked, result) => { asked.onsuccess = () => { result.value = asked.result; }; };

export const waiting = () => inStore("readonly", (w, f, l, result) => answered(w.getAll(), result));
export const fieldsOf = async (n) => (await inStore("readonly", (w, f, l, result) => answered(f.get(n), result)))?.fields ?? [];
const next = (n) => inStore("readonly", (w, f, l, result) => answered(w.get(IDBKeyRange.lowerBound(n, true)), result));
const noted = (entry) => inStore("readwrite", (w) => w.put(entry));
const gone = (n) => inStore("readwrite", (w, f) => { w.delete(n); f.delete(n); });
export const onChange = (told) => listeners.add(told);

// Tells this page and the others what became of one that waited: {kept}, {gone: the answer}, {refused: why}, {signedOut}, {noSignal}.
function changed(act_id, outcome) {
  heard?.postMessage({ act_id, outcome });
  noticed(act_id, outcome);
}
function noticed(act_id, outcome) {
  if (outcome.gone || outcome.refused) {
    outcomes.get(act_id)?.(outcome);
    outcomes.delete(act_id);
  }
  for (const told of listeners) told(act_id, outcome);
}
if (heard) heard.onmessage = (event) => noticed(event.data.act_id, event.data.outcome);

export const me = () => {
  try { return JSON.parse(localStorage.getItem(`${BASE}-me`)) ?? {}; } catch { return {}; }
};

// Keep one thing to send. Fields are [name, text] or [name, Blob, file name]; the bytes are read now, so that a picture that
// cannot be read is not said to be kept. Throws FullPhone when the phone has no room: then nothing was kept.
// Gives {outcome}: a promise of what the shop answers, for as long as this page is open.
export class FullPhone extends Error {}
export async function keep({ act_id, to, fields, say, json = false }) {
  const read = await readAll(fields);
  const entry = { act_id, to, say, json, who: me(), kept_at: new Date().toISOString(), why: "", other: false };
  const outcome = new Promise((done) => outcomes.set(act_id, done));
  try {
    await inStore("readwrite", (w, f) => { w.add(entry).onsuccess = (event) => f.add({ n: event.target.result, fields: read }); });
  } catch (error) {
    outcomes.delete(act_id);
    if (error?.name !== "QuotaExceededError") throw error;
    throw new FullPhone("This phone is full: it was not kept. Free some room on the phone, then take it again.");
  }
  navigator.storage?.persist?.().catch(() => false); // asks the browser not to clear the store by itself
  changed(act_id, { kept: true });
  return { outcome };
}
const readAll = (fields) => Promise.all(fields.map(async ([name, value, called]) =>
  value instanceof Blob ? [name, { bytes: await value.arrayBuffer(), type: value.type, called: called ?? value.name ?? name }] : [name, value]));
export const discard = async (n) => { await gone(n); changed("", { kept: false }); };

// What was refused goes again as it is; what the shop holds otherwise under this number goes as a new act.
export async function again(entry) {
  const act_id = entry.other ? number() : entry.act_id;
  const fields = (await fieldsOf(entry.n)).map(([name, value]) => [name, name === "act_id" ? act_id : value]);
  await inStore("readwrite", (w, f) => {
    w.put({ ...entry, act_id, why: "", other: false });
    f.put({ n: entry.n, fields });
  });
  changed(act_id, { kept: true });
  return sendAll();
}

// One sender at a time among the pages that are open: by the browser's lock, or by a row with a time where there is none.
async function alone(work) {
  if (navigator.locks) return navigator.locks.request(`${BASE}-sender`, { ifAvailable: true }, (lock) => (lock ? work() : false));
  if (!(await lease())) return false;
  const renew = setInterval(() => lease().catch(() => false), LEASE_MS / 4);
  try {
    return await work();
  } finally {
    clearInterval(renew);
    await inStore("readwrite", (w, f, l) => l.delete("sender"));
  }
}
const lease = () => inStore("readwrite", (w, f, l, result) => {
  result.value = false;
  l.get("sender").onsuccess = (event) => {
    const row = event.target.result;
    const left = row ? row.until - Date.now() : 0;
    if (row && row.by !== mine && left > 0 && left <= LEASE_MS) return; // a clock that was put back must not bar it for ever
    result.value = true;
    l.put({ what: "sender", by: mine, until: Date.now() + LEASE_MS });
  };
});

const token = () => document.cookie.match(/(?:^|; )csrftoken=([^;]+)/)?.[1] ?? "";

async function post(entry, fields) {
  const form = new FormData();
  let size = 0;
  for (const [name, value] of fields) {
    if (name === "csrfmiddlewaretoken") continue; // it may have aged while it waited; the header has today's
    if (value?.bytes) {
      form.append(name, new Blob([value.bytes], { type: value.type }), value.called);
      size += value.bytes.byteLength;
    } else form.append(name, value);
  }
  if (entry.json) {
    form.append("sent_at", new Date().toISOString());
    form.append("person", entry.who.pk ?? "");
  }
  const stop = new AbortController();
  const late = setTimeout(() => stop.abort(), 60_000 + size / 10); // a line slower than 10 kB/s is no signal
  try {
    const answer = await fetch(entry.to, {
      method: "POST", body: form, signal: stop.signal, credentials: "same-origin", redirect: entry.json ? "error" : "follow",
      headers: { Accept: entry.json ? "application/json" : "text/html", "X-CSRFToken": token() },
    });
    return { answer, text: await answer.text() };
  } finally {
    clearTimeout(late);
  }
}

const plain = (text, status) => {
  const page = new DOMParser().parseFromString(text, "text/html");
  return page.querySelector("main")?.textContent.replace(/\s+/g, " ").trim() || `The shop answered ${status}.`;
};
const parsed = (text) => { try { return JSON.parse(text); } catch { return null; } };

// What an answer means for the entry: gone (the shop has it), refused (a person has to look), later, or signed out.
function meaning(entry, answer, text) {
  const told = entry.json ? parsed(text) : null;
  if (answer.ok && entry.json) return told?.act_id === entry.act_id && told.kept?.length ? { gone: told } : { later: true };
  if (answer.ok) return new URL(answer.url).pathname.startsWith("/sign-in/") ? { signedOut: true } : { gone: {} };
  if (answer.status === 401) return { signedOut: true };
  if (answer.status === 403 && !told && entry.json) return { signedOut: true, token: true };
  if ([400, 403, 409, 413, 415, 422].includes(answer.status)) {
    return { refused: told?.refused?.[0]?.why ?? plain(text, answer.status), other: answer.status === 409 };
  }
  return { later: true };
}

async function one(entry, fields) {
  let { answer, text } = await post(entry, fields);
  let means = meaning(entry, answer, text);
  if (means.token) { // the token changed with a new sign-in: fetch today's, once
    await fetch("/waiting/", { credentials: "same-origin", cache: "no-store" });
    ({ answer, text } = await post(entry, fields));
    means = meaning(entry, answer, text);
  }
  return means;
}

// Where the phone's store takes nothing (full, or a private window): send at once, or throw; the phone keeps nothing of it.
export async function straight({ act_id, to, fields }) {
  const means = await one({ act_id, to, json: true, who: me() }, await readAll(fields));
  if (means.gone || means.refused) return means;
  throw new Error(means.signedOut ? "you are signed out" : "the shop did not take it");
}

// Send what waits, oldest first. Gives how many went; false where another page is sending.
export async function sendAll() {
  clearTimeout(timer);
  let went = 0;
  const sent = await alone(async () => {
    const asleep = new Set(); // people who have to sign in again before theirs can go
    for (let entry = await next(0); entry; entry = await next(entry.n)) {
      if (entry.why || asleep.has(entry.who.pk)) continue;
      const means = await one(entry, await fieldsOf(entry.n)); // without a signal this throws, and everything stays
      if (means.gone) {
        await gone(entry.n);
        went += 1;
        tries = 0;
        changed(entry.act_id, means);
      } else if (means.refused) {
        await noted({ ...entry, why: means.refused, other: means.other });
        changed(entry.act_id, means);
      } else if (means.signedOut) {
        asleep.add(entry.who.pk);
        changed(entry.act_id, means);
      }
    }
    return went;
  }).catch((error) => {
    changed("", { noSignal: error.message });
    return went;
  });
  if ((await waiting()).some((entry) => !entry.why)) {
    timer = setTimeout(sendAll, 1000 * BETWEEN[Math.min(tries, BETWEEN.length - 1)] * (0.8 + 0.4 * Math.random()));
    tries += 1;
  }
  return sent;
}

const soon = () => { tries = 0; sendAll().catch(() => false); };
addEventListener("online", soon);
document.addEventListener("visibilitychange", () => { if (!document.hidden) soon(); });
