// The charts of the page: a line at the moment shown, and the moment under a click.

const makePlots = (scope, reps) => {
  const all = () => [...(scope()?.querySelectorAll(".js-plotly-plot") || [])];
  const axisOf = (plot) => {
    const axis = plot._fullLayout?.xaxis;
    const size = plot._fullLayout?._size;
    return axis && size ? { axis, size, byRep: axis.title?.text === "rep" } : null;
  };

  // The chart's own click event only fires on a data point it is hovering over; any place on a curve is meant here.
  const momentAt = (plot, clientX) => {
    const found = axisOf(plot);
    if (!found) return NaN;
    const inside = clientX - plot.getBoundingClientRect().left - found.size.l;
    if (inside < 0 || inside > found.size.w) return NaN;
    const value = found.axis.p2l(inside);
    return found.byRep ? reps.find((rep) => rep.number === Math.round(value))?.top ?? NaN : value;
  };

  const drawCursor = (t) => {
    for (const plot of all()) {
      const found = axisOf(plot);
      if (!found || found.byRep) continue;
      let line = plot.querySelector(".fc-cursor");
      if (!line) {
        line = document.createElement("div");
        line.className = "fc-cursor";
        line.setAttribute("aria-hidden", "true");
        plot.appendChild(line);
      }
      line.style.left = `${found.size.l + found.axis.l2p(t)}px`;
      line.style.top = `${found.size.t}px`;
      line.style.height = `${found.size.h}px`;
    }
  };
  return { momentAt, drawCursor };
};
