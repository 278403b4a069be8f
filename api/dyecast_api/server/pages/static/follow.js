// Tells each stage of an inspection as it happens, and what came of it.

const AGAIN_MS = 5000;

/** Follow an inspection; `say` is called with each stage, `done` once it is finished. */
export function follow(id, say, done) {
  const stream = new EventSource(`/api/v1/inspections/${id}/events`);
  stream.addEventListener("stage", (event) => {
    const { state, stage } = JSON.parse(event.data);
    say(state === "waiting" ? "Waiting for its turn" : sentence(stage));
  });
  stream.addEventListener("result", (event) => {
    stream.close();
    done(JSON.parse(event.data));
  });
  stream.addEventListener("error", () => { // a broken stream opens again by itself, a refused one does not
    if (stream.readyState === EventSource.CLOSED) setTimeout(() => follow(id, say, done), AGAIN_MS);
  });
}

function sentence(stage) {
  return stage ? stage[0].toUpperCase() + stage.slice(1) : "Beginning";
}

const place = document.querySelector("[data-follow]");
if (place) {
  follow(place.dataset.follow, (words) => { place.textContent = words; }, () => location.reload());
}
