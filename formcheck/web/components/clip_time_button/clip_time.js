// One button a field; a click sends the page the field and the time of the clip in seconds. What stands behind a | in
// its label is heard but not seen on a telephone.

export default function (component) {
  const { data, parentElement, setTriggerValue } = component;
  const row = parentElement.querySelector(".row");
  row.replaceChildren(...data.fields.map(([field, label]) => {
    const button = document.createElement("button");
    button.type = "button";
    const [short, rest] = label.split("|");
    const more = Object.assign(document.createElement("span"), { className: "rest", textContent: rest ?? "" });
    button.append(short, more);
    button.dataset.field = field;
    button.addEventListener("click", () => {
      row.dataset.pressed = field;
      const clip = document.querySelector(`.st-key-${data.clip} video`);
      if (!clip) return;
      clip.pause();
      setTriggerValue("time", { field, at: clip.currentTime });
    });
    return button;
  }));

  // What a button opened gives the focus back to it when it is closed; the dialog by itself loses it.
  const giveBack = () => {
    if (!row.dataset.pressed) return;
    if (document.querySelector("[role=dialog]")) { row.dataset.opened = "yes"; return; }
    if (!row.dataset.opened) return;
    const pressed = row.dataset.pressed;
    delete row.dataset.pressed;
    delete row.dataset.opened;
    if (document.activeElement === document.body) row.querySelector(`[data-field="${pressed}"]`)?.focus();
  };
  const waiting = setInterval(giveBack, 150);
  return () => clearInterval(waiting);
}
