// Sends the pieces of a film one after the other, each until it has arrived; all are kept here until the last one has.

function makeSender(kind, where) {
  const makeName = () => `${kind}-${[...crypto.getRandomValues(new Uint8Array(16))].map((byte) => byte.toString(16).padStart(2, "0")).join("")}`;
  const film = { name: makeName(), pieces: [], sent: 0, ended: false, failed: null };
  let turn = null; // the sending under way
  let anew = 1; // so often the film is sent again from its beginning where the page no longer knows it

  const readToken = () => document.cookie.match(/(?:^|; )_streamlit_xsrf=([^;]*)/)?.[1] ?? "";
  const pause = (ms) => new Promise((done) => setTimeout(done, ms));

  const put = async (number) => {
    const { session, route } = where();
    const headers = { "X-Xsrftoken": readToken(), "Content-Type": "application/octet-stream" };
    try {
      const answer = await fetch(`${route}/${session}/${film.name}/${number}`, { method: "PUT", body: film.pieces[number], headers });
      return { status: answer.status, words: answer.ok ? "" : await answer.text() };
    } catch { return { status: 0, words: "" }; }
  };

  // A page that does not answer, or that has to let its visitor in anew, is asked again for a while.
  const sendOne = async () => {
    for (let wait = 250, waited = 0; ; wait = Math.min(2 * wait, 4000)) {
      const { status, words } = await put(film.sent);
      if (status >= 200 && status < 300) { film.sent += 1; return; }
      if (status === 410 && anew > 0) { anew -= 1; film.name = makeName(); film.sent = 0; return; }
      if ((status !== 0 && status !== 403 && status !== 503) || waited > 45000) { film.failed = { words }; return; }
      await pause(wait);
      waited += wait;
    }
  };

  const sendAll = async () => {
    while (film.sent < film.pieces.length && !film.failed) await sendOne();
    turn = null;
  };

  return {
    add(piece) { if (piece.size && !film.failed) { film.pieces.push(piece); turn ??= sendAll(); } },
    // What became of it, once everything was sent: {name, pieces}, or {words} of what went wrong.
    async end() {
      while (turn) await turn;
      const result = film.failed ?? { name: film.name, pieces: film.pieces.length };
      film.pieces = [];
      return result;
    },
    get failed() { return film.failed; },
  };
}
