// The course of the lift under the clip: the angle that is shown of each rep, the phases, and a hand at the moment shown.
// It is the clip's own scrubber: press or drag anywhere on it.

const SVG = "http://www.w3.org/2000/svg";

const makeCourse = (root, data, seek) => {
  const sheet = root.querySelector("svg");
  const hand = root.querySelector(".hand");
  const numbers = root.querySelector(".numbers");
  const end = data.duration || 1;
  const across = (t) => (100 * Math.max(0, Math.min(t, end))) / end;
  sheet.setAttribute("viewBox", "0 0 1000 100");
  sheet.replaceChildren();
  numbers.replaceChildren();
  root.setAttribute("aria-valuemax", end.toFixed(1));

  const add = (name, attributes) => {
    const shape = document.createElementNS(SVG, name);
    for (const [key, value] of Object.entries(attributes)) shape.setAttribute(key, value);
    sheet.appendChild(shape);
    return shape;
  };
  const crowded = data.reps.length > 14;
  for (const rep of data.reps) {
    for (const phase of rep.phases) {
      add("rect", { x: 10 * across(phase.start), width: 10 * (across(phase.end) - across(phase.start)), y: 0, height: 100, class: `p-${phase.name}` });
    }
    if (crowded && rep.number % 5 && rep.number !== 1) continue;
    const label = document.createElement("span");
    label.textContent = String(rep.number);
    label.style.left = `${across((rep.start + rep.end) / 2)}%`;
    numbers.appendChild(label);
  }
  const lines = data.course?.lines || [];
  const values = lines.flatMap((line) => line.values.filter((value) => value !== null));
  const low = Math.min(...values);
  const high = Math.max(...values, low + 1);
  for (const line of lines) {
    let path = "";
    let drawing = false;
    line.values.forEach((value, index) => {
      if (value === null) { drawing = false; return; }
      const x = (10 * across(data.course.start + index * data.course.step)).toFixed(1);
      path += `${drawing ? "L" : "M"}${x} ${(92 - (84 * (value - low)) / (high - low)).toFixed(1)}`;
      drawing = true;
    });
    add("path", { d: path, class: `line-${line.side || "both"}`, "vector-effect": "non-scaling-stroke" });
  }

  const momentAt = (event) => {
    const box = root.getBoundingClientRect();
    return (end * (event.clientX - box.left)) / box.width;
  };
  let dragging = false;
  const down = (event) => {
    if (event.button) return;
    dragging = true;
    root.setPointerCapture(event.pointerId);
    seek(momentAt(event));
  };
  const move = (event) => { if (dragging) seek(momentAt(event)); };
  const up = () => { dragging = false; };
  root.addEventListener("pointerdown", down);
  root.addEventListener("pointermove", move);
  root.addEventListener("pointerup", up);
  root.addEventListener("pointercancel", up);

  const show = (t, words) => {
    hand.style.left = `${across(t)}%`;
    root.setAttribute("aria-valuenow", t.toFixed(2));
    root.setAttribute("aria-valuetext", `${stamp(t)}, ${words}`);
  };
  const valuesAt = (t) => lines.map((line) => {
    const value = line.values[Math.round((t - data.course.start) / data.course.step)];
    return value === null || value === undefined ? "" : `${line.side ? `${line.side} ` : ""}${Math.round(value)}${data.course.sign}`;
  }).filter(Boolean);
  const remove = () => {
    root.removeEventListener("pointerdown", down);
    root.removeEventListener("pointermove", move);
    root.removeEventListener("pointerup", up);
    root.removeEventListener("pointercancel", up);
  };
  return { show, valuesAt, remove };
};
