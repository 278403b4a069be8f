// Adds older inspections when the end of the list comes near; without scripts the link does it.
import { tellLocally } from "./local_times.js";

const list = document.getElementById("lines");
const state = document.getElementById("list-state");

async function addOlder(link) {
  state.textContent = "Older ones are being fetched";
  const answer = await fetch(link.href, { headers: { Accept: "text/html" } });
  if (!answer.ok) throw new Error(String(answer.status));
  const more = new DOMParser().parseFromString(await answer.text(), "text/html");
  tellLocally(more);
  list.append(...more.querySelectorAll("#lines > li"));
  const following = more.getElementById("more");
  if (following) link.href = following.href;
  else link.remove();
  state.textContent = `${list.children.length} inspections are shown`;
  return Boolean(following);
}

function watch(link) {
  const watcher = new IntersectionObserver(async (entries) => {
    if (!entries.some((entry) => entry.isIntersecting)) return;
    watcher.disconnect();
    try {
      if (await addOlder(link)) watch(link);
    } catch {
      state.textContent = "Older ones could not be fetched; the link tries again.";
    }
  }, { rootMargin: "400px" });
  watcher.observe(link);
}

const link = document.getElementById("more");
if (link && list) watch(link);
