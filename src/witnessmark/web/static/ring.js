// A ring on a picture: drawn round the damage with a finger or the mouse, or moved with the arrow keys.
// It is kept in four fields as shares of the picture; the picture is sent as it was taken.
const frame = document.querySelector("[data-ring]");
const form = frame?.closest("form");
const field = (name) => form.elements.namedItem(name);
const shape = frame?.querySelectorAll("ellipse") ?? [];
const picture = frame?.querySelector("img");
const file = form?.querySelector("input[type=file]");
const least = 0.01;
let path = null;

function read() {
  const values = ["ring_across", "ring_down", "ring_half_wide", "ring_half_high"].map((name) => Number.parseFloat(field(name).value));
  return values.every(Number.isFinite) ? values.map((v) => v / 100) : null;
}

function draw() {
  const ring = read();
  frame.querySelector("svg").toggleAttribute("hidden", ring === null);
  if (!ring) return;
  for (const one of shape) ["cx", "cy", "rx", "ry"].forEach((name, n) => one.setAttribute(name, String(ring[n] * 100)));
}

function put(across, down, wide, high) {
  const half = (v) => Math.min(0.5, Math.max(least, v));
  const whole = (v) => Math.min(1, Math.max(0, v));
  const values = [whole(across), whole(down), half(wide), half(high)];
  ["ring_across", "ring_down", "ring_half_wide", "ring_half_high"].forEach((name, n) => { field(name).value = (100 * values[n]).toFixed(1); });
  draw();
}

function at(event) {
  const box = picture.getBoundingClientRect();
  return [(event.clientX - box.left) / box.width, (event.clientY - box.top) / box.height];
}

function round(points) {
  const x = points.map((p) => p[0]);
  const y = points.map((p) => p[1]);
  const [left, right, top, bottom] = [Math.min(...x), Math.max(...x), Math.min(...y), Math.max(...y)];
  const box = picture.getBoundingClientRect();
  const tap = (right - left) * box.width < 12 && (bottom - top) * box.height < 12;
  if (tap) put(left, top, 0.12, (0.12 * box.width) / box.height);
  else put((left + right) / 2, (top + bottom) / 2, (right - left) / 2, (bottom - top) / 2);
}

if (frame) {
  frame.addEventListener("pointerdown", (event) => {
    path = [at(event)];
    frame.setPointerCapture(event.pointerId);
    event.preventDefault();
    frame.focus({ preventScroll: true });
  });
  frame.addEventListener("pointermove", (event) => {
    if (!path) return;
    path.push(at(event));
    if (path.length > 3) round(path);
  });
  frame.addEventListener("pointerup", (event) => {
    if (!path) return;
    path.push(at(event));
    round(path);
    path = null;
  });
  frame.addEventListener("pointercancel", () => { path = null; });
  frame.addEventListener("keydown", (event) => {
    const [across, down, wide, high] = read() ?? [0.5, 0.5, 0.12, 0.12];
    const step = event.shiftKey ? 0.1 : 0.02;
    const to = {
      ArrowLeft: [across - step, down, wide, high], ArrowRight: [across + step, down, wide, high],
      ArrowUp: [across, down - step, wide, high], ArrowDown: [across, down + step, wide, high],
      "+": [across, down, wide + 0.02, high + 0.02], "-": [across, down, wide - 0.02, high - 0.02],
    }[event.key];
    if (!to) return;
    event.preventDefault();
    put(...to);
  });
  form.addEventListener("input", (event) => { if (event.target.name?.startsWith("ring_")) draw(); });
  const show = () => {
    const taken = file?.files?.[0];
    if (!taken) return;
    if (picture.src.startsWith("blob:")) URL.revokeObjectURL(picture.src);
    picture.src = URL.createObjectURL(taken);
    frame.hidden = false;
  };
  file?.addEventListener("change", show);
  show(); // chosen before this was read, or still chosen when the page came back
  draw();
}
