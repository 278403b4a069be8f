// A live viewfinder with a frame to aim by. Browsers give a camera only to pages of a secure context.
import { glanceAt } from "./glance.js";

let aim = null;

/** Offer a viewfinder in `place`; `take` is called with each photo as a File. Does nothing without a camera. */
export function offerViewfinder(place, take) {
  if (!window.isSecureContext || !navigator.mediaDevices) return;
  const open = button("Open the viewfinder", async () => {
    try {
      await show(place, take);
      open.remove();
      place.dataset.open = "yes";
      document.getElementById("shutter-words").textContent = "Or use the camera's own app";
    } catch {
      open.replaceWith(words("The camera was not given; use the button below."));
    }
  });
  place.append(open);
  place.hidden = false;
}

/** Look again at what the camera sees, once a photo is done with. */
export function aimAgain() {
  aim?.resume();
}

async function show(place, take) {
  const camera = { facingMode: "environment", width: { ideal: 4096 }, height: { ideal: 3072 } };
  const stream = await navigator.mediaDevices.getUserMedia({ video: camera });
  const video = Object.assign(document.createElement("video"), { srcObject: stream, muted: true, playsInline: true });
  video.setAttribute("aria-label", "What the camera sees");
  const frame = document.createElement("div");
  frame.className = "frame";
  frame.append(video);
  const told = Object.assign(document.createElement("p"), { className: "aim" });
  told.setAttribute("aria-live", "polite");
  const shutter = button("Take the photo now", () => {
    aim.pause();
    shoot(video, take);
  });
  shutter.className = "main";
  place.append(words("Card and piece inside this frame, both whole"), frame, told, shutter);
  await video.play();
  aim = glanceAt(video, told);
}

function shoot(video, take) {
  const canvas = document.createElement("canvas");
  [canvas.width, canvas.height] = [video.videoWidth, video.videoHeight];
  canvas.getContext("2d").drawImage(video, 0, 0);
  canvas.toBlob((blob) => take(new File([blob], `bench-${Date.now()}.jpg`, { type: "image/jpeg" })), "image/jpeg", 0.95);
}

function button(text, press) {
  const made = Object.assign(document.createElement("button"), { type: "button", textContent: text });
  made.addEventListener("click", press);
  return made;
}

function words(text) {
  return Object.assign(document.createElement("p"), { textContent: text, className: "quiet" });
}
