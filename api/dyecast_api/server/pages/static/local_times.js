// Says moments in the reader's own time; without scripts they stand there in UTC.

/** Rewrite every time element below a root. */
export function tellLocally(root) {
  const style = new Intl.DateTimeFormat("sv-SE", { dateStyle: "short", timeStyle: "short" }); // 2026-05-04 12:00
  for (const element of root.querySelectorAll("time[datetime]")) {
    element.textContent = style.format(new Date(element.dateTime));
  }
}

tellLocally(document);
