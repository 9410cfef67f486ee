// Copies the address of the set at the time its clip shows; shows the moment that the page's own address names, once.

export default function (component) {
  const { data, parentElement } = component;
  const clip = () => document.querySelector(`.st-key-${data.clip} video`);
  const note = parentElement.querySelector(".note");
  const wanted = `${data.review} ${data.at}`;

  const makeAddress = () => {
    const address = new URL(window.location.href);
    address.search = new URLSearchParams({ review: data.review, t: (clip()?.currentTime ?? 0).toFixed(2) }).toString();
    address.hash = "";
    return address.toString();
  };

  const copy = async () => {
    const address = makeAddress();
    let copied = true;
    try { await navigator.clipboard.writeText(address); } catch { copied = false; }
    note.textContent = copied ? data.copied : `${address} ${data.shown}`;
  };

  // A link is followed once: the page is made anew at every click, and must not move the clip again. The page's own
  // player puts a clip to its start when it has loaded, so the moment has to stay for a while.
  let stayed = 0;
  const follow = () => {
    const video = clip();
    if (!video || video.readyState < 1 || video.seeking) return;
    const at = Math.min(data.at, video.duration || data.at);
    if (Math.abs(video.currentTime - at) < 0.05) stayed += 1;
    else { stayed = 0; video.pause(); video.currentTime = at; }
    if (stayed >= 6) stop();
  };
  const stop = () => {
    clearInterval(waiting);
    window.formcheckMoment = wanted;
    for (const name of ["pointerdown", "keydown"]) document.removeEventListener(name, stop, true);
  };
  const done = data.at === null || window.formcheckMoment === wanted;
  const waiting = done ? 0 : setInterval(follow, 150);
  // Whoever goes on to another moment is not taken back.
  if (!done) for (const name of ["pointerdown", "keydown"]) document.addEventListener(name, stop, true);

  const button = parentElement.querySelector("button");
  button.addEventListener("click", copy);
  return () => { clearInterval(waiting); for (const name of ["pointerdown", "keydown"]) document.removeEventListener(name, stop, true); button.removeEventListener("click", copy); };
}
