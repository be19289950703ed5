// Old pictures by the thousand: they are on the phone anyway, so none is copied into its store; one after the other goes to the
// shop, and each is tried again while there is no signal. Chosen again, what is in already is passed over.
import { number, straight } from "./queue.js";

const place = document.querySelector("#bring");
const form = place?.querySelector("#old-in");
const told = place?.querySelector(".told");
const stop = place?.querySelector(".stop");
const KINDS = /\.(jpe?g|png|webp|tiff?|heic|heif)$/i;
const BETWEEN = [2, 4, 8, 15, 30, 60]; // seconds between tries while there is no signal
let stopped = false;

function line(text, refused = false) {
  const one = document.createElement("li");
  one.textContent = text;
  if (refused) one.className = "refused";
  told.append(one);
  return one;
}
const wait = (seconds) => new Promise((done) => { setTimeout(done, 1000 * seconds); });

async function one(file) {
  for (let tries = 0; !stopped; tries += 1) {
    const act_id = number();
    const fields = [["act_id", act_id], ["picture", file, file.name], ["taken_at", new Date(file.lastModified).toISOString()]];
    try {
      return await straight({ act_id, to: "/pictures/old/", fields });
    } catch (error) {
      if (error.message.includes("signed out")) throw error;
      if (error.name === "NotReadableError" || error.name === "NotFoundError") return { refused: `${file.name} cannot be read any more. Nothing of it was kept.` };
      progress.textContent = `No signal. ${file.name} is tried again.`;
      await wait(BETWEEN[Math.min(tries, BETWEEN.length - 1)]);
    }
  }
  return {};
}

let progress = null;
async function bring(files) {
  const pictures = files.filter((file) => KINDS.test(file.name) || file.type.startsWith("image/"));
  const counts = { kept: 0, before: 0, refused: 0 };
  stopped = false;
  stop.hidden = false;
  told.replaceChildren();
  progress = line("");
  try {
    for (const [at, file] of pictures.entries()) {
      if (stopped) break;
      progress.textContent = `${at} of ${pictures.length} are through.`;
      const means = await one(file);
      const kept = means.gone?.kept[0];
      if (kept) counts[kept.new ? "kept" : "before"] += 1;
      if (kept?.doubt || kept?.asks) line(kept.line);
      if (means.refused) {
        counts.refused += 1;
        line(means.refused, true);
      }
    }
    const others = files.length - pictures.length;
    progress.textContent = `${counts.kept} came in, ${counts.before} were here before, ${counts.refused} could not be kept.${others ? ` ${others} other files were passed over.` : ""}${stopped ? " Stopped: choose the same again to go on." : ""}`;
  } catch (error) {
    progress.textContent = `${error.message}: ${counts.kept} came in. Sign in, and choose the same again.`;
  }
  stop.hidden = true;
  place.dataset.through = String(counts.kept + counts.before + counts.refused);
  if (counts.kept) {
    const look = document.createElement("a");
    look.className = "word";
    look.href = "/pictures/unsorted/";
    look.textContent = "Look at them";
    told.append(Object.assign(document.createElement("li"), {}));
    told.lastElementChild.append(look);
  }
}

if (form) {
  form.querySelector(".send").hidden = true;
  form.querySelector(".folder").hidden = !("webkitdirectory" in HTMLInputElement.prototype);
  for (const input of form.querySelectorAll("input[type=file]")) {
    input.addEventListener("change", async () => {
      const files = [...input.files];
      await bring(files);
      input.value = "";
    });
  }
  stop.addEventListener("click", () => { stopped = true; });
  place.dataset.ready = "yes";
}
