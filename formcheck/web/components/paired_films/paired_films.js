// Two clips at the same phase of a rep: each is moved to its own time of the phase, with skeleton and angle drawn over it.

export default function (component) {
  const { data, parentElement } = component;
  const SVG = "http://www.w3.org/2000/svg";
  const part = (name) => parentElement.querySelector(`[data-part="${name}"]`);
  const slider = part("slider");
  const play = parentElement.querySelector('[data-do="play"]');
  const slower = parentElement.querySelector('[data-do="slower"]');
  const last = data.steps.length - 1;
  slider.max = last;
  let timer = 0;
  let slow = false;

  const clipOf = (film) => document.querySelector(`.st-key-${film.container} video`);

  // The clip is cut to what the lifter reaches, and the drawing lies over that.
  const findLayer = (film) => {
    const clip = clipOf(film);
    const holder = document.querySelector(`.st-key-${film.container}`);
    if (!clip || !holder) return null;
    const [x, y, wide, tall] = film.window;
    const frame = clip.parentElement;
    const width = Math.round(Math.min(holder.clientWidth, (0.62 * window.innerHeight * wide) / tall));
    const scale = width / wide;
    const style = (element, values) => { for (const [name, value] of Object.entries(values)) if (element.style[name] !== value) element.style[name] = value; };
    style(frame, { position: "relative", overflow: "hidden", width: `${width}px`, height: `${Math.round(tall * scale)}px`, margin: "0 auto", borderRadius: "8px" });
    style(clip, { width: `${film.width * scale}px`, height: `${film.height * scale}px`, maxWidth: "none", maxHeight: "none", marginLeft: `${-x * scale}px`, marginTop: `${-y * scale}px` });
    let layer = frame.querySelector("svg.fc-pair");
    if (!layer) {
      layer = document.createElementNS(SVG, "svg");
      layer.setAttribute("class", "fc-pair");
      layer.setAttribute("aria-hidden", "true");
      frame.appendChild(layer);
    }
    layer.setAttribute("viewBox", film.window.join(" "));
    style(layer, { position: "absolute", left: "0px", top: "0px", width: "100%", height: "100%", pointerEvents: "none" });
    return layer;
  };

  const addLine = (layer, points, style, closed = false) => {
    const line = document.createElementNS(SVG, closed ? "polygon" : "polyline");
    line.setAttribute("points", points.map((point) => point.join(",")).join(" "));
    line.setAttribute("class", style);
    layer.appendChild(line);
  };

  const drawFilm = (film, step) => {
    const clip = clipOf(film);
    const layer = findLayer(film);
    if (!clip || !layer) return;
    clip.controls = false;
    clip.muted = true;
    if (!clip.paused) clip.pause();
    const t = film.times[step];
    if (clip.readyState >= 1 && Math.abs(clip.currentTime - t) > 0.005 && !clip.seeking) clip.currentTime = t;
    layer.replaceChildren();
    const row = film.points[step];
    data.bones.forEach(([from, to, side]) => {
      const ends = [[row[2 * from], row[2 * from + 1]], [row[2 * to], row[2 * to + 1]]];
      if (ends.every(([x]) => x !== null)) addLine(layer, ends, `fc-bone fc-bone-${side}`);
    });
    for (const [role, points] of film.marks[step]) addLine(layer, points, `fc-mark fc-mark-${role}`, role === "gap" || role === "head");
  };

  const describePhase = (step) => {
    const [phase, share] = data.steps[step];
    return `${share} % of the ${data.phases[phase]}`;
  };
  const draw = () => {
    const step = Number(slider.value);
    for (const film of data.films) drawFilm(film, step);
    part("phase").textContent = describePhase(step);
    slider.setAttribute("aria-valuetext", describePhase(step));
  };

  const stop = () => { clearInterval(timer); timer = 0; play.setAttribute("aria-pressed", "false"); };
  const start = () => {
    play.setAttribute("aria-pressed", "true");
    // Neither clip is left behind: the next step waits until both show the picture of this one.
    timer = setInterval(() => {
      if (data.films.some((film) => clipOf(film)?.seeking)) return;
      slider.value = (Number(slider.value) + 1) % (last + 1);
      draw();
    }, slow ? 120 : 45);
  };
  const onPlay = () => { if (timer) stop(); else start(); };
  const onSlower = () => {
    slow = !slow;
    slower.setAttribute("aria-pressed", String(slow));
    if (timer) { stop(); start(); }
  };
  const onInput = () => { stop(); draw(); };

  slider.value = Math.min(data.start, last);
  slider.addEventListener("input", onInput);
  play.addEventListener("click", onPlay);
  slower.addEventListener("click", onSlower);
  draw();
  // Clips come later than this part and change their size with the window.
  const late = setInterval(() => { if (!timer) draw(); }, 400);
  return () => {
    stop();
    clearInterval(late);
    slider.removeEventListener("input", onInput);
    play.removeEventListener("click", onPlay);
    slower.removeEventListener("click", onSlower);
  };
}
