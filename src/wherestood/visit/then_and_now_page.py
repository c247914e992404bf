"""Set then and now as one page that works alone: swipe, blink, side by side, fade."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from html import escape

__all__ = ["then_and_now_page"]


def then_and_now_page(
    title: str,
    then_jpeg: bytes,
    now_jpeg: bytes,
    size_px: tuple[int, int],
    captions: tuple[str, str],
    sentences: Sequence[str],
    caution: str = "",
) -> str:
    """Return the page: pictures inside, nothing fetched.

    Parameters
    ----------
    title : str
        Of the plate.
    then_jpeg, now_jpeg : bytes
        Both pictures, of one size.
    size_px : (int, int)
        Their width and height [px].
    captions : (str, str)
        Under each.
    sentences : sequence of str
        Where the photographer stood, and how sure that is.
    caution : str
        What must stand on its face; empty if nothing must.
    """
    then, now = (
        "data:image/jpeg;base64," + base64.b64encode(picture).decode("ascii")
        for picture in (then_jpeg, now_jpeg)
    )
    told = "\n".join(f"<p>{escape(line)}</p>" for line in sentences)
    warned = f'<p class="caution">{escape(caution)}</p>' if caution else ""
    return (
        _PAGE.replace("@title@", escape(title))
        .replace("@caution@", warned)
        .replace("@told@", told)
        .replace("@width@", str(size_px[0]))
        .replace("@height@", str(size_px[1]))
        .replace("@then_words@", escape(captions[0]))
        .replace("@now_words@", escape(captions[1]))
        .replace("@then@", then)
        .replace("@now@", now)
    )


_PAGE = """<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy"
 content="default-src 'none'; img-src data:; style-src 'unsafe-inline';
 script-src 'unsafe-inline'">
<title>Then and now: @title@</title>
<style>
:root { color-scheme: light dark; --paper: #F7F4EE; --mount: #E9E4DA;
  --graphite: #2A2926; --pencil: #6E6A62; --machine: #1F4E79; }
@media (prefers-color-scheme: dark) { :root { --paper: #1C1B19; --mount: #121110;
  --graphite: #ECE8E0; --pencil: #A39E94; --machine: #7FB2E5; } }
* { box-sizing: border-box; }
body { margin: 0; padding: 12px 16px 24px; background: var(--paper);
  color: var(--graphite); font: 15px/1.45 Georgia, serif; }
h1 { font-size: 18px; margin: 0 0 8px; }
p { margin: 4px 0; max-width: 46rem; }
.caution { border: 2px solid currentColor; padding: 8px; font-weight: bold; }
fieldset { border: 0; padding: 0; margin: 8px 0; display: flex; flex-wrap: wrap;
  gap: 4px 16px; align-items: center; font: 15px sans-serif; }
legend { float: left; padding: 0 8px 0 0; }
input[type=range] { width: min(24rem, 60vw); accent-color: var(--machine); }
button { font: inherit; padding: 4px 12px; border: 1px solid var(--pencil);
  border-radius: 4px; background: var(--mount); color: inherit; }
:focus-visible { outline: 2px solid var(--machine); outline-offset: 2px; }
.stage { position: relative; background: var(--mount); width: 100%;
  max-width: calc((100vh - 180px) * @width@ / @height@);
  aspect-ratio: @width@ / @height@; overflow: hidden; }
.stage img { position: absolute; inset: 0; width: 100%; height: 100%; }
.edge { position: absolute; top: 0; bottom: 0; width: 2px; background: var(--machine);
  pointer-events: none; }
.beside { max-width: none; aspect-ratio: auto; display: grid; gap: 8px;
  grid-template-columns: 1fr 1fr; background: none; }
.beside img { position: static; height: auto; clip-path: none !important;
  opacity: 1 !important; visibility: visible !important; }
.beside .edge { display: none; }
.words { display: flex; justify-content: space-between; gap: 16px;
  max-width: calc((100vh - 180px) * @width@ / @height@);
  font: 13px sans-serif;  color: var(--pencil); margin: 4px 0 12px; }
</style>
</head>
<body>
<h1>Then and now: @title@</h1>
@caution@
<fieldset id="ways"><legend>Show</legend>
<label><input type="radio" name="way" value="swipe" checked> swipe</label>
<label><input type="radio" name="way" value="fade"> fade</label>
<label><input type="radio" name="way" value="blink"> blink</label>
<label><input type="radio" name="way" value="beside"> side by side</label>
</fieldset>
<fieldset id="hold"><label for="share">Then</label>
<input id="share" type="range" min="0" max="100" value="50"
 aria-label="How much of now is shown">
<span>Now</span><button id="turn" type="button" hidden>Start</button></fieldset>
<div class="stage" id="stage">
<img id="then" alt="Then: @then_words@" src="@then@">
<img id="now" alt="Now: @now_words@" src="@now@">
<div class="edge" id="edge"></div>
</div>
<div class="words"><span>Then: @then_words@</span><span>Now: @now_words@</span></div>
@told@
<script>
"use strict";
const by = (id) => document.getElementById(id);
const now = by("now"), edge = by("edge"), share = by("share"), turn = by("turn");
let timer = 0, shown = true;
function way() { return document.querySelector("input[name=way]:checked").value; }
function stop() { clearInterval(timer); timer = 0; turn.textContent = "Start"; }
function draw() {
  const part = Number(share.value), is = way();
  by("stage").classList.toggle("beside", is === "beside");
  now.style.clipPath = is === "swipe" ? `inset(0 0 0 ${100 - part}%)` : "none";
  now.style.opacity = is === "fade" ? String(part / 100) : "1";
  now.style.visibility = is === "blink" && !shown ? "hidden" : "visible";
  edge.style.display = is === "swipe" ? "block" : "none";
  edge.style.left = `calc(${100 - part}% - 1px)`;
  share.disabled = is === "blink" || is === "beside";
  turn.hidden = is !== "blink";
  if (is !== "blink") { stop(); shown = true; }
}
turn.addEventListener("click", () => {
  if (timer) { stop(); return; }
  turn.textContent = "Stop";
  timer = setInterval(() => { shown = !shown; draw(); }, 1000);
});
by("ways").addEventListener("change", draw);
share.addEventListener("input", draw);
by("stage").addEventListener("pointermove", (event) => {
  if (way() !== "swipe" || event.buttons !== 1) return;
  const box = by("stage").getBoundingClientRect();
  share.value = String(100 - 100 * (event.clientX - box.left) / box.width);
  draw();
});
by("stage").addEventListener("dragstart", (event) => event.preventDefault());
document.addEventListener("keydown", (event) => {
  if (event.key === " " && way() === "blink" && event.target.tagName !== "BUTTON") {
    shown = !shown; draw(); event.preventDefault();
  }
});
draw();
</script>
</body>
</html>
"""
