// Where the clip's picture lies in its frame: all of it, or what is around the lifter. The clip itself is moved and
// enlarged, and whatever is drawn over it asks here where a pixel of the picture is.

const makeStage = (track, around) => {
  let now = null; // what of the picture is shown: left, top, width and height in its pixels
  let shownFor = "";

  // The window around the lifter at a moment; it moves only when the lifter does.
  const findWindow = (t) => {
    const path = around.path;
    let after = path.findIndex((item) => item[0] > t);
    if (after < 0) after = path.length - 1;
    const [t0, x0, y0] = path[Math.max(0, after - 1)];
    const [t1, x1, y1] = path[after];
    const share = t1 > t0 ? Math.max(0, Math.min(1, (t - t0) / (t1 - t0))) : 1;
    return { x: x0 + share * (x1 - x0), y: y0 + share * (y1 - y0), w: around.width, h: around.height };
  };

  // As wide or as high as the frame allows, inside the picture as far as that goes.
  const fit = (window, frame, picture) => {
    const shape = frame.w / frame.h;
    let w = Math.max(window.w, window.h * shape);
    let h = w / shape;
    if (w > picture.w && h > picture.h) { // the whole picture is smaller than that
      const shrink = Math.max(picture.w / w, picture.h / h);
      w *= shrink;
      h *= shrink;
    }
    const place = (middle, size, full) => (size >= full ? (full - size) / 2 : Math.max(0, Math.min(full - size, middle - size / 2)));
    return { left: place(window.x, w, picture.w), top: place(window.y, h, picture.h), width: w, height: h };
  };

  // Lays the clip out for a moment, and gives the frame with the way from pixels of the picture into it.
  const lay = (clip, t, whole) => {
    const holder = clip.parentElement;
    const frame = { w: holder.clientWidth, h: holder.clientHeight };
    const picture = { w: track?.width || clip.videoWidth, h: track?.height || clip.videoHeight };
    if (!frame.w || !frame.h || !picture.w || !picture.h) return null;
    const all = { x: picture.w / 2, y: picture.h / 2, w: picture.w, h: picture.h };
    now = fit(whole || !around ? all : findWindow(t), frame, picture);
    const scale = frame.w / now.width;
    const key = [frame.w, frame.h, picture.w, now.left.toFixed(1), now.top.toFixed(1), scale.toFixed(4)].join();
    if (key !== shownFor || !clip.style.transform) {
      shownFor = key;
      const style = { position: "absolute", left: "0", top: "0", width: `${picture.w}px`, height: `${picture.h}px`, "max-height": "none",
        "max-width": "none", "object-fit": "fill", "border-radius": "0", "transform-origin": "0 0",
        transform: `scale(${scale}) translate(${-now.left}px, ${-now.top}px)` };
      for (const [name, value] of Object.entries(style)) clip.style.setProperty(name, value, "important");
    }
    return { w: frame.w, h: frame.h, scale, place: (x, y) => ({ x: (x - now.left) * scale, y: (y - now.top) * scale }) };
  };

  const remove = (clip) => clip?.removeAttribute("style");
  return { lay, remove };
};
