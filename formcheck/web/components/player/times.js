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

// Between which two tracked pictures t lies, and how far it is on its way from one to the other, 0 to 1. Farther apart
// than a quarter of a second nothing is known of what is between.
const findPlace = (times, t) => {
  const nearest = findNearest(times, t);
  const from = times[nearest] <= t ? nearest : nearest - 1;
  const apart = times[from + 1] - times[from];
  if (!(apart > 0 && apart <= 0.25)) return { from: nearest, to: nearest, share: 0 };
  return { from, to: from + 1, share: (t - times[from]) / apart };
};

// Times of all pictures of a clip of so many a second, of which those at these times are tracked.
const addPicturesBetween = (times, rate) => times.flatMap((t, index) => {
  const apart = times[index + 1] - t;
  const steps = Math.max(1, Math.round(apart * rate)) || 1;
  return Array.from({ length: steps }, (_, number) => t + (number ? (number * apart) / steps : 0));
});

// Numbers packed as base64 of little-endian 16-bit integers.
const unpack = (text) => {
  const bytes = Uint8Array.from(atob(text || ""), (letter) => letter.charCodeAt(0));
  return new Int16Array(bytes.buffer);
};

// Times of the tracked pictures, sent as steps of a tenth of a millisecond from one picture to the next.
const unpackTimes = (data) => {
  let now = 0;
  return (data.track?.steps_between || []).map((tick) => (now += tick) / 10000);
};
