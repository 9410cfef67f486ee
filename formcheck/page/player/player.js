// Ties the clip, the charts and every element with data-t together inside the page itself: no script run while playing.
// Data of the review arrives as numbers and fixed words; text is only ever set as text.

const stamp = (t) => {
  const tenths = Math.max(0, Math.round(t * 10));
  return `${Math.floor(tenths / 600)}:${String(Math.floor(tenths / 10) % 60).padStart(2, "0")}.${tenths % 10}`;
};

export default function (component) {
  const { data, parentElement } = component;
  const scope = () => document.querySelector(`.st-key-${data.scope}`);
  const video = () => document.querySelector(`.st-key-${data.clip} video`);
  const bar = (name) => parentElement.querySelector(`[data-do="${name}"]`);
  const now = parentElement.querySelector(".now");
  const speeds = [1, 0.5, 0.25];
  let speed = 0;
  let looped = null;
  let shownTime = -1;
  let frame = 0;
  let pressed = null;

  const seek = (t, reveal = true) => {
    const clip = video();
    if (!clip || !Number.isFinite(t)) return;
    clip.pause();
    clip.currentTime = Math.max(0, Math.min(t, clip.duration || t));
    if (looped) looped = repAt(t) || looped;
    if (!reveal) return;
    const box = clip.getBoundingClientRect();
    if (box.bottom < 120 || box.top > window.innerHeight - 120) {
      const calm = window.matchMedia("(prefers-reduced-motion: reduce)").matches;
      clip.scrollIntoView({ block: "nearest", behavior: calm ? "auto" : "smooth" });
    }
  };

  const repAt = (t) => data.reps.find((rep) => t >= rep.start && t <= rep.end) || null;

  const words = (t) => {
    const rep = repAt(t);
    const phase = rep && rep.phases.find((item) => t >= item.start && t < item.end);
    return [stamp(t), rep ? `rep ${rep.number}` : "between reps", phase ? phase.words : ""].filter(Boolean).join(" · ");
  };

  const step = (direction) => {
    const clip = video();
    if (clip) seek(clip.currentTime + direction / data.rate, false);
  };

  const onClick = (event) => {
    const target = event.target instanceof Element ? event.target.closest("[data-t]") : null;
    if (target && scope()?.contains(target)) seek(parseFloat(target.dataset.t));
  };

  const onKey = (event) => {
    const inside = event.composedPath().includes(parentElement) || event.target === video();
    const direction = { ArrowLeft: -1, ArrowRight: 1 }[event.key];
    if (!inside || !direction || event.altKey || event.ctrlKey || event.metaKey) return;
    event.preventDefault();
    event.stopPropagation();
    step(direction);
  };

  const onBar = (event) => {
    const clip = video();
    const name = event.target.closest("button")?.dataset.do;
    if (!clip || !name) return;
    if (name === "back") step(-1);
    if (name === "forward") step(1);
    if (name === "speed") {
      speed = (speed + 1) % speeds.length;
      clip.playbackRate = speeds[speed];
      bar("speed").textContent = `Speed ${["1×", "½×", "¼×"][speed]}`;
    }
    if (name === "loop") {
      looped = looped ? null : repAt(clip.currentTime) || data.reps[0] || null;
      bar("loop").setAttribute("aria-pressed", String(Boolean(looped)));
      bar("loop").textContent = looped ? `Repeating rep ${looped.number}` : "Repeat rep";
      if (looped) { clip.currentTime = looped.start; clip.play(); }
    }
  };

  const plots = () => [...(scope()?.querySelectorAll(".js-plotly-plot") || [])];

  // The chart's own click event only fires on a data point it is hovering over; any place on a curve is meant here.
  const momentAt = (plot, clientX) => {
    const axis = plot._fullLayout?.xaxis;
    const size = plot._fullLayout?._size;
    if (!axis || !size) return NaN;
    const inside = clientX - plot.getBoundingClientRect().left - size.l;
    if (inside < 0 || inside > size.w) return NaN;
    const value = axis.p2l(inside);
    if (axis.title?.text !== "rep") return value;
    return data.reps.find((rep) => rep.number === Math.round(value))?.top ?? NaN;
  };

  const onDown = (event) => {
    const plot = event.target instanceof Element ? event.target.closest(".js-plotly-plot") : null;
    pressed = plot && scope()?.contains(plot) && event.isPrimary ? { plot, x: event.clientX, y: event.clientY } : null;
  };

  const onUp = (event) => {
    if (!pressed) return;
    const { plot, x, y } = pressed;
    pressed = null;
    if (Math.hypot(event.clientX - x, event.clientY - y) < 6) seek(momentAt(plot, event.clientX));
  };

  const onCancel = () => { pressed = null; };

  const drawCursor = (t) => {
    for (const plot of plots()) {
      const axis = plot._fullLayout?.xaxis;
      const size = plot._fullLayout?._size;
      if (!axis || !size || axis.title?.text === "rep") continue;
      let line = plot.querySelector(".fc-cursor");
      if (!line) {
        line = document.createElement("div");
        line.className = "fc-cursor";
        line.setAttribute("aria-hidden", "true");
        plot.appendChild(line);
      }
      line.style.left = `${size.l + axis.l2p(t)}px`;
      line.style.top = `${size.t}px`;
      line.style.height = `${size.h}px`;
    }
  };

  const mark = (t) => {
    const rep = repAt(t);
    for (const card of scope()?.querySelectorAll("[data-rep]") || []) {
      card.classList.toggle("fc-current", Boolean(rep) && Number(card.dataset.rep) === rep.number);
    }
  };

  const tick = () => {
    const clip = video();
    if (clip) {
      if (looped && !clip.paused && (clip.currentTime > looped.end || clip.currentTime < looped.start - 0.05)) {
        clip.currentTime = looped.start;
      }
      if (clip.currentTime !== shownTime) {
        shownTime = clip.currentTime;
        now.textContent = words(shownTime);
        drawCursor(shownTime);
        mark(shownTime);
      }
    }
    frame = requestAnimationFrame(tick);
  };

  const refresh = setInterval(() => drawCursor(Math.max(shownTime, 0)), 400); // charts come and go with reruns
  tick();
  document.addEventListener("click", onClick);
  document.addEventListener("pointerdown", onDown, true);
  document.addEventListener("pointerup", onUp, true);
  document.addEventListener("pointercancel", onCancel, true);
  document.addEventListener("keydown", onKey, true);
  parentElement.querySelector(".bar").addEventListener("click", onBar);

  return () => {
    clearInterval(refresh);
    cancelAnimationFrame(frame);
    document.removeEventListener("click", onClick);
    document.removeEventListener("pointerdown", onDown, true);
    document.removeEventListener("pointerup", onUp, true);
    document.removeEventListener("pointercancel", onCancel, true);
    document.removeEventListener("keydown", onKey, true);
    parentElement.querySelector(".bar")?.removeEventListener("click", onBar);
  };
}
