// While somebody aims, about once a second a small frame is shown to the server, and its words are said.

const EVERY_MS = 1000;
const AFTER_TROUBLE_MS = 5000;
const SILENCE_MS = 10000;
const LONGEST_SIDE = 960;
const PAUSED = "paused";
const SVG = "http://www.w3.org/2000/svg";
const SHAPES = { // a tick, a triangle with a mark, a crossed box: told apart without colour
  "ready": "M3 13l6 6L21 5",
  "caution": "M12 3L22 21H2zM12 9v6M12 17.5v1",
  "no-card": "M3 3h18v18H3zM8 8l8 8M16 8l-8 8",
};

/** Glance at a video while it is in sight, and say in `place` what is seen; returns `pause` and `resume`. */
export function glanceAt(video, place) {
  const canvas = document.createElement("canvas");
  let [aiming, inSight, asking, timer] = [true, true, null, 0];
  const isWanted = () => aiming && inSight && !document.hidden;

  async function look() {
    if (asking || !isWanted()) return;
    asking = new AbortController();
    const [began, silence] = [performance.now(), setTimeout(() => asking.abort(), SILENCE_MS)];
    let every = EVERY_MS;
    try {
      const seen = await ask(video, canvas, asking.signal);
      if (isWanted()) say(place, seen.signal, seen.words);
    } catch {
      every = AFTER_TROUBLE_MS;
      if (isWanted() && asking.signal.reason !== PAUSED) say(place, "caution", "Not checked while you aim: the server does not answer.");
    }
    clearTimeout(silence);
    asking = null;
    timer = setTimeout(look, isWanted() ? Math.max(0, every - (performance.now() - began)) : 0);
  }

  function change() {
    clearTimeout(timer);
    if (isWanted()) look();
    else {
      asking?.abort(PAUSED);
      say(place, "", "");
    }
  }

  document.addEventListener("visibilitychange", change);
  new IntersectionObserver(([seen]) => { inSight = seen.isIntersecting; change(); }).observe(video);
  return {
    pause: () => { aiming = false; change(); },
    resume: () => { aiming = true; change(); },
  };
}

/** Send the frame as it is now, small; resolves to what the server says of it. */
async function ask(video, canvas, signal) {
  const photoSide = Math.max(video.videoWidth, video.videoHeight);
  const share = Math.min(1, LONGEST_SIDE / photoSide);
  [canvas.width, canvas.height] = [Math.round(video.videoWidth * share), Math.round(video.videoHeight * share)];
  canvas.getContext("2d").drawImage(video, 0, 0, canvas.width, canvas.height);
  const frame = await new Promise((resolve) => { canvas.toBlob(resolve, "image/jpeg", 0.8); });
  const asked = { method: "POST", body: frame, headers: { "Content-Type": "image/jpeg" }, signal };
  const answer = await fetch(`/api/v1/glances?photo_long_side=${photoSide}`, asked);
  if (!answer.ok) throw new Error(String(answer.status));
  return answer.json();
}

/** Say words with their shape; what was said already is not said again. */
function say(place, signal, words) {
  if (place.dataset.signal === signal && place.lastChild?.textContent === words) return;
  place.dataset.signal = signal;
  const line = document.createElement("span");
  line.textContent = words;
  place.replaceChildren(...(signal ? [shape(SHAPES[signal])] : []), line);
}

function shape(path) {
  const [drawn, line] = [document.createElementNS(SVG, "svg"), document.createElementNS(SVG, "path")];
  drawn.setAttribute("viewBox", "0 0 24 24");
  drawn.setAttribute("aria-hidden", "true");
  line.setAttribute("d", path);
  drawn.append(line);
  return drawn;
}
