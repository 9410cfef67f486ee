// A pen on the picture that the page's clip stands at; the strokes go to the page in pixels of the upright clip.

export default function (component) {
  const { data, parentElement, setStateValue } = component;
  const canvas = parentElement.querySelector("canvas");
  const pen = canvas.getContext("2d");
  const kept = (parentElement.formcheckPen ??= { strokes: [], picture: null });
  const { width, height, most } = data;
  const scale = Math.min(1, 960 / Math.max(width, height));
  canvas.width = Math.round(width * scale);
  canvas.height = Math.round(height * scale);
  let line = null;

  // The picture is taken once: the clip may be moved on while the drawing is made.
  const takePicture = () => {
    const clip = document.querySelector(`.st-key-${data.clip} video`);
    if (kept.picture || !clip || clip.readyState < 2) return;
    kept.picture = document.createElement("canvas");
    kept.picture.width = canvas.width;
    kept.picture.height = canvas.height;
    kept.picture.getContext("2d").drawImage(clip, 0, 0, canvas.width, canvas.height);
    draw();
  };

  const draw = () => {
    pen.clearRect(0, 0, canvas.width, canvas.height);
    if (kept.picture) pen.drawImage(kept.picture, 0, 0);
    pen.lineCap = pen.lineJoin = "round";
    const wide = Math.max(3, Math.max(canvas.width, canvas.height) / 160);
    // A dark rim, so that the line is seen on any ground.
    for (const [colour, width_] of [["#121a1e", wide * 1.9], ["#ffd24a", wide]]) {
      pen.strokeStyle = colour;
      pen.lineWidth = width_;
      for (const stroke of line ? [...kept.strokes, line] : kept.strokes) {
        pen.beginPath();
        stroke.forEach(([x, y], index) => (index ? pen.lineTo : pen.moveTo).call(pen, x * scale, y * scale));
        if (stroke.length === 1) pen.lineTo(stroke[0][0] * scale + 0.1, stroke[0][1] * scale);
        pen.stroke();
      }
    }
  };

  const place = (event) => {
    const box = canvas.getBoundingClientRect();
    const clamp = (value, top) => Math.round(Math.max(0, Math.min(top, value)) * 10) / 10;
    return [clamp(((event.clientX - box.left) / box.width) * width, width), clamp(((event.clientY - box.top) / box.height) * height, height)];
  };
  const send = () => { draw(); setStateValue("strokes", kept.strokes); };
  const onDown = (event) => {
    if (!event.isPrimary || kept.strokes.length >= most.strokes) return;
    event.preventDefault();
    canvas.setPointerCapture(event.pointerId);
    line = [place(event)];
    draw();
  };
  const onMove = (event) => {
    if (!line || line.length >= most.points) return;
    const [x, y] = place(event);
    const last = line[line.length - 1];
    if (Math.hypot(x - last[0], y - last[1]) < 2 / scale) return;
    line.push([x, y]);
    draw();
  };
  const onUp = () => {
    if (!line) return;
    kept.strokes = [...kept.strokes, line];
    line = null;
    send();
  };
  const onBar = (event) => {
    const wanted = event.target.closest("button")?.dataset.do;
    if (!wanted) return;
    kept.strokes = wanted === "undo" ? kept.strokes.slice(0, -1) : [];
    send();
  };

  draw();
  takePicture();
  const waiting = setInterval(takePicture, 200);
  const listeners = [[canvas, "pointerdown", onDown], [canvas, "pointermove", onMove], [canvas, "pointerup", onUp], [canvas, "pointercancel", onUp], [parentElement, "click", onBar]];
  for (const [where, name, what] of listeners) where.addEventListener(name, what);
  return () => {
    clearInterval(waiting);
    for (const [where, name, what] of listeners) where.removeEventListener(name, what);
  };
}
