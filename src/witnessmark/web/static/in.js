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
}

async function bring(picture, name, taken_at) {
  under_way += 1;
  page.dataset.underWay = String(under_way);
  try {
    const sound = said;
    said = null;
    const answer = await send({ act_id: crypto.randomUUID ? crypto.randomUUID() : uuid(), picture, name, taken_at, sound });
    for (const each of answer.kept) tell(each.line);
    for (const each of answer.refused) tell(each.why, true);
    if (answer.line) tell(answer.line);
    page.dataset.kept = String(Number(page.dataset.kept || 0) + answer.kept.length);
  } catch (error) {
    tell(`${name} did not get through: ${error.message}. Take it again, or try when the signal is back.`, true);
  } finally {
    under_way -= 1;
    page.dataset.underWay = String(under_way);
  }
}

// crypto.randomUUID exists on https and on this machine alone; a shop on plain http makes the number by hand.
function uuid() {
  const b = crypto.getRandomValues(new Uint8Array(16));
  b[6] = (b[6] & 0x0f) | 0x40;
  b[8] = (b[8] & 0x3f) | 0x80;
  const hex = [...b].map((n) => n.toString(16).padStart(2, "0")).join("");
  return `${hex.slice(0, 8)}-${hex.slice(8, 12)}-${hex.slice(12, 16)}-${hex.slice(16, 20)}-${hex.slice(20)}`;
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
