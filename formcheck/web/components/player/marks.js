// What a finding says of the body, at its moment: the strokes come ready from the review, in pixels of the picture.
// Measured is solid, asked for is dashed, and what is missing between the two is a field with an arrow head.

const makeMarks = (marks) => {
  const colours = { met: "#74d0b5", probably_met: "#74d0b5", close: "#bec8e8", probably_not_met: "#faa46e", not_met: "#faa46e" };
  const order = ["gap", "base", "arc", "limb", "target", "head"];
  const widths = { base: 0.7, arc: 0.9, limb: 1.5, target: 1.15, head: 0.5 };
  const ink = "rgba(8, 14, 18, .85)";

  // The mark nearest to a moment, with its strokes in the picture nearest to it; null where none is near.
  const find = (check, t) => {
    let best = null;
    for (const mark of marks[check] || []) {
      if (t < mark.from - 0.02 || t > mark.to + 0.02) continue;
      if (!best || Math.abs(mark.at - t) < Math.abs(best.at - t)) best = mark;
    }
    if (!best) return null;
    const frame = best.frames.reduce((one, other) => (Math.abs(other[0] - t) < Math.abs(one[0] - t) ? other : one));
    return { mark: best, strokes: frame[1], label: frame[2] };
  };

  const trace = (pen, points, closed) => {
    pen.beginPath();
    points.forEach((point, index) => (index ? pen.lineTo(point.x, point.y) : pen.moveTo(point.x, point.y)));
    if (closed) pen.closePath();
  };

  const write = (pen, text, at, size, frame) => {
    pen.font = `650 ${size}px "Source Sans", sans-serif`;
    const wide = pen.measureText(text).width + size * 0.9;
    const tall = size * 1.5;
    const x = Math.max(2, Math.min(frame.w - wide - 2, at.x - wide / 2));
    const y = Math.max(2, Math.min(frame.h - tall - 2, at.y - tall / 2));
    pen.fillStyle = "rgba(12, 20, 25, .86)";
    pen.beginPath();
    pen.roundRect(x, y, wide, tall, size * 0.35);
    pen.fill();
    pen.fillStyle = "#f6f8f9";
    pen.textBaseline = "middle";
    pen.fillText(text, x + size * 0.45, y + tall / 2 + 1);
  };

  const draw = (pen, frame, width, check, t) => {
    const found = find(check, t);
    if (!found) return null;
    const colour = colours[found.mark.grade];
    pen.lineCap = "round";
    pen.lineJoin = "round";
    for (const role of order) {
      for (const [name, flat] of found.strokes) {
        if (name !== role) continue;
        const points = [];
        for (let index = 0; index < flat.length; index += 2) points.push(frame.place(flat[index], flat[index + 1]));
        pen.setLineDash([]);
        if (role === "gap") { trace(pen, points, true); pen.globalAlpha = 0.38; pen.fillStyle = colour; pen.fill(); pen.globalAlpha = 1; continue; }
        trace(pen, points, role === "head");
        if (role === "head") { pen.fillStyle = colour; pen.fill(); pen.strokeStyle = ink; pen.lineWidth = width * widths.head; pen.stroke(); continue; }
        if (role === "target") pen.setLineDash([width * 2.6, width * 2]);
        pen.strokeStyle = ink;
        pen.lineWidth = width * (widths[role] + 1);
        pen.stroke();
        pen.strokeStyle = role === "target" || role === "base" ? "#ffffff" : colour;
        pen.lineWidth = width * widths[role];
        pen.stroke();
      }
    }
    pen.setLineDash([]);
    write(pen, found.mark.text, frame.place(found.label[0], found.label[1]), Math.max(13, Math.min(22, frame.h / 24)), frame);
    return found.mark;
  };
  return { draw, find };
};
