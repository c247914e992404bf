// Maps are moved by dragging, by the wheel, by buttons, and by arrow keys, plus and minus.
for (const map of document.querySelectorAll("svg.map")) {
  const [left, top, wide, high] = map.getAttribute("viewBox").split(" ").map(Number);
  let seen = { x: left, y: top, w: wide, h: high };
  const show = () => map.setAttribute("viewBox", [seen.x, seen.y, seen.w, seen.h].join(" "));
  const sized = (by, at = [0.5, 0.5]) => {
    const w = Math.min(wide, Math.max(wide / 60, seen.w * by));
    const h = (w * high) / wide;
    seen = { x: seen.x + (seen.w - w) * at[0], y: seen.y + (seen.h - h) * at[1], w, h };
    moved(0, 0);
    const unit = (Number(map.dataset.unit) * w) / wide;
    for (const text of map.querySelectorAll("text")) text.setAttribute("font-size", 2.2 * unit);
    for (const ring of map.querySelectorAll("circle")) ring.setAttribute("r", unit);
  };
  const moved = (right, down) => {
    seen.x = Math.min(left + wide - seen.w, Math.max(left, seen.x + right * seen.w));
    seen.y = Math.min(top + high - seen.h, Math.max(top, seen.y + down * seen.h));
    show();
  };
  const keys = {
    "+": () => sized(0.7), "=": () => sized(0.7), "-": () => sized(1 / 0.7),
    ArrowLeft: () => moved(-0.15, 0), ArrowRight: () => moved(0.15, 0),
    ArrowUp: () => moved(0, -0.15), ArrowDown: () => moved(0, 0.15),
  };
  map.addEventListener("keydown", (event) => {
    if (event.target !== map || !keys[event.key]) return;
    event.preventDefault();
    keys[event.key]();
  });
  map.addEventListener("wheel", (event) => {
    if (!event.ctrlKey && document.activeElement !== map) return;
    event.preventDefault();
    const box = map.getBoundingClientRect();
    const at = [(event.clientX - box.left) / box.width, (event.clientY - box.top) / box.height];
    sized(event.deltaY < 0 ? 0.8 : 1.25, at);
  }, { passive: false });
  let held = null;
  map.addEventListener("pointerdown", (event) => {
    if (event.target.closest("a")) return;
    held = event;
    map.setPointerCapture(event.pointerId);
  });
  map.addEventListener("pointermove", (event) => {
    if (!held) return;
    const box = map.getBoundingClientRect();
    moved((held.clientX - event.clientX) / box.width, (held.clientY - event.clientY) / box.height);
    held = event;
  });
  map.addEventListener("pointerup", () => (held = null));
  const tools = map.parentElement.querySelector(".tools");
  tools.hidden = false;
  for (const button of tools.querySelectorAll("button"))
    button.addEventListener("click", () => keys[button.dataset.key]());
}
for (const section of document.querySelectorAll(".then-and-now")) {
  const [both, label] = [section.querySelector(".both"), section.querySelector("label")];
  both.classList.add("laid");
  label.hidden = false;
  label.querySelector("input").addEventListener("input", (event) =>
    both.style.setProperty("--from", `${100 - event.target.value}%`),
  );
}
