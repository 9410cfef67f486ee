// The charts of the page: a line at the time shown, and the time under a click.

const makeCharts = (scope, reps) => {
  const isByRep = (plot) => readAxis(plot)?.axis.title?.text?.startsWith("rep");

  // The chart's own click event only fires on a data point it is hovering over; any point of a curve is meant here.
  const findTime = (plot, clientX) => {
    const found = readAxis(plot);
    if (!found) return NaN;
    const inside = clientX - plot.getBoundingClientRect().left - found.size.l;
    if (inside < 0 || inside > found.size.w) return NaN;
    const value = found.axis.p2l(inside);
    return isByRep(plot) ? reps.find((rep) => rep.number === Math.round(value))?.show ?? NaN : value;
  };

  const drawCursors = (t) => {
    for (const plot of scope()?.querySelectorAll(".js-plotly-plot") || []) if (!isByRep(plot)) drawCursor(plot, t);
  };
  return { findTime, drawCursors };
};
