// The camera's picture, the countdown and the film. What is under way outlives a rerun of the page: it is kept on the
// element and ends when the element leaves the page.

const CONTAINERS = ["video/mp4;codecs=avc1.640028", "video/mp4;codecs=avc1.42E01F", "video/mp4;codecs=avc1", "video/webm;codecs=vp8", "video/webm"];
const WITH_SOUND = ["video/mp4;codecs=avc1.640028,mp4a.40.2", "video/mp4;codecs=avc1.42E01F,mp4a.40.2", "video/mp4;codecs=avc1.640028,opus", "video/webm;codecs=vp8,opus", "video/webm"];

function makeCamera(root) {
  const part = (name) => root.querySelector(name);
  const stage = part(".stage"), picture = part("video"), numeral = part(".numeral"), said = part(".said");
  const choice = (name) => part(`[data-choice="${name}"]`);
  const button = (name) => part(`[data-do="${name}"]`);
  const my = { data: null, hand: () => {}, state: "off", stream: null, sound: null, stop: null, opening: 0 };

  const say = (name, value) => { said.textContent = (my.data.words[name] ?? name).replace("{}", value ?? ""); };
  const show = (state) => {
    my.state = stage.dataset.state = state;
    const on = state === "ready", busy = state !== "off" && !on;
    const seen = { open: state === "off", test: on, film: on, stop: state === "filming", cancel: state === "leading" };
    for (const [name, is] of Object.entries(seen)) button(name).hidden = !is;
    choice("camera").closest("label").hidden = state === "off";
    for (const name of ["camera", "lead", "most", "sound"]) choice(name).disabled = busy;
    if (state !== "leading" && state !== "filming") numeral.textContent = "";
  };

  // ------------------------------------------------------------ the camera

  const close = () => {
    for (const track of my.stream?.getTracks() ?? []) track.stop();
    my.stream = picture.srcObject = null;
  };
  const explain = (error) => {
    if (error.name === "NotAllowedError" || error.name === "SecurityError") return "refused";
    return error.name === "NotFoundError" || error.name === "OverconstrainedError" ? "missing" : "busy";
  };
  const ask = (camera, sound) => navigator.mediaDevices.getUserMedia({
    // "none": the camera's own pictures, never cut to the size asked for.
    video: { width: { ideal: 1280 }, height: { ideal: 720 }, frameRate: { ideal: 30, max: 60 }, resizeMode: "none", ...(camera ? { deviceId: { exact: camera } } : {}) },
    audio: sound,
  });
  const open = async () => {
    if (!window.isSecureContext || !navigator.mediaDevices?.getUserMedia) { say("insecure"); return; }
    if (!window.MediaRecorder) { say("unknown"); return; }
    const turn = (my.opening += 1);
    const camera = choice("camera").value;
    close();
    let stream = null, told = "ready";
    try {
      try { stream = await ask(camera, choice("sound").checked); } catch (error) {
        if (!choice("sound").checked) throw error;
        stream = await ask(camera, false);
        choice("sound").checked = false;
        told = "silent";
      }
    } catch (error) {
      if (turn !== my.opening) return;
      choice("camera").replaceChildren(); // the next try takes whatever camera there is
      show("off");
      say(explain(error));
      return;
    }
    if (turn !== my.opening || !root.isConnected) { for (const track of stream.getTracks()) track.stop(); return; }
    my.stream = picture.srcObject = stream;
    const track = stream.getVideoTracks()[0];
    track.addEventListener("ended", () => {
      if (my.stream !== stream) return;
      if (my.state === "filming") my.stop("unplugged");
      else if (my.state !== "sending") { my.stop?.(); close(); show("off"); say("unplugged"); }
    });
    picture.play().catch(() => {});
    await list(track.getSettings().deviceId);
    show("ready");
    say(told);
  };
  const list = async (chosen) => {
    const cameras = (await navigator.mediaDevices.enumerateDevices()).filter((device) => device.kind === "videoinput");
    choice("camera").replaceChildren(...cameras.map((device, index) => {
      const option = document.createElement("option");
      option.value = device.deviceId;
      option.textContent = device.label || `Camera ${index + 1}`;
      option.selected = device.deviceId === chosen;
      return option;
    }));
  };

  // ------------------------------------------------------------ sound and countdown

  const beep = (pitch, seconds) => {
    my.sound ??= new AudioContext();
    const tone = my.sound.createOscillator(), loud = my.sound.createGain(), now = my.sound.currentTime;
    tone.frequency.value = pitch;
    loud.gain.setValueAtTime(0.25, now);
    loud.gain.exponentialRampToValueAtTime(0.001, now + seconds);
    tone.connect(loud).connect(my.sound.destination);
    tone.start(now);
    tone.stop(now + seconds);
  };
  const lead = (seconds) => new Promise((done) => {
    const until = performance.now() + 1000 * seconds;
    let told = null;
    const look = () => {
      const left = Math.ceil((until - performance.now()) / 1000);
      if (left <= 0) { my.stop = null; clearInterval(watch); done(true); return; }
      if (left !== told) { told = left; numeral.textContent = left; beep(660, 0.12); }
    };
    const watch = setInterval(look, 50);
    my.stop = () => { my.stop = null; clearInterval(watch); done(false); };
    say("leading", seconds);
    show("leading");
    look();
  });

  // ------------------------------------------------------------ the film

  const take = async (kind) => {
    if (my.state !== "ready") return;
    if (!(await lead(Number(choice("lead").value)))) { if (my.stream) { show("ready"); say("ready"); } return; }
    beep(990, 0.4);
    const sender = makeSender(kind, () => my.data);
    const type = (my.stream.getAudioTracks().length ? WITH_SOUND : CONTAINERS).find((name) => MediaRecorder.isTypeSupported(name));
    const { width = 1280, height = 720, frameRate = 30 } = my.stream.getVideoTracks()[0].getSettings();
    const bits = Math.min(1e7, Math.max(2.5e6, width * height * frameRate * 0.2));
    // A key picture a second: so a piece a second can be sent, and the clip be sought in quickly.
    const pieceMs = 1000 * my.data.piece;
    const recorder = new MediaRecorder(my.stream, { mimeType: type, videoBitsPerSecond: bits, videoKeyFrameIntervalDuration: pieceMs });
    const begun = performance.now();
    const most = kind === "test" ? my.data.test : Number(choice("most").value);
    let told = kind === "test" ? "testing" : "filming";
    await new Promise((done) => {
      const look = () => {
        const since = (performance.now() - begun) / 1000;
        numeral.textContent = `${Math.floor(since / 60)}:${String(Math.floor(since % 60)).padStart(2, "0")}`;
        if (since >= most || sender.failed) my.stop?.();
      };
      const watch = setInterval(look, 100);
      my.stop = (why) => {
        my.stop = null;
        clearInterval(watch);
        if (why) say(why);
        if (recorder.state !== "inactive") recorder.stop();
      };
      recorder.addEventListener("dataavailable", (event) => sender.add(event.data));
      recorder.addEventListener("error", () => my.stop?.());
      recorder.addEventListener("stop", () => { clearInterval(watch); my.stop = null; done(); }, { once: true });
      recorder.start(pieceMs);
      say(told);
      show("filming");
      look();
    });
    beep(440, 0.3);
    show("sending");
    if (my.stream?.getVideoTracks()[0].readyState === "live") say("sending");
    const film = await sender.end();
    const live = my.stream?.getVideoTracks()[0].readyState === "live";
    if (!live) close();
    show(live ? "ready" : "off");
    if (!film.name) say(film.words || "unsent");
    else if (!film.pieces) say("empty");
    else { say(kind === "test" ? "looking" : "sent"); my.hand(film); }
  };

  // ------------------------------------------------------------ buttons, keys, leaving

  const acts = { open, test: () => take("test"), film: () => take("set"), stop: () => my.stop?.(), cancel: () => my.stop?.() };
  const onClick = (event) => acts[event.target.closest("button")?.dataset.do]?.();
  const onChange = (event) => { if (["camera", "sound"].includes(event.target.dataset.choice) && my.stream) open(); };
  const onKey = (event) => {
    const ends = my.state === "filming" ? [" ", "Enter", "Escape"] : my.state === "leading" ? ["Escape"] : [];
    if (!ends.includes(event.key)) return;
    event.preventDefault();
    event.stopPropagation();
    my.stop?.();
  };
  const onLeave = (event) => { if (my.state === "filming" || my.state === "sending") event.preventDefault(); };
  root.addEventListener("click", onClick);
  root.addEventListener("change", onChange);
  document.addEventListener("keydown", onKey, true);
  window.addEventListener("beforeunload", onLeave);
  const end = () => {
    my.stop?.();
    close();
    root.removeEventListener("click", onClick);
    root.removeEventListener("change", onChange);
    document.removeEventListener("keydown", onKey, true);
    window.removeEventListener("beforeunload", onLeave);
  };
  show("off");
  return { my, end };
}

export default function (component) {
  const { data, parentElement, setTriggerValue } = component;
  const camera = (parentElement.formcheckCamera ??= makeCamera(parentElement));
  camera.my.data = data;
  camera.my.hand = (film) => setTriggerValue("film", film);
  // A rerun of the page calls this anew at once; only an element that has left the page ends.
  return () => setTimeout(() => {
    if (parentElement.isConnected) return;
    camera.end();
    parentElement.formcheckCamera = null;
  }, 500);
}
