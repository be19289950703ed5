// On every screen: how many wait on this phone, whose they are, and the part of the program that opens without a signal.
import { onChange, sendAll, waiting } from "./queue.js";

const line = document.getElementById("on-this-phone");
const body = document.body.dataset;
let signedOut = false;

if (body.mePk) localStorage.setItem("witnessmark-me", JSON.stringify({ pk: body.mePk, name: body.meName }));
else if (body.stranger !== undefined) localStorage.removeItem("witnessmark-me");

const plural = (n, what) => (n === 1 ? `1 ${what}` : `${n} ${what}s`);
function sentence(entries) {
  const going = entries.filter((each) => !each.why);
  const pictures = going.filter((each) => each.json).length;
  const what = pictures === going.length ? "picture" : pictures ? "thing" : "sheet";
  const said = [];
  if (going.length) {
    const others = [...new Set(going.map((each) => each.who.name).filter((name) => name && body.mePk && name !== body.meName))];
    const wait = `${plural(going.length, what)} ${going.length === 1 ? "waits" : "wait"}`;
    if (others.length && signedOut) said.push(`${wait} on this phone for ${others.join(" and ")} to sign in.`);
    else if (signedOut) said.push(`${wait} on this phone for you to sign in.`);
    else said.push(`${wait} for a signal.`);
  }
  const refused = entries.length - going.length;
  if (refused) said.push(refused === 1 ? "1 needs you." : `${refused} need you.`);
  return said.join(" ");
}
async function show() {
  const entries = await waiting();
  line.textContent = sentence(entries);
  line.hidden = entries.length === 0;
  document.body.dataset.waiting = String(entries.filter((each) => !each.why).length);
  document.body.dataset.needsYou = String(entries.filter((each) => each.why).length);
}
onChange((act_id, outcome) => {
  if (outcome.signedOut) signedOut = true;
  if (outcome.gone) signedOut = false;
  show();
});
show().catch(() => {
  // a private window keeps nothing: the screen of pictures says so when one is taken
});
sendAll().catch(() => false);

if (globalThis.isSecureContext && "serviceWorker" in navigator) {
  navigator.serviceWorker.register("/sw.js", { updateViaCache: "none" }).catch(() => {
    // a certificate that the phone does not trust yet: everything works but opening without a signal, as /certificate/ says
  });
}
