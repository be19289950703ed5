// The camera stays open: one press a picture. Without it, or without this script, the form does the same with more presses.
import { send } from "./sending.js";

const page = document.querySelector("#take");
const form = page.querySelector("form.chosen");
const told = page.querySelector(".told");
const opened = page.querySelector(".open");
const finder = page.querySelector(".finder");
const video = finder.querySelector("video");
const shutter = finder.querySelector(".shutter");
const speak = finder.querySelector(".speak");
let stream = null;
let under_way = 0;
let said = null;

function tell(text, refused = false) {
  const line = document.createElement("li");
  line.textContent = text;
  if (refused) line.className = "refused";
  told.prepend(line);
  while (told.children.length > 8) told.lastElementChild.remove();
  return line;
}

// What may be done next stands beside the line, so that nobody has to open the page afresh for it.
function link(address, words) {
  const made = document.createElement("a");
  made.href = address;
  made.textContent = words;
  return made;
}

function tellKept(each, waits) {
  const line = tell(each.line);
  for (const { tag } of each.tags ?? []) line.append(" ", link(`/piece/${encodeURIComponent(tag)}/`, `Open ${tag}`));
  if (waits?.not_said) line.append(" ", link("/in/said/", "Say what they are"));
}

// The phone has it before it is shown as taken; the shop's answer follows when there is a signal.
async function bring(picture, name, taken_at) {
  under_way += 1;
  page.dataset.underWay = String(under_way);
  const sound = said;
  said = null;
  try {
    const { outcome } = await send({ picture, name, taken_at, sound });
    page.dataset.taken = String(Number(page.dataset.taken || 0) + 1);
    if (!navigator.onLine) tell(`${name} is on this phone. It goes when the signal is back.`);
    outcome.then((told) => {
      for (const each of told.gone?.kept ?? []) tellKept(each, told.gone.waits);
      if (told.refused) tell(told.refused, true);
      page.dataset.kept = String(Number(page.dataset.kept || 0) + (told.gone?.kept.length ?? 0));
    });
  } catch (error) {
    said = sound;
    tell(`${name}: ${error.message}`, true);
  } finally {
    under_way -= 1;
    page.dataset.underWay = String(under_way);
  }
}

for (const input of form.querySelectorAll("input[type=file]")) {
  input.addEventListener("change", async () => {
    const files = [...input.files];
    input.value = "";
    for (const file of files) await bring(file, file.name, new Date(file.lastModified).toISOString());
  });
}
form.querySelector(".send").hidden = true;
for (const input of form.querySelectorAll("input[type=file]")) input.required = false;

async function picture() {
  const track = stream.getVideoTracks()[0];
  if ("ImageCapture" in window) {
    try {
      return await new ImageCapture(track).takePhoto(); // the sensor's own picture, larger than the moving one
    } catch {
      // some cameras give the moving picture alone
    }
  }
  const canvas = document.createElement("canvas");
  canvas.width = video.videoWidth;
  canvas.height = video.videoHeight;
  canvas.getContext("2d").drawImage(video, 0, 0);
  return new Promise((done) => canvas.toBlob(done, "image/jpeg", 0.92));
}

if (window.isSecureContext && navigator.mediaDevices) {
  opened.hidden = false;
  form.querySelector(".first").className = "word first";
  form.querySelector(".first small").remove();
  opened.addEventListener("click", async () => {
    try {
      stream = await navigator.mediaDevices.getUserMedia({
        video: { facingMode: "environment", width: { ideal: 4096 }, height: { ideal: 3072 } },
      });
    } catch (error) {
      tell(`The camera cannot be opened: ${error.message}. Use the camera's own picture below.`, true);
      return;
    }
    video.srcObject = stream;
    await video.play();
    opened.hidden = true;
    finder.hidden = false;
    finder.scrollIntoView({ block: "start" });
    shutter.focus({ preventScroll: true });
  });
  shutter.addEventListener("click", async () => {
    const at = new Date();
    const shot = await picture();
    finder.classList.add("shot");
    setTimeout(() => finder.classList.remove("shot"), 120);
    if (shot) bring(shot, `picture ${at.toISOString().slice(0, 19)}.jpg`, at.toISOString());
  });
  if ("MediaRecorder" in window) {
    speak.hidden = false;
    let recorder = null;
    speak.addEventListener("click", async () => {
      if (recorder) {
        recorder.stop();
        return;
      }
      let heard;
      try {
        heard = await navigator.mediaDevices.getUserMedia({ audio: true });
      } catch (error) {
        tell(`Nothing can be heard: ${error.message}.`, true);
        return;
      }
      const parts = [];
      recorder = new MediaRecorder(heard);
      recorder.addEventListener("dataavailable", (event) => parts.push(event.data));
      recorder.addEventListener("stop", () => {
        for (const track of heard.getTracks()) track.stop();
        said = new Blob(parts, { type: recorder.mimeType });
        recorder = null;
        speak.textContent = "Said: it goes with the next picture. Say it anew";
        speak.setAttribute("aria-pressed", "false");
      });
      recorder.start();
      speak.textContent = "Listening. Press when it is said";
      speak.setAttribute("aria-pressed", "true");
    });
  }
}
