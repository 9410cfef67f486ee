// One button a field; a click sends the page the field and the time of the clip in seconds.

export default function (component) {
  const { data, parentElement, setTriggerValue } = component;
  const row = parentElement.querySelector(".row");
  row.replaceChildren(...data.fields.map(([field, label]) => {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = label;
    button.dataset.field = field;
    button.addEventListener("click", () => {
      const clip = document.querySelector(`.st-key-${data.clip} video`);
      if (!clip) return;
      clip.pause();
      setTriggerValue("time", { field, at: clip.currentTime });
    });
    return button;
  }));
}
