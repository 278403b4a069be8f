// A wipe between two pictures, moved by a range input: the keyboard and a tap do what a drag does.
// Without scripts the pictures stand beside each other.
for (const wipe of document.querySelectorAll("[data-wipe]")) {
  const upper = wipe.querySelector(".upper");
  const line = wipe.querySelector(".wipe-line");
  const range = wipe.querySelector("input");
  const show = () => {
    upper.style.clipPath = `inset(0 ${100 - range.value}% 0 0)`;
    line.style.left = `${range.value}%`;
  };
  range.addEventListener("input", show);
  wipe.classList.add("live");
  show();
}
