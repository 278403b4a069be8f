// Tells each stage of an inspection as it happens, and what came of it.

const AGAIN_MS = 5000;
const ASK_MS = 10000; // a stream whose network died without a word stays silent for ever: ask beside it
const MOST_STREAMS = 3; // browsers hold six connections to a server; streams must leave some for photos
let streams = 0;

/** Follow an inspection; `say` is called with each stage, `done` once, when it is finished. */
export function follow(id, say, done) {
  let finished = false;
  let stream = null;
  const end = (result) => {
    if (finished) return;
    finished = true;
    clearInterval(asking);
    if (stream) shut(stream);
    done(result);
  };
  const asking = setInterval(async () => {
    const answer = await fetch(`/api/v1/inspections/${id}`).catch(() => null);
    const told = answer?.ok ? await answer.json().catch(() => null) : null;
    if (told?.finished_at) end(told);
  }, ASK_MS);
  const open = () => {
    if (finished || streams >= MOST_STREAMS) return;
    streams += 1;
    stream = new EventSource(`/api/v1/inspections/${id}/events`);
    stream.addEventListener("stage", (event) => {
      const { state, stage } = JSON.parse(event.data);
      say(state === "waiting" ? "Waiting for its turn" : sentence(stage));
    });
    stream.addEventListener("result", (event) => end(JSON.parse(event.data)));
    stream.addEventListener("error", () => { // a broken stream opens again by itself, a refused one does not
      if (stream.readyState !== EventSource.CLOSED) return;
      shut(stream);
      setTimeout(open, AGAIN_MS);
    });
  };
  open();
}

function shut(stream) {
  if (!stream.shut) streams -= 1;
  stream.shut = true;
  stream.close();
}

function sentence(stage) {
  return stage ? stage[0].toUpperCase() + stage.slice(1) : "Beginning";
}

const place = document.querySelector("[data-follow]");
if (place) {
  follow(place.dataset.follow, (words) => { place.textContent = words; }, () => location.reload());
}
