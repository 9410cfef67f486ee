// The clock that two films share: pure functions of the steps (`formcheck/web/compare/in_step.py`).

const findStep = (steps, now) => {
  let found = steps[0];
  for (const step of steps) if (step.at <= now + 1e-6) found = step;
  return found;
};

// Where a film (0 or 1) stands at a moment of the clock, and how fast it goes there against the clock.
const findFilmTime = (steps, which, now) => {
  const step = findStep(steps, now);
  const [start, end] = step.spans[which];
  const share = Math.max(0, Math.min(1, (now - step.at) / step.seconds));
  return { t: start + share * (end - start), rate: (end - start) / step.seconds };
};

const describeStep = (steps, now) => {
  const { reps, words, at, seconds } = findStep(steps, now);
  const which = reps[0] === reps[1] ? `rep ${reps[0]}` : `reps ${reps[0]} and ${reps[1]}`;
  return `${which}, ${words}, ${Math.round(100 * Math.max(0, Math.min(1, (now - at) / seconds)))} %`;
};
