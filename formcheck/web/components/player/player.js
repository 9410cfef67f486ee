// Ties the clip, the charts and every element with data-t together inside the page itself: no script run while playing.
// Data of the review arrives as numbers and fixed words; text is only ever set as text.

export default function (component) {
  const { data, parentElement } = component;
  const reps = data.reps;
  const tracked = unpackTimes(data);
  const times = addPicturesBetween(tracked, data.rate);
  const scope = () => document.querySelector(`.st-key-${data.scope}`);
  const video = () => document.querySelector(`.st-key-${data.clip} video`);
  const part = (name) => parentElement.querySelector(`[data-part="${name}"]`);
  const button = (name) => parentElement.querySelector(`[data-do="${name}"]`);
  const readSetting = (name, otherwise) => localStorage.getItem(`formcheck-${name}`) ?? otherwise;
  const writeSetting = (name, value) => localStorage.setItem(`formcheck-${name}`, value);
  const stage = makeStage(data.track, data.around);
  const skeleton = makeSkeleton(data.track);
  const marks = makeMarks(data.marks);
  const charts = makeCharts(scope, reps);
  const state = { looped: null, skeleton: readSetting("bones", "yes") === "yes", angles: readSetting("angles", "yes") === "yes",
    whole: readSetting("whole", "no") === "yes", check: data.check, marked: null, shown: -1, repShown: null, pressed: null, back: null };
  let frame = 0;
  let watched = null;

  // Into the middle of the picture's own time, so that rounding never shows the one before.
  const toPictureTime = (t) => {
    if (!times.length) return t;
    const index = findNearest(times, t);
    const next = index + 1 < times.length ? times[index + 1] : times[index] + 1 / data.rate;
    return times[index] + Math.min(0.004, (next - times[index]) / 4);
  };

  const seek = (t, reveal = false) => {
    const clip = video();
    if (!clip || !Number.isFinite(t)) return;
    clip.pause();
    clip.currentTime = Math.max(0, Math.min(toPictureTime(t), clip.duration || t));
    if (state.looped) state.looped = findRep(reps, t) || state.looped;
    if (reveal) scrollToClip(clip);
  };

  const scrollToClip = (clip) => {
    const box = clip.getBoundingClientRect();
    const main = document.querySelector(".stMain") || document.scrollingElement;
    if (box.bottom > 160 && box.top < window.innerHeight - 160) return;
    state.back = main.scrollTop;
    button("return").hidden = false;
    const calm = window.matchMedia("(prefers-reduced-motion: reduce)").matches;
    clip.scrollIntoView({ block: "start", behavior: calm ? "auto" : "smooth" });
  };

  const step = (direction) => {
    const clip = video();
    if (!clip) return;
    if (!times.length) { seek(clip.currentTime + direction / data.rate); return; }
    const index = findNearest(times, clip.currentTime - 0.002);
    seek(times[Math.max(0, Math.min(times.length - 1, index + direction))]);
  };

  const stepRep = (direction) => {
    const now = video()?.currentTime ?? 0;
    const ahead = reps.filter((rep) => rep.start > now + 0.05);
    const behind = reps.filter((rep) => rep.start < now - 0.4);
    const rep = direction > 0 ? ahead[0] : behind[behind.length - 1] || reps[0];
    if (rep) seek(rep.start);
  };

  const playOrPause = () => {
    const clip = video();
    if (!clip) return;
    if (!clip.paused) { clip.pause(); return; }
    if (clip.ended) clip.currentTime = 0;
    clip.play();
  };

  const setSpeed = (value) => {
    const clip = video();
    if (clip) clip.playbackRate = value;
    for (const item of parentElement.querySelectorAll("[data-speed]")) {
      item.setAttribute("aria-pressed", String(Number(item.dataset.speed) === value));
    }
    state.speed = value;
  };

  const loop = () => {
    const clip = video();
    if (!clip) return;
    state.looped = state.looped ? null : findRep(reps, clip.currentTime) || reps[0] || null;
    button("loop").setAttribute("aria-pressed", String(Boolean(state.looped)));
    if (state.looped) { clip.currentTime = toPictureTime(state.looped.start); clip.play(); announce(`Repeating rep ${state.looped.number}`); }
  };

  const stored = { skeleton: "bones", angles: "angles", whole: "whole" };
  const toggle = (name) => {
    state[name] = !state[name];
    writeSetting(stored[name], state[name] ? "yes" : "no");
    button(name).setAttribute("aria-pressed", String(state[name]));
    show(Math.max(state.shown, 0));
  };

  // The film with all that belongs to it, as large as the window; where the browser gives no full screen, over the page.
  const viewer = () => document.querySelector(`.st-key-${data.viewer}`);
  const onSize = () => {
    const large = document.fullscreenElement === viewer() || viewer()?.classList.contains("fc-large");
    button("full").setAttribute("aria-pressed", String(Boolean(large)));
    requestAnimationFrame(() => show(Math.max(state.shown, 0)));
  };
  const toggleFullscreen = async () => {
    const holder = viewer();
    if (document.fullscreenElement) await document.exitFullscreen();
    else if (holder?.classList.contains("fc-large")) holder.classList.remove("fc-large");
    else await (holder?.requestFullscreen?.() ?? Promise.reject()).catch(() => holder?.classList.add("fc-large"));
    onSize();
  };

  const announce = (words) => { part("status").textContent = words; };

  const goBack = () => {
    const main = document.querySelector(".stMain") || document.scrollingElement;
    main.scrollTo({ top: state.back ?? 0 });
    button("return").hidden = true;
  };

  const actions = {
    back: () => step(-1), forward: () => step(1), play: playOrPause, loop, full: toggleFullscreen, return: goBack,
    "rep-back": () => stepRep(-1), "rep-forward": () => stepRep(1), skeleton: () => toggle("skeleton"), angles: () => toggle("angles"), whole: () => toggle("whole"), more: () => showMore(),
    slower: () => setSpeed({ 1: 0.5, 0.5: 0.25, 0.25: 1 }[state.speed] || 1),
  };
  const keys = { " ": "play", arrowleft: "back", arrowright: "forward", p: "rep-back", n: "rep-forward", o: "loop", s: "slower", b: "skeleton", a: "angles", w: "whole", f: "full" };

  const showMore = () => {
    const open = parentElement.querySelector(".low").classList.toggle("open");
    button("more").setAttribute("aria-expanded", String(open));
  };

  // ------------------------------------------------------------ what is shown of a time

  const show = (t) => {
    const clip = video();
    state.shown = t;
    part("time").textContent = formatTime(t);
    const description = describeTime(reps, t);
    part("description").textContent = description;
    const values = timeline.readValues(t);
    part("angles").textContent = values.length && data.curve.margin ? `${data.curve.name}: ${values.join(" · ")} ${data.curve.margin}` : ""; // no number without its margin
    timeline.show(t, description);
    charts.drawCursors(t);
    const frame = clip && stage.lay(clip, t, state.whole);
    if (frame && times.length) {
      skeleton.draw(clip, frame, findPlace(tracked, t), state.skeleton, (pen, width) => {
        state.marked = state.angles ? marks.draw(pen, frame, width, state.check, t) : null;
      });
    }
    const rep = findRep(reps, t);
    if (rep?.number !== state.repShown) {
      state.repShown = rep?.number;
      for (const card of scope()?.querySelectorAll("[data-rep]") || []) {
        card.classList.toggle("fc-current", Boolean(rep) && Number(card.dataset.rep) === rep.number);
      }
    }
  };
  const timeline = makeTimeline(part("timeline"), data, seek);

  // The browser says which picture it really shows; the cursor follows that, not the clock.
  const onPicture = (_, picture) => {
    if (watched === null) return;
    show(picture.mediaTime);
    watched.requestVideoFrameCallback(onPicture);
  };

  // The skeleton follows the clip's size at once: a turned telephone, a window pulled wider.
  const sized = new ResizeObserver(() => show(Math.max(state.shown, 0)));

  const watch = (clip) => {
    if (watched === clip) return;
    watched = clip;
    sized.disconnect();
    sized.observe(clip.parentElement);
    clip.controls = false;
    clip.setAttribute("playsinline", "");
    clip.playbackRate = state.speed || 1;
    clip.requestVideoFrameCallback?.(onPicture);
    show(clip.currentTime); // a clip that stands still says nothing of the picture it shows
  };

  const tick = () => {
    const clip = video();
    if (clip) {
      watch(clip);
      const now = clip.currentTime;
      if (state.looped && !clip.paused && (now >= state.looped.end || now < state.looped.start - 0.05)) {
        clip.currentTime = toPictureTime(state.looped.start);
      }
      if (!clip.requestVideoFrameCallback && now !== state.shown) show(now);
      const playing = String(!clip.paused && !clip.ended);
      const play = button("play");
      if (play.dataset.playing !== playing) {
        play.dataset.playing = playing;
        play.setAttribute("aria-label", playing === "true" ? "Pause" : "Play");
      }
    }
    frame = requestAnimationFrame(tick);
  };

  // ------------------------------------------------------------ what the visitor does

  const onClick = (event) => {
    const target = event.target instanceof Element ? event.target.closest("[data-t]") : null;
    if (target && scope()?.contains(target)) {
      state.check = target.dataset.check || data.check;
      seek(parseFloat(target.dataset.t), true);
      if (state.shown >= 0) show(state.shown);
    }
    else if (event.target === video()) playOrPause();
  };

  const typing = (path) => path.some((node) => node instanceof Element && (node.isContentEditable
    || node.matches("input:not([type=checkbox]):not([type=radio]), textarea, select, [role=combobox], [role=listbox], [role=textbox], [role=dialog], [role=menu]")));

  const onKey = (event) => {
    if (event.altKey || event.ctrlKey || event.metaKey || event.shiftKey || event.defaultPrevented) return;
    const path = event.composedPath();
    const own = path.includes(parentElement) || event.target === video();
    const name = keys[event.key.toLowerCase()];
    const onTimeline = path.includes(part("timeline"));
    if (onTimeline && ["Home", "End"].includes(event.key)) { event.preventDefault(); seek(event.key === "Home" ? 0 : data.duration); return; }
    if (!name || typing(path)) return;
    if (!own && !part("everywhere").checked) return;
    const pressable = path.some((node) => node instanceof Element && node.matches("button, a, summary, input, [role=button], [role=tab], [role=slider]"));
    if (event.key === " " && pressable && !onTimeline) return;
    if (!own && event.key.startsWith("Arrow") && path.some((node) => node instanceof Element && node.matches("[role=slider], [role=tab], [role=radio], input"))) return;
    event.preventDefault();
    event.stopPropagation();
    actions[name]();
  };

  const onBar = (event) => {
    const pressed = event.target.closest("button");
    if (pressed?.dataset.speed) setSpeed(Number(pressed.dataset.speed));
    else actions[pressed?.dataset.do]?.();
  };

  const onDown = (event) => {
    const plot = event.target instanceof Element ? event.target.closest(".js-plotly-plot") : null;
    state.pressed = plot && scope()?.contains(plot) && event.isPrimary ? { plot, x: event.clientX, y: event.clientY } : null;
  };

  const onUp = (event) => {
    if (!state.pressed) return;
    const { plot, x, y } = state.pressed;
    state.pressed = null;
    if (Math.hypot(event.clientX - x, event.clientY - y) < 6) { state.check = data.check; seek(charts.findTime(plot, event.clientX), true); }
  };

  // On a telephone the film stays in sight while the page moves, and makes room for what is read.
  const onScroll = (event) => {
    const main = event.target;
    if (!main.classList?.contains("stMain")) return;
    document.querySelector(`.st-key-${data.clip}`)?.classList.toggle("fc-small", main.scrollTop > 140);
  };
  const onCancel = () => { state.pressed = null; };
  const onEverywhere = () => writeSetting("keys", part("everywhere").checked ? "yes" : "no");

  part("everywhere").checked = readSetting("keys", "yes") === "yes";
  for (const item of parentElement.querySelectorAll("[data-hint]")) item.title = item.dataset.hint;
  for (const name of Object.keys(stored)) button(name).setAttribute("aria-pressed", String(state[name]));
  button("skeleton").hidden = !data.track;
  button("angles").hidden = !Object.keys(data.marks).length;
  button("whole").hidden = !data.around;
  setSpeed(1);
  show(video()?.currentTime ?? 0);
  tick();
  // Charts and the clip come and go with reruns, and change their size with the window.
  const refresh = setInterval(() => show(Math.max(state.shown, 0)), 400);
  const listeners = [
    [document, "click", onClick, false], [document, "pointerdown", onDown, true], [document, "pointerup", onUp, true],
    [document, "pointercancel", onCancel, true], [document, "keydown", onKey, true], [document, "scroll", onScroll, true],
    [document, "fullscreenchange", onSize, false], [parentElement, "click", onBar, false], [part("everywhere"), "change", onEverywhere, false],
  ];
  for (const [where, name, what, early] of listeners) where.addEventListener(name, what, early);

  return () => {
    clearInterval(refresh);
    cancelAnimationFrame(frame);
    watched = null;
    sized.disconnect();
    for (const [where, name, what, early] of listeners) where.removeEventListener(name, what, early);
    timeline.remove();
    skeleton.remove();
    stage.remove(video());
  };
}
