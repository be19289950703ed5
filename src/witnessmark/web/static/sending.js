// One picture to the shop, by way of this phone's own queue: it is on the phone before it is shown as taken.
import { FullPhone, keep, number, sendAll, straight } from "./queue.js";

// Gives {outcome}: a promise of what the shop answers, for as long as this page is open. Throws when nothing was kept anywhere.
export async function send({ picture, name, taken_at, sound }) {
  const act_id = number();
  const fields = [
    ["act_id", act_id],
    ["picture", picture, name],
    ["taken_at", taken_at],
    ["device", navigator.userAgent.slice(0, 80)],
    ...(sound ? [["sound", sound, "note"]] : []),
  ];
  const item = { act_id, to: "/in/", fields, say: name, json: true };
  try {
    const { outcome } = await keep(item);
    sendAll().catch(() => false);
    return { outcome };
  } catch (why) {
    const full = why instanceof FullPhone;
    try {
      return { outcome: Promise.resolve(await straight(item)) };
    } catch (error) {
      throw new Error(
        full ? why.message : `this browser keeps nothing (${why.message}), and ${error.message}. It was not kept. Take it again with a signal, or outside a private window.`,
      );
    }
  }
}
