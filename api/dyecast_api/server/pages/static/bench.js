// The bench: a photo is kept on the phone first, then sent, then followed to its verdict.
import { follow } from "./follow.js";
import { forgetPhoto, keepPhoto, newKey, waitingPhotos } from "./waiting_photos.js";
import { Refusal, upload } from "./upload.js";
import { aimAgain, offerViewfinder } from "./viewfinder.js";

const AGAIN_MS = [2000, 5000, 10000, 20000, 30000];
const CHOICES = ["artwork", "batch"];
const form = document.getElementById("bench");
const part = (id) => document.getElementById(id);
let sending = false;
let failures = 0;
let timer = 0;

function say(words) {
  part("progress").hidden = false;
  part("state").textContent = words;
}

function restoreChoices() {
  for (const name of CHOICES) {
    const chosen = localStorage.getItem(`bench-${name}`);
    const select = part(name);
    const untouched = select?.selectedIndex === 0; // else somebody chose before this script had come
    if (untouched && [...select.options].some((option) => option.value === chosen)) select.value = chosen;
    if (select) select.addEventListener("change", () => localStorage.setItem(`bench-${name}`, select.value));
  }
}

function wishes() {
  const given = new FormData(form);
  const wanted = {};
  for (const name of ["artwork", "batch", "paper", "peek"]) {
    if (given.get(name)) wanted[name] = given.get(name);
  }
  return wanted;
}

/** A piece of a batch is compared with the batch's artwork. */
function showWhose() {
  const ofBatch = Boolean(part("batch")?.value);
  part("artwork").disabled = ofBatch;
  if (part("of-batch")) part("of-batch").hidden = !ofBatch;
}

async function take(file) {
  for (const name of CHOICES) if (part(name)) localStorage.setItem(`bench-${name}`, part(name).value);
  part("verdict").replaceChildren();
  part("progress").hidden = false;
  part("progress").scrollIntoView({ behavior: pace(), block: "center" });
  say("The photo is being kept on this phone");
  const photo = { key: newKey(), taken: Date.now(), name: nameOf(file), type: file.type, wishes: wishes() };
  try {
    part("not-kept").hidden = await keepPhoto({ ...photo, bytes: await file.arrayBuffer() });
  } catch {
    say("This phone cannot read the photo. Take it again.");
    aimAgain();
    return;
  }
  failures = 0;
  sendAll();
}

function takeChosen() {
  const [file] = part("photo").files;
  part("photo").value = ""; // the same picture may be chosen again
  if (file) take(file);
}

/** Return a photo's name; some phones call every photo the same, so that one is told from the next by its time. */
function nameOf(file) {
  if (file.name && !/^(image|photo|blob)\.\w+$/i.test(file.name)) return file.name;
  const now = new Date();
  const time = [now.getHours(), now.getMinutes(), now.getSeconds()].map((part) => String(part).padStart(2, "0"));
  return `photo-${time.join("-")}.${(file.name || "").split(".")[1] || "jpg"}`;
}

async function sendAll() {
  if (sending) return;
  sending = true;
  clearTimeout(timer);
  try {
    for (let [photo] = await waitingPhotos(); photo; [photo] = await waitingPhotos()) await sendOne(photo);
    part("keep-open").hidden = true;
  } catch (trouble) {
    later(trouble);
  } finally {
    sending = false;
    await showWaiting();
  }
}

async function sendOne(photo) {
  say("The photo is being sent");
  part("sent").hidden = false;
  part("sent").value = 0;
  try {
    const inspection = await upload(photo, (share) => {
      part("sent").value = share;
      if (share === 100) say("The photo is sent; the server is keeping it");
    });
    await forgetPhoto(photo.key);
    failures = 0;
    watch(inspection);
  } catch (trouble) {
    if (!(trouble instanceof Refusal)) throw trouble;
    if (trouble.problem.status === 401) {
      location.assign("/pair"); // the photo stays kept
      throw trouble;
    }
    await forgetPhoto(photo.key);
    failures = 0;
    say(`${photo.name} was refused: ${trouble.problem.detail} ${trouble.problem.advice}`);
    aimAgain();
  }
  part("sent").hidden = true;
}

function later(trouble) {
  const wait = AGAIN_MS[Math.min(failures, AGAIN_MS.length - 1)];
  failures += 1;
  part("sent").hidden = true;
  part("keep-open").hidden = false;
  say(`${trouble.message}. It is tried again in ${Math.round(wait / 1000)} seconds, and at once when the network is back.`);
  timer = setTimeout(sendAll, wait);
  aimAgain();
}

async function showWaiting() {
  const photos = await waitingPhotos().catch(() => []);
  part("waiting").replaceChildren(...photos.map((photo) => {
    const line = document.createElement("li");
    line.textContent = `${photo.name}, taken ${new Date(photo.taken).toLocaleTimeString()} `;
    const drop = Object.assign(document.createElement("button"), { type: "button", className: "as-link", textContent: `Do not send ${photo.name}` });
    drop.addEventListener("click", async () => { await forgetPhoto(photo.key); await showWaiting(); });
    line.append(drop);
    return line;
  }));
  if (photos.length) part("progress").hidden = false;
  return photos.length;
}

function watch(inspection) {
  follow(inspection.id, say, () => showVerdict(inspection.id));
}

async function showVerdict(id) {
  let answer;
  try {
    answer = await fetch(`/inspections/${id}/verdict`, { headers: { Accept: "text/html" } });
    if (!answer.ok) throw new Error(String(answer.status));
  } catch {
    say("The verdict is there; it is fetched as soon as the network carries it.");
    setTimeout(() => showVerdict(id), AGAIN_MS[0]);
    return;
  }
  const told = new DOMParser().parseFromString(await answer.text(), "text/html");
  const head = told.querySelector(".verdict-head > div");
  say(`The verdict: ${[...head.children].map((line) => line.textContent.trim()).join(", ")}`);
  part("verdict").prepend(...told.body.children); // several that waited together stay below each other
  if (!part("viewfinder").dataset.open) part("shutter-words").textContent = "Take the next photo";
  part("verdict").scrollIntoView({ behavior: pace(), block: "start" });
  aimAgain();
}

function pace() {
  return matchMedia("(prefers-reduced-motion: reduce)").matches ? "auto" : "smooth";
}

async function begin() {
  restoreChoices();
  showWhose();
  part("batch")?.addEventListener("change", showWhose);
  part("photo").addEventListener("change", takeChosen);
  form.addEventListener("submit", (event) => event.preventDefault());
  offerViewfinder(part("viewfinder"), take);
  addEventListener("online", sendAll);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) sendAll(); });
  takeChosen(); // over a slow network a photo may be chosen before this script has come
  if (await showWaiting()) sendAll();
}

if (form) begin();
