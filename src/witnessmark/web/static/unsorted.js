// A picture is swiped to the right and goes to what is chosen, to the left and waits. The words under it are the same buttons:
// a swipe presses one. Without this script the form is posted as it stands.
const form = document.querySelector("#sorting");
const told = document.querySelector("#told");
const counted = document.querySelector("#counted");
const FAR = 0.28; // of a picture's width
const QUICK = 0.5; // px a millisecond
let under_way = false;
let keyboard = false; // who presses by key goes on with the next picture's button
form.addEventListener("keydown", () => { keyboard = true; });
form.addEventListener("pointerdown", () => { keyboard = false; });

const cards = () => [...form.querySelectorAll(".card:not(.gone)")];
const chosen = () => form.querySelector("[name=to]:checked") || form.elements.to_words.value.trim();

function back(card) {
  card.classList.remove("held", "right", "left");
  card.querySelector("img").style.transform = "";
}

function say(text) {
  told.textContent = text;
}

async function press(button) {
  if (under_way) return;
  under_way = true;
  form.setAttribute("aria-busy", "true");
  const fields = new FormData(form, button);
  try {
    const answer = await fetch(form.action, {
      method: "POST", body: fields, headers: { Accept: "application/json" }, credentials: "same-origin", redirect: "error",
    });
    const said = await answer.json();
    if (said.refused) {
      say(said.refused);
      for (const card of cards()) back(card);
      return;
    }
    say(said.told);
    counted.textContent = said.sentence;
    form.elements.act_id.value = said.act_id;
    for (const card of cards()) {
      if (!said.photos.includes(card.dataset.photo)) continue;
      card.classList.add("gone");
      card.querySelector("input").checked = false;
    }
    form.dataset.left = String(cards().length);
    const last = document.querySelector("#take-back");
    last.elements.act.value = said.last;
    last.hidden = !said.last;
    if (cards().length === 0) anew(said.to);
    if (keyboard) cards()[0]?.querySelector("button").focus({ preventScroll: true });
  } catch {
    say("No signal, or signed out: nothing was changed. Press it again when the shop answers.");
    for (const card of cards()) back(card);
  } finally {
    under_way = false;
    form.removeAttribute("aria-busy");
  }
}

// The next few, with what was chosen still chosen.
function anew(target) {
  const to = new URL(form.action);
  if (target) to.searchParams.set("to", target);
  location.assign(to);
}

// What is tapped counts, not what was typed for the pictures before.
for (const each of form.querySelectorAll("[name=to]")) each.addEventListener("change", () => { form.elements.to_words.value = ""; });


form.addEventListener("submit", (event) => {
  if (!event.submitter) return;
  event.preventDefault();
  const gives = event.submitter.name === "give_one" || event.submitter.value === "give";
  if (gives && !chosen()) {
    say("Say first what they show: tap one above, or write a tag.");
    (form.querySelector("[name=to]") ?? form.elements.to_words).focus();
    for (const card of cards()) back(card);
    return;
  }
  press(event.submitter);
});

for (const card of cards()) {
  const slide = card.querySelector(".slide");
  const picture = card.querySelector("img");
  let from = null;
  slide.addEventListener("pointerdown", (event) => {
    if (event.button !== 0 || under_way) return;
    from = { x: event.clientX, at: event.timeStamp, id: event.pointerId };
    slide.setPointerCapture(event.pointerId);
    card.classList.add("held");
  });
  slide.addEventListener("pointermove", (event) => {
    if (!from || event.pointerId !== from.id) return;
    const by = event.clientX - from.x;
    picture.style.transform = `translateX(${by}px)`;
    const enough = Math.abs(by) > slide.clientWidth * FAR;
    card.classList.toggle("right", enough && by > 0);
    card.classList.toggle("left", enough && by < 0);
  });
  slide.addEventListener("pointerup", (event) => {
    if (!from || event.pointerId !== from.id) return;
    const by = event.clientX - from.x;
    const quick = Math.abs(by) > 40 && Math.abs(by) / Math.max(1, event.timeStamp - from.at) > QUICK;
    from = null;
    if (Math.abs(by) <= slide.clientWidth * FAR && !quick) {
      back(card);
      return;
    }
    card.classList.remove("held");
    form.requestSubmit(card.querySelector(by > 0 ? "[name=give_one]" : "[name=later_one]"));
  });
  slide.addEventListener("pointercancel", () => { // the page is scrolled instead
    from = null;
    back(card);
  });
}
document.body.dataset.ready = "sorting";
