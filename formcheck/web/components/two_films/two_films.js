// Plays two films on one clock: the clock runs, each film is told how fast to go and put right where it strays.

export default function (component) {
  const { data, parentElement } = component;
  const steps = data.steps;
  const last = steps[steps.length - 1];
  const end = last.at + last.seconds;
  const part = (name) => parentElement.querySelector(`[data-part="${name}"]`);
  const button = (name) => parentElement.querySelector(`[data-do="${name}"]`);
  const clock = part("clock");
  const state = { now: data.begin, playing: false, slow: false, repeat: null, skeleton: true, angles: true, whole: false };
  const STRAY_S = 0.25; // farther apart than this a film is put to its place at once
  const SEARCH_MS = 4000;
  const SLOWEST = 0.07; // browsers play no slower: below it a film stands still

  const films = data.films.map((film, which) => ({ ...film, which, tracked: unpackTimes(film), stage: makeStage(film.track, film.around),
    bones: makeSkeleton(film.track), drawer: makeMarks(film.marks), video: null, shown: 0, sent: 0 }));
  const findVideo = (film) => document.querySelector(`.st-key-${film.clip} video`);

  const draw = (film) => {
    if (!film.video) return;
    const frame = film.stage.lay(film.video, film.shown, state.whole);
    if (!frame || !film.tracked.length) return;
    film.bones.draw(film.video, frame, findPlace(film.tracked, film.shown), state.skeleton, (pen, width) => {
      if (state.angles) film.drawer.draw(pen, frame, width, film.check, film.shown);
    });
  };

  // A film can be sent nowhere before its header is there, and then Streamlit sends it to its beginning. A browser may
  // never end a search that was asked for while it still opened the film (seen in chromium: `seeking` stays true for
  // good), but ends the next one; so one that takes too long is asked for again.
  const put = (film, t) => {
    if (film.video.readyState < 1) return;
    const inside = Math.min(t, film.video.duration || t);
    const stuck = film.video.seeking && performance.now() - film.sent > SEARCH_MS;
    if (Math.abs(film.video.currentTime - inside) <= 0.004 && !stuck) return;
    film.sent = performance.now();
    film.video.currentTime = stuck ? Math.max(0, inside - 0.002) : inside;
  };

  const watch = (film) => {
    const video = findVideo(film);
    if (!video || video === film.video) return;
    film.video = video;
    film.sent = performance.now();
    video.controls = false;
    video.muted = true;
    video.setAttribute("playsinline", "");
    const onPicture = (_, picture) => {
      if (film.video !== video) return;
      film.shown = picture.mediaTime;
      draw(film);
      video.requestVideoFrameCallback(onPicture);
    };
    video.requestVideoFrameCallback?.(onPicture);
  };

  const tell = () => {
    const words = describeStep(steps, state.now);
    clock.value = state.now;
    clock.setAttribute("aria-valuetext", words);
    part("now").textContent = words;
  };

  const go = (now) => {
    state.now = Math.max(0, Math.min(end, now));
    for (const film of films) if (film.video) put(film, findFilmTime(steps, film.which, state.now).t);
    tell();
  };

  const setPlaying = (playing) => {
    state.playing = playing;
    button("play").textContent = playing ? "Pause both" : "Play both";
    button("play").setAttribute("aria-pressed", String(playing));
    if (!playing) for (const film of films) film.video?.pause();
    if (!playing) { go(state.now); part("status").textContent = describeStep(steps, state.now); }
  };

  const findSpan = (now) => { // the rep pair at a moment, on the clock
    const reps = findStep(steps, now).reps.join();
    const own = steps.filter((step) => step.reps.join() === reps);
    return { start: own[0].at, end: own[own.length - 1].at + own[own.length - 1].seconds };
  };

  const run = (film, speed) => {
    const { t, rate } = findFilmTime(steps, film.which, state.now);
    const late = t - film.video.currentTime;
    if (Math.abs(late) > STRAY_S) film.video.currentTime = t;
    const wanted = rate * speed * (1 + Math.max(-0.4, Math.min(0.4, 2 * late)));
    if (wanted < SLOWEST) { film.video.pause(); return; }
    film.video.playbackRate = Math.min(wanted, 4);
    if (film.video.paused) film.video.play().catch(() => setPlaying(false));
  };

  let before = performance.now();
  let frame = 0;
  const tick = () => {
    const at = performance.now();
    const passed = Math.min(0.1, (at - before) / 1000);
    before = at;
    films.forEach(watch);
    const ready = films.every((film) => film.video && !film.video.seeking && film.video.readyState >= 2);
    if (!state.playing) for (const film of films) if (film.video) put(film, findFilmTime(steps, film.which, state.now).t);
    if (state.playing && ready) {
      const speed = state.slow ? 0.5 : 1;
      state.now += passed * speed;
      if (state.repeat && state.now >= state.repeat.end) go(state.repeat.start);
      else if (state.now >= end) { state.now = end; setPlaying(false); }
      else { for (const film of films) run(film, speed); tell(); }
    }
    frame = requestAnimationFrame(tick);
  };

  const stepRep = (direction) => {
    const span = findSpan(state.now);
    const target = direction > 0 ? span.end + 1e-3 : (state.now > span.start + 0.3 ? span.start : findSpan(span.start - 1e-3).start);
    if (target >= end) return;
    if (state.repeat) state.repeat = findSpan(target);
    go(target);
    part("status").textContent = describeStep(steps, state.now);
  };

  const press = (name, on) => button(name).setAttribute("aria-pressed", String(on));
  const toggle = (name) => { state[name] = !state[name]; press(name, state[name]); films.forEach(draw); };
  const actions = {
    play: () => { if (!state.playing && state.now >= end - 0.01) go(0); setPlaying(!state.playing); },
    back: () => stepRep(-1), forward: () => stepRep(1), slow: () => toggle("slow"),
    repeat: () => { state.repeat = state.repeat ? null : findSpan(Math.min(state.now, end - 1e-3)); press("repeat", Boolean(state.repeat)); },
    skeleton: () => toggle("skeleton"), angles: () => toggle("angles"), whole: () => toggle("whole"),
  };
  const onClick = (event) => actions[event.target.closest("button")?.dataset.do]?.();
  const onInput = () => { if (state.playing) setPlaying(false); go(Number(clock.value)); };

  clock.max = end.toFixed(3);
  button("skeleton").hidden = !films.some((film) => film.track);
  button("angles").hidden = !films.some((film) => Object.keys(film.marks).length);
  button("whole").hidden = !films.some((film) => film.around);
  tell();
  tick();
  // A film that stands still, or whose size changes with the window, is drawn anew.
  const refresh = setInterval(() => {
    for (const film of films) {
      if (film.video?.paused && !film.video.seeking) film.shown = film.video.currentTime;
      draw(film);
    }
  }, 250);
  parentElement.addEventListener("click", onClick);
  clock.addEventListener("input", onInput);

  return () => {
    cancelAnimationFrame(frame);
    clearInterval(refresh);
    parentElement.removeEventListener("click", onClick);
    clock.removeEventListener("input", onInput);
    for (const film of films) {
      film.bones.remove();
      film.stage.remove(film.video);
      film.video = null;
    }
  };
}
