// A vertical line through a plotly chart at a value of its x axis.

const readAxis = (plot) => {
  const axis = plot._fullLayout?.xaxis;
  const size = plot._fullLayout?._size;
  return axis && size ? { axis, size } : null;
};

const drawCursor = (plot, value) => {
  const found = readAxis(plot);
  if (!found) return;
  let line = plot.querySelector(".fc-cursor");
  if (!line) {
    line = document.createElement("div");
    line.className = "fc-cursor";
    line.setAttribute("aria-hidden", "true");
    plot.appendChild(line);
  }
  line.style.left = `${found.size.l + found.axis.l2p(value)}px`;
  line.style.top = `${found.size.t}px`;
  line.style.height = `${found.size.h}px`;
};
