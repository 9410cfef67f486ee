// Draws both skeletons at the phase of the slider, and a line at that phase in the charts beside it.

export default function (component) {
  const { data, parentElement } = component;
  const part = (name) => parentElement.querySelector(`[data-part="${name}"]`);
  const svg = part("drawing");
  const slider = part("slider");
  const play = parentElement.querySelector('[data-do="play"]');
  const addShape = (name, style) => {
    const element = document.createElementNS("http://www.w3.org/2000/svg", name);
    element.setAttribute("class", style);
    svg.appendChild(element);
    return element;
  };
  svg.setAttribute("viewBox", data.box.join(" "));
  svg.replaceChildren();
  const figures = data.tracks.map((track, index) => {
    const style = index ? "two" : "one";
    return { track, bones: data.bones.map(() => addShape("line", style)), head: addShape("circle", style) };
  });
  const last = 2 * data.steps - 1;
  slider.max = last;
  let timer = 0;

  const describePhase = (step) => {
    const second = step >= data.steps;
    const share = Math.round(((second ? step - data.steps : step) / (data.steps - 1)) * 100);
    return `${share} % of the ${data.phases[second ? 1 : 0]}`;
  };

  const drawFigure = ({ track, bones, head }, step) => {
    const row = track[step];
    data.bones.forEach(([from, to], index) => {
      const ends = [row[2 * from], row[2 * from + 1], row[2 * to], row[2 * to + 1]];
      const seen = ends.every((value) => value !== null);
      bones[index].style.display = seen ? "" : "none";
      if (seen) ["x1", "y1", "x2", "y2"].forEach((name, end) => bones[index].setAttribute(name, ends[end]));
    });
    head.style.display = row[0] === null || row[1] === null ? "none" : "";
    if (row[0] !== null && row[1] !== null) {
      head.setAttribute("cx", row[0]);
      head.setAttribute("cy", row[1]);
      head.setAttribute("r", 0.16);
    }
  };

  const drawCursors = (step) => {
    const x = (step >= data.steps ? 100 : 0) + ((step % data.steps) / (data.steps - 1)) * 100;
    for (const plot of document.querySelectorAll(`.st-key-${data.scope} .js-plotly-plot`)) drawCursor(plot, x);
  };

  const draw = () => {
    const step = Number(slider.value);
    for (const figure of figures) drawFigure(figure, step);
    part("phase").textContent = describePhase(step);
    slider.setAttribute("aria-valuetext", describePhase(step));
    drawCursors(step);
  };

  const stop = () => {
    clearInterval(timer);
    timer = 0;
    play.setAttribute("aria-pressed", "false");
  };
  const onPlay = () => {
    if (timer) { stop(); return; }
    play.setAttribute("aria-pressed", "true");
    timer = setInterval(() => { slider.value = (Number(slider.value) + 1) % (last + 1); draw(); }, 50);
  };
  const onInput = () => { stop(); draw(); };
  slider.value = Math.min(data.steps - 1, last);
  slider.addEventListener("input", onInput);
  play.addEventListener("click", onPlay);
  draw();
  // The charts come later than this part, and come anew when a side is chosen: their line is put back then.
  const late = setInterval(() => drawCursors(Number(slider.value)), 500);
  return () => {
    stop();
    clearInterval(late);
    slider.removeEventListener("input", onInput);
    play.removeEventListener("click", onPlay);
  };
}
