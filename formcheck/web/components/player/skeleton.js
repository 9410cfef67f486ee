// The measured skeleton on a canvas over the clip. Left is solid blue, right dashed red-violet, so that the two differ
// without colour; a body point the model calls hidden is an empty ring.

const GONE = -32768;

const makeSkeleton = (track) => {
  const points = unpack(track?.points);
  const seen = unpack(track?.seen);
  const parts = track?.parts || [];
  let canvas = null;
  const made = (window.formcheckSkeletons = (window.formcheckSkeletons || 0) + 1);

  // One canvas a clip: a player put in anew takes the place of the one before, which may end later than it should.
  const findCanvas = (clip) => {
    for (const other of clip.parentElement.querySelectorAll("canvas.fc-skeleton")) {
      if (other === canvas) continue;
      if (Number(other.dataset.made) > made) return null;
      other.remove();
    }
    if (canvas?.isConnected && canvas.parentElement === clip.parentElement) return canvas;
    canvas?.remove();
    canvas = document.createElement("canvas");
    canvas.className = "fc-skeleton";
    canvas.dataset.made = made;
    canvas.setAttribute("aria-hidden", "true");
    clip.parentElement.style.position = "relative";
    clip.parentElement.appendChild(canvas);
    return canvas;
  };

  // `frame`: where the picture lies (stage.js); `over`: draws more on the same canvas, on top.
  const draw = (clip, frame, place, shown, over) => {
    if (!parts.length || !frame) return;
    const layer = findCanvas(clip);
    if (!layer) return;
    const dense = window.devicePixelRatio || 1;
    if (layer.width !== Math.round(frame.w * dense) || layer.height !== Math.round(frame.h * dense)) {
      layer.width = Math.round(frame.w * dense);
      layer.height = Math.round(frame.h * dense);
      layer.style.width = `${frame.w}px`;
      layer.style.height = `${frame.h}px`;
    }
    const pen = layer.getContext("2d");
    pen.setTransform(dense, 0, 0, dense, 0, 0);
    pen.clearRect(0, 0, frame.w, frame.h);
    const width = Math.max(2, Math.min(frame.w, frame.h) / 150);
    if (shown) drawBones(pen, frame, place, width);
    over(pen, width);
  };

  const drawBones = (pen, frame, place, width) => {
    const long = Math.max(track.width, track.height);
    const index = place.share > 0.5 ? place.to : place.from;
    const isGone = (value) => value === GONE || value === undefined;
    const findPoint = (part) => {
      const offset = 2 * (index * parts.length + part);
      if (isGone(points[offset])) return null;
      const first = 2 * (place.from * parts.length + part);
      const last = 2 * (place.to * parts.length + part);
      const between = !isGone(points[first]) && !isGone(points[last]);
      const read = (axis) => {
        const value = between
          ? points[first + axis] + place.share * (points[last + axis] - points[first + axis])
          : points[offset + axis];
        return (value / track.steps) * long;
      };
      return frame.place(read(0), read(1));
    };
    pen.lineCap = "round";
    for (const [from, to, side] of track.bones) {
      const a = findPoint(from);
      const b = findPoint(to);
      if (!a || !b) continue;
      pen.beginPath();
      pen.moveTo(a.x, a.y);
      pen.lineTo(b.x, b.y);
      pen.setLineDash([]);
      pen.strokeStyle = "rgba(8, 14, 18, .75)";
      pen.lineWidth = width * 2.1;
      pen.stroke();
      pen.setLineDash(side === "right" ? [width * 2.2, width * 1.7] : []);
      pen.strokeStyle = { left: "#6cc6ff", right: "#ff9ec4", middle: "#f3f5f4" }[side];
      pen.lineWidth = width;
      pen.stroke();
    }
    pen.setLineDash([]);
    for (let part = 0; part < parts.length; part += 1) {
      const point = findPoint(part);
      if (!point) continue;
      pen.beginPath();
      pen.arc(point.x, point.y, width * 1.25, 0, 2 * Math.PI);
      pen.lineWidth = width * 0.55;
      pen.strokeStyle = "rgba(8, 14, 18, .9)";
      if (seen[index * parts.length + part]) { pen.fillStyle = "#f3f5f4"; pen.fill(); }
      pen.stroke();
    }
  };

  return { draw, remove: () => canvas?.remove() };
};
