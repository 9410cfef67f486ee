// The timeline under the clip: the curve of the angle that is shown of each rep, the phases, and a playhead at the time
// shown. Press or drag anywhere on it to move the clip.

const SVG = "http://www.w3.org/2000/svg";

const makeTimeline = (root, data, seek) => {
  const svg = root.querySelector("svg");
  const playhead = root.querySelector(".playhead");
  const numbers = root.querySelector(".numbers");
  const end = data.duration || 1;
  const toPercent = (t) => (100 * Math.max(0, Math.min(t, end))) / end;
  svg.setAttribute("viewBox", "0 0 1000 100");
  svg.replaceChildren();
  numbers.replaceChildren();
  root.setAttribute("aria-valuemax", end.toFixed(1));

  const add = (name, attributes) => {
    const shape = document.createElementNS(SVG, name);
    for (const [key, value] of Object.entries(attributes)) shape.setAttribute(key, value);
    svg.appendChild(shape);
    return shape;
  };
  const crowded = data.reps.length > 14;
  for (const rep of data.reps) {
    for (const phase of rep.phases) {
      add("rect", { x: 10 * toPercent(phase.start), width: 10 * (toPercent(phase.end) - toPercent(phase.start)), y: 0, height: 100, class: `p-${phase.name}` });
    }
    if (crowded && rep.number % 5 && rep.number !== 1) continue;
    const label = document.createElement("span");
    label.textContent = String(rep.number);
    label.style.left = `${toPercent((rep.start + rep.end) / 2)}%`;
    numbers.appendChild(label);
  }
  const lines = data.curve?.lines || [];
  const limit = data.curve?.limit ?? null;
  const values = lines.flatMap((line) => line.values.filter((value) => value !== null));
  if (limit !== null) values.push(limit);
  const low = Math.min(...values);
  const high = Math.max(...values, low + 1);
  if (limit !== null) {
    const y = (92 - (84 * (limit - low)) / (high - low)).toFixed(1);
    add("path", { d: `M0 ${y}H1000`, class: "limit", "vector-effect": "non-scaling-stroke" });
  }
  for (const line of lines) {
    let path = "";
    let drawing = false;
    line.values.forEach((value, index) => {
      if (value === null) { drawing = false; return; }
      const x = (10 * toPercent(data.curve.start + index * data.curve.step)).toFixed(1);
      path += `${drawing ? "L" : "M"}${x} ${(92 - (84 * (value - low)) / (high - low)).toFixed(1)}`;
      drawing = true;
    });
    add("path", { d: path, class: `line-${line.side || "both"}`, "vector-effect": "non-scaling-stroke" });
  }

  const findTime = (event) => {
    const box = root.getBoundingClientRect();
    return (end * (event.clientX - box.left)) / box.width;
  };
  let dragging = false;
  const down = (event) => {
    if (event.button) return;
    dragging = true;
    root.setPointerCapture(event.pointerId);
    seek(findTime(event));
  };
  const move = (event) => { if (dragging) seek(findTime(event)); };
  const up = () => { dragging = false; };
  const listeners = { pointerdown: down, pointermove: move, pointerup: up, pointercancel: up };
  for (const [name, listener] of Object.entries(listeners)) root.addEventListener(name, listener);

  const show = (t, description) => {
    playhead.style.left = `${toPercent(t)}%`;
    root.setAttribute("aria-valuenow", t.toFixed(2));
    root.setAttribute("aria-valuetext", `${formatTime(t)}, ${description}`);
  };
  const readValues = (t) => lines.map((line) => {
    const value = line.values[Math.round((t - data.curve.start) / data.curve.step)];
    return value === null || value === undefined ? "" : `${line.side ? `${line.side} ` : ""}${Math.round(value)}${data.curve.sign}`;
  }).filter(Boolean);
  const remove = () => {
    for (const [name, listener] of Object.entries(listeners)) root.removeEventListener(name, listener);
  };
  return { show, readValues, remove };
};
