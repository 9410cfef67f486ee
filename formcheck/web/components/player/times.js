// Times and reps: pure functions of the review's numbers.

const formatTime = (t) => {
  const tenths = Math.max(0, Math.round(t * 10));
  return `${Math.floor(tenths / 600)}:${String(Math.floor(tenths / 10) % 60).padStart(2, "0")}.${tenths % 10}`;
};

const findRep = (reps, t) => reps.find((rep) => t >= rep.start && t <= rep.end) || null;

const describeTime = (reps, t) => {
  const rep = findRep(reps, t);
  if (!rep) return reps.length ? "between reps" : "";
  const phase = rep.phases.find((item) => t >= item.start && t < item.end);
  return `rep ${rep.number} of ${reps.length}${phase ? `, ${phase.words}` : ""}`;
};

// Index of the picture nearest to t; times increase.
const findNearest = (times, t) => {
  let low = 0;
  let high = times.length - 1;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (times[middle] <= t) low = middle; else high = middle;
  }
  return high > 0 && times[high] - t < t - times[low] ? high : low;
};

// Numbers packed as base64 of little-endian 16-bit integers.
const unpack = (text) => {
  const bytes = Uint8Array.from(atob(text || ""), (letter) => letter.charCodeAt(0));
  return new Int16Array(bytes.buffer);
};

// Times of the clip's pictures, sent as steps of a tenth of a millisecond from one picture to the next.
const unpackTimes = (data) => {
  let now = 0;
  return (data.track?.steps_between || []).map((tick) => (now += tick) / 10000);
};
